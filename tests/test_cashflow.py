"""Yearly flows and their present values, by hand; unequal lives by two routes."""

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.testing import assert_allclose

from plotworth.ground.arrays import Array, cell
from plotworth.money.cashflow import Amounts, PresentValues, by_year, present_values
from plotworth.money.costs import unexpired_share
from plotworth.money.measures import (
    capital_recovery_factor,
    discount_factors,
    equivalent_annual_value,
    present_value,
)

RATE = 0.1
NOTHING = Amounts((), (), cell(0.0), {}, cell(0.0), cell(0.0))


def weights(*shares: float) -> Array:
    return np.array(shares)[:, None, None]


def factors(years: int, rate: float = RATE) -> Array:
    return discount_factors(cell(rate), years)


def series(amounts: Amounts, harvests: Sequence[Array], years: int) -> list[float]:
    return by_year(amounts, harvests, years)[:, 0, 0].tolist()


def net(present: PresentValues, amounts: Amounts) -> float:
    paid = present.capital + amounts.steady * present.steady_factor + sum(present.harvest_cost)
    return float((sum(present.benefit) + present.released - paid).item())


def test_a_full_stream_by_hand() -> None:
    """Capital 100 every two years, 7 working capital, 20 a year, a harvest of 90 that costs 30, residual 5.

    Year 1 harvests half: 30 - 20 = 10; year 2: 60 - 20 - 100 = -60; year 3: 60 - 20 + 5 + 7 = 52.
    """
    amounts = Amounts((cell(90.0),), (cell(30.0),), cell(20.0), {2: cell(100.0)}, cell(5.0), cell(7.0))
    assert_allclose(series(amounts, [weights(0.5, 1, 1)], 3), [-107, 10, -60, 52])


def test_each_season_follows_its_own_harvests() -> None:
    """By hand: 10 in year 2 only, 4 in both years."""
    amounts = Amounts((cell(10.0), cell(4.0)), (cell(0.0), cell(0.0)), cell(0.0), {}, cell(0.0), cell(0.0))
    assert_allclose(series(amounts, [weights(0, 1), weights(1, 1)], 2), [0, 4, 14])


def test_over_one_year_all_of_it_falls_into_year_0_and_1() -> None:
    amounts = Amounts((cell(90.0),), (cell(30.0),), cell(20.0), {1: cell(8.0)}, cell(0.0), cell(7.0))
    assert_allclose(series(amounts, [weights(1)], 1), [-15, 47])


@pytest.mark.parametrize(("life", "paid"), [(1, [9, 9, 9, 9, 0]), (3, [9, 0, 0, 9, 0]), (4, [9, 0, 0, 0, 0])])
def test_capital_is_paid_anew_after_each_life_and_not_at_the_end(life: int, paid: list[float]) -> None:
    amounts = Amounts((), (), cell(0.0), {life: cell(9.0)}, cell(0.0), cell(0.0))
    assert_allclose(series(amounts, [], 4), [-one for one in paid])


def test_the_investment_is_what_capital_costs_at_first() -> None:
    amounts = Amounts((), (), cell(0.0), {2: cell(9.0), 5: cell(1.0)}, cell(0.0), cell(7.0))
    assert amounts.investment == 10
    assert NOTHING.investment == 0


def test_present_values_are_those_of_the_flows_discounted_one_by_one() -> None:
    amounts = Amounts((cell(90.0),), (cell(30.0),), cell(20.0), {2: cell(100.0)}, cell(5.0), cell(7.0))
    harvest = [weights(0.5, 0.9, 1, 0.8, 1)]
    flows = by_year(amounts, harvest, 5)
    one_by_one = sum(flow.item() / 1.1**year for year, flow in enumerate(flows))
    assert_allclose(net(present_values(amounts, harvest, factors(5)), amounts), one_by_one, rtol=1e-12)


