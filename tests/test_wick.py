"""The wick: what it lifts, where it stops."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from plotworth.supply.wick import (
    lift_m,
    resting_depletion_mm,
    steady_wick,
    suction_m,
    wick_conductance_l_per_m_day,
    wick_flow_l_per_day,
)
from reservoir_units import LEVEL_WICK


def test_conductance_is_conductivity_times_area_by_length() -> None:
    # worked out by hand: four wicks of 2 cm2, 0.4 m long, 5 m/day: 1000 x 5 x 0.0008 / 0.4 = 10 l/day per m
    assert_allclose(wick_conductance_l_per_m_day(5.0, 4 * 0.0002, 0.4), 10.0)


def test_flow_is_conductance_times_suction_less_lift() -> None:
    # half full: lift 0.3 m; depletion 10 of 40 mm: suction 0.2 + 2 x 0.25 = 0.7 m; 20 x 0.4 = 8 l/day
    assert_allclose(wick_flow_l_per_day(LEVEL_WICK, 30.0, 60.0, 10.0, 40.0), 8.0)


def test_the_flow_falls_to_nothing_where_the_lift_reaches_the_limit_of_the_wick() -> None:
    limits = np.array([1.0, 0.5, 0.4, 0.3, 0.2])
    flow = wick_flow_l_per_day(replace(LEVEL_WICK, limit_m=limits), 30.0, 60.0, 40.0, 40.0)
    assert_allclose(flow, [14.0, 4.0, 2.0, 0.0, 0.0], atol=1e-12)


def test_the_flow_falls_with_the_level_and_rises_with_dryness_up_to_the_limit() -> None:
    levels = wick_flow_l_per_day(LEVEL_WICK, np.linspace(60, 0, 5), 60.0, 10.0, 40.0)
    assert (np.diff(levels) < 0).all()
    dry = wick_flow_l_per_day(LEVEL_WICK, 30.0, 60.0, np.linspace(0, 40, 9), 40.0)
    assert (np.diff(dry) >= 0).all()
    assert_allclose(suction_m(LEVEL_WICK, 40.0, 40.0), 1.0)


@pytest.mark.parametrize(("lift", "rests_at_mm"), [(0.1, 0.0), (0.2, 0.0), (0.7, 10.0), (2.2, 40.0), (3.0, 40.0)])
def test_the_soil_rests_where_its_suction_equals_the_lift(lift: float, rests_at_mm: float) -> None:
    found = resting_depletion_mm(LEVEL_WICK, lift, 40.0)
    assert_allclose(found, rests_at_mm, atol=1e-9)


def test_lift_is_that_of_the_level() -> None:
    assert_allclose(lift_m(LEVEL_WICK, np.array([60.0, 30.0, 0.0]), 60.0), [0.1, 0.3, 0.5])


def test_a_steady_wick_lifts_the_same_whatever_level_and_soil() -> None:
    flow = wick_flow_l_per_day(steady_wick(6.0), np.array([1.0, 60.0]), 60.0, np.array([[0.0], [40.0]]), 40.0)
    assert_allclose(flow, 6.0)
    assert resting_depletion_mm(steady_wick(6.0), 0.0, 40.0) == 0
