"""Detectable differences, power, plot size and fruit to weigh, against R, textbooks and a second way of computing."""

import csv
import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi, ncf, norm, t

from plotworth.field.design import FACTORIAL, SPLIT, Design, Factor
from plotworth.field.power import (
    Comparison,
    blocks_needed,
    comparisons,
    cv_interval,
    design_warnings,
    detectable_difference,
    detectable_noncentrality,
    power_among,
    power_of_difference,
    power_of_f,
    power_of_t,
)
from plotworth.field.power_card import achieved_card, card_lines, power_card
from plotworth.field.sampling import cv_of_size, fruit_to_weigh, sample_size, size_table, smith_index
from trial_plans import design

PUBLISHED = Path(__file__).parent / "published" / "field_power.csv"
T_TESTS = (
    *((data, "t") for data in ("npk_peas", "potato_scab", "strawberry")),
    *(("tomato_uniformity", f"t{n}") for n in (3, 4, 6, 8)),
)
F_TESTS = ("cabbages", "fungicide_latin", "orange_rootstock", "potato_scab", "strawberry")


def values(data: str, group: str) -> dict[str, float]:
    with PUBLISHED.open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if (row["data"], row["group"]) == (data, group)]
    return {row["quantity"]: float(row["value"]) for row in rows}


def two_samples(given: Mapping[str, float], n: float) -> Comparison:
    """The comparison of two samples of n: standard error sd sqrt(2/n), 2 (n - 1) degrees of freedom."""
    return Comparison("two samples", given["sd"] * math.sqrt(2 / n), 2 * (n - 1), int(n))


# --- against R ------------------------------------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize(("data", "group"), T_TESTS)
def test_power_of_a_difference_is_r_s_with_both_tails(data: str, group: str) -> None:
    given = values(data, group)
    power = power_of_difference(given["delta"], two_samples(given, given["n_per_group"]))
    assert power == pytest.approx(given["power_two_sided_strict"], rel=1e-7)  # R's own series for the noncentral t


@pytest.mark.published
@pytest.mark.parametrize(("data", "group"), T_TESTS)
def test_a_trial_of_the_size_r_asks_for_has_80_per_cent_power(data: str, group: str) -> None:
    given = values(data, group)
    # R counts one tail here; at 80 % power the other holds less than 1e-5.
    assert power_of_difference(given["delta"], two_samples(given, given["n_for_80"])) == pytest.approx(0.8, abs=1e-5)


@pytest.mark.published
@pytest.mark.parametrize(("data", "group"), T_TESTS)
def test_the_detectable_difference_is_r_s(data: str, group: str) -> None:
    given = values(data, group)
    found = detectable_difference(two_samples(given, given["n_per_group"]))
    assert found == pytest.approx(given["min_delta_80"], rel=2e-4)  # R finds this root to about 1e-4 and with one tail


@pytest.mark.published
@pytest.mark.parametrize("data", F_TESTS)
def test_power_of_the_f_test_is_r_s(data: str) -> None:
    given = values(data, "anova")
    groups, n = int(given["groups"]), given["n"]
    noncentrality = (groups - 1) * n * given["between_var"] / given["within_var"]  # sum of squares of the means / error
    assert power_of_f(noncentrality, groups, groups * (n - 1)) == pytest.approx(given["power"], rel=1e-9)
    if needed := given.get("n_for_power_80"):
        noncentrality *= needed / n
        assert power_of_f(noncentrality, groups, groups * (needed - 1)) == pytest.approx(0.8, abs=1e-9)


@pytest.mark.published
@pytest.mark.parametrize("n", [4, 6])
def test_power_among_three_treatments_with_one_midway_is_r_s(n: int) -> None:
    given = values("tomato_uniformity", f"t{n}")
    comparison = Comparison("three groups", given["sd"] * math.sqrt(2 / n), 3 * (n - 1), n)
    expected = values("tomato_uniformity", f"anova{n}")["power"]
    assert power_among(2 * given["delta"], 3, comparison) == pytest.approx(expected, rel=1e-9)


@pytest.mark.published
def test_the_interval_of_a_spread_is_r_s() -> None:
    given = values("tomato_uniformity", "variance")
    low, high = cv_interval(given["sd_kg_m2"], given["n"] - 1)
    assert (low**2, high**2) == pytest.approx((given["variance_low"], given["variance_high"]), rel=1e-9)


SHAPES = ("1x1", "1x2", "1x3", "2x1", "2x2", "2x3", "3x1", "3x2", "3x3", "6x1", "6x2", "6x3")


