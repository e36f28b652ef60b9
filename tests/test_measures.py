"""Measures of worth: published values, a second library, values by hand, and where they have no meaning."""

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy_financial
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.money.measures import (
    benefit_cost_ratio,
    capital_recovery_factor,
    cost_per_kg,
    discount_factors,
    equivalent_annual_value,
    modified_rate_of_return,
    payback_years,
    present_value,
)
from plotworth.money.rates import all_rates_of_return, internal_rate_of_return

PUBLISHED = Path(__file__).parent / "published"
BEYOND_PRINT = 1e-12  # relative; where more digits are printed than two ways of adding agree on

Row = dict[str, str]


def numbers(row: Row) -> list[float]:
    return [float(word) for word in row["amounts"].split()]


def value_today(row: Row) -> float:
    return present_value(numbers(row), discount_factors(float(row["rate"]), len(numbers(row)) - 1))


def factor(row: Row) -> float:
    return discount_factors(float(row["rate"]), int(row["years"]))[-1]


def recovery(row: Row) -> float:
    return capital_recovery_factor(float(row["rate"]), int(row["years"]))


def annual(row: Row, worth: float) -> float:
    return equivalent_annual_value(worth, float(row["rate"]), int(row["years"]))


def modified(row: Row) -> float:
    return modified_rate_of_return(numbers(row), float(row["rate"]), float(row["second_rate"]))


WAYS: dict[str, Callable[[Row], float]] = {
    "net_present_value": value_today,
    "net_present_value_first_flow_discounted": lambda row: value_today(row) / (1 + float(row["rate"])),
    "internal_rate_of_return": lambda row: internal_rate_of_return(numbers(row)).rate,
    "root_of_return": lambda row: all_rates_of_return(numbers(row))[int(row["years"])],
    "modified_rate_of_return": modified,
    "equivalent_annual_value": lambda row: annual(row, numbers(row)[0]),
    "equivalent_annual_value_of_flows": lambda row: annual(row, value_today(row)),
    "payback_years": lambda row: payback_years(numbers(row)),
    "loan_payment": lambda row: numbers(row)[0] * recovery(row),
    "annuity_worth": lambda row: numbers(row)[0] / recovery(row),
    "discount_factor": factor,
    "compound_factor": lambda row: 1 / factor(row),
    "capital_recovery_factor": recovery,
    "annuity_factor": lambda row: 1 / recovery(row),
    "sinking_fund_factor": lambda row: recovery(row) - float(row["rate"]),
    "annuity_growth_factor": lambda row: 1 / (recovery(row) - float(row["rate"])),
}


def published_rows() -> list[Row]:
    """Return the rows of both tables; a blank value means that no number may be given."""
    rows = []
    for name in ("money_measures.csv", "money_spreadsheet.csv"):
        with (PUBLISHED / name).open(encoding="utf-8", newline="") as table:
            rows += list(csv.DictReader(table))
    return rows


@pytest.mark.published
@pytest.mark.parametrize("row", published_rows(), ids=lambda row: row["name"])
def test_published_values(row: Row) -> None:
    found = WAYS[row["measure"]](row)
    if not row["value"]:
        assert np.isnan(found)
        return
    half_a_digit = 0.5 * 10.0 ** -int(row["decimals"])
    assert_allclose(found, float(row["value"]), rtol=BEYOND_PRINT, atol=half_a_digit)


@pytest.mark.published
def test_two_rates_in_the_published_stream_with_two_give_no_single_rate() -> None:
    rate, count = internal_rate_of_return([-1600, 10000, -10000])  # money_spreadsheet.csv, irregular_signs
    assert np.isnan(rate)
    assert count == 2


# --- against numpy_financial

amounts = st.integers(-500_000, 500_000).map(lambda amount: amount / 100)
streams = st.lists(amounts, min_size=2, max_size=25)
rates = st.floats(-0.5, 2.0)


@settings(max_examples=200, deadline=None)
@given(streams, rates)
def test_present_value_agrees_with_numpy_financial(flows: list[float], rate: float) -> None:
    found = present_value(flows, discount_factors(rate, len(flows) - 1))
    gross = present_value(np.abs(flows), discount_factors(rate, len(flows) - 1))
    assert_allclose(found, numpy_financial.npv(rate, flows), rtol=1e-9, atol=1e-12 * gross)


