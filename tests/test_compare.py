"""Means, differences, ratios and families of comparisons against R 4.2."""

import math

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import t as t_distribution

from plotworth.field.arrangement import complete_blocks, completely_randomised, split_plot
from plotworth.field.block_model import NO_ERROR_LEFT, NO_SPREAD, NOT_LINKED, BlockModel, fit, joint_means
from plotworth.field.compare import (
    ONE_LEVEL,
    all_differences,
    differences,
    dunnett,
    new_plots,
    ratios,
    treatment_means,
    tukey,
)
from plotworth.field.contrast import Contrast, contrast, margin
from plotworth.field.multiplicity import EXACT, dunnett_p
from plotworth.field.ratio import NO_RATIO, ratio_of_means
from published_trials import fitted_trial, outside, outside_names, plots_of

TO_R = 1e-9
TO_QUADRATURE = 1e-8
QUANTILE_OF_R = 1e-7  # R stops its search for the studentised range's quantile near the eighth digit
ROUNDING = 1e-12  # beside 0, and for chances that R takes as 1 - chance
TINY = ROUNDING * 10
CHANCE_OF_R = 1e-9  # R's studentised range holds its chances to about ten decimals
MEAN = ("estimate", "standard_error", "degrees_of_freedom", "low", "high")
MEAN_OF_R = ("emmean", "SE", "df", "ci_lo", "ci_hi")
DIFFERENCE = (*MEAN, "t", "p")
DIFFERENCE_OF_R = ("estimate", "SE", "df", "ci_lo", "ci_hi", "t", "p")


def _numbers(found: Contrast, names: tuple[str, ...]) -> list[float]:
    return [getattr(found, name) for name in names]


def _difference(model: BlockModel, factors: str, first: str, second: str) -> Contrast:
    levels = margin(model, *factors.split(","))
    mix = levels.weights[levels.position(first)] - levels.weights[levels.position(second)]
    return contrast(model, mix, name="difference")


@pytest.mark.published
@pytest.mark.parametrize("name", outside_names("mean"))
def test_means_over_blocks_are_those_of_r(name: str) -> None:
    model = fitted_trial(name)
    for (factors, level), want in outside(name, "mean").items():
        levels = margin(model, *factors.split(","))
        found = treatment_means(model, levels)[levels.position(level)]
        assert_allclose(_numbers(found, MEAN), [want[q] for q in MEAN_OF_R], rtol=TO_R)


@pytest.mark.published
@pytest.mark.parametrize("name", outside_names("pair"))
def test_differences_are_those_of_r(name: str) -> None:
    model = fitted_trial(name)
    for (factors, first, second), want in outside(name, "pair").items():
        found = _difference(model, factors, first, second)
        assert_allclose(_numbers(found, DIFFERENCE), [want[q] for q in DIFFERENCE_OF_R], rtol=TO_R, atol=ROUNDING)


@pytest.mark.published
@pytest.mark.parametrize("name", ["orange_rootstock", "strawberry", "turnip", "oats", "potato_scab", "fungicide_latin"])
def test_intervals_of_all_pairs_together_are_those_of_r(name: str) -> None:
    model, want = fitted_trial(name), outside(name, "pair")
    for factors in sorted({factors for factors, _, _ in want}):
        family = tukey(model, margin(model, *factors.split(",")))
        for found in family.comparisons:
            later, earlier = found.single.label.split(" - ")
            row = want.get((factors, later, earlier)) or want[factors, earlier, later]
            e = found.single.estimate
            half = (row["tukey_hi"] - row["tukey_lo"]) / 2
            assert_allclose([found.high - e, e - found.low], [half, half], rtol=QUANTILE_OF_R)
            assert_allclose(found.p, row["p_tukey"], rtol=TO_QUADRATURE, atol=CHANCE_OF_R)


