"""Vapour pressure of the air, and what the psychrometer and the altitude make of it.

Arrays in, arrays out: every argument broadcasts, a missing value (NaN) stays missing. Key: Allen,
Pereira, Raes & Smith (1998) *Crop evapotranspiration*, FAO Irrigation and Drainage Paper 56, ch. 3;
equation numbers are the paper's.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

SATURATION_KPA = 0.6108
SATURATION_RATE = 17.27
SATURATION_OFFSET_C = 237.3
SLOPE_FACTOR = 4098.0
SEA_LEVEL_KPA = 101.3
STANDARD_KELVIN = 293.0
LAPSE_K_PER_M = 0.0065
PRESSURE_EXPONENT = 5.26
PSYCHROMETRIC_PER_C = 0.665e-3
VENTILATED_PER_C = 0.000662
PER_CENT = 100.0


def saturation_vapour_pressure_kpa(temperature_c: ArrayLike) -> Array:
    """Return the pressure [kPa] at which air of this temperature [degC] holds all the vapour it can.

    Eq 11: e0(T) = 0.6108 exp(17.27 T / (T + 237.3)). Valid for water, about -40 to 60 degC.
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    return np.asarray(SATURATION_KPA * np.exp(SATURATION_RATE * temperature / (temperature + SATURATION_OFFSET_C)))


def mean_saturation_vapour_pressure_kpa(tmin_c: ArrayLike, tmax_c: ArrayLike) -> Array:
    """Return es [kPa] of a day or month from its lowest and highest temperature [degC].

    Eq 12: es = (e0(Tmax) + e0(Tmin)) / 2. The mean temperature would give less: e0 bends upward.
    """
    return (saturation_vapour_pressure_kpa(tmax_c) + saturation_vapour_pressure_kpa(tmin_c)) / 2


def saturation_slope_kpa_per_c(temperature_c: ArrayLike) -> Array:
    """Return the slope [kPa/degC] of saturation vapour pressure at the mean temperature [degC].

    Eq 13: D = 4098 e0(T) / (T + 237.3)^2.
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    return SLOPE_FACTOR * saturation_vapour_pressure_kpa(temperature) / (temperature + SATURATION_OFFSET_C) ** 2


def atmospheric_pressure_kpa(elevation_m: ArrayLike) -> Array:
    """Return the pressure [kPa] of a standard atmosphere at an elevation above the sea [m].

    Eq 7: P = 101.3 ((293 - 0.0065 z) / 293)^5.26.
    """
    elevation = np.asarray(elevation_m, dtype=np.float64)
    warmth = (STANDARD_KELVIN - LAPSE_K_PER_M * elevation) / STANDARD_KELVIN
    return np.asarray(SEA_LEVEL_KPA * warmth**PRESSURE_EXPONENT)


def psychrometric_constant_kpa_per_c(elevation_m: ArrayLike) -> Array:
    """Return gamma [kPa/degC] at an elevation [m]. Eq 8: gamma = 0.000665 P."""
    return PSYCHROMETRIC_PER_C * atmospheric_pressure_kpa(elevation_m)


def vapour_from_psychrometer_kpa(wet_bulb_c: ArrayLike, dry_bulb_c: ArrayLike, elevation_m: ArrayLike) -> Array:
    """Return ea [kPa] from a ventilated psychrometer: wet and dry bulb [degC], elevation [m].

    Eq 15 and 16: ea = e0(Twet) - 0.000662 P (Tdry - Twet), for about 5 m/s past the bulbs.
    """
    depression = np.asarray(dry_bulb_c, dtype=np.float64) - np.asarray(wet_bulb_c, dtype=np.float64)
    loss = VENTILATED_PER_C * atmospheric_pressure_kpa(elevation_m) * depression
    return saturation_vapour_pressure_kpa(wet_bulb_c) - loss


def vapour_from_humidity_kpa(
    tmin_c: ArrayLike, tmax_c: ArrayLike, rh_min_pct: ArrayLike, rh_max_pct: ArrayLike
) -> Array:
    """Return ea [kPa] from lowest and highest temperature [degC] and relative humidity [%].

    Eq 17: ea = (e0(Tmin) RHmax / 100 + e0(Tmax) RHmin / 100) / 2.
    """
    return (
        vapour_from_highest_humidity_kpa(tmin_c, rh_max_pct) + vapour_from_lowest_humidity_kpa(tmax_c, rh_min_pct)
    ) / 2


def vapour_from_highest_humidity_kpa(tmin_c: ArrayLike, rh_max_pct: ArrayLike) -> Array:
    """Return ea [kPa] where only the highest humidity [%] is known: it goes with the coolest hour [degC].

    Eq 18: ea = e0(Tmin) RHmax / 100.
    """
    return saturation_vapour_pressure_kpa(tmin_c) * np.asarray(rh_max_pct, dtype=np.float64) / PER_CENT


def vapour_from_lowest_humidity_kpa(tmax_c: ArrayLike, rh_min_pct: ArrayLike) -> Array:
    """Return ea [kPa] where only the lowest humidity [%] is known: it goes with the warmest hour [degC].

    The second half of eq 17: ea = e0(Tmax) RHmin / 100, which is eq 63 solved for the vapour pressure.
    """
    return saturation_vapour_pressure_kpa(tmax_c) * np.asarray(rh_min_pct, dtype=np.float64) / PER_CENT


def vapour_from_mean_humidity_kpa(tmin_c: ArrayLike, tmax_c: ArrayLike, rh_mean_pct: ArrayLike) -> Array:
    """Return ea [kPa] from temperatures [degC] and the mean humidity [%], less good than the extremes.

    Eq 19: ea = RHmean / 100 (e0(Tmax) + e0(Tmin)) / 2.
    """
    humidity = np.asarray(rh_mean_pct, dtype=np.float64)
    return mean_saturation_vapour_pressure_kpa(tmin_c, tmax_c) * humidity / PER_CENT


def vapour_from_lowest_temperature_kpa(tmin_c: ArrayLike) -> Array:
    """Return ea [kPa] where humidity was not recorded: the night [degC] cools down to the dew point.

    Eq 48: ea = e0(Tmin). Too moist in dry country, where the dew point lies 2-3 degC below Tmin.
    """
    return saturation_vapour_pressure_kpa(tmin_c)


def lowest_humidity_pct(tmax_c: ArrayLike, vapour_kpa: ArrayLike) -> Array:
    """Return the lowest humidity [%] of a day from its highest temperature [degC] and ea [kPa].

    Eq 63 and 64: RHmin = 100 ea / e0(Tmax), with ea = e0(Tdew), or e0(Tmin) where that is all there is.
    """
    return PER_CENT * np.asarray(vapour_kpa, dtype=np.float64) / saturation_vapour_pressure_kpa(tmax_c)
