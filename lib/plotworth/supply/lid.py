"""The top of a reservoir: what rain and dew bring in through it, what evaporates past it.

Litres are those of one reservoir unit; 1 mm on 1 m2 is 1 l. Daily arrays have the day first.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Numbers = float | Array

HIGHEST_DEW_L_PER_M2 = 0.8
"""The most dew [l/m2 of lid] that a clear night can condense by radiating heat: common practice, no source."""


@dataclass(frozen=True)
class Lid:
    """The top of one reservoir unit and what stands over it; floats or arrays that broadcast (the axes behind the day).

    Attributes: catching_m2 [m2], lid that leads water into the tank, seen from above; rain_caught_share [0-1] of
    the rain on it that gets in. surface_m2 [m2], water surface, the same at every level; lidded_share [0-1] of
    the surface that lies under the lid, 0 for an open tank; lidded_evaporation_share [0-1], evaporation under the
    lid beside that of open water. over_bed_share [0-1]: part of lid and open surface that keeps rain off the
    planted ground, 1 where the tank stands in the bed, 0 beside it. rain_reaching_share [0-1]: 1 in the open,
    0 under a cover, for lid and bed alike.

    What the lid does not catch runs off onto the bed. Catching lid and open surface times over_bed_share must
    not be larger than the planted ground.
    """

    catching_m2: Numbers
    rain_caught_share: Numbers
    surface_m2: Numbers
    lidded_share: Numbers
    lidded_evaporation_share: Numbers
    over_bed_share: Numbers
    rain_reaching_share: Numbers


def rain_caught_l(lid: Lid, rain_mm: Numbers) -> Array:
    """Return the rain [l/day] that gets into the tank, by the lid and through the open surface, from rain [mm/day].

    None under a cover. Rain falls plumb.
    """
    open_m2 = np.multiply(lid.surface_m2, np.subtract(1.0, lid.lidded_share))
    catching_m2 = np.multiply(lid.catching_m2, lid.rain_caught_share) + open_m2
    return np.asarray(np.multiply(rain_mm, lid.rain_reaching_share) * catching_m2)


def dew_caught_l(lid: Lid, dew_l_per_m2: Numbers) -> Array:
    """Return the dew [l/night] that the lid leads into the tank, from dew stated [l/m2 of lid and night].

    At most HIGHEST_DEW_L_PER_M2. Taken as stated under a cover too, where water condenses on cold nights; whoever
    expects none there states 0. `dew_above_ceiling_l_per_m2` tells what was left out of account.
    """
    return np.asarray(np.minimum(dew_l_per_m2, HIGHEST_DEW_L_PER_M2) * np.asarray(lid.catching_m2))


def dew_above_ceiling_l_per_m2(dew_l_per_m2: ArrayLike) -> Array:
    """Return by how much dew stated [l/m2 and night] passes the physical ceiling: what no simulation counts."""
    return np.maximum(np.asarray(dew_l_per_m2, dtype=np.float64) - HIGHEST_DEW_L_PER_M2, 0.0)


def most_evaporation_l(lid: Lid, open_water_mm: Numbers) -> Array:
    """Return what evaporates from the tank while it holds water [l/day], from evaporation of open water [mm/day]."""
    kept_back = np.multiply(lid.lidded_share, np.subtract(1.0, lid.lidded_evaporation_share))
    return np.asarray(np.multiply(open_water_mm, lid.surface_m2) * (1.0 - kept_back))


def rain_on_soil_mm(lid: Lid, rain_mm: Numbers, planted_m2: Numbers) -> Array:
    """Return the rain [mm/day of planted ground] that enters the soil, from rain [mm/day] and planted ground [m2].

    All of what falls on the unit's ground but what the tank caught from above it. No run-off.
    """
    kept_off_mm = np.multiply(lid.over_bed_share, rain_caught_l(lid, rain_mm)) / planted_m2
    return np.asarray(np.multiply(rain_mm, lid.rain_reaching_share) - kept_off_mm)
