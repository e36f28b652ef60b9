"""How a year's amounts lie over its calendar months: pickings, water, and the plain rules where nothing says when.

Shares are arrays (12, site, draw), January first, that come to 1 over the year [share].
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.case.folder import Case
from plotworth.choose.computed import HARVEST_SHARE, PRICE_INDEX
from plotworth.choose.layout import Layout
from plotworth.choose.month_prices import has_prices, pricing_months, season_months
from plotworth.choose.season import grow
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.water_case import CaseWater
from plotworth.choose.watering import SeasonYears
from plotworth.ground.arrays import Array

MONTHS = 12
LATE_PART = 0.5
"""Pickings are taken to fall into this last part of a season where neither prices nor a trial say when."""
COUNTED = ("marketable_fruits", "marketable_kg")
BY_PRICES = "harvest shares of prices.csv"
BY_TRIAL = "picking dates of the trial"
LATE = "evenly over the second half of the season"
OUTSIDE = f"{LATE}: the trial was picked in months outside it"
BY_VISITS = "the visits to the tank, first fill included"
BY_REQUIREMENT = "the gross requirement of each month"
EVENLY = "evenly over the season"


@dataclass(frozen=True)
class MonthShares:
    """Shares of a year by calendar month (12, site, draw), and what they follow, in words."""

    shares: Array
    follows: str


def in_month(month: int) -> Array:
    """Return the shares of what falls into one calendar month (1-12)."""
    shares = np.zeros((MONTHS, 1, 1))
    shares[month - 1] = 1.0
    return shares


def evenly_over(months: Sequence[int]) -> Array:
    """Return the shares of what is spread evenly over these calendar months (1-12)."""
    return _weighed(months, [1.0] * len(months))


def late_in(months: Sequence[int]) -> Array:
    """Return the shares of what is spread evenly over the last part of a season, a month that it cuts counting less.

    Equation: month i of n, from 0: the length of [i, i + 1] within [n (1 - LATE_PART), n], over n LATE_PART.
    """
    begin = len(months) * (1.0 - LATE_PART)
    return _weighed(months, [max(i + 1 - max(i, begin), 0.0) for i in range(len(months))])


def _weighed(months: Sequence[int], weights: Sequence[float]) -> Array:
    shares = np.zeros((MONTHS, 1, 1))
    for month, weight in zip(months, weights, strict=True):
        shares[month - 1] += weight
    whole: Array = shares / shares.sum(axis=0)
    return whole


def picked_by_month(layout: Layout, values: Mapping[str, Array], system: str, season: SeasonPlan) -> MonthShares:
    """Return how the kilograms of a season lie over the months.

    By the harvest shares of prices.csv where that has the crop; else by the fruits (or kilograms, where only these
    were recorded) that the trial picked by month from the plots of the system's treatment; else late in the season.
    """
    months = season_months(season.first_month, season.months)
    priced = _priced(layout.case, season)
    if priced:
        shape = np.broadcast_shapes(*(values[at].shape for at, _ in priced.values()))
        shares = np.zeros((MONTHS, *shape))
        for month, (at, _) in priced.items():
            shares[month - 1] = values[at]
        return MonthShares(shares / shares.sum(axis=0), BY_PRICES)
    counted = _picked_in_trial(layout.case, system, season.crop)
    if not counted:
        return MonthShares(late_in(months), LATE)
    if not set(counted) <= set(months):
        return MonthShares(late_in(months), OUTSIDE)
    return MonthShares(_weighed(list(counted), list(counted.values())), BY_TRIAL)


def _priced(case: Case, season: SeasonPlan) -> dict[int, tuple[str, str]]:
    """Return, by calendar month in which prices.csv has the season's crop picked, addresses of share and index."""
    if not has_prices(case, season.crop):
        return {}
    found = pricing_months(case, season)
    months = [int(name.removesuffix(HARVEST_SHARE)) for name in found if name.endswith(HARVEST_SHARE)]
    return {month: (found[f"{month}{HARVEST_SHARE}"], found[f"{month}{PRICE_INDEX}"]) for month in months}


def _picked_in_trial(case: Case, system: str, crop: str) -> dict[int, float]:
    """Return what the trial picked by calendar month from the system's plots of a crop; empty where it says nothing."""
    plots, treatment = case.table("plots"), case.settings.system(system).treatment
    harvests = case.table("harvests")
    if not treatment or harvests.empty or plots.empty:
        return {}
    own = plots.loc[(plots["treatment"] == treatment) & (plots["crop"] == crop), "plot"]
    picked = harvests[harvests["plot"].isin(own)]
    for column in COUNTED:
        amounts = picked[column].astype(float)
        if len(amounts) and amounts.notna().all() and amounts.sum() > 0:
            sums = amounts.groupby(picked["date"].dt.month).sum()
            return {int(month): float(amount) for month, amount in zip(sums.index, sums, strict=True) if amount > 0}
    return {}


def prices_by_month(layout: Layout, values: Mapping[str, Array], season: SeasonPlan) -> Array:
    """Return the farm-gate price of a season by calendar month [money/kg], (12 or 1, site, draw).

    The composition's own price at each month's index, where prices.csv has the crop: its mean over the pickings is
    the season's price. `values` hold what closed formulas give.
    """
    priced = _priced(layout.case, season)
    at = season.addresses["price_factor"]
    if not priced:
        return grow(season, values).farm_gate_price_per_kg[None]
    nothing = np.zeros((1, 1))
    picked = sum((values[share] for share, _ in priced.values()), start=nothing)
    mean: Array = sum((values[share] * values[index] for share, index in priced.values()), start=nothing) / picked
    factors = np.repeat(np.broadcast_to(values[at], np.broadcast_shapes(values[at].shape, mean.shape))[None], MONTHS, 0)
    for month, (_, index) in priced.items():
        factors[month - 1] = values[at] * np.where(mean > 0.0, values[index] / np.where(mean > 0.0, mean, 1.0), 1.0)
    return grow(season, {**values, at: factors}).farm_gate_price_per_kg


def watered_by_month(water: CaseWater, system: str, season: SeasonPlan) -> MonthShares:
    """Return how the water of a season lies over the months, all years of the weather added up.

    By what is filled into a tank on its visits, the first fill included; else by the gross requirement; else evenly.
    """
    found = water.seasons.get(f"{system}/{season.season}")
    litres = np.zeros(MONTHS) if found is None else _litres_by_month(found)
    total = litres.sum()
    if found is None or not np.isfinite(total) or total <= 0.0:
        return MonthShares(evenly_over(season_months(season.first_month, season.months)), EVENLY)
    follows = BY_REQUIREMENT if found.shown.tank is None else BY_VISITS
    return MonthShares((litres / total)[:, None, None], follows)


def _litres_by_month(years: SeasonYears) -> Array:
    litres = np.zeros(MONTHS)
    for year in years.years:
        daily = np.array(year.requirement.gross_mm if year.tank is None else year.tank.trace.carried_l)
        if year.tank is not None:
            daily[0] += year.tank.trace.start_l
        np.add.at(litres, year.weather.dates.month.to_numpy() - 1, daily)
    return litres
