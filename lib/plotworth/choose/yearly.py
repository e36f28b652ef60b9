"""What differs from year to year, put into one call of the composition: harvest weights by year, levels by draw.

A year's yield enters through the harvest weight, so that each year's flow is exact. A price or a loss enters as the one
level that gives the present value of its years, each year counting with what is harvested in it; litres and other
rows that do not move with the harvest count with their discount factor alone.
"""

from collections.abc import Iterator, Mapping

import numpy as np

from plotworth.choose.structure import HarvestKey, SeasonPlan, Structure
from plotworth.choose.system import LEARNING_YEARS
from plotworth.ground.arrays import Array
from plotworth.ground.glossary import GLOSSARY
from plotworth.money.measures import discount_factors

SCALING = ("yield_kg_per_m2", "fruits_per_m2", "fruit_mass_g", "water_limited_share")
"""Rows to which the kilograms of a season are proportional."""
HARVEST_GROUPS = ("market", "yield")
Values = Mapping[str, Array]
Weights = Mapping[HarvestKey, Array]


def means_over_years(years: Mapping[str, Array]) -> dict[str, Array]:
    """Return the plain mean over the years of each row, shape (1, draw), from its years, shape (year, draw)."""
    return {address: row.mean(axis=0, keepdims=True) for address, row in years.items()}


def with_yields(structure: Structure, weights: Weights, years: Mapping[str, Array]) -> dict[HarvestKey, Array]:
    """Return harvest weights times each year's yield over the mean yield of the draw's years.

    `weights` by system and season, shapes (year or 1, site or 1, draw or 1); `years` of each yearly row by address,
    shape (year, draw). Weight of year t = harvest x product over the season's yields of y_t / mean(y).
    """
    factors = {at: _over_mean(row)[:, None] for at, row in years.items() if at.split("/")[0] in SCALING}
    found = dict(weights)
    for key, season in _seasons(structure):
        for name in SCALING:
            if (at := season.addresses.get(name, "")) in factors:
                found[key] = found[key] * factors[at]
    return found


def _over_mean(years: Array) -> Array:
    mean = years.mean(axis=0)
    return np.where(mean > 0, years / np.where(mean > 0, mean, 1.0), 1.0)


def levels(structure: Structure, values: Values, weights: Weights, years: Mapping[str, Array]) -> dict[str, Array]:
    """Return the value of each yearly row that stands for all its years, by address, shapes (site or 1, draw).

    Yields: their plain mean. Others: sum of a_t x_t / sum of a_t, where a_t is the discount factor, for what moves with
    the harvest times the harvest weight and the learning share, mean over the systems and seasons that read the row.
    Where one system and season reads it, the present value is that of the years themselves.
    """
    found = means_over_years(years)
    discount = values[structure.systems[0].addresses["discount_rate"]]
    factors = discount_factors(discount, structure.horizon_years)[1:]
    harvests: dict[tuple[HarvestKey, ...], Array] = {(): factors}
    for at, row in years.items():
        name = at.split("/")[0]
        if name not in SCALING:
            readers = _readers(structure, at) if _moves_with_harvest(name) else ()
            if readers not in harvests:
                harvests[readers] = factors * _harvested(structure, values, weights, readers)
            found[at] = _weighted_mean(row[:, None], harvests[readers], found[at])
    return found


def _moves_with_harvest(name: str) -> bool:
    return name in GLOSSARY and GLOSSARY[name].group in HARVEST_GROUPS


def _weighted_mean(years: Array, counted: Array, otherwise: Array) -> Array:
    total = np.asarray(counted.sum(axis=0))
    summed = (counted * years).sum(axis=0)
    return np.where(total > 0, summed / np.where(total > 0, total, 1.0), otherwise)


def _readers(structure: Structure, address: str) -> tuple[HarvestKey, ...]:
    return tuple(key for key, season in _seasons(structure) if address in season.addresses.values())


def _harvested(structure: Structure, values: Values, weights: Weights, readers: tuple[HarvestKey, ...]) -> Array:
    """Return how much is harvested in each year, mean over these systems and seasons."""
    seasons = dict(_seasons(structure))
    shares = (weights[key] * _learning(seasons[key], values, structure.horizon_years) for key in readers)
    return np.asarray(sum(shares) / len(readers))


def _learning(season: SeasonPlan, values: Values, horizon_years: int) -> Array:
    shares = [values[season.addresses[name]] for name in LEARNING_YEARS[:horizon_years]]
    learning = np.ones((horizon_years, *np.broadcast_shapes(*(share.shape for share in shares))))
    for year, share in enumerate(shares):
        learning[year] = share
    return learning


def _seasons(structure: Structure) -> Iterator[tuple[HarvestKey, SeasonPlan]]:
    for plan in structure.systems:
        for season in plan.seasons:
            yield (plan.id, season.season), season
