"""The water of all seasons of a case at given values: what can be told of each, or why it cannot."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.layout import Layout
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.watering import SeasonYears, season_years
from plotworth.ground.arrays import Array
from plotworth.ground.errors import FaultsError, PlotworthError

OF_THE_COMPOSITION = ("delivery_share", "m2_per_unit", "plants_per_m2")
"""Values of the composition that a season's water stands on too, beside its own rows."""
Values = Mapping[str, Array]


@dataclass(frozen=True)
class CaseWater:
    """Seasons by system/season, each in the years of the weather; `gaps`: why a season cannot be told, in sentences."""

    seasons: Mapping[str, SeasonYears]
    gaps: Mapping[str, tuple[str, ...]]


def water_of_case(layout: Layout, values: Values) -> CaseWater:
    """Return the water of every season of a case at values by address, of which the first site and draw counts."""
    seasons: dict[str, SeasonYears] = {}
    gaps: dict[str, tuple[str, ...]] = {}
    for system in layout.structure.systems:
        for plan in system.seasons:
            try:
                seasons[f"{system.id}/{plan.season}"] = water_of_season(layout, values, system.id, plan)
            except FaultsError as error:
                gaps[f"{system.id}/{plan.season}"] = tuple(fault.text() for fault in error.faults)
            except PlotworthError as error:
                gaps[f"{system.id}/{plan.season}"] = (str(error),)
    return CaseWater(seasons, gaps)


def water_of_season(layout: Layout, values: Values, system: str, plan: SeasonPlan) -> SeasonYears:
    """Return the water of a season; the last one of each season is remembered, and made again where a value moved.

    Errors as `watering.season_years`.
    """
    addresses = (*plan.water.values(), *(plan.addresses[name] for name in OF_THE_COMPOSITION))
    stands_on = np.array([values[address].flat[0] for address in addresses]).tobytes()
    remembered = layout.memory.get((system, plan.season))
    if remembered is not None and remembered[0] == stands_on:
        return remembered[1]  # type: ignore[no-any-return]
    found = season_years(layout, values, system, plan.season)
    layout.memory[system, plan.season] = stands_on, found
    return found
