"""Partial budgets: published tables to the digits printed, a second way to dominance, and what changes no rate."""

import csv
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.money.budget import (
    NONE,
    adjusted_yield,
    change_in_profit,
    costs_that_vary,
    extra_yield_required,
    gross_field_benefit,
    marginal_analysis,
    net_benefit,
    recommended,
    residuals,
)

PUBLISHED = Path(__file__).parent / "published"
POTATO_PRICE_PER_T = 5500.0  # 550 ETB per quintal of 100 kg, source in money_budget.csv
POTATO_ADJUSTMENT_SHARE = 0.1
OTHER_PRICE_PER_T = 5000.0  # Heliyon 2023, source in money_budget.csv
HALF_A_CENT_DECIMAL = 0.005
HALF_A_TENTH = 0.05

Row = dict[str, str]


def published(name: str) -> list[Row]:
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as table:
        return list(csv.DictReader(table))


def column(study: str, name: str) -> np.ndarray:
    rows = [row for row in published("money_budget.csv") if row["study"] == study]
    return np.array([float(row[name] or "nan") for row in rows])


def words(study: str, name: str) -> list[str]:
    return [row[name] for row in published("money_budget.csv") if row["study"] == study]


# --- published


@pytest.mark.published
def test_the_potato_table_is_reproduced_to_every_digit() -> None:
    adjusted = adjusted_yield(column("potato", "trial_yield"), POTATO_ADJUSTMENT_SHARE)
    assert_allclose(adjusted, column("potato", "adjusted_yield"), rtol=0, atol=HALF_A_CENT_DECIMAL + 1e-9)
    # its gross benefits are those of the yields as printed
    gross = gross_field_benefit(column("potato", "adjusted_yield"), POTATO_PRICE_PER_T)
    assert_allclose(gross, column("potato", "gross_benefit"), rtol=1e-12)
    benefits = net_benefit(gross, column("potato", "varying_costs"))
    assert_allclose(benefits, column("potato", "net_benefit"), rtol=1e-12)


@pytest.mark.published
def test_the_marginal_rates_of_the_potato_trial_are_reproduced() -> None:
    found = marginal_analysis(column("potato", "varying_costs"), column("potato", "net_benefit"))
    assert_array_equal(found.is_dominated, [word == "yes" for word in words("potato", "dominated")])
    assert_array_equal(np.round(100 * found.rate), column("potato", "rate_percent"))
    names = words("potato", "treatment")
    path = {names[k]: names[j] for k, j in enumerate(found.compared_with) if j != NONE}
    assert path == {"69:0": "0:0", "34.5:100": "69:0", "34.5:200": "34.5:100"}


@pytest.mark.published
def test_the_net_benefits_of_twelve_treatments_are_reproduced() -> None:
    study = "twelve treatments"
    benefits = net_benefit(column(study, "gross_benefit"), column(study, "varying_costs"))
    assert_allclose(benefits, column(study, "net_benefit"), rtol=1e-12)
    gross = gross_field_benefit(column(study, "adjusted_yield"), OTHER_PRICE_PER_T)
    from_print = HALF_A_TENTH * OTHER_PRICE_PER_T  # the yield is printed to 0.1 t/ha
    assert_allclose(gross, column(study, "gross_benefit"), rtol=0, atol=from_print)


@pytest.mark.published
@pytest.mark.parametrize("row", published("money_partial_change.csv"), ids=lambda row: row["name"])
def test_published_changes_of_practice(row: Row) -> None:
    parts = {name: float(row[name]) for name in ("added_income", "costs_saved", "income_lost", "added_costs")}
    assert_allclose(change_in_profit(**parts), float(row["value"]), rtol=1e-12)


# --- by hand


def test_costs_are_quantities_times_field_prices() -> None:
    # invented: fertiliser 0, 50, 100 kg at 2 and hours 3, 4, 8 at 1.5: 4.5, 106, 212
    found = costs_that_vary([[0.0, 50.0, 100.0], [3.0, 4.0, 8.0]], [2.0, 1.5])
    assert_allclose(found, [4.5, 106.0, 212.0], rtol=1e-12)


