"""Events that come or stay away: seasons that fail, holes that are dry. Drawn, or held at what is expected of them.

The weather hits all systems alike: seasons of the same name in the same year share one uniform, so that whatever lets
the system with the smaller chance fail lets that with the greater chance fail too.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.structure import HarvestKey, Structure
from plotworth.ground.arrays import Array
from plotworth.supply.well import drawn_dry_holes

DRY_HOLE_CHANCE = "dry_hole_chance"
FAILED = "failed_season_chance"


@dataclass(frozen=True)
class Events:
    """Which events are drawn as they happen; what is not drawn counts with its expected value."""

    failed_seasons: bool = True
    dry_holes: bool = True


NO_EVENTS = Events(failed_seasons=False, dry_holes=False)


def season_names(structure: Structure) -> tuple[str, ...]:
    """Return the names of all seasons of all systems, each once."""
    return tuple(dict.fromkeys(season.season for plan in structure.systems for season in plan.seasons))


def failed_weights(structure: Structure, values: Mapping[str, Array], uniforms: Array) -> dict[HarvestKey, Array]:
    """Return the harvest weight of every system and season: 0 in a failed season, else 1 [share].

    `uniforms` in [0, 1), shape (season, year, draw), one row for each of `season_names`; values (1, draw or 1).
    Returns: shapes (year, 1, draw). A season fails where its uniform lies below its chance.
    """
    names = season_names(structure)
    return {
        (plan.id, season.season): (
            uniforms[names.index(season.season)][:, None] >= values[season.addresses[FAILED]]
        ).astype(np.float64)
        for plan in structure.systems
        for season in plan.seasons
    }


def dry_hole_addresses(structure: Structure) -> tuple[str, ...]:
    """Return the addresses of the chances that lines counted by the dry hole stand on, each once."""
    found = [
        plan.addresses[DRY_HOLE_CHANCE]
        for plan in structure.systems
        if any(item.basis == "dry_hole" for item in plan.costs)
    ]
    return tuple(dict.fromkeys(found))


def drawn_hole_chances(structure: Structure, values: Mapping[str, Array], uniforms: Array) -> dict[str, Array]:
    """Return, in place of each chance of a dry hole, the chance at which the drawn number of holes k is expected.

    `uniforms` in [0, 1), shape (address, draw). k is geometric; the composition counts p / (1 - p) dry holes, which is
    k at p = k / (k + 1). Wells of one case are drilled in the same ground and meet the same k.
    """
    drawn = {}
    for address, row in zip(dry_hole_addresses(structure), uniforms, strict=True):
        holes = drawn_dry_holes(values[address], np.inf, row[None])
        drawn[address] = holes / (holes + 1.0)
    return drawn
