"""The ratio of two means and its interval."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import t

from field_tables import published, reference
from plotworth.field.ratio import (
    NO_RATIO,
    NOT_DIFFERENT_FROM_ZERO,
    ONE_PAIR,
    ONE_VALUE,
    Ratio,
    ratio_of_independent_means,
    ratio_of_means,
)

SITES = ["DBAN", "LFAN", "NSAN", "ORAN", "OVAN", "TEAN", "WEAN", "WLAN"]
INSECTICIDES = [f"T{number:02d}" for number in range(1, 12)]


def check_against_r(found: Ratio, expected: dict[str, float]) -> None:
    names = ["ratio", "se_taylor", "df", "fieller_g", "fieller_low", "fieller_high"]
    values = [found.ratio, found.standard_error, found.degrees_of_freedom, found.g, found.low, found.high]
    assert_allclose(values, [expected[name] for name in names], rtol=1e-9)


@pytest.mark.published
@pytest.mark.parametrize("site", [*SITES, "all"])
def test_weight_per_ear_of_antigua_corn(site: str) -> None:
    plots = published("antigua_corn").dropna()
    plots = plots if site == "all" else plots[plots["site"] == site]
    expected = reference("antigua_corn", site)
    assert len(plots) == expected["n"]
    check_against_r(ratio_of_means(plots["harvwt"], plots["ears"]), expected)


@pytest.mark.published
def test_vitamin_per_kilogram_of_cabbage() -> None:
    heads = published("cabbages")
    check_against_r(ratio_of_means(heads["VitC"], heads["HeadWt"]), reference("cabbages", "all"))


@pytest.mark.published
@pytest.mark.parametrize("treatment", [*INSECTICIDES, "all"])
def test_share_of_sound_carrots(treatment: str) -> None:
    plots = published("carrot_fly")
    plots = plots if treatment == "all" else plots[plots["treatment"] == treatment]
    found = ratio_of_means(plots["total"] - plots["damaged"], plots["total"])
    check_against_r(found, reference("carrot_fly", treatment))


@pytest.mark.published
def test_ratio_estimator_of_a_teaching_script() -> None:
    pairs = published("ratio_estimator")
    found = ratio_of_means(pairs["y"], pairs["x"])
    assert round(found.ratio, 4) == 1.0625
    assert round(found.ratio * 19.7, 2) == 20.93
    # the script corrects for the finite population: 10 of 1000
    assert round(found.standard_error * pairs["x"].mean() * math.sqrt(1 - 10 / 1000), 4) == 0.6468


@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_at_each_end_of_a_paired_interval_the_difference_is_just_significant(confidence: float) -> None:
    # Fieller's definition, written out: |mean(y - R x)| = t x its standard error
    rng = np.random.default_rng(1)
    y, x = rng.normal(60, 9, 5), rng.normal(100, 15, 5)
    found = ratio_of_means(y, x, confidence=confidence)
    for end in (found.low, found.high):
        rest = y - end * x
        statistic = abs(rest.mean()) / (rest.std(ddof=1) / math.sqrt(5))
        assert_allclose(statistic, t.ppf((1 + confidence) / 2, 4), rtol=1e-9)


def test_at_each_end_of_an_independent_interval_the_difference_is_just_significant() -> None:
    rng = np.random.default_rng(2)
    y, x = rng.normal(60, 9, 4), rng.normal(100, 25, 6)
    found = ratio_of_independent_means(y, x)
    for end in (found.low, found.high):
        variance = y.var(ddof=1) / 4 + end**2 * x.var(ddof=1) / 6
        statistic = abs(y.mean() - end * x.mean()) / math.sqrt(variance)
        assert_allclose(statistic, t.ppf(0.975, found.degrees_of_freedom), rtol=1e-9)


def test_degrees_of_freedom_of_independent_samples_are_welchs_at_the_ratio() -> None:
    from scipy.stats import ttest_ind

    y, x = np.array([3.0, 5.0, 4.0]), np.array([9.0, 12.0, 8.0, 13.0])
    found = ratio_of_independent_means(y, x)
    assert_allclose(found.degrees_of_freedom, ttest_ind(y, found.ratio * x, equal_var=False).df, rtol=1e-9)
    assert_allclose(found.standard_error, math.sqrt(1 / 3 + found.ratio**2 * (17 / 3) / 4) / 10.5, rtol=1e-9)  # by hand


def test_a_denominator_that_may_be_zero_gives_no_finite_interval() -> None:
    found = ratio_of_means([1.0, 2.0, 3.0], [-1.0, 1.0, 3.0])
    assert found.ratio == 2.0
    assert math.isnan(found.low)
    assert math.isnan(found.high)
    assert found.g >= 1
    assert found.reason == NOT_DIFFERENT_FROM_ZERO
    assert ratio_of_independent_means([1.0, 2.0], [-1.0, 3.0]).reason == NOT_DIFFERENT_FROM_ZERO


def test_a_zero_denominator_gives_no_ratio() -> None:
    for found in (ratio_of_means([1.0, 2.0], [-1.0, 1.0]), ratio_of_independent_means([1.0], [0.0])):
        assert math.isnan(found.ratio)
        assert found.reason == NO_RATIO


def test_one_pair_or_one_value_gives_a_ratio_without_interval() -> None:
    one, uneven = ratio_of_means([1.0], [4.0]), ratio_of_independent_means([1.0], [4.0, 4.0])
    assert (one.ratio, one.reason) == (0.25, ONE_PAIR)
    assert (uneven.ratio, uneven.reason) == (0.25, ONE_VALUE)
    assert math.isnan(one.low)
    assert math.isnan(uneven.high)


def test_values_without_spread_give_an_interval_of_no_width() -> None:
    for found in (ratio_of_means([2.0, 2.0], [4.0, 4.0]), ratio_of_independent_means([2.0, 2.0], [4.0, 4.0])):
        assert (found.low, found.ratio, found.high, found.standard_error) == (0.5, 0.5, 0.5, 0.0)


def test_a_missing_value_is_not_passed_over() -> None:
    assert ratio_of_means([1.0, np.nan], [1.0, 2.0]).reason == NO_RATIO


def test_unequal_lengths_and_empty_samples_are_refused() -> None:
    with pytest.raises(ValueError, match="2 numerators and 1 denominators"):
        ratio_of_means([1.0, 2.0], [1.0])
    with pytest.raises(ValueError, match="at least one value"):
        ratio_of_independent_means([], [1.0])


def test_the_interval_covers_the_ratio_as_often_as_it_says() -> None:
    # simulation, seed fixed: 4 blocks with a block effect, true ratio 0.6; 1500 trials, so +-1.1 % at two sd
    rng = np.random.default_rng(20260501)
    blocks = rng.normal(0, 8, (1500, 4))
    y, x = 60 + 0.6 * blocks + rng.normal(0, 5, (1500, 4)), 100 + blocks + rng.normal(0, 5, (1500, 4))
    found = [ratio_of_means(ys, xs) for ys, xs in zip(y, x, strict=True)]
    covered = np.mean([each.low <= 0.6 <= each.high for each in found])
    assert 0.935 <= covered <= 0.965