@pytest.mark.published
@pytest.mark.parametrize("name", outside_names("dunnett"))
def test_intervals_against_a_control_are_those_of_r(name: str) -> None:
    model, want = fitted_trial(name), outside(name, "dunnett")
    (factors, _, control) = next(key for key in want if len(key) == 3)
    if name == "wheat_moisture":
        model = _tray_means()
    family = dunnett(model, margin(model, factors), control=control)
    assert family.method == EXACT
    assert_allclose(family.critical, want[(factors,)]["crit"], rtol=TO_QUADRATURE)
    for found in family.comparisons:
        row = want[factors, found.single.label.removesuffix(f" - {control}"), control]
        assert_allclose([found.low, found.high], [row["dunnett_lo"], row["dunnett_hi"]], rtol=TO_QUADRATURE)
        assert_allclose(found.p, row["p_dunnett"], rtol=TO_QUADRATURE, atol=TINY)


def _tray_means() -> BlockModel:
    trays = plots_of("wheat_moisture").groupby(["Tray", "Moisture"], as_index=False, sort=False)["DryMatter"].mean()
    return fit(trays, completely_randomised("Moisture"), value="DryMatter")


def test_a_whole_plot_factor_compares_as_the_means_of_its_whole_plots_would() -> None:
    trays, split = _tray_means(), fitted_trial("wheat_moisture")
    by_tray = dunnett(trays, control="10")
    by_split = dunnett(split, margin(split, "Moisture"), control="10")
    assert_allclose(by_split.critical, by_tray.critical, rtol=TO_R)
    low = [[found.low for found in family.comparisons] for family in (by_split, by_tray)]
    assert_allclose(low[0], low[1], rtol=TO_R)


@pytest.mark.published
def test_the_rice_trial_has_the_recomputed_least_differences() -> None:
    # Recomputed beside Gomez & Gomez (1984), table 2.6: SED 235.1, LSD 501 (5 %) and 693 (1 %).
    model = fitted_trial("rice")
    one = differences(model, baseline="25")[0]
    wide = differences(model, baseline="25", confidence=0.99)[0]
    assert round(one.standard_error, 1) == 235.1
    assert (round((one.high - one.low) / 2), round((wide.high - wide.low) / 2)) == (501, 693)
    means = [round(mean.estimate) for mean in treatment_means(model)]
    assert means == [5124, 5070, 5304, 4848, 4708, 4703]


def test_with_two_treatments_blocks_make_it_the_paired_t_test_and_the_paired_ratio() -> None:
    # invented numbers; scipy's paired t test is the second way
    from scipy.stats import ttest_rel

    drip, wick = np.array([3.1, 4.0, 3.6, 5.2]), np.array([2.6, 3.9, 2.9, 4.1])
    plots = pd.DataFrame({"block": list("1234") * 2, "treatment": ["drip"] * 4 + ["wick"] * 4})
    model = fit(plots.assign(y=np.r_[drip, wick]), complete_blocks("treatment"), value="y")
    found, want = differences(model, baseline="drip")[0], ttest_rel(wick, drip)
    interval = want.confidence_interval()
    assert_allclose([found.t, found.p, found.low, found.high], [want.statistic, want.pvalue, *interval], rtol=TO_R)
    ratio, plain = ratios(model, baseline="drip")["wick"], ratio_of_means(wick, drip)
    assert_allclose(ratio.ratio, plain.ratio, rtol=TO_R)
    # the block model pools the spread of both treatments: an interval of its own, of like width
    assert ratio.low < plain.ratio < ratio.high
    assert_allclose(ratio.high - ratio.low, plain.high - plain.low, rtol=0.25)  # rough: another error


@pytest.mark.parametrize(
    ("name", "top", "bottom", "freedom"),
    [("orange_rootstock", "Cleopatra", "Sunki", 16), ("npk_peas", "1", "0", 12)],  # the second: means that covary
)
def test_ends_of_a_ratio_are_the_multiples_that_t_does_not_contradict(
    name: str, top: str, bottom: str, freedom: int
) -> None:
    """Fieller's ends are the ratios R at which mean - R x baseline is t standard errors from 0."""
    model = fitted_trial(name)
    levels = margin(model) if name == "orange_rootstock" else margin(model, "N", at={"P": "0", "K": "1"})
    ratio = ratios(model, levels, baseline=bottom)[top]
    over, under = (levels.weights[levels.position(level)] for level in (top, bottom))
    quantile = float(t_distribution.ppf(0.975, freedom))
    for end in (ratio.low, ratio.high):
        assert_allclose(abs(contrast(model, over - end * under, name="").t), quantile, rtol=TO_R)
    error = contrast(model, over - ratio.ratio * under, name="").standard_error
    assert_allclose(ratio.standard_error, error / contrast(model, under, name="").estimate, rtol=TO_R)