@pytest.mark.published
def test_smith_s_index_of_the_tomato_uniformity_trial_is_r_s() -> None:
    plots = [values("tomato_uniformity", shape) for shape in SHAPES]
    found = smith_index([plot["x"] for plot in plots], [plot["var_of_mean"] for plot in plots])
    assert found == pytest.approx(values("tomato_uniformity", "all")["smith_b"], rel=1e-9)


@pytest.mark.published
def test_smith_s_law_foretells_the_cv_of_larger_tomato_plots() -> None:
    index = values("tomato_uniformity", "all")["smith_b"]
    one = values("tomato_uniformity", "1x1")["cv"]
    for shape in SHAPES[1:]:
        plot = values("tomato_uniformity", shape)
        foretold = cv_of_size(one, plants=6 * plot["x"], of_plants=6, index=index)
        assert foretold == pytest.approx(plot["cv"], rel=0.15)  # one line through 12 points that scatter about it


@pytest.mark.published
def test_sample_sizes_are_those_printed() -> None:
    mean = values("sample_size", "mean")
    confidence = 2 * float(norm.cdf(mean["z"])) - 1  # the source rounds z to 1.96
    # n0 = (z sd / margin)^2 = 384.16, a share of the mean over a share of the mean here
    assert fruit_to_weigh(mean["sd"], mean["margin"], confidence=confidence) == mean["n0_printed"]
    share = values("sample_size", "share")
    spread = math.sqrt(share["share"] * (1 - share["share"]))
    assert fruit_to_weigh(spread, share["margin"], confidence=confidence) == share["n0_printed"]
    finite = values("sample_size", "finite")
    corrected = sample_size(mean["sd"], mean["margin"], population=finite["population"], confidence=confidence)
    assert round(corrected) == finite["n_printed"]


# --- a second way ---------------------------------------------------------------------------------


def power_by_integration(shift: float, freedom: float) -> float:
    """P(|Z + shift| > limit S) with S = chi/sqrt(f), integrated over S: the definition of the noncentral t."""
    limit = t.ppf(0.975, freedom)

    def inside(s: float) -> float:
        tails = norm.sf(limit * s - shift) + norm.cdf(-limit * s - shift)
        return float(tails * chi.pdf(s * math.sqrt(freedom), freedom) * math.sqrt(freedom))

    return quad(inside, 0, 10, epsabs=1e-12, epsrel=1e-12, limit=200)[0]


@pytest.mark.parametrize("freedom", [1, 2, 4, 6, 12, 60])
@pytest.mark.parametrize("shift", [0.0, 0.5, 2.0, 3.2])
def test_power_is_that_of_the_definition_integrated(shift: float, freedom: float) -> None:
    expected = power_by_integration(shift, freedom)
    assert power_of_t(shift, freedom) == pytest.approx(expected, abs=1e-8)  # quadrature
    assert power_of_t(-shift, freedom) == power_of_t(shift, freedom)


def test_the_detectable_difference_has_80_per_cent_power_by_the_definition() -> None:
    for freedom in (2, 4, 6, 12, 60):
        assert power_by_integration(detectable_noncentrality(freedom), freedom) == pytest.approx(0.8, abs=1e-8)


def test_trials_drawn_at_random_show_the_detectable_difference_in_four_of_five() -> None:
    # 4,000 trials of three treatments in 4 blocks, CV 15 %: standard error of the share found is 0.63 %.
    generator = np.random.default_rng(20260110)
    (comparison,) = comparisons(design(), plot_cv=0.15)
    difference = detectable_difference(comparison)
    plots = generator.normal(1, 0.15, (4000, 4, 3)) + generator.normal(0, 0.3, (4000, 4, 1))
    plots[:, :, 0] += difference
    centred = plots - plots.mean(axis=1, keepdims=True) - plots.mean(axis=2, keepdims=True)
    centred += plots.mean(axis=(1, 2), keepdims=True)
    error = (centred**2).sum(axis=(1, 2)) / 6
    found = plots.mean(axis=1)
    statistic = (found[:, 0] - found[:, 1]) / np.sqrt(2 * error / 4)
    assert (abs(statistic) > t.ppf(0.975, 6)).mean() == pytest.approx(0.8, abs=4 * 0.0063)


# --- designs --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("blocks", "percent"), [(3, 46), (4, 36), (7, 24)])
def test_three_treatments_of_cv_15_per_cent_show_what_the_rule_of_thumb_says(blocks: int, percent: int) -> None:
    # Origin: the project's notes on good practice, rounded to whole per cent.
    (comparison,) = comparisons(design(blocks=blocks), plot_cv=0.15)
    assert round(100 * detectable_difference(comparison)) == percent