@settings(max_examples=200, deadline=None)
@given(streams, rates, rates)
def test_the_modified_rate_agrees_with_numpy_financial(flows: list[float], finance: float, reinvestment: float) -> None:
    found = modified_rate_of_return(flows, finance, reinvestment)
    theirs = numpy_financial.mirr(flows, finance, reinvestment)
    assert_allclose(found, theirs, rtol=1e-9, atol=1e-12)


@settings(max_examples=200, deadline=None)
@given(st.floats(1e-3, 1.0), st.integers(1, 50), st.floats(-1e6, 1e6))
def test_the_annual_value_agrees_with_a_payment_of_numpy_financial(rate: float, years: int, worth: float) -> None:
    # From a rate of 0.001 on: below it the other library loses digits.
    found = equivalent_annual_value(worth, rate, years)
    assert_allclose(found, -numpy_financial.pmt(rate, years, worth), rtol=1e-9)


@settings(max_examples=100, deadline=None)
@given(st.floats(100, 5000), st.lists(st.floats(1, 900), min_size=3, max_size=20))
def test_reinvested_at_the_rate_of_return_the_modified_rate_is_the_same(outlay: float, gains: list[float]) -> None:
    flows = [-outlay, *gains]
    rate, count = internal_rate_of_return(flows)
    assert count == 1
    assert_allclose(modified_rate_of_return(flows, rate, rate), rate, rtol=1e-9, atol=1e-12)


# --- discounting


def test_at_rate_zero_the_factors_are_exactly_one() -> None:
    assert_array_equal(discount_factors(0.0, 30), np.ones(31))


def test_factors_are_powers_of_the_yearly_factor() -> None:
    rate = np.array([[-0.2, 0.0, 0.05], [0.1, 1.0, 10.0]])
    factors = discount_factors(rate, 12)
    assert factors.shape == (13, 2, 3)
    assert_allclose(factors, (1 + rate) ** -np.arange(13.0)[:, None, None], rtol=1e-12)


def test_one_rate_serves_many_streams_and_many_rates_serve_one_stream() -> None:
    flows = np.arange(24.0).reshape(4, 2, 3)
    by_hand = flows[0] + flows[1] / 1.1 + flows[2] / 1.21 + flows[3] / 1.331
    assert_allclose(present_value(flows, discount_factors(0.1, 3)), by_hand, rtol=1e-12)
    assert_allclose(present_value(flows, discount_factors(np.full(3, 0.1), 3)), by_hand, rtol=1e-12)
    assert present_value(flows[:, 0, 0], discount_factors([0.0, 0.1], 3)).shape == (2,)


# --- annual equivalents


@pytest.mark.parametrize("rate", [0.0, 1e-320, 1e-17, 1e-12, 1e-9, 1e-6])
def test_the_recovery_factor_keeps_its_digits_at_small_rates(rate: float) -> None:
    # By hand: r / (1 - (1 + r)**-T) = 1/T + r (T + 1) / (2 T) + r**2 (T**2 - 1) / (12 T) + O(r**4), here T = 15.
    series = 1 / 15 + rate * 16 / 30 + rate**2 * 224 / 180
    assert_allclose(capital_recovery_factor(rate, 15), series, rtol=1e-14)


def test_the_recovery_factor_holds_for_negative_rates() -> None:
    # By hand: at -50 % and two years 1 is worth payments of 1 / (2 + 4).
    assert_allclose(capital_recovery_factor(-0.5, 2), 1 / 6, rtol=1e-12)


@settings(max_examples=100, deadline=None)
@given(streams, st.floats(-0.3, 1.0))
def test_the_annual_value_paid_each_year_is_worth_the_net_present_value(flows: list[float], rate: float) -> None:
    years = len(flows) - 1
    factors = discount_factors(rate, years)
    worth = present_value(flows, factors)
    level = np.full(years + 1, equivalent_annual_value(worth, rate, years))
    level[0] = 0.0
    assert_allclose(present_value(level, factors), worth, rtol=1e-9, atol=1e-9)


def test_swapping_two_systems_flips_the_annual_value_and_leaves_the_rate_of_return() -> None:
    flows = np.array([-900.0, 300.0, -50.0, 500.0, 450.0])  # invented
    worth = present_value(flows, discount_factors(0.08, 4))
    assert equivalent_annual_value(-worth, 0.08, 4) == -equivalent_annual_value(worth, 0.08, 4)
    assert_allclose(internal_rate_of_return(-flows).rate, internal_rate_of_return(flows).rate, rtol=1e-12)


# --- payback