def test_where_strata_mix_the_fewest_degrees_of_freedom_serve_for_all() -> None:
    plots = plots_of("oats")
    part = plots[plots["V"].isin(["Victory", "Marvellous"]) & plots["N"].isin(["0.0cwt", "0.6cwt"])]
    model = fit(part, split_plot(whole=("V",), sub=("N",), block="B"), value="Y")
    family = dunnett(model, control="Victory | 0.0cwt")
    freedom = [row.single.degrees_of_freedom for row in family.comparisons]
    assert max(freedom) == pytest.approx(10)  # inside a whole plot: 2 x 5
    assert min(freedom) < 9  # across: mixed with the 5 of the whole plots
    joint, steps = joint_means(model), np.delete(np.eye(4), 0, axis=0) - np.eye(4)[0]
    covariance = steps @ joint.covariance @ steps.T
    scale = np.sqrt(np.diag(covariance))
    row = family.comparisons[0]
    want = dunnett_p(row.single.t, covariance / np.outer(scale, scale), min(freedom))
    assert_allclose(row.p, want, rtol=1e-4)  # rounding moves quasi-random points, where those are needed


def test_a_new_plot_lies_in_a_wider_interval_than_the_mean() -> None:
    # s^2 (1 + 1/r) with r = 3 blocks: orange_rootstock, mean square 251.736111 on 16 (R)
    model = fitted_trial("orange_rootstock")
    one = new_plots(model)[0]
    half = t_distribution.ppf(0.975, 16) * math.sqrt(outside_error() * (1 + 1 / 3))
    assert_allclose(one.high - one.estimate, half, rtol=TO_R)
    assert math.isnan(one.p)


def outside_error() -> float:
    return outside("orange_rootstock", "anova")["plots", "error"]["MS"]


def test_a_new_plot_of_a_split_plot_brings_both_deviations() -> None:
    # oats: (E_a + 3 E_b) / 4 + that / 6 blocks; E_a 601.3306, E_b 177.0833 (R)
    model, want = fitted_trial("oats"), outside("oats", "anova")
    whole, plot = want["whole plots", "error"]["MS"], want["plots", "error"]["MS"]
    variance = (whole + 3 * plot) / 4 * (1 + 1 / 6)
    assert_allclose(new_plots(model)[0].standard_error, math.sqrt(variance), rtol=TO_R)


@pytest.fixture
def broken() -> pd.DataFrame:
    """Block 1 holds nothing but a, block 2 nothing but b: no block links them."""
    return pd.DataFrame({"block": list("1122"), "treatment": list("aabb"), "y": [1.0, 2.0, 3.0, 5.0]})


def test_treatments_that_no_block_links_are_not_compared(broken: pd.DataFrame) -> None:
    model = fit(broken, complete_blocks("treatment"), value="y")
    found = differences(model, baseline="a")[0]
    assert (found.reason, math.isnan(found.estimate)) == (NOT_LINKED, True)
    family = tukey(model)
    assert (family.reason, math.isnan(family.critical)) == (NOT_LINKED, True)
    assert ratios(model, baseline="a")["b"].reason == NO_RATIO


