"""Invented weather for the demo case: a made-up upland at about 12 degrees north and 1,400 m, nothing of it measured.

The late rains of one year and the warm dry season of the next, each from random numbers of its own.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

SEED = 20260202
PLANTED_ON = date(2026, 2, 2)
DAYS = 137  # planting to last picking, 2 February to 18 June
LATE_RAINS_FROM = date(2025, 9, 1)
LATE_RAINS_DAYS = 122  # to 31 December; in January the instruments were lent out


@dataclass(frozen=True)
class Climate:
    """What a season's weather is drawn around: means in the middle of each month, of days without rain but for wind."""

    months: tuple[int, ...]
    tmin_c: tuple[float, ...]
    tmax_c: tuple[float, ...]
    rh_min_pct: tuple[float, ...]
    rh_max_pct: tuple[float, ...]
    wind_m_s: tuple[float, ...]
    sun_h: tuple[float, ...]
    wet_day_chance: tuple[float, ...]
    wet_day_mm: float
    longest_sun_h: float


WARM_DRY = Climate(  # the rains begin in June
    months=(2, 3, 4, 5, 6),
    tmin_c=(12.5, 14.5, 16.0, 16.0, 15.0),
    tmax_c=(29.0, 30.5, 31.0, 30.0, 27.5),
    rh_min_pct=(20, 22, 27, 34, 45),
    rh_max_pct=(58, 58, 64, 74, 86),
    wind_m_s=(2.2, 2.3, 2.2, 2.0, 1.7),
    sun_h=(9.6, 9.2, 8.9, 8.4, 6.8),
    wet_day_chance=(0.01, 0.05, 0.08, 0.15, 0.28),
    wet_day_mm=8.0,
    longest_sun_h=11.5,
)
LATE_RAINS = Climate(  # every other day of September is wet, hardly one of December
    months=(9, 10, 11, 12),
    tmin_c=(14.0, 13.5, 12.0, 10.5),
    tmax_c=(27.0, 27.0, 27.0, 26.5),
    rh_min_pct=(45, 40, 32, 25),
    rh_max_pct=(88, 85, 76, 66),
    wind_m_s=(1.4, 1.5, 1.8, 2.0),
    sun_h=(7.5, 8.2, 9.1, 9.6),
    wet_day_chance=(0.48, 0.27, 0.10, 0.03),
    wet_day_mm=9.0,
    longest_sun_h=11.0,
)
LATE_RAINS_MM = {9: 140.0, 10: 75.0, 11: 22.0}  # of each month, shared over its wet days as drawn; December as drawn


def stream(part: str) -> np.random.RandomState:
    """Return the random numbers of one part, so that a change in one leaves the others alone."""
    return np.random.RandomState([SEED, *part.encode()])


def warm_dry_weather() -> dict[str, np.ndarray]:
    """Return daily weather by column name, from planting to the last picking."""
    return draw_weather(stream("weather"), WARM_DRY, PLANTED_ON, DAYS)


def late_rains_weather() -> dict[str, np.ndarray]:
    """Return daily weather by column name, 1 September to 31 December of the year before."""
    weather = draw_weather(stream("weather of the late rains"), LATE_RAINS, LATE_RAINS_FROM, LATE_RAINS_DAYS)
    months = np.array([(LATE_RAINS_FROM + timedelta(days=day)).month for day in range(LATE_RAINS_DAYS)])
    for month, total_mm in LATE_RAINS_MM.items():
        drawn_mm = weather["rain_mm"][months == month]
        weather["rain_mm"][months == month] *= total_mm / drawn_mm.sum()
    return weather


def draw_weather(lot: np.random.RandomState, climate: Climate, first: date, days: int) -> dict[str, np.ndarray]:
    """Return daily weather by column name: wet days are cooler by day, warmer by night, dull and damp."""
    dates = [first + timedelta(days=day) for day in range(days)]
    months = np.array([day.month + (day.day - 15.5) / 30.5 for day in dates])

    def smooth(means: tuple[float, ...]) -> np.ndarray:
        return np.interp(months, climate.months, means)

    wet = lot.random_sample(days) < smooth(climate.wet_day_chance)
    rain = np.where(wet, lot.gamma(0.9, climate.wet_day_mm / 0.9, days), 0.0)
    warm = np.convolve(lot.normal(0, 1.6, days + 2), np.ones(3) / 3, "valid")  # warm and cool spells
    return {
        "tmin_c": smooth(climate.tmin_c) + warm + lot.normal(0, 0.8, days) + 1.0 * wet,
        "tmax_c": smooth(climate.tmax_c) + warm + lot.normal(0, 0.9, days) - 2.5 * wet,
        "rh_min_pct": np.clip(smooth(climate.rh_min_pct) + lot.normal(0, 4, days) + 14 * wet, 8, 95),
        "rh_max_pct": np.clip(smooth(climate.rh_max_pct) + lot.normal(0, 5, days) + 12 * wet, 30, 99),
        "wind_m_s": np.clip(smooth(climate.wind_m_s) * np.exp(lot.normal(0, 0.22, days)), 0.4, 8),
        "sun_h": np.clip(smooth(climate.sun_h) + lot.normal(0, 1.0, days) - 3.0 * wet, 0, climate.longest_sun_h),
        "rain_mm": rain,
    }
