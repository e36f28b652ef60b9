"""A well: the area it serves in the peak month, what dry holes cost, and whether taking the water needs a permit.

Arrays in, arrays out: all arguments broadcast, in the composition (site, draw).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plotworth.ground.arrays import Array
from plotworth.ground.conversions import LITRES_PER_M3

ENGLAND_AND_WALES_FREE_M3_PER_DAY = 20.0
"""Abstraction above this needs a licence in England and Wales (Environment Agency); elsewhere ask."""


def served_area_m2(
    well_yield_m3_per_h: ArrayLike,
    pumping_hours_per_day: ArrayLike,
    peak_demand_l_per_m2_per_day: ArrayLike,
    *,
    other_use_m3_per_day: ArrayLike,
) -> Array:
    """Return the area one well serves: the capacity step of its cost line.

    Parameters: safe yield of the well in the dry season, or the pump's flow if that is less [m3/h]; hours of
    pumping in a day [h/day]: of the crew or the grid, or the sun hours of a solar pump; gross demand of the
    peak month [L per m2 and day]; what the well gives to others [m3/day].
    Returns: m2 of the ground that the demand is stated for (planted m2 for a demand per planted m2); 0 where
    other uses take all, infinite without demand.
    Equation: 1000 (yield x hours - other use) / peak demand.
    """
    lifted = np.asarray(well_yield_m3_per_h, np.float64) * np.asarray(pumping_hours_per_day, np.float64)
    left_l = np.maximum(lifted - np.asarray(other_use_m3_per_day, np.float64), 0.0) * LITRES_PER_M3
    with np.errstate(divide="ignore", invalid="ignore"):
        area = left_l / np.asarray(peak_demand_l_per_m2_per_day, np.float64)
    return np.where(np.isnan(area), 0.0, area)


def field_share(field_m3_per_year: ArrayLike, other_use_m3_per_year: ArrayLike) -> Array:
    """Return the share of a well's cost that the field carries: its part of the water, 1 without other uses.

    Parameters: water of the field and of other uses [m3/year], 0 or more. Returns: share; NaN where both are 0.
    """
    field = np.asarray(field_m3_per_year, np.float64)
    total = field + np.asarray(other_use_m3_per_year, np.float64)
    return field / np.where(total > 0.0, total, np.nan)


def expected_dry_holes(dry_hole_chance: ArrayLike, most_tries: ArrayLike) -> Array:
    """Return how many dry holes to expect where one drills until water, or until the tries are used up.

    Parameters: chance p that a hole is dry [share], 0 to 1, holes independent; most tries n, 1 or more, finite.
    Returns: holes; p/(1-p) without a limit, n where every hole is dry.
    Equation: p + p**2 + ... + p**n = p (1 - p**n) / (1 - p).
    """
    chance, tries = np.asarray(dry_hole_chance, np.float64), np.asarray(most_tries, np.float64)
    wet = 1.0 - chance
    holes = chance * chance_of_water(chance, tries) / np.where(wet > 0.0, wet, 1.0)
    return np.where(wet > 0.0, holes, tries)


def chance_of_water(dry_hole_chance: ArrayLike, most_tries: ArrayLike) -> Array:
    """Return the chance [share] that one of the tries strikes water: 1 - p**n.

    Parameters: chance p that a hole is dry [share]; most tries n. Small chances of water keep their digits.
    """
    with np.errstate(divide="ignore"):
        all_dry = np.log(np.asarray(dry_hole_chance, np.float64)) * np.asarray(most_tries, np.float64)
    water: Array = -np.expm1(all_dry)
    return water


def drawn_dry_holes(dry_hole_chance: ArrayLike, most_tries: ArrayLike, uniforms: ArrayLike) -> Array:
    """Return how many dry holes each draw meets: geometric, stopped at the most tries.

    Parameters: chance p that a hole is dry [share]; most tries n; uniforms in [0, 1), one a draw, from a
    Generator of the caller. The same uniform never gives fewer holes at a greater chance.
    Returns: whole numbers 0..n; n where no try struck water. Their mean is `expected_dry_holes`.
    Equation: min(floor(ln(1 - u) / ln p), n), since k or more are dry with chance p**k.
    """
    chance, tries = np.asarray(dry_hole_chance, np.float64), np.asarray(most_tries, np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        dry = np.floor(np.log1p(-np.asarray(uniforms, np.float64)) / np.log(chance))
    return np.where(chance < 1.0, np.minimum(dry, tries), tries)


def well_cost(success_cost: ArrayLike, dry_hole_cost: ArrayLike, dry_holes: ArrayLike) -> Array:
    """Return what a well costs with the dry holes before it.

    Parameters: cost of a hole that strikes water, finished, and of a dry one [money]; dry holes, expected or drawn.
    Returns: money. Equation: success + dry holes x dry hole: success + p/(1-p) x dry hole without a limit.
    The finished well is charged even when the tries run out, as if bought where water is certain;
    `chance_of_water` says how often that is.
    """
    holes = np.asarray(dry_holes, np.float64) * np.asarray(dry_hole_cost, np.float64)
    return np.asarray(success_cost, np.float64) + holes


def permit_needed(peak_m3_per_day: ArrayLike, free_m3_per_day: ArrayLike) -> NDArray[np.bool_]:
    """Return whether a day's abstraction [m3/day] exceeds what may be taken without a permit [m3/day].

    All uses of the well count, and the threshold is that of the place: 0 where every well needs one.
    """
    return np.asarray(peak_m3_per_day, np.float64) > np.asarray(free_m3_per_day, np.float64)
