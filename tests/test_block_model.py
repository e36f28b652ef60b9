"""The block model itself: joint errors, missing plots, split plots with gaps, an independent solution."""

import math

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from plotworth.field.arrangement import complete_blocks, split_plot
from plotworth.field.block_model import WHOLE_PLOTS, fit, joint_means, spread
from plotworth.field.contrast import margin
from plotworth.ground.errors import PlotworthError
from published_trials import LAYOUTS, fitted_trial, outside, plots_of

TO_R = 1e-9


def test_the_covariance_of_means_gives_back_every_error_of_a_difference() -> None:
    for name in ("orange_rootstock", "oats", "antigua_corn/TEAN"):
        model = fitted_trial(name)
        joint = joint_means(model)
        for i, j in ((0, 1), (2, 5), (1, len(joint.labels) - 1)):
            mix = np.eye(len(joint.labels))[i] - np.eye(len(joint.labels))[j]
            assert_allclose(mix @ joint.covariance @ mix, spread(model, mix).variance, rtol=TO_R)


def test_means_in_complete_blocks_have_errors_of_their_own() -> None:
    # fixed blocks: covariance s^2 / r on the diagonal, 0 beside it; orange_rootstock, 3 blocks
    joint = joint_means(fitted_trial("orange_rootstock"))
    square = outside("orange_rootstock", "anova")["plots", "error"]["MS"]
    assert_allclose(joint.covariance, square / 3 * np.eye(9), rtol=TO_R, atol=1e-10)  # rounding beside 0
    assert_allclose(joint.degrees_of_freedom, 16, rtol=TO_R)
    assert joint.labels[:2] == ("Sunki", "NRL")  # order of the file


def test_means_in_one_whole_plot_share_its_error() -> None:
    # oats: ((E_a - E_b) / 4) / 6 between sub-plot treatments of one variety, 0 between varieties
    joint, want = joint_means(fitted_trial("oats")), outside("oats", "anova")
    shared = (want["whole plots", "error"]["MS"] - want["plots", "error"]["MS"]) / 4 / 6
    assert_allclose(joint.covariance[0, 1:4], shared, rtol=TO_R)
    assert_allclose(joint.covariance[0, 4:], 0.0, atol=1e-10)  # rounding


def test_a_missing_plot_is_solved_as_plain_normal_equations_would() -> None:
    plots = plots_of("strawberry")
    plots.loc[[3, 17], "yield"] = math.nan
    model = fit(plots, complete_blocks("gen"), value="yield")
    known = plots[plots["yield"].notna()]
    columns = pd.get_dummies(known[["block", "gen"]], drop_first=True).to_numpy(float)
    x = np.column_stack([np.ones(len(known)), columns])
    y = known["yield"].to_numpy(float)
    inverse = np.linalg.inv(x.T @ x)
    coefficients, n_blocks = inverse @ x.T @ y, known["block"].nunique() - 1
    square = np.sum((y - x @ coefficients) ** 2) / (len(y) - x.shape[1])
    assert_allclose(model.strata[0].mean_square, square, rtol=TO_R)
    names = [c.removeprefix("gen_") for c in pd.get_dummies(known[["gen"]], drop_first=True).columns]
    base = next(cell for (cell,) in model.cells if cell not in names)
    levels = margin(model)
    for name, at in zip(names, range(1 + n_blocks, x.shape[1]), strict=True):
        mix = levels.weights[levels.position(name)] - levels.weights[levels.position(base)]
        assert_allclose(mix @ model.estimates, coefficients[at], rtol=1e-8, atol=1e-12)  # normal equations lose digits
        assert_allclose(spread(model, mix).variance, square * inverse[at, at], rtol=1e-8)  # the same


def test_the_order_of_the_plots_does_not_matter() -> None:
    for name in ("oats", "antigua_corn/TEAN"):
        plots = plots_of(name)
        arrangement, value = LAYOUTS[name.partition("/")[0]]
        one = fit(plots, arrangement, value=value)
        other = fit(plots.sample(frac=1.0, random_state=3), arrangement, value=value)
        at = [one.cells.index(cell) for cell in other.cells]
        assert_allclose(other.estimates, one.estimates[at], rtol=TO_R)
        assert_allclose(
            joint_means(other).covariance, joint_means(one).covariance[np.ix_(at, at)], rtol=TO_R, atol=TO_R
        )


def test_a_lost_whole_plot_costs_its_own_degree_of_freedom() -> None:
    plots = plots_of("oats")
    plots.loc[(plots["B"] == "I") & (plots["V"] == "Victory"), "Y"] = math.nan
    model = fit(plots, split_plot(whole=("V",), sub=("N",), block="B"), value="Y")
    # whole plots: 17 - 6 blocks - 2; plots: 68 - 17 - 3 - 6
    assert [stratum.degrees_of_freedom for stratum in model.strata] == [9, 42]
    assert model.strata[0].name == WHOLE_PLOTS


