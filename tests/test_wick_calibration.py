"""Days from full to empty, read together with what the crop used."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.supply.wick import steady_wick
from plotworth.supply.wick_calibration import Calibration, calibrate_wick
from reservoir_units import LEVEL_WICK, SOIL, TANK, TIGHT_LID, run


def calibrated(reservoir, demand_mm, open_water_mm=0.0) -> Calibration:
    return calibrate_wick(reservoir, SOIL, demand_mm, 0.0, dew_l_per_m2=0.0, open_water_mm=open_water_mm)


def test_a_slow_wick_is_found_between_two_days() -> None:
    # 60 l in 15 days beside a demand of 10 l a day: between 60 / 15 and 60 / 14 l a day
    found = calibrated(TANK, np.full(15, 5.0))
    assert_allclose(found.low_l_per_m_day, 4.0)
    assert_allclose(found.high_l_per_m_day, 60 / 14)


def test_the_same_days_beside_a_small_plant_say_only_at_least() -> None:
    # 60 l in 15 days beside a demand of 4 l a day: the crop set the pace
    found = calibrated(TANK, np.full(15, 2.0))
    assert_allclose(found.low_l_per_m_day, 4.0)
    assert found.high_l_per_m_day == np.inf


def test_more_than_crop_and_soil_can_have_taken_finds_no_wick() -> None:
    found = calibrated(TANK, np.full(15, 1.0))
    assert np.isnan(found.low_l_per_m_day)
    assert np.isnan(found.high_l_per_m_day)


def test_a_tank_that_the_air_emptied_says_nothing_of_the_least() -> None:
    opened = replace(TANK, lid=replace(TIGHT_LID, lidded_share=0.0, surface_m2=1.0))
    found = calibrated(opened, np.full(10, 5.0), open_water_mm=6.5)
    assert found.low_l_per_m_day == 0
    assert found.high_l_per_m_day > 0


@pytest.mark.parametrize("conductance", [5.0, 10.0, 15.0])
def test_a_wick_is_found_again_from_the_days_that_its_simulation_takes(conductance: float) -> None:
    tank = replace(TANK, wick=replace(LEVEL_WICK, lift_empty_m=0.15, conductance_l_per_m_day=conductance))
    demand = np.random.default_rng(5).uniform(4, 6, 60)
    empty = 1 + int(np.argmax(run(tank, SOIL, demand).storage_l <= 0))
    assert 1 < empty < 60
    found = calibrated(replace(tank, start_l=0.0), demand[:empty])
    assert found.low_l_per_m_day <= conductance <= found.high_l_per_m_day


def test_draws_are_calibrated_together() -> None:
    tank = replace(TANK, capacity_l=np.array([[30.0, 60.0]]), wick=steady_wick(1.0))
    found = calibrated(tank, np.full(15, 5.0))
    assert_allclose(found.low_l_per_m_day, [[2.0, 4.0]])
    assert_array_equal(found.high_l_per_m_day.shape, (1, 2))
