"""Carrying water: the trade's check values, trips by hand, whole trips against parts of trips."""

from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from plotworth.ground.conversions import LITRES_PER_M3
from plotworth.supply.carrying import hours_per_m3, litres_per_hour, trip_minutes, visit_hours, whole_trips

assert_close = partial(assert_allclose, rtol=1e-9)

DISTANCE_M = st.floats(min_value=0, max_value=20_000)
PACE_KM_PER_H = st.floats(min_value=0.5, max_value=8)
MINUTES = st.floats(min_value=0.1, max_value=60)
LOAD_L = st.floats(min_value=1, max_value=500)
VOLUME_L = st.floats(min_value=0, max_value=1e5)


@pytest.mark.parametrize(("distance_m", "expected_l_per_h"), [(100, 150), (500, 60)])
def test_twenty_litres_at_four_km_an_hour_as_the_trade_reckons(distance_m: float, expected_l_per_h: float) -> None:
    # common practice, no source: 20 L a trip, 4 km/h, 5 minutes to fill and pour
    assert_close(litres_per_hour(20, trip_minutes(distance_m, 4, 5)), expected_l_per_h)


def test_a_trip_is_the_way_there_and_back_and_the_handling() -> None:
    # by hand: 300 m there and back are 0.6 km, at 3 km/h 12 minutes, and 4 more
    assert_close(trip_minutes(300, 3, 4), 16)


def test_hours_for_a_cubic_metre_by_hand() -> None:
    # by hand: 1000 / 25 = 40 trips of 6 minutes are 4 hours
    assert_close(hours_per_m3(25, 6), 4)


def test_the_last_trip_of_a_visit_is_walked_whole() -> None:
    # by hand: 90 L at 20 L are 4.5 loads, so 5 trips of 8 minutes: 40 minutes
    assert whole_trips(90, 20) == 5
    assert_close(visit_hours(90, 20, 8), 2 / 3)


def test_rounding_walks_no_extra_trip() -> None:
    assert whole_trips(0.1 + 0.2, 0.1) == 3  # the division gives 3.0000000000000004


def test_no_water_takes_no_trip() -> None:
    assert visit_hours(0, 20, 8) == 0


def test_carrying_broadcasts_sites_against_draws() -> None:
    minutes = trip_minutes(np.array([[100.0], [500.0]]), np.array([[3.0, 4.0, 5.0]]), 5.0)
    assert hours_per_m3(20.0, minutes).shape == (2, 3)


@given(DISTANCE_M, PACE_KM_PER_H, MINUTES, LOAD_L)
def test_litres_an_hour_and_hours_a_cubic_metre_are_one_thing(
    distance_m: float, pace_km_per_h: float, minutes: float, load_l: float
) -> None:
    trip = trip_minutes(distance_m, pace_km_per_h, minutes)
    assert_close(litres_per_hour(load_l, trip) * hours_per_m3(load_l, trip), LITRES_PER_M3)


@given(DISTANCE_M, PACE_KM_PER_H, MINUTES)
def test_twice_the_way_doubles_the_walking_and_not_the_handling(
    distance_m: float, pace_km_per_h: float, minutes: float
) -> None:
    once, twice = (trip_minutes(way, pace_km_per_h, minutes) - minutes for way in (distance_m, 2 * distance_m))
    assert_allclose(twice, 2 * once, atol=1e-12)


@given(VOLUME_L, LOAD_L, MINUTES)
def test_a_visit_lies_between_its_parts_of_trips_and_one_trip_more(volume_l: float, load_l: float, trip: float) -> None:
    in_parts = volume_l / LITRES_PER_M3 * hours_per_m3(load_l, trip)
    whole = visit_hours(volume_l, load_l, trip)
    assert in_parts * (1 - 2e-9) <= whole <= in_parts + visit_hours(load_l, load_l, trip) + 1e-9  # whole-trip slack
