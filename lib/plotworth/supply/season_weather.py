"""Season weather: the days of one season, or of the same season in several years, cut out of a daily table."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plotworth.ground.errors import PlotworthError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SeasonWeather:
    """Weather of a season by day, arrays with the day first.

    Attributes: dates of the days (the first year's where there are several); reference_mm, reference
    evapotranspiration [mm/day]; rain_mm [mm/day]; wind_2m_m_s at 2 m [m/s]; rh_min_pct, lowest humidity [%];
    notes, one sentence for each thing that was estimated; years, the year each column began in, () without columns.
    """

    dates: pd.DatetimeIndex
    reference_mm: Array
    rain_mm: Array
    wind_2m_m_s: Array
    rh_min_pct: Array
    notes: tuple[str, ...] = ()
    years: tuple[int, ...] = ()


def season_weather(table: pd.DataFrame, planted_on: pd.Timestamp, days: int) -> SeasonWeather:
    """Cut the days of a season out of a daily table; arrays have shape (day,).

    Parameters: table with date, reference_mm, rain_mm, wind_2m_m_s and rh_min_pct, a row a day
    (`DailyReference.table`); day of planting; length [day]. A missing reference, wind or humidity is drawn between
    the days around it, a rain that was not recorded counts as none, so that the requirement is rather too
    high; notes say on how many days. Errors: PlotworthError where the table does not reach over the
    season, or has no reference at all in it.
    """
    dates = pd.date_range(planted_on, periods=days)
    indexed = table.set_index(pd.DatetimeIndex(table["date"]))
    if not dates.isin(indexed.index).all():
        span = f"{indexed.index.min():%Y-%m-%d} to {indexed.index.max():%Y-%m-%d}" if len(indexed) else "no day at all"
        season = f"{dates[0]:%Y-%m-%d} to {dates[-1]:%Y-%m-%d}"
        raise PlotworthError(
            f"the weather covers {span}, the season lasts from {season}; record or add the days missing"
        )
    rows = indexed.loc[dates]
    if rows["reference_mm"].isna().all():
        raise PlotworthError(f"no day from {dates[0]:%Y-%m-%d} on has a reference evapotranspiration; see its notes")
    filled = rows[["reference_mm", "wind_2m_m_s", "rh_min_pct"]].interpolate(limit_direction="both")
    return SeasonWeather(
        dates=dates,
        reference_mm=filled["reference_mm"].to_numpy(dtype=np.float64),
        rain_mm=rows["rain_mm"].fillna(0.0).to_numpy(dtype=np.float64),
        wind_2m_m_s=filled["wind_2m_m_s"].to_numpy(dtype=np.float64),
        rh_min_pct=filled["rh_min_pct"].to_numpy(dtype=np.float64),
        notes=_notes(rows),
    )


def _notes(rows: pd.DataFrame) -> tuple[str, ...]:
    drawn, dry = int(rows["reference_mm"].isna().sum()), int(rows["rain_mm"].isna().sum())
    sentences = (
        (drawn, "have no reference evapotranspiration: drawn between the days around them."),
        (dry, "have no rain recorded: counted as dry, so that the requirement is rather too high."),
    )
    return tuple(f"{count} of {len(rows)} days of the season {text}" for count, text in sentences if count)


def season_weather_by_year(table: pd.DataFrame, planted_on: pd.Timestamp, days: int) -> SeasonWeather:
    """Cut the same season out of every year that the table covers wholly; arrays have shape (day, year).

    Parameters as in `season_weather`; of the day of planting only month and day count (29 February begins on the 28th
    elsewhere). Errors: PlotworthError where no year is whole.
    """
    known = pd.DatetimeIndex(table["date"])
    starts = [_in_year(planted_on, int(year)) for year in sorted(set(known.year))]
    whole = [start for start in starts if pd.date_range(start, periods=days).isin(known).all()]
    if not whole:
        raise PlotworthError(f"no year of the weather holds all {days} days of a season planted on {planted_on:%d %B}")
    seasons = [season_weather(table, start, days) for start in whole]
    names = ("reference_mm", "rain_mm", "wind_2m_m_s", "rh_min_pct")
    reference, rain, wind, humidity = (np.stack([getattr(s, name) for s in seasons], axis=1) for name in names)
    notes = tuple(
        f"{start.year}: {note}" for start, season in zip(whole, seasons, strict=True) for note in season.notes
    )
    years = tuple(start.year for start in whole)
    return SeasonWeather(seasons[0].dates, reference, rain, wind, humidity, notes, years)


def _in_year(day: pd.Timestamp, year: int) -> pd.Timestamp:
    last = pd.Timestamp(year=year, month=day.month, day=1).days_in_month
    return pd.Timestamp(year=year, month=day.month, day=min(day.day, last))
