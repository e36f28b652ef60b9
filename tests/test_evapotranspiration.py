"""The reference equations: the paper's examples, whole years of real weather, and how the equations bend."""

import csv

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from climate_tables import (
    PUBLISHED,
    Inputs,
    Row,
    Ways,
    above,
    allowance,
    call,
    clear_sky,
    daylight,
    inputs,
    mean_saturation,
    net_longwave,
    net_radiation,
    rows,
    solar,
    station,
    vapour_kpa,
    wind,
)
from plotworth.supply import evapotranspiration, vapour
from plotworth.supply.evapotranspiration import (
    MIDDLE_DAYS,
    Air,
    hargreaves_mm,
    mean_temperature_c,
    monthly_reference_evapotranspiration_mm,
    monthly_soil_heat_mj_m2,
    penman_monteith_mm,
    reference_evapotranspiration_mm,
    wind_at_two_metres_m_s,
)
from plotworth.supply.radiation import (
    clear_sky_radiation_mj_m2,
    evaporated_mm,
    extraterrestrial_radiation_mj_m2,
    net_longwave_mj_m2,
    net_shortwave_mj_m2,
    relative_shortwave,
)


def between_months(given: Inputs) -> float:
    return call(evapotranspiration, "soil_heat_between_months_mj_m2", given, "month_before_c", "month_after_c")


def from_month_before(given: Inputs) -> float:
    if "month_before_c" not in given:
        return 0.0
    month = mean_temperature_c(given["tmin_c"], given["tmax_c"])
    return float(evapotranspiration.soil_heat_from_month_before_mj_m2(given["month_before_c"], month))


def reference(given: Inputs) -> float:
    weather = Air(given["tmin_c"], given["tmax_c"], vapour_kpa(given), wind(given), solar(given))
    where = {"latitude_deg": given["latitude_deg"], "elevation_m": given["elevation_m"]}
    heat = from_month_before(given)
    return float(reference_evapotranspiration_mm(weather, given["day_of_year"], **where, soil_heat_mj_m2=heat))


def hargreaves(given: Inputs) -> float:
    return float(hargreaves_mm(given["tmin_c"], given["tmax_c"], above(given)))


WAYS: Ways = {
    "wind_2m_m_s": wind,
    "soil_heat_between_months_mj_m2": between_months,
    "soil_heat_between_months_mm": lambda given: float(evaporated_mm(between_months(given))),
    "soil_heat_from_month_before_mj_m2": from_month_before,
    "reference_mm": reference,
    "hargreaves_mm": hargreaves,
}
EXAMPLE_18: Ways = {
    "wind_2m_m_s": wind,
    "pressure_kpa": lambda given: call(vapour, "atmospheric_pressure_kpa", given, "elevation_m"),
    "psychrometric_kpa_per_c": lambda given: call(vapour, "psychrometric_constant_kpa_per_c", given, "elevation_m"),
    "slope_kpa_per_c": lambda given: float(
        vapour.saturation_slope_kpa_per_c(mean_temperature_c(given["tmin_c"], given["tmax_c"]))
    ),
    "saturation_kpa": mean_saturation,
    "vapour_kpa": vapour_kpa,
    "extraterrestrial_mj_m2": above,
    "daylight_h": daylight,
    "solar_mj_m2": solar,
    "clear_sky_mj_m2": clear_sky,
    "net_shortwave_mj_m2": lambda given: float(net_shortwave_mj_m2(solar(given))),
    "net_longwave_mj_m2": net_longwave,
    "net_radiation_mj_m2": net_radiation,
    "reference_mm": reference,
    "hargreaves_mm": hargreaves,
}
PLACES = {"greensboro": (36.1, 273.0), "chicago": (41.98, 205.0), "san_diego": (32.73, 4.0)}
LEAST_RELATIVE_OF_THE_SECOND_LIBRARY = 0.3
TEN_DIGITS_MM = 1e-8  # the station tables keep ten digits


def exact_example_18() -> dict[str, float]:
    with (PUBLISHED / "weather_example18.csv").open(encoding="utf-8", newline="") as lines:
        return {row["quantity"]: float(row["value"]) for row in csv.DictReader(lines)}


def station_air(days: pd.DataFrame) -> Air:
    columns = [days[name].to_numpy() for name in ("tmin_c", "tmax_c", "rh_min_pct", "rh_max_pct")]
    held = vapour.vapour_from_humidity_kpa(*columns)
    speed = wind_at_two_metres_m_s(days["wind_m_s"], days["wind_height_m"])
    return Air(columns[0], columns[1], held, speed, days["solar_mj_m2"].to_numpy())


