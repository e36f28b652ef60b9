"""A visit missed in turn: none missed is the plan, water is not lost, a larger tank is never worse.

Expected values come from the balance followed again, one visit at a time.
"""

import dataclasses

import numpy as np
import pytest

from plotworth.choose.missed_visits import follow_again, miss_each_visit
from plotworth.supply.reservoir_trace import reservoir_gap_l, soil_gap_mm
from plotworth.supply.visits import Visits, plan_visits
from plotworth.supply.wick import steady_wick
from water_examples import water


def season():
    return water("reservoir")


def with_reservoir(**changes):
    """The demo's tank of other numbers, followed with the planned visits."""
    tank = season().tank
    return dataclasses.replace(tank, reservoir=dataclasses.replace(tank.reservoir, **changes))


def test_the_visits_as_planned_give_the_planned_season():
    trace = follow_again(season(), season().tank, season().tank.visits)
    for name, values in vars(season().tank.trace).items():
        assert np.asarray(getattr(trace, name)) == pytest.approx(np.asarray(values), abs=1e-12), name


def test_each_visit_missed_at_once_is_each_visit_missed_alone():
    tank, missed = season().tank, miss_each_visit(season(), season().tank)
    days = np.flatnonzero(tank.visits.filled_share[0])
    assert len(missed.visits) == len(days)
    for place, day in enumerate(days):
        filled = tank.visits.filled_share.copy()
        filled[0, day] = 0
        alone = follow_again(season(), tank, Visits(tank.visits.who, tank.visits.brought_l, filled))
        assert missed.trace.storage_l[:, place] == pytest.approx(alone.storage_l, abs=1e-12)
        assert missed.visits[place].date == season().weather.dates[day]


def test_no_water_is_lost_whichever_visit_is_missed():
    trace = miss_each_visit(season(), season().tank).trace
    assert np.abs(reservoir_gap_l(trace)).max() < 1e-9
    assert np.abs(soil_gap_mm(trace)).max() < 1e-9


def test_nothing_is_carried_on_the_day_that_is_missed():
    tank, missed = season().tank, miss_each_visit(season(), season().tank)
    for place, day in enumerate(np.flatnonzero(tank.visits.filled_share[0])):
        assert missed.trace.carried_l[day, place] == 0


def test_missing_a_visit_never_gives_the_plants_more():
    missed = miss_each_visit(season(), season().tank)
    assert all(visit.uptake_share <= missed.planned.uptake_share + 1e-12 for visit in missed.visits)
    assert missed.worst.uptake_share == min(visit.uptake_share for visit in missed.visits)


@pytest.mark.parametrize("flow", [6.5, 14.0, 40.0])
def test_a_tank_twice_as_large_is_never_shorter(flow):
    small = with_reservoir(wick=steady_wick(flow))
    capacity = 2 * small.reservoir.capacity_l
    large = with_reservoir(wick=steady_wick(flow), capacity_l=capacity, start_l=capacity)
    pairs = zip(miss_each_visit(season(), small).visits, miss_each_visit(season(), large).visits, strict=True)
    for one, other in pairs:
        assert other.short_days <= one.short_days
        assert other.uptake_share >= one.uptake_share - 1e-12


def test_where_the_tank_outlasts_two_rounds_no_visit_is_missed():
    """A tank of 10 000 l holds more than the season's demand, about 1 300 l."""
    large = with_reservoir(wick=steady_wick(1000.0), capacity_l=10_000.0, start_l=10_000.0)
    assert {visit.short_days for visit in miss_each_visit(season(), large).visits} == {0}


def test_where_nobody_is_to_come_nothing_can_be_missed():
    tank = dataclasses.replace(season().tank, visits=plan_visits((), len(season().weather.dates)))
    missed = miss_each_visit(season(), tank)
    assert (missed.visits, missed.worst) == ((), None)