def test_a_block_of_one_treatment_alone_tells_the_others_nothing() -> None:
    rows = [*zip("111", "aaa", (5.0, 6.0, 5.5), strict=True)]
    rows += [*zip("222333", "abcabc", (3.0, 4.0, 5.0, 2.0, 4.5, 4.0), strict=True)]
    plots = pd.DataFrame(rows, columns=["block", "treatment", "y"])
    with_it = differences(fit(plots, complete_blocks("treatment"), value="y"), baseline="a")
    without = differences(fit(plots[plots["block"] != "1"], complete_blocks("treatment"), value="y"), baseline="a")
    assert_allclose([d.estimate for d in with_it], [d.estimate for d in without], rtol=TO_R)
    # three plots alike in one block add two degrees of freedom to the two of the rest
    assert_allclose([without[0].degrees_of_freedom, with_it[0].degrees_of_freedom], [2, 4], rtol=TO_R)


def test_a_treatment_with_one_plot_borrows_the_spread_of_the_others() -> None:
    plots = pd.DataFrame({"treatment": list("aaabbbc"), "y": [1.0, 2.0, 3.0, 4.0, 6.0, 5.0, 9.0]})
    means = treatment_means(fit(plots, completely_randomised("treatment"), value="y"))
    # pooled variance (2 + 2) / 4 = 1 on 4 degrees of freedom
    assert_allclose([m.standard_error for m in means], [1 / math.sqrt(3), 1 / math.sqrt(3), 1.0], rtol=TO_R)


def test_one_plot_a_treatment_leaves_no_error() -> None:
    plots = pd.DataFrame({"treatment": list("abc"), "y": [1.0, 2.0, 4.0]})
    model = fit(plots, completely_randomised("treatment"), value="y")
    found = differences(model, baseline="a")[1]
    assert (found.estimate, found.reason) == (pytest.approx(3.0, rel=TO_R), NO_ERROR_LEFT)
    assert math.isnan(found.low)
    assert dunnett(model, control="a").reason == NO_ERROR_LEFT
    assert ratios(model, baseline="a")["b"].reason == NO_ERROR_LEFT


def test_plots_that_do_not_differ_give_no_interval() -> None:
    plots = pd.DataFrame({"treatment": list("aabb"), "y": [0.0, 0.0, 0.0, 0.0]})
    model = fit(plots, completely_randomised("treatment"), value="y")
    assert [found.reason for found in all_differences(model)] == [NO_SPREAD]
    assert ratios(model, baseline="a")["b"].reason == NO_RATIO


def test_one_treatment_alone_has_a_mean_and_nothing_to_compare() -> None:
    model = fit(pd.DataFrame({"treatment": ["a", "a"], "y": [1.0, 3.0]}), completely_randomised("treatment"), value="y")
    assert treatment_means(model)[0].estimate == pytest.approx(2.0, rel=TO_R)
    assert tukey(model).reason == ONE_LEVEL
    assert differences(model, baseline="a") == ()


def test_one_tunnel_for_each_water_system_compares_only_what_lies_inside_the_tunnels() -> None:
    # invented numbers: two tunnels, each with two plots of each inoculation
    rows = [(tunnel, water, kind) for tunnel, water in (("1", "drip"), ("2", "wick")) for kind in "ynyn"]
    plots = pd.DataFrame(rows, columns=["tunnel", "water", "inoculated"])
    plots["y"] = [5.0, 4.1, 5.3, 4.0, 4.4, 3.1, 4.1, 3.4]
    layout = split_plot(whole=("water",), sub=("inoculated",), block="", whole_plot="tunnel")
    model = fit(plots, layout, value="y")
    assert {found.reason for found in all_differences(model, margin(model, "water"))} == {NO_ERROR_LEFT}
    inside = dunnett(model, margin(model, "inoculated"), control="n")
    assert (inside.reason, len(inside.comparisons)) == ("", 1)
    single = inside.comparisons[0].single
    assert_allclose([single.estimate, single.degrees_of_freedom], [(5.15 + 4.25 - 4.05 - 3.25) / 2, 4], rtol=TO_R)
    assert_allclose([inside.comparisons[0].low, inside.comparisons[0].p], [single.low, single.p], rtol=TO_R)


def test_an_unknown_baseline_is_named() -> None:
    with pytest.raises(ValueError, match="no level 'well' among"):
        differences(fitted_trial("rice"), baseline="well")