def test_a_split_plot_with_a_gap_comes_close_to_one_without() -> None:
    plots, layout = plots_of("oats"), split_plot(whole=("V",), sub=("N",), block="B")
    full = fit(plots, layout, value="Y")
    plots.loc[7, "Y"] = full.estimates[full.cells.index((plots["V"][7], plots["N"][7]))]
    filled = fit(plots, layout, value="Y")
    plots.loc[7, "Y"] = math.nan
    gap = fit(plots, layout, value="Y")
    assert [s.degrees_of_freedom for s in gap.strata] == [10, 44]
    assert_allclose(gap.estimates, filled.estimates, rtol=0.05)  # one of 72 plots: close, not equal
    weights = margin(gap, "V").weights
    errors = [spread(model, weights[1] - weights[0]).standard_error for model in (gap, full)]
    assert_allclose(errors[0], errors[1], rtol=0.1)  # the same


def test_a_mean_square_below_that_of_the_plots_is_kept_as_found() -> None:
    """Whole plots may differ less than their plots would have it: the classic analysis does not round up."""
    generator = np.random.default_rng(5)
    rows = [(b, w, s) for b in range(4) for w in "ab" for s in "xyz"]
    plots = pd.DataFrame(rows, columns=["block", "water", "feed"])
    for _ in range(50):
        values = generator.normal(size=len(plots))
        model = fit(plots.assign(y=values), split_plot(whole=("water",), sub=("feed",)), value="y")
        whole = model.strata[0]
        means = plots.assign(y=values).groupby(["block", "water"])["y"].mean().unstack()
        steps = means["b"] - means["a"]
        assert_allclose(whole.mean_square, 3 * steps.var(ddof=1) / 2, rtol=TO_R)
        weights = margin(model, "water").weights
        assert_allclose(spread(model, weights[1] - weights[0]).standard_error, steps.std(ddof=1) / 2, rtol=TO_R)


def test_no_value_at_all_is_refused() -> None:
    plots = pd.DataFrame({"block": ["1"], "treatment": ["a"], "yield_kg_per_m2": [math.nan]})
    with pytest.raises(ValueError, match="no plot has a value of 'yield_kg_per_m2'"):
        fit(plots, complete_blocks("treatment"))


@pytest.mark.parametrize("column", ["crop", "site", "trial_year"])
def test_seasons_sites_and_crops_are_never_pooled(column: str) -> None:
    plots = pd.DataFrame({"block": list("1122"), "treatment": list("abab"), "yield_kg_per_m2": [1.0, 2.0, 2.0, 4.0]})
    fit(plots.assign(**{column: "one"}), complete_blocks("treatment"))
    with pytest.raises(PlotworthError, match=f"{column}: the plots belong to several \\(one, other\\)"):
        fit(plots.assign(**{column: ["one", "one", "other", "other"]}), complete_blocks("treatment"))


def test_a_covariance_is_never_below_nothing_in_any_direction() -> None:
    """Plots missing from a split plot whose whole plots differ less than their plots (invented numbers)."""
    generator, lowest = np.random.default_rng(11), 0.0
    rows = [(b, w, s) for b in range(3) for w in "ab" for s in "xyz"]
    plots = pd.DataFrame(rows, columns=["block", "water", "feed"])
    for _ in range(60):
        values = pd.Series(generator.normal(size=len(plots)))
        values[generator.choice(len(plots), 4, replace=False)] = math.nan
        model = fit(plots.assign(y=values), split_plot(whole=("water",), sub=("feed",)), value="y")
        joint, least = joint_means(model), min(stratum.mean_square for stratum in model.strata)
        step = np.subtract(*margin(model, "water").weights)
        loads = [step @ stratum.loading @ step for stratum in model.strata]
        assert not spread(model, step).variance < (1 - TO_R) * least * sum(loads)
        if np.isfinite(joint.covariance).all():
            lowest = min(lowest, float(np.linalg.eigvalsh(joint.covariance)[0] / joint.covariance.max()))
    assert lowest > -1e-12


def test_treatments_that_no_block_links_have_no_joint_error() -> None:
    # invented: block 1 holds a alone, block 2 b alone
    plots = pd.DataFrame({"block": list("1122"), "treatment": list("aabb"), "y": [1.0, 2.0, 3.0, 5.0]})
    joint = joint_means(fit(plots, complete_blocks("treatment"), value="y"))
    assert np.isnan(joint.means).all()
    assert np.isnan(joint.covariance).all()


def test_an_interaction_of_sub_plot_factors_that_lies_between_whole_plots_is_left_out() -> None:
    """Whole plots of two: inoculation and feed alike in one, unlike in the other."""
    rows = [
        (f"{w}{r}{alike}", w, str(a), str(a if alike else 1 - a))
        for w in ("drip", "wick")
        for r in range(3)
        for alike in (True, False)
        for a in (0, 1)
    ]
    plots = pd.DataFrame(rows, columns=["tray", "water", "inoculated", "fed"])
    plots["y"] = np.random.default_rng(4).normal(size=len(plots))
    layout = split_plot(whole=("water",), sub=("inoculated", "fed"), block="", whole_plot="tray")
    model = fit(plots, layout, value="y")
    assert ("inoculated", "fed") in model.left_out
    assert ("water", "inoculated") not in model.left_out


def test_an_interaction_that_the_treatments_do_not_hold_is_not_called_hidden() -> None:
    cells = [("no", "low"), ("no", "high"), ("yes", "low")]
    plots = pd.DataFrame([(b, *cell) for b in "123" for cell in cells], columns=["block", "inoculated", "feed"])
    plots["y"] = np.random.default_rng(4).normal(size=len(plots))
    assert fit(plots, complete_blocks("inoculated", "feed"), value="y").left_out == ()
