"""Prices: nominal and constant money there and back, indices, volume, contingencies, currencies."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.money.measures import discount_factors, present_value
from plotworth.money.prices import (
    at_base_prices,
    constant_prices,
    in_case_currency,
    mean_selling_price,
    nominal_prices,
    nominal_rate,
    price_at_volume,
    price_by_month,
    price_index_problem,
    price_levels,
    rate_per_part,
    real_rate,
    with_contingencies,
)

rates = st.floats(-0.5, 3.0)
money = st.integers(-100_000_000, 100_000_000).map(lambda cents: cents / 100)
flows = arrays(np.float64, (13, 2, 3), elements=money)
PARTS = st.sampled_from([1, 2, 4, 12])

# --- nominal and constant


def test_the_real_rate_by_hand() -> None:
    assert_allclose(real_rate(0.155, 0.05), 0.1, rtol=1e-12)  # 1.155 / 1.05 = 1.1
    assert_allclose(nominal_rate(0.1, 0.05), 0.155, rtol=1e-12)


@given(rates, rates)
def test_real_and_nominal_rates_undo_each_other(rate: float, inflation: float) -> None:
    assert_allclose(nominal_rate(real_rate(rate, inflation), inflation), rate, atol=1e-14)
    assert real_rate(rate, 0.0) == rate
    assert real_rate(rate, rate) == 0.0


@given(rates, PARTS)
def test_parts_of_a_year_compound_to_the_year(rate: float, parts: int) -> None:
    assert_allclose((1.0 + rate_per_part(rate, parts)) ** parts, 1.0 + rate, rtol=1e-12)


def test_levels_by_hand() -> None:
    # 21 % a year in halves: 1.21 ** 0.5 = 1.1
    assert_allclose(price_levels(0.21, 3, periods_per_year=2), [1.0, 1.1, 1.21, 1.331], rtol=1e-12)


@given(flows, rates, PARTS)
def test_constant_and_nominal_flows_undo_each_other(stream: np.ndarray, inflation: float, parts: int) -> None:
    constant = constant_prices(stream, inflation, periods_per_year=parts)
    assert_array_equal(constant[0], stream[0])
    assert_allclose(nominal_prices(constant, inflation, periods_per_year=parts), stream, rtol=1e-9)
    assert_array_equal(constant_prices(stream, 0.0, periods_per_year=parts), stream)


@given(flows, rates, rates)
def test_nominal_flows_at_the_nominal_rate_are_worth_constant_ones_at_the_real_rate(
    stream: np.ndarray, rate: float, inflation: float
) -> None:
    years = len(stream) - 1
    nominal = present_value(stream, discount_factors(rate, years))
    constant = constant_prices(stream, inflation, periods_per_year=1)
    gross = present_value(np.abs(stream), discount_factors(rate, years))
    real = present_value(constant, discount_factors(real_rate(rate, inflation), years))
    assert_allclose(real, nominal, rtol=1e-9, atol=1e-12 * float(gross.max()))


def test_inflation_may_differ_between_draws() -> None:
    found = constant_prices(np.ones((3, 1, 1)), np.array([[0.0, 1.0]]), periods_per_year=1)
    assert_allclose(found[:, 0], [[1.0, 1.0], [1.0, 0.5], [1.0, 0.25]], rtol=1e-12)  # prices double each year


def test_one_stream_meets_many_rates_of_inflation() -> None:
    found = constant_prices([1.0, 1.0], np.array([[0.0, 1.0]]), periods_per_year=1)
    assert_allclose(found, [[[1.0, 1.0]], [[1.0, 0.5]]], rtol=1e-12)


def test_an_index_moves_an_amount_to_another_date() -> None:
    assert_allclose(at_base_prices(80.0, 120.0, 150.0), 100.0, rtol=1e-12)  # 80 x 150 / 120
    assert np.isnan(at_base_prices(80.0, [0.0, 120.0, np.nan], [150.0, -1.0, 150.0])).all()


# --- by month


def test_a_price_by_month_has_the_stated_mean() -> None:
    indices = np.array([0.5, 1.5] * 6)
    prices = price_by_month(np.array([[2.0], [4.0]]), indices)
    assert prices.shape == (12, 2, 1)
    assert_allclose(prices[:2, :, 0], [[1.0, 2.0], [3.0, 6.0]], rtol=1e-12)
    assert_allclose(prices.mean(axis=0)[:, 0], [2.0, 4.0], rtol=1e-12)


def test_indices_that_vary_by_draw_meet_prices_by_site() -> None:
    indices = np.ones((12, 1, 3))
    assert price_by_month(np.full((2, 1), 5.0), indices).shape == (12, 2, 3)


@pytest.mark.parametrize(
    ("indices", "words"),
    [
        ([1.0] * 11, "twelve indices are needed, one a month; there are 11"),
        ([1.0] * 11 + [np.nan], "every index is a number above 0"),
        ([2.0] + [1.0] * 10 + [0.0], "every index is a number above 0"),
        ([1.1] * 12, "the mean of the twelve indices is 1.1; divide each by it, so that the mean is 1"),
        ([0.99] * 12, "the mean of the twelve indices is 0.99"),
    ],
)
def test_indices_that_are_none_are_named(indices: list[float], words: str) -> None:
    problem = price_index_problem(indices)
    assert problem is not None
    assert problem.startswith(words)


def test_of_several_crops_the_one_farthest_from_a_mean_of_one_is_named() -> None:
    problem = price_index_problem(np.full((12, 1, 2), [0.95, 1.5]))
    assert problem is not None
    assert "indices is 1.5;" in problem


@given(arrays(np.float64, (12,), elements=st.floats(0.1, 5.0)))
def test_indices_divided_by_their_mean_and_rounded_to_two_decimals_are_let_pass(raw: np.ndarray) -> None:
    assert price_index_problem(np.maximum(np.round(raw / raw.mean(), 2), 0.01)) is None


def test_the_mean_price_weighs_months_by_what_is_sold() -> None:
    # 1 kg at 2 and 3 kg at 4: 14 / 4 = 3.5
    assert_allclose(mean_selling_price([2.0, 4.0], [1.0, 3.0]), 3.5, rtol=1e-12)
    assert np.isnan(mean_selling_price([2.0, 4.0], [0.0, 0.0]))


@given(arrays(np.float64, (12,), elements=st.floats(0.1, 5.0)), st.floats(0.1, 100.0), st.floats(1.0, 1e4))
def test_even_sales_fetch_the_mean_price(raw: np.ndarray, price: float, sold_kg: float) -> None:
    prices = price_by_month(price, raw / raw.mean())
    assert_allclose(mean_selling_price(prices, np.full(12, sold_kg)), price, rtol=1e-12)


# --- volume


def test_the_price_falls_along_the_stated_line_and_not_below_zero() -> None:
    found = price_at_volume(5.0, [50.0, 100.0, 200.0, 5000.0], fall_share_per_kg=0.001, usual_kg=100.0)
    assert_allclose(found, [5.0, 5.0, 4.5, 0.0], rtol=1e-12)  # 100 kg above: 5 x (1 - 0.1)


@given(st.floats(0.0, 100.0), st.floats(0.0, 1e6))
def test_without_a_slope_the_price_is_the_price(price: float, sold_kg: float) -> None:
    assert price_at_volume(price, sold_kg, fall_share_per_kg=0.0) == price


@given(st.floats(0.1, 100.0), st.floats(0.0, 1e4), st.floats(0.0, 1e4), st.floats(0.0, 0.01))
def test_more_sold_never_raises_the_price(price: float, sold_kg: float, more_kg: float, slope: float) -> None:
    little = price_at_volume(price, sold_kg, fall_share_per_kg=slope)
    much = price_at_volume(price, sold_kg + more_kg, fall_share_per_kg=slope)
    assert much <= little


# --- contingencies and currencies


def test_contingencies_by_hand() -> None:
    # 10 x 20 = 200; a tenth more is 20; dearer by a twentieth on 220 is 11
    assert_allclose(with_contingencies(10.0, 20.0, physical_share=0.1, price_share=0.05), (200.0, 20.0, 11.0, 231.0))


@given(st.floats(0.01, 1e4), st.floats(0.01, 1e4), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_contingencies_are_a_greater_quantity_at_a_higher_price(
    quantity: float, price: float, physical: float, dearer: float
) -> None:
    found = with_contingencies(quantity, price, physical_share=physical, price_share=dearer)
    assert_allclose(found.total, quantity * (1 + physical) * (price * (1 + dearer)), rtol=1e-12)
    assert_allclose(found.base + found.physical + found.price, found.total, rtol=1e-15)


def test_another_currency_is_taken_at_the_stated_rate() -> None:
    assert_allclose(in_case_currency([10.0, 20.0], 2.5), [25.0, 50.0], rtol=1e-12)
    assert np.isnan(in_case_currency(10.0, [0.0, -2.0, np.nan])).all()
