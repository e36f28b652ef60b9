"""When a season of a case grows: from which day, how many days, in which of the years that the weather covers."""

from dataclasses import dataclass

import pandas as pd

from plotworth.choose.water_reader import Reader
from plotworth.ground.errors import Fault

WEATHER_FILE = "weather.csv"


@dataclass(frozen=True)
class GrowingSeasons:
    """First days of the season in the years that the weather covers, how long each is [day], the one to be shown."""

    starts: tuple[pd.Timestamp, ...]
    days: tuple[int, ...]
    shown: pd.Timestamp


def growing_seasons(reader: Reader, growing_days: int | None) -> GrowingSeasons | None:
    """Return when a season grows; None and a fault where no year's weather reaches over it.

    Planted on the day on which its plots were, else on the first of the season's first month, in every year of
    the weather. The year of the plots must be covered, others may be left out, which a note says.
    """
    table = reader.case.table("weather")
    if table.empty:
        remedy = "record weather by day: date, tmin_c, tmax_c and what else is known"
        reader.faults.append(Fault(WEATHER_FILE, 0, "", "", "the case keeps no weather", remedy))
        return None
    known = pd.DatetimeIndex(table["date"])
    own = _planted_on(reader)
    starts = _starts(reader, own, known)
    days = {start: _days(reader, growing_days, start) for start in starts}
    whole = [start for start in starts if _missing(start, days[start], known).empty]
    nearest = min(starts, key=lambda start: len(_missing(start, days[start], known)))
    shown = own if own is not None else (whole or [nearest])[-1]
    if shown not in whole:
        reader.faults.append(_too_short(shown, days[shown], known))
        return None
    _say(reader, own, shown, growing_days, days[shown])
    return GrowingSeasons(tuple(whole), tuple(days[start] for start in whole), shown)


def _planted_on(reader: Reader) -> pd.Timestamp | None:
    plots, treatment = reader.case.table("plots"), reader.case.settings.system(reader.system).treatment
    if not treatment:
        return None
    own = plots.loc[(plots["treatment"] == treatment) & (plots["crop"] == reader.plan.crop), "planted_on"].dropna()
    return pd.Timestamp(own.min()) if len(own) else None


def _starts(reader: Reader, own: pd.Timestamp | None, known: pd.DatetimeIndex) -> list[pd.Timestamp]:
    years = range(known.min().year, known.max().year + 1)
    if own is None:
        return [pd.Timestamp(year, reader.plan.first_month, 1) for year in years]
    return sorted({own, *(own + pd.DateOffset(years=year - own.year) for year in years)})


def _days(reader: Reader, growing_days: int | None, start: pd.Timestamp) -> int:
    if growing_days is not None:
        return growing_days
    return int((start + pd.DateOffset(months=reader.plan.months) - start).days)


def _missing(start: pd.Timestamp, days: int, known: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return pd.date_range(start, periods=days).difference(known)


def _too_short(start: pd.Timestamp, days: int, known: pd.DatetimeIndex) -> Fault:
    missing, end = _missing(start, days, known), start + pd.Timedelta(days=days - 1)
    found = f"{known.min():%Y-%m-%d} to {known.max():%Y-%m-%d}"
    rule = (
        f"does not reach over the season, {start:%Y-%m-%d} to {end:%Y-%m-%d}: {len(missing)} of its days are missing, "
        f"the first {missing[0]:%Y-%m-%d}"
    )
    return Fault(
        WEATHER_FILE, 0, "date", found, rule, "record them, or write a row growing_days that the weather covers"
    )


def _say(reader: Reader, own: pd.Timestamp | None, shown: pd.Timestamp, growing_days: int | None, days: int) -> None:
    if own is None:
        reader.notes.append(f"Planting: no plot says when, taken as {shown:%Y-%m-%d}, the season's first month.")
    if growing_days is None:
        months = reader.plan.months
        reader.notes.append(f"Growing days: not stated, taken as the {months} months of the season, {days}.")