def with_the_other_clip(days: pd.DataFrame, latitude_deg: float, elevation_m: float) -> np.ndarray:
    """The same equations with Rs/Rso kept at 0.3 or more, as the second library does."""
    weather = station_air(days)
    arrives = extraterrestrial_radiation_mj_m2(days["date"].dt.day_of_year, latitude_deg)
    relative = relative_shortwave(weather.solar_mj_m2, clear_sky_radiation_mj_m2(arrives, elevation_m))
    relative = np.maximum(relative, LEAST_RELATIVE_OF_THE_SECOND_LIBRARY)
    lost = net_longwave_mj_m2(weather.tmin_c, weather.tmax_c, weather.vapour_kpa, relative)
    net = net_shortwave_mj_m2(weather.solar_mj_m2) - lost
    deficit = vapour.mean_saturation_vapour_pressure_kpa(weather.tmin_c, weather.tmax_c) - weather.vapour_kpa
    temperature = mean_temperature_c(weather.tmin_c, weather.tmax_c)
    return penman_monteith_mm(temperature, weather.wind_2m_m_s, deficit, net, elevation_m=elevation_m)


@pytest.mark.published
@pytest.mark.parametrize("row", rows(*WAYS), ids=lambda row: row["name"])
def test_wind_soil_heat_and_evapotranspiration_of_the_paper(row: Row) -> None:
    found = WAYS[row["quantity"]](inputs(row))
    assert_allclose(found, float(row["value"]), rtol=0, atol=allowance(row))
    if row["unrounded"]:
        assert_allclose(found, float(row["unrounded"]), rtol=0, atol=5e-6)  # written down with 5 or 6 decimals


@pytest.mark.published
@pytest.mark.parametrize("quantity", EXAMPLE_18)
def test_example_18_digit_by_digit(quantity: str) -> None:
    given = inputs(next(row for row in rows("reference_mm") if row["section"] == "Example 18"))
    assert_allclose(EXAMPLE_18[quantity](given), exact_example_18()[quantity], rtol=1e-12)


@pytest.mark.published
@pytest.mark.parametrize("name", PLACES)
def test_whole_years_by_penman_monteith_to_the_letter(name: str) -> None:
    days, (latitude, elevation) = station(name), PLACES[name]
    found = reference_evapotranspiration_mm(
        station_air(days), days["date"].dt.day_of_year, latitude_deg=latitude, elevation_m=elevation
    )
    assert_allclose(found, days["plain_mm"], rtol=0, atol=TEN_DIGITS_MM)


@pytest.mark.published
@pytest.mark.parametrize("name", PLACES)
def test_whole_years_by_a_second_library_with_its_clips(name: str) -> None:
    days = station(name)
    assert_allclose(with_the_other_clip(days, *PLACES[name]), days["clipped_mm"], rtol=0, atol=TEN_DIGITS_MM)


@pytest.mark.published
@pytest.mark.parametrize("name", PLACES)
def test_the_second_library_differs_on_dark_days_only(name: str) -> None:
    days, (latitude, elevation) = station(name), PLACES[name]
    arrives = extraterrestrial_radiation_mj_m2(days["date"].dt.day_of_year, latitude)
    relative = relative_shortwave(days["solar_mj_m2"], clear_sky_radiation_mj_m2(arrives, elevation))
    differs = (days["plain_mm"] - days["clipped_mm"]).abs().to_numpy()
    assert_array_equal(differs > 1e-6, relative < LEAST_RELATIVE_OF_THE_SECOND_LIBRARY)
    assert differs.max() < 0.18  # mm/day; 0.173 at Greensboro


@pytest.mark.published
@pytest.mark.parametrize("name", [*PLACES, "seattle"])
def test_whole_years_by_hargreaves(name: str) -> None:
    days, latitude = station(name), {**PLACES, "seattle": (47.45, 130.0)}[name][0]
    arrives = extraterrestrial_radiation_mj_m2(days["date"].dt.day_of_year, latitude)
    assert_allclose(hargreaves_mm(days["tmin_c"], days["tmax_c"], arrives), days["hargreaves_mm"], rtol=0, atol=1e-8)


@pytest.mark.parametrize("name", PLACES)
def test_means_of_months_come_near_the_days_they_are_means_of(name: str) -> None:
    days, (latitude, elevation) = station(name), PLACES[name]
    weather = station_air(days)
    frame = pd.DataFrame(vars(weather)).assign(plain_mm=days["plain_mm"])
    months = frame.groupby(days["date"].dt.to_period("M")).mean()
    means = Air(*(months[field].to_numpy() for field in vars(weather)))
    numbers = pd.PeriodIndex(months.index).month
    found = monthly_reference_evapotranspiration_mm(means, numbers, latitude_deg=latitude, elevation_m=elevation)
    # wind and deficit move together by day and soil heat enters by month: up to half a mm/day, 4 % over the year
    assert_allclose(found, months["plain_mm"], rtol=0, atol=0.5)
    assert_allclose(found.mean(), months["plain_mm"].mean(), rtol=0.04)


