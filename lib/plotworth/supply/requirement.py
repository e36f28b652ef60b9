"""Requirement: the water to be brought to a crop, by season, month and week, and the supply beside it.

1 mm is 1 l per m2 of planted ground. Arrays in, arrays out; daily arrays have the day first.
Key: FAO Irrigation Manual Module 4 (net over efficiency); FAO-29 and FAO-56 p. 180 (leaching).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = float | Array

DAYS_PER_WEEK = 7
DEPENDABLE_SHARE = 0.8
FEWEST_YEARS = 5


@dataclass(frozen=True)
class Delivery:
    """How water comes to the roots; make one with `draining_delivery` or `rising_delivery`.

    Attributes: application_share, share [0-1] of the applied water that comes into the root zone; leaching_share
    [0-1] of it that has to drain; flushing_mm, water poured over a season to wash salt down [mm], counted apart.
    """

    application_share: Numbers
    leaching_share: Numbers
    flushing_mm: Numbers


@dataclass(frozen=True)
class Requirement:
    """Water of a season, axes as given.

    Attributes: net_mm and gross_mm by day, day first [mm/day]; flushing_mm, apart, of the season [mm].
    """

    net_mm: Array
    gross_mm: Array
    flushing_mm: Array

    @property
    def season_mm(self) -> Array:
        """All water of the season [mm]: gross and flushing."""
        return np.asarray(self.gross_mm.sum(axis=0) + self.flushing_mm)


def draining_delivery(application_share: Numbers, leaching_share: Numbers) -> Delivery:
    """Return the delivery of water given from above, which drains; efficiency and leaching requirement as shares."""
    return Delivery(application_share, leaching_share, 0.0)


def rising_delivery(application_share: Numbers, flushing_mm: Numbers) -> Delivery:
    """Return the delivery of water that rises from below, as by a wick: no leaching fraction, for nothing drains.

    Salt moves up with it and is flushed by rain or by hand: flushing over the season [mm], 0 where rain does it.
    """
    return Delivery(application_share, 0.0, flushing_mm)


def gross_mm(net_mm: Numbers, application_share: Numbers, leaching_share: Numbers) -> Array:
    """Return the water to be applied [mm] for a net requirement [mm], by shares [0-1]; any shapes.

    max(net / E, net / (1 - LR)): what is lost at a low efficiency already leaches, so the larger of the two
    counts, not both. NaN for a leaching share of 1 and above.
    """
    net, share, leaching = (np.asarray(v, dtype=np.float64) for v in (net_mm, application_share, leaching_share))
    kept = np.where(leaching < 1.0, 1.0 - leaching, np.nan)
    return np.asarray(net * np.maximum(1.0 / share, 1.0 / kept))


def requirement(net_mm: Numbers, delivery: Delivery) -> Requirement:
    """Return the requirement of a season from the net one by day [mm/day] and how the water is delivered."""
    net = np.asarray(net_mm, dtype=np.float64)
    gross = gross_mm(net, delivery.application_share, delivery.leaching_share)
    return Requirement(net, gross, np.asarray(delivery.flushing_mm, dtype=np.float64))


def by_week(dates: pd.DatetimeIndex, daily_mm: Mapping[str, Numbers]) -> pd.DataFrame:
    """Add daily depths up by week of the season.

    Parameters: dates of the season, one after another; named daily depths [mm/day], shape (day,). Returns
    one row a week: week (1 from the first day on), first_day, days (the last week may be short), a column a
    name [mm].
    """
    return _added_up(dates, daily_mm, pd.Index(np.arange(len(dates)) // DAYS_PER_WEEK + 1), "week")


def by_month(dates: pd.DatetimeIndex, daily_mm: Mapping[str, Numbers]) -> pd.DataFrame:
    """Add daily depths [mm/day] up by calendar month; as `by_week`, month being its first day."""
    return _added_up(dates, daily_mm, dates.to_period("M").to_timestamp(), "month")


def _added_up(dates: pd.DatetimeIndex, daily_mm: Mapping[str, Numbers], period: pd.Index, name: str) -> pd.DataFrame:
    """One row a period; a sum over a day that is unknown is unknown."""
    columns = {part: np.asarray(values, dtype=np.float64) for part, values in daily_mm.items()}
    table = pd.DataFrame({"first_day": dates, "days": 1, **columns})
    groups = table.groupby(period)
    sums = groups.agg({"first_day": "min", "days": "sum"} | dict.fromkeys(columns, "sum"))
    unknown = table[list(columns)].isna().groupby(period).any()
    sums[list(columns)] = sums[list(columns)].mask(unknown)
    sums.insert(0, name, sums.index)
    return sums.reset_index(drop=True)


def beside_supply(requirement_mm: Numbers, supply_mm: Mapping[str, Numbers]) -> pd.DataFrame:
    """Stack what is supplied against what is required, a row a week or month as given.

    Parameters: requirement by period [mm]; supply by source, in the order in which it is used [mm]. Returns
    required_mm, a column a source with the part of it that is used, short_mm, what no source covers, and
    unused_mm, supply beyond the requirement. Used parts and short_mm add up to required_mm: nothing is
    carried from one period to the next.
    """
    open_mm = np.asarray(requirement_mm, dtype=np.float64)
    table = pd.DataFrame({"required_mm": open_mm})
    unused = np.zeros_like(open_mm)
    for source, given in supply_mm.items():
        used = np.minimum(np.asarray(given, dtype=np.float64), open_mm)
        table[source], open_mm, unused = used, open_mm - used, unused + given - used
    return table.assign(short_mm=open_mm, unused_mm=unused)


@dataclass(frozen=True)
class YearSpread:
    """A season's water over several years [mm].

    Attributes: least, mean, greatest; dependable, what is enough in four years of five, NaN under five
    years: too few to say; years, how many.
    """

    least: float
    mean: float
    dependable: float
    greatest: float
    years: int


def spread_over_years(season_mm: Numbers) -> YearSpread:
    """Return how a season's water [mm], one value a year, differs between years. Blank years are left out."""
    values = np.asarray(season_mm, dtype=np.float64)
    known = values[~np.isnan(values)]
    if not len(known):
        return YearSpread(np.nan, np.nan, np.nan, np.nan, 0)
    dependable = float(np.quantile(known, DEPENDABLE_SHARE)) if len(known) >= FEWEST_YEARS else np.nan
    return YearSpread(float(known.min()), float(known.mean()), dependable, float(known.max()), len(known))