@pytest.mark.published
def test_standard_errors_of_a_split_plot_are_those_of_the_rice_example() -> None:
    # Gomez & Gomez (1984), chapter 3, as printed: 6 nitrogen levels on whole plots, 4 varieties, 3 blocks; Ea 141,968,
    # Eb 349,580, mean 5,479; standard errors of differences 153.8, 197.1, 482.8, 445.5 kg/ha.
    levels = Factor("nitrogen", tuple("ABCDEF")), Factor("variety", tuple("abcd"))
    found = comparisons(
        Design(SPLIT, levels, 3), plot_cv=math.sqrt(349_580) / 5479, whole_plot_cv=math.sqrt(141_968) / 5479
    )
    printed = {"nitrogen": 153.8, "variety": 197.1, "variety in nitrogen": 482.8, "nitrogen in variety": 445.5}
    errors = [comparison.standard_error * 5479 for comparison in found]
    assert errors == pytest.approx(list(printed.values()), abs=0.05)  # printed to one decimal
    assert [comparison.error_freedom for comparison in found[:3]] == [10, 36, 36]
    # (3 x 349,580 + 141,968)^2 / ((3 x 349,580)^2/36 + 141,968^2/10)
    assert found[3].error_freedom == pytest.approx(1_190_708**2 / (1_048_740**2 / 36 + 141_968**2 / 10))


def test_a_split_plot_with_one_error_compares_sub_plots_as_blocks_do() -> None:
    whole, sub, _, across = comparisons(design(SPLIT), plot_cv=0.2)
    assert whole.standard_error == pytest.approx(0.2 * math.sqrt(2 / 8))  # 4 blocks x 2 sub-plots
    assert sub.standard_error == pytest.approx(0.2 * math.sqrt(2 / 12))  # 4 blocks x 3 whole plots
    assert across.standard_error == pytest.approx(0.2 * math.sqrt(2 / 4))


def test_a_factorial_compares_levels_over_all_their_plots() -> None:
    found = {c.name: (c.plots, c.error_freedom) for c in comparisons(design(FACTORIAL), plot_cv=0.2)}
    assert found == {
        "two levels of water": (8, 15),
        "two levels of inoculation": (12, 15),
        "two treatments": (4, 15),
    }


def test_blocks_needed_are_the_fewest_that_have_the_power() -> None:
    for gain in (0.15, 0.24, 0.4):
        needed = blocks_needed(gain, design(), plot_cv=0.15, comparison="two treatments")
        assert needed is not None
        enough, short = (comparisons(design(blocks=n), plot_cv=0.15)[0] for n in (needed, needed - 1))
        assert power_of_difference(gain, enough) >= 0.8 > power_of_difference(gain, short)
    assert blocks_needed(0.001, design(), plot_cv=0.15, comparison="two treatments") is None


@pytest.mark.parametrize("freedom", [1, 2, 3, 6, 28.8])
def test_power_is_known_however_large_the_difference_and_few_the_degrees_of_freedom(freedom: float) -> None:
    """T squared is F with 1 and as many degrees of freedom: the same chance by scipy's noncentral F."""
    limit = float(t.ppf(0.975, freedom)) ** 2
    for shift in (0.5, 4.0, 8.0, 16.0, 32.0):
        assert power_of_t(shift, freedom) == pytest.approx(float(ncf.sf(limit, 1, freedom, shift**2)), rel=1e-9)


def test_the_smallest_of_trials_still_has_a_detectable_difference() -> None:
    """One degree of freedom; power_of_t at the noncentrality found is 80 % again, checked through the noncentral F."""
    (one,) = comparisons(Design("blocks", (Factor("water", ("tank", "drip")),), 2), plot_cv=0.15)
    shift = detectable_difference(one) / one.standard_error
    assert float(ncf.sf(float(t.ppf(0.975, 1)) ** 2, 1, 1, shift**2)) == pytest.approx(0.8, rel=1e-9)


def test_a_trial_without_error_degrees_of_freedom_shows_nothing() -> None:
    (comparison,) = comparisons(design(blocks=1), plot_cv=0.15)
    assert math.isnan(detectable_difference(comparison))
    assert power_of_difference(9.0, comparison) == 0.0
    assert power_of_f(99.0, 3, 0) == 0.0
    assert all(math.isnan(end) for end in cv_interval(0.15, 0))
    assert "nothing can be shown" in card_lines(power_card(design(blocks=1), plot_cv=0.15, gain=0.2))[1]


