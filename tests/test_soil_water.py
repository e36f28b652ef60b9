"""Soil water: FAO-56 Example 36 and depletion shares, days by hand, the balance closes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.testing import assert_allclose

from demand_tables import Row, allowance, inputs, rows
from plotworth.supply.soil_water import (
    available_mm_per_m,
    depletion_share,
    follow_root_zone,
    readily_available_mm,
    stress_coefficient,
    total_available_mm,
)


@pytest.mark.published
@pytest.mark.parametrize("row", rows("total_available_mm", "readily_available_mm"), ids=lambda row: row["name"])
def test_available_water_of_example_36(row: Row) -> None:
    given_ = inputs(row)
    found = total_available_mm(given_["available_mm_per_m"], given_["rooting_depth_m"])
    if row["quantity"] == "readily_available_mm":
        found = readily_available_mm(found, given_["share"])
    assert_allclose(found, float(row["value"]), rtol=0, atol=allowance(row))


@pytest.mark.published
@pytest.mark.parametrize("row", rows("depletion_share"), ids=lambda row: row["name"])
def test_depletion_share_moves_with_the_days_use(row: Row) -> None:
    given_ = inputs(row)
    found = depletion_share(given_["tabulated_share"], given_["crop_evapotranspiration_mm"])
    assert_allclose(found, float(row["value"]), rtol=0, atol=1e-12)


def test_a_soil_holds_what_lies_between_two_points() -> None:
    assert_allclose(available_mm_per_m(0.32, 0.15), 170.0)


def test_stress_begins_at_the_readily_available_water_and_ends_at_wilting() -> None:
    assert_allclose(stress_coefficient([0.0, 40.0, 70.0, 100.0], 100.0, 0.4), [1.0, 1.0, 0.5, 0.0])


def test_three_days_by_hand() -> None:
    # TAW 100 mm; p = 0.4 + 0.04 (5 - 10) = 0.2 at 10 mm a day
    trace = follow_root_zone(
        np.full(3, 10.0), np.array([0.0, 0.0, 80.0]), total_mm=100.0, tabulated_share=0.4, start_depletion_mm=15.0
    )
    assert_allclose(trace.stress_coefficient, [1.0, 75 / 80, 1.0])
    assert_allclose(trace.evapotranspiration_mm, [10.0, 9.375, 10.0])
    assert_allclose(trace.depletion_mm, [25.0, 34.375, 0.0])
    assert_allclose(trace.drained_mm, [0.0, 0.0, 80.0 - 34.375 - 10.0])


def test_a_dry_root_zone_gives_nothing() -> None:
    trace = follow_root_zone(np.full(2, 6.0), np.zeros(2), total_mm=50.0, tabulated_share=0.4, start_depletion_mm=50.0)
    assert_allclose(trace.evapotranspiration_mm, 0.0)
    assert_allclose(trace.depletion_mm, 50.0)


DAYS = arrays.arrays(np.float64, (12, 4), elements=st.floats(min_value=0, max_value=40))


@settings(max_examples=2500)
@given(need=DAYS, water=DAYS, total=st.floats(min_value=5, max_value=300), start=st.floats(min_value=0, max_value=1))
def test_the_root_zone_closes_every_day_and_keeps_its_bounds(need, water, total: float, start: float) -> None:
    # four root zones an example: 10,000 in all
    trace = follow_root_zone(need, water, total_mm=total, tabulated_share=0.4, start_depletion_mm=start * total)
    before = np.concatenate([np.full((1, 4), start * total), trace.depletion_mm[:-1]])
    gap = before + trace.evapotranspiration_mm + trace.drained_mm - water - trace.depletion_mm
    assert np.abs(gap).max() <= 1e-9
    assert (trace.depletion_mm >= 0).all()
    assert (trace.depletion_mm <= total + 1e-9).all()
    assert (trace.evapotranspiration_mm <= need).all()
    assert (trace.drained_mm >= 0).all()


def test_draws_together_are_draws_one_by_one() -> None:
    need, water = np.full(20, 6.0), np.where(np.arange(20) % 6 == 0, 25.0, 0.0)
    totals = np.array([[60.0, 120.0]])
    both = follow_root_zone(need, water, total_mm=totals, tabulated_share=0.3, start_depletion_mm=0.0)
    assert both.depletion_mm.shape == (20, 1, 2)
    for draw in range(2):
        one = follow_root_zone(need, water, total_mm=totals[0, draw], tabulated_share=0.3, start_depletion_mm=0.0)
        assert_allclose(both.depletion_mm[:, 0, draw], one.depletion_mm, rtol=1e-12)
