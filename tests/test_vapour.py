"""Vapour pressure, psychrometer and altitude."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from climate_tables import Row, Ways, allowance, call, inputs, mean_saturation, rows, vapour_kpa
from plotworth.supply import vapour
from plotworth.supply.evapotranspiration import mean_temperature_c

WAYS: Ways = {
    "pressure_kpa": lambda given: call(vapour, "atmospheric_pressure_kpa", given, "elevation_m"),
    "psychrometric_kpa_per_c": lambda given: call(vapour, "psychrometric_constant_kpa_per_c", given, "elevation_m"),
    "saturation_kpa": lambda given: call(vapour, "saturation_vapour_pressure_kpa", given, "temperature_c"),
    "mean_saturation_kpa": mean_saturation,
    "slope_kpa_per_c": lambda given: float(
        vapour.saturation_slope_kpa_per_c(mean_temperature_c(given["tmin_c"], given["tmax_c"]))
    ),
    "vapour_from_psychrometer_kpa": lambda given: call(
        vapour, "vapour_from_psychrometer_kpa", given, "wet_bulb_c", "dry_bulb_c", "elevation_m"
    ),
    "vapour_from_humidity_kpa": vapour_kpa,
    "vapour_from_mean_humidity_kpa": lambda given: call(
        vapour, "vapour_from_mean_humidity_kpa", given, "tmin_c", "tmax_c", "rh_mean_pct"
    ),
    "vapour_from_lowest_temperature_kpa": vapour_kpa,
    "deficit_kpa": lambda given: mean_saturation(given) - vapour_kpa(given),
}
TEMPERATURES = st.floats(min_value=-30, max_value=55)
SHARES = st.floats(min_value=1, max_value=100)


@pytest.mark.published
@pytest.mark.parametrize("row", rows(*WAYS), ids=lambda row: row["name"])
def test_vapour_pressure_of_the_paper(row: Row) -> None:
    found = WAYS[row["quantity"]](inputs(row))
    assert_allclose(found, float(row["value"]), rtol=0, atol=allowance(row))
    if row["unrounded"]:
        assert_allclose(found, float(row["unrounded"]), rtol=1e-6)  # as many digits as were written down


@given(TEMPERATURES, TEMPERATURES)
def test_warmer_air_holds_more(one: float, other: float) -> None:
    cooler, warmer = sorted((one, other))
    held = vapour.saturation_vapour_pressure_kpa([cooler, warmer])
    assert held[0] <= held[1]


@given(st.floats(min_value=-30, max_value=50))
def test_the_slope_is_the_derivative_of_the_pressure(temperature: float) -> None:
    step = 1e-4
    either_side = vapour.saturation_vapour_pressure_kpa([temperature - step, temperature + step])
    # 4098 is 17.27 x 237.3 = 4098.17 rounded by the paper
    assert_allclose(vapour.saturation_slope_kpa_per_c(temperature), np.diff(either_side)[0] / (2 * step), rtol=1e-4)


@given(TEMPERATURES, TEMPERATURES, SHARES, SHARES)
def test_air_never_holds_more_than_it_can(one: float, other: float, low: float, high: float) -> None:
    cooler, warmer = sorted((one, other))
    drier, moister = sorted((low, high))
    found = vapour.vapour_from_humidity_kpa(cooler, warmer, drier, moister)
    assert 0 < found <= vapour.mean_saturation_vapour_pressure_kpa(cooler, warmer)


@given(TEMPERATURES, TEMPERATURES, SHARES)
def test_the_lowest_humidity_comes_back_from_its_vapour_pressure(one: float, other: float, low: float) -> None:
    warmer = max(one, other)
    held = vapour.vapour_from_lowest_humidity_kpa(warmer, low)
    assert_allclose(vapour.lowest_humidity_pct(warmer, held), low)


def test_the_two_halves_of_a_humidity_record_average_to_the_whole() -> None:
    halves = vapour.vapour_from_highest_humidity_kpa(18, 82), vapour.vapour_from_lowest_humidity_kpa(25, 54)
    assert_allclose(vapour.vapour_from_humidity_kpa(18, 25, 54, 82), np.mean(halves))


def test_missing_values_stay_missing_and_shapes_broadcast() -> None:
    found = vapour.vapour_from_humidity_kpa([[18.0], [np.nan]], [25.0, 26.0, 27.0], 50.0, 90.0)
    assert_array_equal(np.isnan(found), [[False] * 3, [True] * 3])