def test_costs_meet_prices_of_sites_and_draws() -> None:
    quantities = np.array([[0.0, 50.0], [3.0, 4.0]])[:, :, None, None]
    prices = np.array([[[2.0, 3.0]], [[1.5, 1.0]]])  # (item, site 1, draw 2), invented
    found = costs_that_vary(quantities, prices)
    assert_allclose(found, [[[4.5, 3.0]], [[106.0, 154.0]]], rtol=1e-12)


def test_the_extra_yield_pays_the_costs_and_the_minimum_on_them() -> None:
    # 40 dearer, 100 % on it, 0.5 a kg: 40 x 2 / 0.5 = 160 kg
    assert_allclose(extra_yield_required(40.0, 1.0, 0.5), 160.0, rtol=1e-12)
    assert np.isnan(extra_yield_required(40.0, 1.0, 0.0))


def test_single_rates_mislead_where_the_curve_bends_the_wrong_way_and_residuals_do_not() -> None:
    # invented: A 0/100, B 10/105 (rate 0.5), C 20/130 (rate 2.5); at a minimum of 1, A to C pays 30/20 = 1.5
    costs, benefits = np.array([0.0, 10.0, 20.0]), np.array([100.0, 105.0, 130.0])
    assert_allclose(marginal_analysis(costs, benefits).rate, [np.nan, 0.5, 2.5], rtol=1e-12)
    assert_allclose(residuals(benefits, costs, 1.0), [100.0, 95.0, 110.0], rtol=1e-12)
    assert recommended(benefits, costs, 1.0) == 2
    assert recommended(benefits, costs, 1.6) == 0


def test_of_equal_residuals_the_cheaper_treatment_is_recommended() -> None:
    assert recommended([120.0, 100.0], [10.0, 0.0], 2.0) == 1  # 120 - 20 = 100
    assert recommended([100.0, 100.0], [0.0, 0.0], 2.0) == 0


def test_at_equal_costs_the_better_treatment_stands_and_of_two_alike_the_first() -> None:
    found = marginal_analysis([5.0, 5.0, 5.0, 9.0], [20.0, 30.0, 30.0, 30.0])
    assert_array_equal(found.is_dominated, [True, False, True, True])
    assert_array_equal(found.compared_with, [NONE, NONE, NONE, NONE])
    assert np.isnan(found.rate).all()


def test_the_same_costs_added_in_another_order_are_the_same_costs() -> None:
    found = marginal_analysis([0.1 + 0.2, 0.3, 1.0], [5.0, 4.0, 8.0])  # the first is 5.6e-17 above the second
    assert_array_equal(found.is_dominated, [False, True, False])
    assert_allclose(found.rate[2], 3.0 / 0.7, rtol=1e-12)


def test_an_unknown_treatment_is_passed_over() -> None:
    found = marginal_analysis([0.0, np.nan, 10.0, 20.0], [50.0, 80.0, np.nan, 70.0])
    assert_array_equal(found.is_dominated, [False, False, False, False])
    assert_array_equal(found.compared_with, [NONE, NONE, NONE, 0])
    assert_allclose(found.rate[3], 1.0, rtol=1e-12)  # 20 for 20
    assert recommended([50.0, 80.0, np.nan, 70.0], [0.0, np.nan, 10.0, 20.0], 0.5) == 3
    assert recommended([np.nan, np.nan], [0.0, 1.0], 0.5) == NONE


# --- what holds for every budget

TREATMENTS, SITES, DRAWS = 6, 2, 3
tables = arrays(np.float64, (TREATMENTS, SITES, DRAWS), elements=st.integers(0, 40).map(float))


def slow_path(costs: np.ndarray, benefits: np.ndarray) -> list[int]:
    """Positions of the undominated treatments by rising cost, straight from the definition."""
    count = range(len(costs))
    better = [
        k
        for k in count
        if not any(
            costs[j] <= costs[k]
            and benefits[j] >= benefits[k]
            and (costs[j] < costs[k] or benefits[j] > benefits[k] or j < k)
            for j in count
            if j != k
        )
    ]
    return sorted(better, key=lambda k: costs[k])


