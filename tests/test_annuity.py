"""Unequal lives: the common period and the annual equivalent are one choice."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from plotworth.money.annuity import annuity_residual_share, common_period_years, worth_over_period
from plotworth.money.measures import (
    capital_recovery_factor,
    discount_factors,
    equivalent_annual_value,
    present_value,
)

rates = st.just(0.0) | st.floats(-0.3, 1.0)
lives = st.integers(1, 12)
money = st.integers(-10_000_000, 10_000_000).map(lambda cents: cents / 100)


@pytest.mark.published
def test_the_published_pair_of_unequal_lives_is_ranked_alike_by_two_routes() -> None:
    # streams and annual equivalents of money_measures.csv: 14 %, -45000 with 3 x 20000 or 6 x 12000
    short = present_value([-45000.0] + [20000.0] * 3, discount_factors(0.14, 3))
    long = present_value([-45000.0] + [12000.0] * 6, discount_factors(0.14, 6))
    period = common_period_years([3, 6])
    assert period == 6
    twice = worth_over_period(short, 0.14, life_years=3, period_years=period)
    once = worth_over_period(long, 0.14, life_years=6, period_years=period)
    # the short one bought again at the end of year 3, written out
    written_out = [-45000.0, 20000, 20000, -25000, 20000, 20000, 20000]
    assert_allclose(twice, present_value(written_out, discount_factors(0.14, 6)), rtol=1e-12)
    assert_allclose(equivalent_annual_value(twice, 0.14, period), 617.08, rtol=0, atol=0.005)
    assert_allclose(equivalent_annual_value(once, 0.14, period), 427.91, rtol=0, atol=0.005)


@given(money, money, rates, lives, lives)
def test_the_annual_equivalent_is_the_same_over_one_life_and_over_the_common_period(
    first: float, second: float, rate: float, first_life: int, second_life: int
) -> None:
    period = common_period_years([first_life, second_life])
    for worth, life in ((first, first_life), (second, second_life)):
        over_period = worth_over_period(worth, rate, life_years=life, period_years=period)
        one_life = equivalent_annual_value(worth, rate, life)
        assert_allclose(equivalent_annual_value(over_period, rate, period), one_life, rtol=1e-9)


@given(rates, lives, lives)
def test_with_the_annuity_residual_any_horizon_gives_the_annual_cost_of_whole_lives(
    rate: float, life: int, horizon: int
) -> None:
    flows = np.zeros(horizon + 1)
    flows[:horizon:life] = 1000.0
    age = (horizon - 1) % life + 1
    flows[horizon] -= 1000.0 * annuity_residual_share(rate, life_years=life, age_years=age)
    cost = equivalent_annual_value(present_value(flows, discount_factors(rate, horizon)), rate, horizon)
    assert_allclose(cost, 1000.0 * capital_recovery_factor(rate, life), rtol=1e-9)


def test_the_straight_line_residual_gives_another_annual_cost_at_a_horizon_inside_a_life() -> None:
    # why "agree only where": 10 %, life 3, horizon 2, straight line leaves 1/3
    flows = np.array([1000.0, 0.0, -1000.0 / 3])
    cost = equivalent_annual_value(present_value(flows, discount_factors(0.1, 2)), 0.1, 2)
    # by hand: (1000 - 333.33/1.21) x 0.1 x 1.21 / 0.21 = 417.46; whole lives 1000 x 0.1331/0.331 = 402.11
    assert_allclose(cost, (1000 - 1000 / 3 / 1.21) * 0.121 / 0.21, rtol=1e-12)
    assert_allclose(1000.0 * capital_recovery_factor(0.1, 3), 133.1 / 0.331, rtol=1e-12)


def test_residual_shares_by_hand() -> None:
    assert annuity_residual_share(0.0, life_years=4, age_years=1) == 0.75
    assert_allclose(annuity_residual_share(1.0, life_years=2, age_years=1), 2 / 3, rtol=1e-12)  # (1/2) / (3/4)
    assert_allclose(annuity_residual_share([0.0, 0.1], life_years=5, age_years=0), 1.0, rtol=1e-12)
    assert_allclose(annuity_residual_share([0.0, 0.1], life_years=5, age_years=5), 0.0, atol=0)


def test_a_period_that_is_no_whole_number_of_lives_is_refused() -> None:
    with pytest.raises(ValueError, match="a period of 10 years is no whole number of lives of 4"):
        worth_over_period(100.0, 0.1, life_years=4, period_years=10)


def test_sites_and_draws_go_through_together() -> None:
    worth = worth_over_period(np.ones((2, 1)), np.array([[0.0, 0.1, 1.0]]), life_years=1, period_years=2)
    assert_allclose(worth, np.tile([2.0, 1 + 1 / 1.1, 1.5], (2, 1)), rtol=1e-12)
