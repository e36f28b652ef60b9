"""Reference evapotranspiration: the water that well-watered short grass would give off, in mm a day.

The equations alone, to the letter of the paper and without limits of our own; `climate` fills gaps in a
weather table and calls them. Arrays in, arrays out: days (or months) first, then sites; a missing value stays
missing. Key: Allen et al. (1998) FAO Irrigation and Drainage Paper 56, ch. 2-4; equation numbers are the paper's.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plotworth.supply.radiation import (
    EVAPORATED_MM_PER_MJ,
    clear_sky_radiation_mj_m2,
    evaporated_mm,
    extraterrestrial_radiation_mj_m2,
    net_longwave_mj_m2,
    net_shortwave_mj_m2,
    relative_shortwave,
)
from plotworth.supply.vapour import (
    mean_saturation_vapour_pressure_kpa,
    psychrometric_constant_kpa_per_c,
    saturation_slope_kpa_per_c,
)

Array = NDArray[np.float64]

REFERENCE_WIND_HEIGHT_M = 2.0
WIND_LOG_FACTOR = 4.87
WIND_HEIGHT_FACTOR = 67.8
WIND_HEIGHT_OFFSET = 5.42
AERODYNAMIC_FACTOR = 900.0
AERODYNAMIC_KELVIN = 273.0  # the paper's own rounding in eq 6
RESISTANCE_PER_WIND = 0.34
HARGREAVES_FACTOR = 0.0023
HARGREAVES_OFFSET_C = 17.8
SOIL_HEAT_TWO_MONTHS = 0.07
SOIL_HEAT_ONE_MONTH = 0.14
MIDDLE_DAYS = np.array([15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349])  # day of the year of each 15th


@dataclass(frozen=True)
class Air:
    """Weather as the equations take it; arrays that broadcast, days or months first.

    Attributes: lowest and highest temperature [degC]; vapour pressure ea [kPa]; wind speed at 2 m [m/s];
    solar radiation Rs [MJ/m2/day].
    """

    tmin_c: ArrayLike
    tmax_c: ArrayLike
    vapour_kpa: ArrayLike
    wind_2m_m_s: ArrayLike
    solar_mj_m2: ArrayLike


def wind_at_two_metres_m_s(wind_m_s: ArrayLike, height_m: ArrayLike) -> Array:
    """Return the wind speed at 2 m [m/s] from one measured at another height [m] over short grass.

    Eq 47: u2 = uz 4.87 / ln(67.8 z - 5.42); a wind measured at 2 m stays as it is. Valid above 0.1 m.
    """
    wind, height = np.asarray(wind_m_s, dtype=np.float64), np.asarray(height_m, dtype=np.float64)
    share = WIND_LOG_FACTOR / np.log(WIND_HEIGHT_FACTOR * height - WIND_HEIGHT_OFFSET)
    return np.asarray(wind * np.where(height == REFERENCE_WIND_HEIGHT_M, 1.0, share))


def mean_temperature_c(tmin_c: ArrayLike, tmax_c: ArrayLike) -> Array:
    """Return the day's temperature [degC], midway between its lowest and highest [degC]. Eq 9."""
    return (np.asarray(tmin_c, dtype=np.float64) + np.asarray(tmax_c, dtype=np.float64)) / 2


def penman_monteith_mm(
    temperature_c: ArrayLike,
    wind_2m_m_s: ArrayLike,
    deficit_kpa: ArrayLike,
    available_mj_m2: ArrayLike,
    *,
    elevation_m: ArrayLike,
) -> Array:
    """Return reference evapotranspiration [mm/day] by the FAO Penman-Monteith equation.

    Parameters: mean temperature [degC], wind at 2 m [m/s], vapour deficit es - ea [kPa], net radiation
    less soil heat flux Rn - G [MJ/m2/day], elevation [m]. Eq 6: ETo = (0.408 D (Rn - G) + gamma 900 /
    (T + 273) u2 (es - ea)) / (D + gamma (1 + 0.34 u2)). Negative where more heat is lost than gained.
    """
    temperature, wind = np.asarray(temperature_c, dtype=np.float64), np.asarray(wind_2m_m_s, dtype=np.float64)
    slope, gamma = saturation_slope_kpa_per_c(temperature), psychrometric_constant_kpa_per_c(elevation_m)
    carried = AERODYNAMIC_FACTOR / (temperature + AERODYNAMIC_KELVIN) * wind * np.asarray(deficit_kpa, dtype=np.float64)
    heated = EVAPORATED_MM_PER_MJ * slope * np.asarray(available_mj_m2, dtype=np.float64)
    return np.asarray((heated + gamma * carried) / (slope + gamma * (1 + RESISTANCE_PER_WIND * wind)))


def net_radiation_mj_m2(air: Air, extraterrestrial_mj_m2: ArrayLike, *, elevation_m: ArrayLike) -> Array:
    """Return Rn [MJ/m2/day] of grass from the weather, Ra [MJ/m2/day] and elevation [m]. Eq 40: Rn = Rns - Rnl."""
    relative = relative_shortwave(air.solar_mj_m2, clear_sky_radiation_mj_m2(extraterrestrial_mj_m2, elevation_m))
    lost = net_longwave_mj_m2(air.tmin_c, air.tmax_c, air.vapour_kpa, relative)
    return net_shortwave_mj_m2(air.solar_mj_m2) - lost


