"""Several seasons and sites: fitted one by one, compared across from five on."""

import math

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import ttest_1samp

from plotworth.field.arrangement import complete_blocks
from plotworth.field.block_model import NO_ERROR_LEFT
from plotworth.field.missing_plots import mixed_model
from plotworth.field.seasons_and_sites import ALIKE, NO_TRIAL, across, trials
from published_trials import LAYOUTS, outside, plots_of

CLOSE = 1e-9
REML = 1e-5
ANTIGUA, WEIGHT = LAYOUTS["antigua_corn"]


def _antigua():
    return trials(plots_of("antigua_corn"), ANTIGUA, levels=("site",), baseline="0", value=WEIGHT)


@pytest.mark.published
def test_each_site_is_fitted_on_its_own_as_in_r() -> None:
    for trial in _antigua():
        pairs = outside(f"antigua_corn/{trial.levels['site']}", "pair")
        for (_, first, second), want in pairs.items():
            if first == "0":  # R gives the baseline less the other
                found = trial.differences[second]
                ends = [-found.estimate, found.standard_error, -found.high, -found.low]
                assert_allclose(ends, [want[q] for q in ("estimate", "SE", "ci_lo", "ci_hi")], rtol=CLOSE, atol=1e-12)


def test_eight_sites_give_a_mean_and_a_prediction_for_a_ninth() -> None:
    found = across(_antigua(), "311", over="site")
    want = ttest_1samp(found.values, 0.0)  # the same mean and interval from scipy
    interval = want.confidence_interval()
    numbers = [found.mean.estimate, found.mean.low, found.mean.high, found.mean.p]
    assert_allclose(numbers, [np.mean(found.values), *interval, want.pvalue], rtol=CLOSE)
    widths = [row.high - row.low for row in (found.new_level, found.mean)]
    assert_allclose(widths[0] / widths[1], math.sqrt(8 + 1), rtol=CLOSE)  # s sqrt(1 + 1/8) over s / sqrt(8)
    assert found.reason == ""


def test_differences_between_sites_are_split_as_the_mixed_model_splits_them() -> None:
    """Balanced invented trials: two treatments, six sites, four blocks; REML of site x treatment."""
    generator = np.random.default_rng(7)
    rows = [(s, b, t) for s in range(6) for b in range(4) for t in ("a", "b")]
    plots = pd.DataFrame(rows, columns=["site", "block", "treatment"])
    site_step = generator.normal(0.5, 1.0, 6)
    plots["y"] = np.where(plots["treatment"] == "b", site_step[plots["site"]], 0.0)
    plots["y"] += generator.normal(0, 1.0, 6)[plots["site"]] + generator.normal(0, 0.4, len(plots))
    found = across(
        trials(plots, complete_blocks("treatment"), levels=("site",), baseline="a", value="y"), "b", over="site"
    )
    steps = plots.pivot(index=["site", "block"], columns="treatment", values="y")
    by_block = (steps["b"] - steps["a"]).rename("y").reset_index().assign(treatment="difference")
    mixed = mixed_model(by_block, complete_blocks("treatment", block="site"), value="y")
    assert_allclose(found.between_variance, mixed.variances["site"], rtol=REML)
    assert_allclose(found.own_variance, mixed.variances["plots"] / 4, rtol=REML)


def _invented(sites: int, years: int = 1) -> pd.DataFrame:
    rows = [(f"s{s}", f"y{y}", b, t) for s in range(sites) for y in range(years) for b in range(3) for t in "ab"]
    plots = pd.DataFrame(rows, columns=["site", "trial_year", "block", "treatment"])
    return plots.assign(yield_kg_per_m2=np.random.default_rng(3).normal(3, 0.4, len(plots)))


def test_fewer_than_five_are_a_table_and_nothing_more() -> None:
    fitted = trials(_invented(4), complete_blocks("treatment"), baseline="a")
    assert [trial.levels for trial in fitted] == [{"site": f"s{i}", "trial_year": "y0"} for i in range(4)]
    found = across(fitted, "b", over="site")
    assert found.reason.startswith("4 of site: fewer than 5")
    assert math.isnan(found.mean.estimate)
    assert found.mean.reason == found.new_level.reason == found.reason
    assert len(found.values) == 4


def test_seasons_at_a_site_are_not_more_sites() -> None:
    fitted = trials(_invented(3, years=2), complete_blocks("treatment"), baseline="a")
    assert len(fitted) == 6
    assert {trial.model.strata[0].degrees_of_freedom for trial in fitted} == {2}  # (3 - 1)(2 - 1), not pooled
    found = across(fitted, "b", over="site")
    assert found.levels == ("s0", "s1", "s2")
    steps = [trial.differences["b"].estimate for trial in fitted]
    assert_allclose(found.values, [np.mean(steps[i : i + 2]) for i in (0, 2, 4)], rtol=CLOSE)
    errors = [trial.differences["b"].standard_error for trial in fitted]
    assert_allclose(found.own_variance, np.mean(np.square(errors)) / 2, rtol=CLOSE)


def test_a_site_without_the_baseline_or_the_treatment_is_left_out() -> None:
    plots = _invented(6)
    plots = plots[~((plots["site"] == "s1") & (plots["treatment"] == "a"))]
    plots.loc[(plots["site"] == "s2") & (plots["treatment"] == "b"), "yield_kg_per_m2"] = math.nan
    fitted = trials(plots, complete_blocks("treatment"), baseline="a")
    assert len(fitted) == 5
    assert across(fitted, "b", over="site").levels == ("s0", "s3", "s4", "s5")
    assert across(fitted, "c", over="site").reason == NO_TRIAL


def test_sites_that_differ_in_nothing_give_no_interval() -> None:
    plots = _invented(5).assign(yield_kg_per_m2=0.0)
    found = across(trials(plots, complete_blocks("treatment"), baseline="a"), "b", over="site")
    assert (found.mean.reason, found.mean.estimate) == (ALIKE, 0.0)


def test_one_block_a_site_still_makes_a_comparison_over_sites() -> None:
    plots = _invented(5)
    fitted = trials(plots[plots["block"] == 0], complete_blocks("treatment"), baseline="a")
    assert {trial.differences["b"].reason for trial in fitted} == {NO_ERROR_LEFT}
    found = across(fitted, "b", over="site")
    assert found.mean.degrees_of_freedom == 4
    assert math.isnan(found.own_variance)