def test_at_rate_zero_present_values_are_plain_sums() -> None:
    """By hand, two years: harvest factor 1.5, steady factor 2, capital once, 12 comes back."""
    amounts = Amounts((cell(90.0),), (cell(30.0),), cell(20.0), {2: cell(100.0)}, cell(5.0), cell(7.0))
    present = present_values(amounts, [weights(0.5, 1)], factors(2, 0.0))
    found = [present.benefit[0], present.harvest_cost[0], present.steady_factor, present.capital, present.released]
    assert_allclose(np.ravel(found), [135, 45, 2, 107, 12])


def test_a_rate_for_each_draw_gives_the_present_values_of_each() -> None:
    amounts = Amounts((cell(90.0),), (cell(30.0),), cell(20.0), {2: cell(100.0)}, cell(5.0), cell(7.0))
    rates = np.array([[0.0, 0.05, 0.3]])
    together = present_values(amounts, [weights(1, 1, 1)], discount_factors(rates, 3)).capital
    alone = [present_values(amounts, [weights(1, 1, 1)], factors(3, rate)).capital.item() for rate in rates[0]]
    assert_allclose(together[0], alone)


# Unequal lives: a cheap item of three years against a dear one of five, each alone and both over the same horizon.
CHEAP, DEAR = (100.0, 3), (150.0, 5)


def annual_cost(price: float, life: int) -> float:
    """The yearly payment over one life that buys the item: the annual equivalent."""
    return float(price * capital_recovery_factor(RATE, life))


def annual_cost_over(horizon: int, price: float, life: int, residual: float) -> float:
    """The yearly cost of the flows over a horizon, replacements and residual in them."""
    amounts = Amounts((), (), cell(0.0), {life: cell(price)}, cell(residual), cell(0.0))
    worth = present_value(by_year(amounts, [], horizon), factors(horizon))
    return float(-equivalent_annual_value(worth, RATE, horizon).item())


def annuity_residual(horizon: int, price: float, life: int) -> float:
    """What the years left at the horizon save, each worth the annual equivalent: the annuity residual."""
    left = round(unexpired_share(life, horizon) * life)
    return sum(annual_cost(price, life) / (1 + RATE) ** year for year in range(1, left + 1))


@pytest.mark.parametrize("item", [CHEAP, DEAR])
@pytest.mark.parametrize("horizon", [15, 30])
def test_over_a_common_multiple_of_the_lives_common_period_and_annual_equivalent_agree(
    item: tuple[float, int], horizon: int
) -> None:
    """They agree because no life is cut off: 15 and 30 are multiples of 3 and 5, and nothing is left over."""
    assert_allclose(annual_cost_over(horizon, *item, residual=0.0), annual_cost(*item), rtol=1e-12)


@pytest.mark.parametrize("item", [CHEAP, DEAR])
@pytest.mark.parametrize("horizon", [1, 4, 7, 10, 11])
def test_over_any_horizon_they_agree_with_the_annuity_residual_alone(item: tuple[float, int], horizon: int) -> None:
    """The annuity residual pays the years left at their annual equivalent, so the cut does not matter."""
    residual = annuity_residual(horizon, *item)
    assert_allclose(annual_cost_over(horizon, *item, residual=residual), annual_cost(*item), rtol=1e-12)


@pytest.mark.parametrize("item", [CHEAP, DEAR])
def test_over_another_horizon_the_straight_line_residual_does_not_make_them_agree(item: tuple[float, int]) -> None:
    """Ten years cut the life of three, seven the life of five: straight-line unexpired shares lie below the annuity."""
    horizon = 10 if item is CHEAP else 7
    straight = item[0] * unexpired_share(item[1], horizon)
    assert 0 < straight < annuity_residual(horizon, *item)
    assert annual_cost_over(horizon, *item, residual=straight) > annual_cost(*item) * (1 + 1e-3)


def test_the_two_routes_rank_the_items_alike_over_a_common_multiple() -> None:
    """By hand: 100 x 0.40211 = 40.2 a year against 150 x 0.26380 = 39.6: the dear one costs less."""
    assert_allclose([annual_cost(*CHEAP), annual_cost(*DEAR)], [40.2115, 39.5696], atol=5e-5)
    assert annual_cost_over(15, *DEAR, residual=0.0) < annual_cost_over(15, *CHEAP, residual=0.0)
