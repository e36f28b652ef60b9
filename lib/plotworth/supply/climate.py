"""Reference evapotranspiration of a weather table that has gaps, and what was estimated to get it.

Where a reading is missing the paper's own procedure takes its place, day by day, and every day and the notes
say so. The equations stand in `vapour`, `radiation` and `evapotranspiration`.
Key: Allen et al. (1998) FAO Irrigation and Drainage Paper 56, ch. 3 and 4; equation numbers are the paper's.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plotworth.ground.errors import PlotworthError
from plotworth.supply.evapotranspiration import (
    REFERENCE_WIND_HEIGHT_M,
    Air,
    hargreaves_mm,
    reference_evapotranspiration_mm,
    wind_at_two_metres_m_s,
)
from plotworth.supply.radiation import (
    KRS_INTERIOR,
    daylight_h,
    extraterrestrial_radiation_mj_m2,
    solar_from_sunshine_mj_m2,
    solar_from_temperature_mj_m2,
)
from plotworth.supply.vapour import (
    lowest_humidity_pct,
    vapour_from_highest_humidity_kpa,
    vapour_from_humidity_kpa,
    vapour_from_lowest_humidity_kpa,
    vapour_from_lowest_temperature_kpa,
)

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

ASSUMED_WIND_2M_M_S = 2.0  # the mean of over 2000 stations, FAO-56 Table 4
CALM_WIND_2M_M_S = 0.5
READINGS = (
    "tmin_c", "tmax_c", "rh_min_pct", "rh_max_pct", "wind_m_s", "wind_height_m", "sun_h", "solar_mj_m2", "rain_mm",
)  # fmt: skip


@dataclass(frozen=True)
class DailyReference:
    """Reference evapotranspiration by day.

    Attributes: table, one row for every day from the first to the last of the weather table, with date,
    reference_mm (Penman-Monteith) and hargreaves_mm [mm/day], rain_mm [mm, blank where not recorded],
    wind_2m_m_s [m/s], rh_min_pct [%] and estimated (what was, in words, "" where nothing); notes, one
    sentence for each procedure used, with its days.
    """

    table: pd.DataFrame
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Mark:
    """Something to be said: on which days, in a word for the day, in a sentence after `n of m days` for the notes."""

    days: Mask
    word: str
    sentence: str


def daily_reference(
    weather: pd.DataFrame, *, latitude_deg: float, elevation_m: float, krs: float = KRS_INTERIOR
) -> DailyReference:
    """Return the reference evapotranspiration of every day of a weather table, and what was estimated.

    Parameters: weather, a row a day, with date and the columns of the records' weather table (absent
    columns count as blank); latitude [degree, south negative]; elevation [m]; kRs of eq 50
    [1/sqrt(degC)], 0.16 in the interior, 0.19 at the coast.

    Eq 6, soil heat flux 0. Missing humidity: eq 18 from the highest, eq 63 from the lowest, else eq 48
    from the lowest temperature. Missing radiation: eq 35 from sunshine, else eq 50 from temperatures.
    Missing wind: 2 m/s; another height: eq 47. Without both temperatures, or with the lowest above the
    highest, a day stays NaN. A value below 0 counts as 0. Errors: PlotworthError where a day stands twice.
    """
    days = _calendar(weather)
    known = _temperatures_known(days)
    vapour, lowest_humidity, humidity_marks = _humidity(days, known)
    solar, above, radiation_marks = _radiation(days, known, latitude_deg=latitude_deg, krs=krs)
    wind, wind_marks = _wind(days)
    tmin, tmax = days["tmin_c"].where(known).to_numpy(), days["tmax_c"].where(known).to_numpy()
    air = Air(tmin, tmax, vapour, wind, solar)
    reference = reference_evapotranspiration_mm(
        air, _day_of_year(days), latitude_deg=latitude_deg, elevation_m=elevation_m
    )
    hargreaves = hargreaves_mm(tmin, tmax, above)
    marks = [*_temperature_marks(days, known), *humidity_marks, *radiation_marks, *wind_marks]
    marks += _outcome_marks(days, known, reference)
    table = pd.DataFrame(
        {
            "date": days.index,
            "reference_mm": np.maximum(reference, 0.0),
            "hargreaves_mm": np.maximum(hargreaves, 0.0),
            "rain_mm": days["rain_mm"].to_numpy(),
            "wind_2m_m_s": wind,
            "rh_min_pct": lowest_humidity,
            "estimated": _words(marks, len(days)),
        }
    )
    return DailyReference(table, _sentences(marks, len(days)))


def _calendar(weather: pd.DataFrame) -> pd.DataFrame:
    """Return the readings as floats, one row for every day from the first to the last, absent days blank."""
    dates = pd.DatetimeIndex(pd.to_datetime(weather["date"]))
    twice = sorted({f"{date:%Y-%m-%d}" for date in dates[dates.duplicated()]})
    if twice:
        raise PlotworthError(f"weather: {', '.join(twice)} stands more than once; keep one row a day.")
    readings = weather.reindex(columns=list(READINGS)).astype(np.float64).set_index(dates)
    every = pd.date_range(dates.min(), dates.max(), name="date") if len(dates) else dates
    return readings.reindex(every).assign(in_table=every.isin(dates))


def _day_of_year(days: pd.DataFrame) -> Array:
    """Number of each day in its year, 1-366."""
    return pd.DatetimeIndex(days.index).day_of_year.to_numpy(dtype=np.float64)


def _temperatures_known(days: pd.DataFrame) -> Mask:
    """Whether both temperatures are there and in order."""
    return (days["tmin_c"] <= days["tmax_c"]).to_numpy(dtype=np.bool_)


def _temperature_marks(days: pd.DataFrame, known: Mask) -> list[_Mark]:
    """Say which days get no value."""
    absent = ~days["in_table"].to_numpy(dtype=np.bool_)
    crossed = (days["tmin_c"] > days["tmax_c"]).to_numpy(dtype=np.bool_)
    missing = ~known & ~crossed & ~absent
    return [
        _Mark(absent, "no row", "have no row in the table: no reference evapotranspiration"),
        _Mark(missing, "no temperatures", "lack tmin_c or tmax_c: no reference evapotranspiration"),
        _Mark(crossed, "tmin_c above tmax_c", "have tmin_c above tmax_c: no reference evapotranspiration"),
    ]


def _humidity(days: pd.DataFrame, known: Mask) -> tuple[Array, Array, list[_Mark]]:
    """Return vapour pressure, lowest humidity and what was estimated."""
    tmin, tmax, lowest, highest = (days[name].to_numpy() for name in ("tmin_c", "tmax_c", "rh_min_pct", "rh_max_pct"))
    has_lowest, has_highest = ~np.isnan(lowest), ~np.isnan(highest)
    vapour = np.select(
        [has_lowest & has_highest, has_highest, has_lowest],
        [
            vapour_from_humidity_kpa(tmin, tmax, lowest, highest),
            vapour_from_highest_humidity_kpa(tmin, highest),
            vapour_from_lowest_humidity_kpa(tmax, lowest),
        ],
        vapour_from_lowest_temperature_kpa(tmin),
    )
    filled = np.where(has_lowest, lowest, np.where(known, lowest_humidity_pct(tmax, vapour), np.nan))
    return vapour, filled, _humidity_marks(known, has_lowest, has_highest)


def _humidity_marks(known: Mask, has_lowest: Mask, has_highest: Mask) -> list[_Mark]:
    """Say where humidity was pieced together; days without temperatures get no value anyway."""
    only_highest, only_lowest = known & has_highest & ~has_lowest, known & has_lowest & ~has_highest
    neither = known & ~has_lowest & ~has_highest
    return [
        _Mark(
            only_highest,
            "humidity from rh_max_pct",
            "lack rh_min_pct: vapour pressure from rh_max_pct (FAO-56 eq 18), lowest humidity from it (eq 63)",
        ),
        _Mark(
            only_lowest, "humidity from rh_min_pct", "lack rh_max_pct: vapour pressure from rh_min_pct (FAO-56 eq 63)"
        ),
        _Mark(
            neither,
            "humidity from tmin_c",
            "lack rh_min_pct and rh_max_pct: the dew point is taken as tmin_c (FAO-56 eq 48 and 64), too moist "
            "in dry country",
        ),
    ]


def _radiation(days: pd.DataFrame, known: Mask, *, latitude_deg: float, krs: float) -> tuple[Array, Array, list[_Mark]]:
    """Return solar radiation, radiation above the air and what was estimated."""
    measured, sunshine = days["solar_mj_m2"].to_numpy(), days["sun_h"].to_numpy()
    above = extraterrestrial_radiation_mj_m2(_day_of_year(days), latitude_deg)
    longest = daylight_h(_day_of_year(days), latitude_deg)
    has_measured, has_sunshine = ~np.isnan(measured), ~np.isnan(sunshine)
    tmin, tmax = days["tmin_c"].where(known).to_numpy(), days["tmax_c"].where(known).to_numpy()
    from_sunshine = solar_from_sunshine_mj_m2(np.minimum(sunshine, longest), longest, above)
    from_temperature = solar_from_temperature_mj_m2(tmin, tmax, above, krs=krs)
    solar = np.select([has_measured, has_sunshine], [measured, from_sunshine], from_temperature)
    marks = _radiation_marks(known & ~has_measured, has_sunshine, krs)
    marks.append(
        _Mark(
            known & ~has_measured & (sunshine > longest),
            "",
            "have more hours of sun_h than the day is long: the length of the day is used",
        )
    )
    too_bright = "have more solar_mj_m2 than arrives above the air: check the instrument and the unit; used as recorded"
    marks.append(_Mark(known & (measured > above), "", too_bright))
    return solar, above, marks


def _radiation_marks(missing: Mask, has_sunshine: Mask, krs: float) -> list[_Mark]:
    """Say where radiation was not measured."""
    return [
        _Mark(
            missing & has_sunshine,
            "radiation from sun_h",
            "lack solar_mj_m2: solar radiation from sun_h (FAO-56 eq 35 with 0.25 and 0.50)",
        ),
        _Mark(
            missing & ~has_sunshine,
            "radiation from temperatures",
            f"lack solar_mj_m2 and sun_h: solar radiation from tmin_c and tmax_c (FAO-56 eq 50 with kRs {krs:g})",
        ),
    ]


def _wind(days: pd.DataFrame) -> tuple[Array, list[_Mark]]:
    """Return the wind at 2 m and what was estimated."""
    speed, height = days["wind_m_s"].to_numpy(), days["wind_height_m"].to_numpy()
    has_speed, has_height = ~np.isnan(speed), ~np.isnan(height)
    at_two = wind_at_two_metres_m_s(speed, np.where(has_height, height, REFERENCE_WIND_HEIGHT_M))
    wind = np.where(has_speed, at_two, ASSUMED_WIND_2M_M_S)
    elsewhere = has_speed & has_height & (height != REFERENCE_WIND_HEIGHT_M)
    return wind, [
        _Mark(~has_speed, "wind 2 m/s", "lack wind_m_s: 2 m/s at 2 m is assumed (FAO-56 Table 4)"),
        _Mark(has_speed & ~has_height, "wind gauge at 2 m", "lack wind_height_m: the gauge is taken to stand at 2 m"),
        _Mark(elsewhere, "", "have wind measured at another height than 2 m: brought to 2 m (FAO-56 eq 47)"),
        _Mark(
            has_speed & (wind < CALM_WIND_2M_M_S),
            "",
            "have less than 0.5 m/s at 2 m: used as recorded, though FAO-56 ch. 3 advises counting at least 0.5",
        ),
    ]


def _outcome_marks(days: pd.DataFrame, known: Mask, reference: Array) -> list[_Mark]:
    """Say what the result itself makes worth saying."""
    return [
        _Mark(
            known & np.isnan(reference), "no sun", "have no sunrise at this latitude: no reference evapotranspiration"
        ),
        _Mark(
            known & (reference < 0),
            "below 0, counted as 0",
            "came out below 0, more heat lost than gained: counted as 0",
        ),
        _Mark(days["rain_mm"].isna().to_numpy(), "", "lack rain_mm: left blank, a blank is not a dry day"),
    ]


def _words(marks: list[_Mark], count: int) -> list[str]:
    """What was estimated on each day, in the order of the marks."""
    spoken = [mark for mark in marks if mark.word]
    return ["; ".join(mark.word for mark in spoken if mark.days[day]) for day in range(count)]


def _sentences(marks: list[_Mark], count: int) -> tuple[str, ...]:
    """One note for each mark that has days."""
    return tuple(f"{mark.days.sum()} of {count} days {mark.sentence}." for mark in marks if mark.days.any())
