"""The trace: what its days come to."""

from dataclasses import replace

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.supply.reservoir_trace import (
    add_up,
    from_soil_mm,
    must_come_from_soil_mm,
    reservoir_gap_l,
    room_before_visits_l,
    short_of_water,
    soil_gap_mm,
)
from plotworth.supply.visits import Round, plan_visits
from plotworth.supply.wick import steady_wick
from reservoir_units import FUNNEL_LID, SOIL, TANK, run

VISITS = plan_visits([Round("anna", first_day=3, every_days=4, brought_l=0.0, filled_share=1.0)], 10)
TRACE = run(
    replace(TANK, wick=steady_wick(6.0), lid=FUNNEL_LID),
    SOIL,
    np.full(10, 5.0),
    rain_mm=np.array([0, 0, 0, 0, 0, 12.0, 0, 0, 0, 0]),
    visits=VISITS,
    dew_l_per_m2=np.full(10, 0.2),
    open_water_mm=np.full(10, 5.0),
)


def test_totals_are_the_sums_of_the_days() -> None:
    totals = add_up(TRACE)
    assert_allclose(totals.demand_l, 100.0)
    assert_allclose(totals.caught_l, 10 * 0.1 + 12 * 0.425)
    assert_allclose(totals.wick_l + totals.must_come_from_soil_l, 100.0)
    assert totals.refills == 2
    assert_allclose(totals.applied_l_per_m2, (60 + totals.carried_l - TRACE.storage_l[-1]) / 2)


def test_what_the_soil_gave_is_the_fall_of_its_store() -> None:
    assert_allclose(from_soil_mm(TRACE).sum(axis=0), TRACE.depletion_mm[-1])
    assert_allclose(add_up(TRACE).from_soil_l, 2 * TRACE.depletion_mm[-1])
    assert_allclose(must_come_from_soil_mm(TRACE)[:3], 2.0)


def test_the_room_each_morning_is_what_the_evening_left() -> None:
    assert_allclose(room_before_visits_l(TRACE), [0.0, *(60 - TRACE.storage_l[:-1])])


def test_a_balance_that_does_not_close_shows_its_gap() -> None:
    leaking = replace(TRACE, storage_l=TRACE.storage_l - 2.0, depletion_mm=TRACE.depletion_mm + 1.0)
    assert_allclose(reservoir_gap_l(leaking)[0], -2.0)
    assert_allclose(soil_gap_mm(leaking)[0], 1.0)


def test_a_shortfall_of_rounding_is_no_short_day() -> None:
    demand = TRACE.demand_mm
    rounded = replace(TRACE, uptake_mm=demand * (1 - 1e-15))
    assert not short_of_water(rounded).any()
    assert_array_equal(short_of_water(replace(TRACE, uptake_mm=demand * (1 - 1e-9))), np.ones(10, dtype=bool))