@pytest.mark.parametrize(
    ("flows", "years"),
    [
        ([-100, 40, 40, 40], 2.5),  # by hand: 20 of 40 missing after year 2
        ([-100, 100], 1.0),
        ([-100, 0, 0, 50, 200], 3.25),  # by hand: 50 of 200 missing after year 3
        ([-100, 120, -50, 60], 2.5),  # by hand: positive after year 1, not for good; 30 of 60 missing after year 2
        ([-100, 100, -100, 100], 3.0),
        ([-100, 150, -50], 2 / 3),  # by hand: 100 of 150; zero at the end is not below zero
        ([-0.9, 0.3, 0.3, 0.3], 3.0),  # adds up to -1.1e-16 in floating point, to zero by hand
        ([-100, 100 - 3e-11, 1.5e-11], 2.0),  # recovered within rounding in year 2, never after the horizon
        ([-100, 40, 40], np.nan),
        ([-100, 150, -60], np.nan),
        ([0, 50, 50], np.nan),
        ([100, -50, 20], np.nan),
        ([-100], np.nan),
        ([-100, np.nan, 300], np.nan),
        ([-100, np.inf, -np.inf], np.nan),
    ],
)
def test_payback_is_the_last_time_the_cumulative_flow_turns_non_negative(flows: list[float], years: float) -> None:
    assert_allclose(payback_years(flows), years, rtol=1e-12)


def test_discounted_payback_by_hand() -> None:
    # By hand at 10 %: -100 + 60/1.1 + 60/1.21 = 4.132, so 100 - 54.545 = 45.455 of 49.587 in year 2.
    flows = np.array([-100.0, 60.0, 60.0])
    assert_allclose(payback_years(flows * discount_factors(0.1, 2)), 1 + (100 - 60 / 1.1) / (60 / 1.21), rtol=1e-12)


def test_payback_of_many_streams_is_that_of_each() -> None:
    flows = np.random.default_rng(5).normal(30, 60, (11, 4, 25))
    flows[0] -= 150
    together = payback_years(flows)
    assert np.isnan(together).any()
    assert np.isfinite(together).any()
    alone = [[payback_years(flows[:, site, draw]) for draw in range(25)] for site in range(4)]
    assert_allclose(together, alone, rtol=1e-12)


@settings(max_examples=200, deadline=None)
@given(streams)
def test_after_the_payback_the_cumulative_flow_stays_non_negative(flows: list[float]) -> None:
    years = payback_years(flows)
    cumulative = np.cumsum(flows)
    assume(np.all(np.abs(cumulative) > 1e-6))  # left-overs of adding are tested above
    assert np.isfinite(years) == (flows[0] < 0 <= cumulative[-1])
    if np.isfinite(years):
        assert np.all(cumulative[int(np.ceil(years)) :] >= 0)
        assert cumulative[int(np.ceil(years)) - 1] < 0


# --- ratios


def test_ratios_have_no_meaning_without_a_positive_denominator() -> None:
    assert_array_equal(benefit_cost_ratio(3.0, [2.0, 0.0, -1.0, np.nan]), [1.5, np.nan, np.nan, np.nan])
    assert_array_equal(cost_per_kg([3.0, -3.0, 3.0], [[2.0], [0.0]]), [[1.5, -1.5, 1.5], [np.nan] * 3])


def test_benefits_equal_costs_where_the_net_present_value_is_zero() -> None:
    flows = np.array([-500.0, 180.0, 240.0, 310.0])  # invented
    factors = discount_factors(internal_rate_of_return(flows).rate, 3)
    benefits, costs = (present_value(np.maximum(side, 0), factors) for side in (flows, -flows))
    assert_allclose(benefit_cost_ratio(benefits, costs), 1.0, rtol=1e-12)


@pytest.mark.parametrize("flows", [[1, 2], [-1, -2], [0, 0], [-1, np.nan, 3], [-1, np.inf, 3], [-1]])
def test_the_modified_rate_needs_both_signs_and_finite_flows(flows: list[float]) -> None:
    assert np.isnan(modified_rate_of_return(flows, 0.1, 0.1))


def test_the_modified_rate_broadcasts_rates_and_streams() -> None:
    flows = np.array([-100.0, 60.0, 60.0])[:, None, None] * np.ones((2, 3))
    together = modified_rate_of_return(flows, [0.05, 0.1, 0.2], 0.03)
    # By hand: 60 * 1.03 + 60 = 121.8 after two years; the finance rate has no later outlay to discount.
    assert_allclose(together, np.full((2, 3), np.sqrt(1.218) - 1), rtol=1e-12)