@pytest.mark.published
def test_a_month_of_the_monthly_function_is_example_17() -> None:
    given = inputs(next(row for row in rows("reference_mm") if row["section"] == "Example 17"))
    march = given["month_before_c"]
    weather = Air(
        [march, given["tmin_c"]], [march, given["tmax_c"]], given["vapour_kpa"], given["wind_2m_m_s"], solar(given)
    )
    found = monthly_reference_evapotranspiration_mm(
        weather, [3, 4], latitude_deg=given["latitude_deg"], elevation_m=given["elevation_m"]
    )
    assert_allclose(found[1], reference(given))


def test_soil_heat_of_months_uses_both_neighbours_where_it_can() -> None:
    algiers = [14.1, 16.1, 18.8]  # FAO-56 Example 13
    assert_allclose(monthly_soil_heat_mj_m2(algiers), [0.0, 0.07 * 4.7, 0.14 * 2.7])
    assert_allclose(monthly_soil_heat_mj_m2([20.0]), [0.0])
    assert_allclose(monthly_soil_heat_mj_m2(np.array([algiers, algiers]).T)[:, 1], [0.0, 0.329, 0.378])


def test_the_middle_days_are_the_fifteenths() -> None:
    assert_array_equal(MIDDLE_DAYS, pd.date_range("2025-01-15", periods=12, freq=pd.DateOffset(months=1)).day_of_year)


def test_a_wind_measured_at_two_metres_stays_as_it_is() -> None:
    assert wind_at_two_metres_m_s(3.1, 2.0) == 3.1
    assert_allclose(wind_at_two_metres_m_s(3.1, 2.001), 3.1, rtol=1e-3)
    assert wind_at_two_metres_m_s(3.1, 10.0) < 3.1 < wind_at_two_metres_m_s(3.1, 1.0)


WARM = st.floats(min_value=5, max_value=35)
SPREADS = st.floats(min_value=0, max_value=25)
MORE = st.floats(min_value=0, max_value=5)
WINDS = st.floats(min_value=0, max_value=10)
HUMIDITIES = st.floats(min_value=5, max_value=100)
SUNNY = st.floats(min_value=0.5, max_value=1)


@given(st.floats(min_value=-15, max_value=40), SPREADS, MORE)
def test_hargreaves_is_never_negative_and_grows_with_the_temperature_range(
    mean: float, spread: float, more: float
) -> None:
    half = np.array([spread, spread + more]) / 2
    found = hargreaves_mm(mean - half, mean + half, 30.0)
    assert 0 <= found[0] <= found[1]


@given(WARM, WINDS, st.floats(min_value=0, max_value=5), st.floats(min_value=0, max_value=25), MORE)
def test_penman_monteith_is_never_negative_and_grows_with_dryness_and_radiation(
    temperature: float, speed: float, deficit: float, available: float, more: float
) -> None:
    base = penman_monteith_mm(temperature, speed, deficit, available, elevation_m=200.0)
    drier = penman_monteith_mm(temperature, speed, deficit + more, available, elevation_m=200.0)
    brighter = penman_monteith_mm(temperature, speed, deficit, available + more, elevation_m=200.0)
    assert 0 <= base <= min(drier, brighter)


@given(WARM, SPREADS, WINDS, HUMIDITIES, SUNNY, st.floats(min_value=-30, max_value=30))
def test_a_bright_warm_day_evaporates_water_but_not_more_than_the_sky_brings_and_the_wind_carries(
    tmin: float, spread: float, speed: float, humidity: float, share: float, latitude: float
) -> None:
    arrives = float(extraterrestrial_radiation_mj_m2(80, latitude))
    held = vapour.vapour_from_humidity_kpa(tmin, tmin + spread, humidity / 2, humidity)
    weather = Air(tmin, tmin + spread, held, speed, share * 0.75 * arrives)
    found = reference_evapotranspiration_mm(weather, 80, latitude_deg=latitude, elevation_m=0.0)
    assert 0 < found < 40


@given(WARM, SPREADS, st.floats(min_value=0, max_value=20))
def test_still_air_leaves_the_part_that_the_radiation_heats(tmin: float, deficit: float, available: float) -> None:
    slope, gamma = vapour.saturation_slope_kpa_per_c(tmin), vapour.psychrometric_constant_kpa_per_c(0.0)
    found = penman_monteith_mm(tmin, 0.0, deficit, available, elevation_m=0.0)
    assert_allclose(found, 0.408 * available * slope / (slope + gamma))


def test_missing_values_stay_missing_and_days_come_before_sites() -> None:
    weather = Air([[20.0], [np.nan], [21.0]], [[30.0]] * 3, 1.5, 2.0, 20.0)
    found = reference_evapotranspiration_mm(
        weather, [[100], [101], [102]], latitude_deg=[5.0, 15.0], elevation_m=[0.0, 900.0]
    )
    assert found.shape == (3, 2)
    assert_array_equal(np.isnan(found), [[False] * 2, [True] * 2, [False] * 2])
    alone = reference_evapotranspiration_mm(Air(21.0, 30.0, 1.5, 2.0, 20.0), 102, latitude_deg=15.0, elevation_m=900.0)
    assert_allclose(found[2, 1], alone)
