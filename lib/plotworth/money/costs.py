"""Cost lines: how many of an item, on what basis, paid when; replacement and residual.

Arrays are 2-D, site first, draw second. Money is in the case's currency at constant prices.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.ground.arrays import Array

STEP_SLACK = 1e-9
"""Relative part of a step by which an area may exceed a whole number of steps: rounding, not ground."""


@dataclass(frozen=True)
class CostItem:
    """A cost line as the composition sees it: addresses of its numbers, and what does not vary in a call.

    `group` capital, seasonal or yearly; `basis` what the quantity is counted on; `seasons` the positions of
    the seasons in which a seasonal line is paid; `life_years` [year]; `step_m2` [m2 gross] or None;
    `residual_share` [share]; `is_shared` with other households or uses.
    """

    quantity_address: str
    price_address: str
    group: str
    basis: str
    seasons: tuple[int, ...]
    life_years: int | None
    step_m2: float | None
    residual_share: float
    is_shared: bool = False


@dataclass(frozen=True)
class Sizes:
    """What quantities are counted on: gross area [m2] and, by season, share of area, plants, water [m3], sold [kg].

    `units` are reservoir units, fractions kept; `wells` whole ones, as many as the planted area needs; `dry_holes`
    expected for each good one; `own_share` of what is shared that the case bears [share]; `capital_factor`, capital
    with its contingencies over capital as counted [1].
    """

    area_m2: Array
    units: Array
    wells: Array
    dry_holes: Array
    own_share: Array
    capital_factor: Array
    season_shares: tuple[float, ...]
    plants: tuple[Array, ...]
    water_m3: tuple[Array, ...]
    sold_kg: tuple[Array, ...]


@dataclass(frozen=True)
class Bill:
    """A system's cost lines added up: capital by life, residual at the end, and a full year's running lines.

    `seasonal` by season is paid whether or not the season brings a harvest; `harvest` by season falls away
    with it. `hours` [hour/year] are those of running lines counted in hours; their cost is in the others.
    """

    capital: Mapping[int, Array]
    residual: Array
    yearly: Array
    seasonal: tuple[Array, ...]
    harvest: tuple[Array, ...]
    hours: Array


def capacity_steps(area_m2: Array, step_m2: Array | float) -> Array:
    """Return how many of an item serve `area_m2` [m2], where one serves `step_m2` [m2]: at least one."""
    return np.maximum(np.ceil(area_m2 / step_m2 - STEP_SLACK), 1.0)


def replacement_years(life_years: int, horizon_years: int) -> range:
    """Return the years [year] in which an item of life L [year] is bought: 0, L, 2L, ... below the horizon."""
    return range(0, horizon_years, life_years)


def unexpired_share(life_years: int, horizon_years: int) -> float:
    """Return the share of its last life that an item has left at the horizon [share]."""
    last = replacement_years(life_years, horizon_years)[-1]
    return max(last + life_years - horizon_years, 0) / life_years


def counted(item: CostItem, quantity: Array, sizes: Sizes, season: int | None) -> Array:
    """Return how many of an item are paid for at one payment.

    `season` is the position of the season for seasonal lines and parts sold in it, None for capital and
    yearly lines, which take the largest season's plants and the whole year's water.
    """
    basis = item.basis
    if basis in ("scheme", "dry_hole"):
        count = quantity if basis == "scheme" else quantity * sizes.dry_holes
        return count if item.step_m2 is None else count * capacity_steps(sizes.area_m2, item.step_m2)
    if basis == "m2":
        return quantity * sizes.area_m2 * (1.0 if season is None else sizes.season_shares[season])
    if basis in ("unit", "well"):
        return quantity * (sizes.units if basis == "unit" else sizes.wells)
    if basis == "hour":
        return quantity
    return quantity * _by_season(basis, sizes, season)


def _by_season(basis: str, sizes: Sizes, season: int | None) -> Array:
    parts = {"plant": sizes.plants, "m3": sizes.water_m3, "kg_sold": sizes.sold_kg}[basis]
    if season is not None:
        return parts[season]
    total = parts[0]
    for part in parts[1:]:
        total = np.maximum(total, part) if basis == "plant" else total + part
    return total


def add_up(items: Sequence[CostItem], values: Mapping[str, Array], sizes: Sizes, horizon_years: int) -> Bill:
    """Return the bill of a system's cost lines.

    `values` holds quantities [on their basis] and prices [money] by address; a line counted in hours finds the
    hired wage [money/hour] at its price address. `horizon_years` [year] ends the last life of capital. What is shared
    counts with its own share, capital with its contingencies; hours count whole.
    """
    zero = np.zeros((1, 1))
    capital: dict[int, Array] = {}
    residual, yearly, hours = zero, zero, zero
    seasonal, harvest = [zero] * len(sizes.season_shares), [zero] * len(sizes.season_shares)
    for item in items:
        quantity, price = values[item.quantity_address], values[item.price_address]
        if item.is_shared:
            price = price * sizes.own_share
        life = item.life_years
        if item.group == "capital" and life is not None:
            amount = counted(item, quantity, sizes, None) * price * sizes.capital_factor
            capital[life] = capital.get(life, zero) + amount
            residual = residual + amount * (unexpired_share(life, horizon_years) * item.residual_share)
        elif item.basis == "kg_sold":
            for k in item.seasons:
                harvest[k] = harvest[k] + counted(item, quantity, sizes, k) * price
        elif item.group == "seasonal":
            for k in item.seasons:
                seasonal[k] = seasonal[k] + counted(item, quantity, sizes, k) * price
        else:
            yearly = yearly + counted(item, quantity, sizes, None) * price
        if item.basis == "hour" and item.group != "capital":
            hours = hours + quantity * (len(item.seasons) if item.group == "seasonal" else 1)
    return Bill(capital, residual, yearly, tuple(seasonal), tuple(harvest), hours)