@pytest.mark.parametrize(("blocks", "kind", "count"), [(3, "blocks", 2), (4, "blocks", 1), (7, "blocks", 0)])
def test_small_trials_are_warned_of(blocks: int, kind: str, count: int) -> None:
    warnings = design_warnings(design(kind, blocks=blocks))
    assert len(warnings) == count
    assert ("fewer than 4" in "".join(warnings)) == (blocks < 4)


def test_both_errors_of_a_split_plot_are_warned_of() -> None:
    assert [sentence.split(" for ")[0] for sentence in design_warnings(design(SPLIT))] == [
        "6 degrees of freedom",
        "9 degrees of freedom",
    ]


# --- card, plot size, fruit -----------------------------------------------------------------------


def test_the_card_says_what_shows_and_what_the_smallest_gain_needs() -> None:
    lines = [line.replace("\u00a0", " ") for line in card_lines(power_card(design(), plot_cv=0.15, gain=0.2))]
    assert lines[0].startswith("Expected CV of a plot within its block: 15 %.")
    assert lines[1].startswith("Two treatments: 36 % or more shows; the smallest gain worth having, 20 %, shows with ")
    needed = blocks_needed(0.2, design(), plot_cv=0.15, comparison="two treatments")
    assert lines[1].endswith(f"needs {needed} blocks.")
    assert lines[2].startswith("Among all 3 treatments, two of them 20 % apart and the others midway, the F test")
    assert lines[3:] == list(design_warnings(design()))


def test_the_card_after_the_trial_gives_the_difference_for_both_ends_of_the_cv() -> None:
    # error mean square 0.09 about a mean of 2 is a CV of 15 %
    card = achieved_card(design(), error_mean_squares=(0.09,), mean=2.0, gain=0.2)
    (row,) = card.rows
    before = power_card(design(), plot_cv=0.15, gain=0.2).rows[0]
    assert row.detectable == pytest.approx(before.detectable)
    low, high = cv_interval(0.15, 6)
    assert (row.detectable_low, row.detectable_high) == pytest.approx(
        (before.detectable * low / 0.15, before.detectable * high / 0.15)
    )
    assert "(23 % to 79 %, as the CV itself is an estimate)" in card_lines(card)[1].replace("\u00a0", " ")


def test_the_card_of_a_split_plot_takes_whole_plots_by_their_own_error() -> None:
    card = achieved_card(design(SPLIT), error_mean_squares=(0.16, 0.04), mean=2.0, gain=0.2)
    expected = comparisons(design(SPLIT), plot_cv=0.1, whole_plot_cv=0.2)
    assert [row.comparison for row in card.rows] == list(expected)
    assert math.isnan(card.f_power)


def test_more_plants_help_less_than_more_blocks() -> None:
    rows = size_table(design(), plants_per_plot=(6, 12, 24), blocks=(4, 8), plot_cv=0.15, of_plants=12, index=0.5)
    found = {(row.plants_per_plot, row.blocks): row for row in rows}
    assert found[12, 4].plot_cv == pytest.approx(0.15)
    assert found[24, 4].plot_cv == pytest.approx(0.15 / 2**0.25)  # (24/12)^(-0.5/2)
    assert found[24, 4].plants_per_treatment == found[12, 8].plants_per_treatment == 96
    assert found[12, 8].detectable < found[24, 4].detectable < found[12, 4].detectable


def test_fruit_to_weigh_falls_with_few_fruit_and_never_passes_them() -> None:
    # CV 30 %, +-10 %: (1.959964 x 3)^2 = 34.57; of 40 fruit 34.57/(1 + 34.57/40) = 18.5
    assert fruit_to_weigh(0.3, 0.1) == 35
    assert fruit_to_weigh(0.3, 0.1, population=40) == 19
    assert fruit_to_weigh(0.3, 0.001, population=40) == 40
    assert fruit_to_weigh(0.01, 0.5) == 2


def test_weighing_so_many_fruit_gives_the_wanted_precision() -> None:
    # 20,000 samples of 19 out of 40 fruit: their means lie within 10 % of the mean of the 40 in at least 95 %.
    generator = np.random.default_rng(5)
    fruit = generator.normal(100, 30, 40)
    fruit = 100 + (fruit - fruit.mean()) * 30 / fruit.std(ddof=1)
    means = np.array([generator.choice(fruit, 19, replace=False).mean() for _ in range(20_000)])
    assert (abs(means - 100) < 10).mean() == pytest.approx(0.953, abs=0.01)
