"""Requirement: gross from net by hand, flushing apart, weeks and months that add up, supply beside it."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.testing import assert_allclose, assert_array_equal

from demand_tables import Row, allowance, inputs, rows
from plotworth.supply.requirement import (
    beside_supply,
    by_month,
    by_week,
    draining_delivery,
    gross_mm,
    requirement,
    rising_delivery,
    spread_over_years,
)

DATES = pd.date_range("2026-02-20", periods=17)
DEPTHS = arrays.arrays(np.float64, 17, elements=st.floats(min_value=0, max_value=20))
SHARE = st.floats(min_value=0.05, max_value=1.0)


@pytest.mark.published
@pytest.mark.parametrize("row", rows("gross_mm"), ids=lambda row: row["name"])
def test_gross_depth_of_the_published_example(row: Row) -> None:
    given_ = inputs(row)
    found = gross_mm(given_["net_mm"], given_["application_share"], given_["leaching_share"])
    assert_allclose(found, float(row["value"]), rtol=0, atol=allowance(row))


def test_the_larger_of_loss_and_leaching_counts_and_not_both() -> None:
    assert_allclose(gross_mm(90.0, 0.9, [0.05, 0.10, 0.40]), [100.0, 100.0, 150.0])


def test_a_leaching_share_of_one_or_unknown_has_no_gross_requirement() -> None:
    assert np.isnan(gross_mm(90.0, 0.9, [1.0, np.nan])).all()


@given(net=DEPTHS, share=SHARE, leaching=st.floats(min_value=0, max_value=0.95))
def test_gross_is_never_less_than_net(net, share: float, leaching: float) -> None:
    assert (gross_mm(net, share, leaching) >= net).all()


def test_water_that_rises_has_no_leaching_fraction_and_its_flushing_is_counted_apart() -> None:
    found = requirement(np.full(10, 9.0), rising_delivery(0.9, flushing_mm=40.0))
    assert_allclose(found.gross_mm, 10.0)
    assert_allclose(found.flushing_mm, 40.0)
    assert_allclose(found.season_mm, 140.0)


def test_water_that_drains_leaches_and_needs_no_flushing() -> None:
    found = requirement(np.full(10, 9.0), draining_delivery(0.95, leaching_share=0.1))
    assert_allclose(found.season_mm, 100.0)
    assert found.flushing_mm == 0


@given(net=DEPTHS)
def test_weeks_and_months_sum_to_the_season(net) -> None:
    for table in (by_week(DATES, {"net_mm": net}), by_month(DATES, {"net_mm": net})):
        assert table["days"].sum() == len(DATES)
        assert_allclose(table["net_mm"].sum(), net.sum(), atol=1e-9)


def test_weeks_begin_at_planting_and_the_last_one_may_be_short() -> None:
    table = by_week(DATES, {"net_mm": np.ones(17), "gross_mm": np.full(17, 2.0)})
    assert list(table) == ["week", "first_day", "days", "net_mm", "gross_mm"]
    assert_array_equal(table["week"], [1, 2, 3])
    assert_array_equal(table["days"], [7, 7, 3])
    assert_array_equal(table["gross_mm"], [14.0, 14.0, 6.0])


def test_months_are_those_of_the_calendar() -> None:
    table = by_month(DATES, {"net_mm": np.ones(17)})
    assert_array_equal(table["month"], pd.to_datetime(["2026-02-01", "2026-03-01"]))
    assert_array_equal(table["net_mm"], [9.0, 8.0])


def test_a_week_with_an_unknown_day_is_unknown() -> None:
    net = np.ones(17)
    net[3] = np.nan
    assert_array_equal(by_week(DATES, {"net_mm": net})["net_mm"].isna(), [True, False, False])


def test_supply_is_used_in_order_and_the_gap_stands_beside_it() -> None:
    table = beside_supply(np.array([10.0, 20.0]), {"rain_mm": np.array([4.0, 30.0]), "tank_mm": np.array([3.0, 5.0])})
    assert_array_equal(table["rain_mm"], [4.0, 20.0])
    assert_array_equal(table["tank_mm"], [3.0, 0.0])
    assert_array_equal(table["short_mm"], [3.0, 0.0])
    assert_array_equal(table["unused_mm"], [0.0, 15.0])


@given(need=DEPTHS, one=DEPTHS, other=DEPTHS)
def test_used_supply_and_gap_add_up_to_the_requirement(need, one, other) -> None:
    table = beside_supply(need, {"one": one, "other": other})
    assert_allclose(table[["one", "other", "short_mm"]].sum(axis=1), need, atol=1e-9)
    assert_allclose(table[["one", "other", "unused_mm"]].sum(axis=1), one + other, atol=1e-9)


def test_several_years_have_a_least_a_mean_a_dependable_and_a_greatest() -> None:
    found = spread_over_years(np.array([400.0, 500.0, 450.0, 600.0, 550.0, np.nan]))
    assert (found.least, found.mean, found.greatest, found.years) == (400.0, 500.0, 600.0, 5)
    assert_allclose(found.dependable, 560.0)


def test_under_five_years_nothing_is_said_to_be_dependable() -> None:
    assert np.isnan(spread_over_years(np.array([400.0, 500.0])).dependable)
    assert spread_over_years(np.array([np.nan])).years == 0
