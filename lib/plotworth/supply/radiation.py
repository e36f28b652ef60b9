"""Radiation that reaches a grass surface on a day, from the sun's geometry to what is left to evaporate water.

Arrays in, arrays out: every argument broadcasts (days first, then sites), a missing value stays missing.
All radiation in MJ per m2 and day. Key: Allen et al. (1998) FAO Irrigation and Drainage Paper 56, ch. 3;
equation numbers are the paper's. Beyond the polar circle the hour angle stops at 0 (no sun) or pi (no night).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
MINUTES_A_DAY = 24.0 * 60.0
HOURS_A_DAY = 24.0
DAYS_A_YEAR = 365.0
DISTANCE_SWING = 0.033
DECLINATION_RAD = 0.409
DECLINATION_PHASE_RAD = 1.39
OVERCAST_SHARE = 0.25  # Angstrom a_s
SUNSHINE_SHARE = 0.50  # Angstrom b_s
CLEAR_SKY_SHARE = 0.75
CLEAR_SKY_PER_M = 2e-5
KRS_INTERIOR = 0.16
KRS_COAST = 0.19
GRASS_ALBEDO = 0.23
STEFAN_BOLTZMANN_MJ_K4_M2_DAY = 4.903e-9
ZERO_C_KELVIN = 273.16  # as the paper converts
DRY_AIR_EMISSIVITY = 0.34
VAPOUR_EMISSIVITY = 0.14
CLOUD_SLOPE = 1.35
CLOUD_OFFSET = 0.35
EVAPORATED_MM_PER_MJ = 0.408  # eq 20: 1 / 2.45 MJ per kg


def evaporated_mm(radiation_mj_m2: ArrayLike) -> Array:
    """Return the depth of water [mm] that this radiation [MJ/m2] could evaporate. Eq 20: 0.408 mm per MJ."""
    return EVAPORATED_MM_PER_MJ * np.asarray(radiation_mj_m2, dtype=np.float64)


def latitude_rad(latitude_deg: ArrayLike) -> Array:
    """Return a latitude [rad] from degrees [degree], south negative. Eq 22."""
    return np.asarray(np.pi / 180 * np.asarray(latitude_deg, dtype=np.float64))


def extraterrestrial_radiation_mj_m2(day_of_year: ArrayLike, latitude_deg: ArrayLike) -> Array:
    """Return Ra [MJ/m2/day], what arrives above the air, by day of the year (1-366) and latitude [degree].

    Eq 21: Ra = (24 60 / pi) 0.0820 dr (ws sin phi sin d + cos phi cos d sin ws), with eq 23
    dr = 1 + 0.033 cos(2 pi J / 365) and eq 24, 25 for declination d and sunset hour angle ws.
    """
    year = 2 * np.pi * np.asarray(day_of_year, dtype=np.float64) / DAYS_A_YEAR
    distance = 1 + DISTANCE_SWING * np.cos(year)
    phi, declination = latitude_rad(latitude_deg), _declination_rad(day_of_year)
    sunset = _sunset_angle_rad(day_of_year, latitude_deg)
    height = sunset * np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.sin(sunset)
    return np.asarray(MINUTES_A_DAY / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * distance * height)


def daylight_h(day_of_year: ArrayLike, latitude_deg: ArrayLike) -> Array:
    """Return N [hour], the longest sunshine a day (1-366) can have at a latitude [degree]. Eq 34: N = 24 ws / pi."""
    return HOURS_A_DAY / np.pi * _sunset_angle_rad(day_of_year, latitude_deg)


def solar_from_sunshine_mj_m2(sun_h: ArrayLike, longest_h: ArrayLike, extraterrestrial_mj_m2: ArrayLike) -> Array:
    """Return Rs [MJ/m2/day] from hours of bright sunshine [hour], daylight hours [hour] and Ra [MJ/m2/day].

    Eq 35 (Angstrom): Rs = (0.25 + 0.50 n / N) Ra, the coefficients for places without calibration.
    NaN on days without daylight.
    """
    share = _ratio(sun_h, longest_h)
    return (OVERCAST_SHARE + SUNSHINE_SHARE * share) * np.asarray(extraterrestrial_mj_m2, dtype=np.float64)


def solar_from_temperature_mj_m2(
    tmin_c: ArrayLike, tmax_c: ArrayLike, extraterrestrial_mj_m2: ArrayLike, *, krs: ArrayLike
) -> Array:
    """Return Rs [MJ/m2/day] from lowest and highest temperature [degC] and Ra [MJ/m2/day].

    Eq 50 (Hargreaves): Rs = kRs sqrt(Tmax - Tmin) Ra; kRs [1/sqrt(degC)] is 0.16 in the interior and
    0.19 at the coast (`KRS_INTERIOR`, `KRS_COAST`). Valid where Tmax is at least Tmin.
    """
    spread = np.asarray(tmax_c, dtype=np.float64) - np.asarray(tmin_c, dtype=np.float64)
    share = np.asarray(krs, dtype=np.float64) * np.sqrt(spread)
    return np.asarray(share * np.asarray(extraterrestrial_mj_m2, dtype=np.float64))


def clear_sky_radiation_mj_m2(extraterrestrial_mj_m2: ArrayLike, elevation_m: ArrayLike) -> Array:
    """Return Rso [MJ/m2/day] under a cloudless sky from Ra [MJ/m2/day] and elevation [m].

    Eq 37: Rso = (0.75 + 2e-5 z) Ra.
    """
    share = CLEAR_SKY_SHARE + CLEAR_SKY_PER_M * np.asarray(elevation_m, dtype=np.float64)
    return np.asarray(share * np.asarray(extraterrestrial_mj_m2, dtype=np.float64))


def relative_shortwave(solar_mj_m2: ArrayLike, clear_sky_mj_m2: ArrayLike) -> Array:
    """Return Rs/Rso, at most 1, from solar and clear-sky radiation [MJ/m2/day]: how cloudy it was.

    Limited to 1 as eq 39 says; the paper sets no lower limit. NaN on days without sun.
    """
    return np.minimum(_ratio(solar_mj_m2, clear_sky_mj_m2), 1.0)


def net_shortwave_mj_m2(solar_mj_m2: ArrayLike) -> Array:
    """Return Rns [MJ/m2/day], the solar radiation [MJ/m2/day] that grass does not throw back. Eq 38: 0.77 Rs."""
    return np.asarray((1 - GRASS_ALBEDO) * np.asarray(solar_mj_m2, dtype=np.float64))


def emitted_radiation_mj_m2(temperature_c: ArrayLike) -> Array:
    """Return sigma T^4 [MJ/m2/day] of a surface at a temperature [degC], 4.903e-9 (degC + 273.16)^4."""
    kelvin = np.asarray(temperature_c, dtype=np.float64) + ZERO_C_KELVIN
    return np.asarray(STEFAN_BOLTZMANN_MJ_K4_M2_DAY * kelvin**4)


def net_longwave_mj_m2(tmin_c: ArrayLike, tmax_c: ArrayLike, vapour_kpa: ArrayLike, relative: ArrayLike) -> Array:
    """Return Rnl [MJ/m2/day], the heat sent back to the sky.

    Parameters: lowest and highest temperature [degC], vapour pressure ea [kPa], Rs/Rso of
    `relative_shortwave` [share]. Eq 39: Rnl = (sigma Tmax^4 + sigma Tmin^4) / 2 (0.34 - 0.14 sqrt(ea))
    (1.35 Rs/Rso - 0.35).
    """
    emitted = (emitted_radiation_mj_m2(tmax_c) + emitted_radiation_mj_m2(tmin_c)) / 2
    dryness = DRY_AIR_EMISSIVITY - VAPOUR_EMISSIVITY * np.sqrt(np.asarray(vapour_kpa, dtype=np.float64))
    return np.asarray(emitted * dryness * (CLOUD_SLOPE * np.asarray(relative, dtype=np.float64) - CLOUD_OFFSET))


def _declination_rad(day_of_year: ArrayLike) -> Array:
    """Solar declination, eq 24: d = 0.409 sin(2 pi J / 365 - 1.39)."""
    year = 2 * np.pi * np.asarray(day_of_year, dtype=np.float64) / DAYS_A_YEAR
    return np.asarray(DECLINATION_RAD * np.sin(year - DECLINATION_PHASE_RAD))


def _sunset_angle_rad(day_of_year: ArrayLike, latitude_deg: ArrayLike) -> Array:
    """Sunset hour angle, eq 25: ws = arccos(-tan phi tan d)."""
    cosine = -np.tan(latitude_rad(latitude_deg)) * np.tan(_declination_rad(day_of_year))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def _ratio(part: ArrayLike, whole: ArrayLike) -> Array:
    """Divide; NaN where the whole is 0."""
    above, below = np.broadcast_arrays(np.asarray(part, dtype=np.float64), np.asarray(whole, dtype=np.float64))
    return np.asarray(np.divide(above, below, out=np.full(above.shape, np.nan), where=below != 0))