@given(tables, tables)
def test_dominance_and_rates_agree_with_the_definition_site_by_site(costs: np.ndarray, benefits: np.ndarray) -> None:
    found = marginal_analysis(costs, benefits)
    for site in range(SITES):
        for draw in range(DRAWS):
            here = (slice(None), site, draw)
            path = slow_path(costs[here], benefits[here])
            assert set(np.flatnonzero(~found.is_dominated[here])) == set(path)
            expected = np.full(TREATMENTS, np.nan)
            for before, after in pairwise(path):
                assert found.compared_with[here][after] == before
                gain = benefits[after, site, draw] - benefits[before, site, draw]
                expected[after] = gain / (costs[after, site, draw] - costs[before, site, draw])
            assert_allclose(found.rate[here], expected, rtol=1e-12)
            assert np.count_nonzero(found.compared_with[here] != NONE) == len(path) - 1


@given(tables, tables, st.integers(1, 1000).map(float))
def test_a_cost_common_to_all_treatments_changes_no_rate(
    costs: np.ndarray, benefits: np.ndarray, common: float
) -> None:
    plain, dearer = marginal_analysis(costs, benefits), marginal_analysis(costs + common, benefits - common)
    assert_array_equal(plain.is_dominated, dearer.is_dominated)
    assert_array_equal(plain.compared_with, dearer.compared_with)
    assert_allclose(plain.rate, dearer.rate, rtol=1e-9)


@given(tables, tables, st.floats(1e-3, 1e4), st.floats(0.0, 3.0))
def test_another_currency_changes_no_rate_and_no_recommendation(
    costs: np.ndarray, benefits: np.ndarray, money: float, minimum: float
) -> None:
    plain, other = marginal_analysis(costs, benefits), marginal_analysis(costs * money, benefits * money)
    assert_array_equal(plain.compared_with, other.compared_with)
    assert_allclose(plain.rate, other.rate, rtol=1e-9)
    chosen, again = recommended(benefits, costs, minimum), recommended(benefits * money, costs * money, minimum)
    left = residuals(benefits, costs, minimum)
    for position in (chosen, again):  # the same, or one that is as good to rounding
        best = np.take_along_axis(left, position[None], axis=0)[0]
        assert_allclose(best, left.max(axis=0), rtol=1e-9, atol=1e-9)


@given(tables, tables, st.floats(0.01, 3.0))
def test_the_recommended_treatment_is_undominated_and_pays_the_minimum_over_every_cheaper_one(
    costs: np.ndarray, benefits: np.ndarray, minimum: float
) -> None:
    chosen = recommended(benefits, costs, minimum)[None]
    dominated = marginal_analysis(costs, benefits).is_dominated
    chosen_cost, chosen_benefit = (np.take_along_axis(part, chosen, axis=0) for part in (costs, benefits))
    assert not np.take_along_axis(dominated, chosen, axis=0).any()
    cheaper = costs < chosen_cost
    slack = 1e-9  # residuals of whole numbers below 160 are added with rounding
    assert (chosen_benefit - benefits >= minimum * (chosen_cost - costs) - slack)[cheaper].all()


@given(st.floats(0.01, 100.0), st.floats(0.01, 3.0), st.floats(0.01, 100.0))
def test_a_yield_higher_by_what_is_required_earns_exactly_the_minimum(
    dearer: float, minimum: float, price: float
) -> None:
    extra = gross_field_benefit(extra_yield_required(dearer, minimum, price), price)
    found = marginal_analysis([0.0, dearer], [50.0, float(50.0 + extra - dearer)])
    assert_allclose(found.rate[1], minimum, atol=1e-12 * 50.0 / dearer)  # a difference of benefits near 50


def test_a_grid_of_prices_and_yields_goes_through_in_one_call() -> None:
    yields = np.array([20.0, 30.0])[:, None, None] * np.array([0.5, 1.0])[None, :, None]
    prices = np.array([1.0, 2.0, 4.0])[None, None, :]
    costs = np.array([5.0, 10.0])[:, None, None]
    found = marginal_analysis(costs, net_benefit(gross_field_benefit(yields, prices), costs))
    # dearer by 5; extra yield 5 or 10; rate = (extra x price - 5) / 5, none where it is not above 0
    assert_allclose(found.rate[1], [[np.nan, 1.0, 3.0], [1.0, 3.0, 7.0]], rtol=1e-12)