def reference_evapotranspiration_mm(
    air: Air,
    day_of_year: ArrayLike,
    *,
    latitude_deg: ArrayLike,
    elevation_m: ArrayLike,
    soil_heat_mj_m2: ArrayLike = 0.0,
) -> Array:
    """Return reference evapotranspiration [mm/day] from complete weather.

    Parameters: weather; day of the year (1-366), for a month the day of its middle (`MIDDLE_DAYS`);
    latitude [degree, south negative]; elevation [m]; soil heat flux G [MJ/m2/day], 0 for days (eq 42).
    Eq 6 with eq 9, 12, 13 and 37-40.
    """
    extraterrestrial = extraterrestrial_radiation_mj_m2(day_of_year, latitude_deg)
    net = net_radiation_mj_m2(air, extraterrestrial, elevation_m=elevation_m)
    available = net - np.asarray(soil_heat_mj_m2, dtype=np.float64)
    deficit = mean_saturation_vapour_pressure_kpa(air.tmin_c, air.tmax_c) - np.asarray(air.vapour_kpa)
    temperature = mean_temperature_c(air.tmin_c, air.tmax_c)
    return penman_monteith_mm(temperature, air.wind_2m_m_s, deficit, available, elevation_m=elevation_m)


def monthly_reference_evapotranspiration_mm(
    air: Air, month: ArrayLike, *, latitude_deg: ArrayLike, elevation_m: ArrayLike
) -> Array:
    """Return reference evapotranspiration [mm/day] from means of consecutive months.

    Parameters: weather as means of months, shape (month, ...); the calendar month (1-12) of each,
    shape (month,); latitude [degree]; elevation [m]. The sun stands as on the 15th; soil heat flux by
    `monthly_soil_heat_mj_m2`. Multiply by the days of the month for mm a month.
    """
    days = MIDDLE_DAYS[np.asarray(month, dtype=np.int64) - 1].astype(np.float64)
    temperature = mean_temperature_c(air.tmin_c, air.tmax_c)
    days = days.reshape(days.shape + (1,) * (temperature.ndim - days.ndim))
    heat = monthly_soil_heat_mj_m2(temperature)
    return reference_evapotranspiration_mm(
        air, days, latitude_deg=latitude_deg, elevation_m=elevation_m, soil_heat_mj_m2=heat
    )


def monthly_soil_heat_mj_m2(temperature_c: ArrayLike) -> Array:
    """Return G [MJ/m2/day] of consecutive months from their mean temperature [degC], shape (month, ...).

    Eq 43 where the months before and after are known; eq 44 for the last month; 0 for the first, whose
    month before is not known.
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    flux = np.zeros_like(temperature)
    flux[1:] = soil_heat_from_month_before_mj_m2(temperature[:-1], temperature[1:])
    flux[1:-1] = soil_heat_between_months_mj_m2(temperature[:-2], temperature[2:])
    return flux


def soil_heat_between_months_mj_m2(month_before_c: ArrayLike, month_after_c: ArrayLike) -> Array:
    """Return G [MJ/m2/day] of a month from the temperatures [degC] around it. Eq 43: 0.07 (T(i+1) - T(i-1))."""
    change = np.asarray(month_after_c, dtype=np.float64) - np.asarray(month_before_c, dtype=np.float64)
    return np.asarray(SOIL_HEAT_TWO_MONTHS * change)


def soil_heat_from_month_before_mj_m2(month_before_c: ArrayLike, month_c: ArrayLike) -> Array:
    """Return G [MJ/m2/day] of a month from the one before [degC] and its own [degC]. Eq 44: 0.14 (T(i) - T(i-1))."""
    change = np.asarray(month_c, dtype=np.float64) - np.asarray(month_before_c, dtype=np.float64)
    return np.asarray(SOIL_HEAT_ONE_MONTH * change)


def hargreaves_mm(tmin_c: ArrayLike, tmax_c: ArrayLike, extraterrestrial_mj_m2: ArrayLike) -> Array:
    """Return reference evapotranspiration [mm/day] from temperatures [degC] and Ra [MJ/m2/day] alone.

    Eq 52: ETo = 0.0023 (Tmean + 17.8) sqrt(Tmax - Tmin) Ra, Ra as mm/day. The paper would have it checked
    against eq 6 nearby: too low in wind, too high in moist air. Valid where Tmax is at least Tmin.
    """
    spread = np.asarray(tmax_c, dtype=np.float64) - np.asarray(tmin_c, dtype=np.float64)
    warmth = HARGREAVES_FACTOR * (mean_temperature_c(tmin_c, tmax_c) + HARGREAVES_OFFSET_C)
    return np.asarray(warmth * np.sqrt(spread) * evaporated_mm(extraterrestrial_mj_m2))
