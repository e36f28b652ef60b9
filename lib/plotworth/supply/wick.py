"""A wick between a tank and the soil above it: how fast it can lift, and where it stops.

q = K A (suction - lift) / length, 0 where the lift reaches the suction or the wick's own limit. Litres are those of
one reservoir unit, all its wicks together. Heads are metres of water.

The soil's suction is taken as a straight line from field capacity to the dry end of the available water, and the
wick carries no more of it than its limit. That line is the project's own assumption: real soils bend sharply. It
matters little where the limit lies below the suction at field capacity, as in coarse wicks: then the flow depends
on the level alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plotworth.ground.conversions import LITRES_PER_M3

Array = NDArray[np.float64]
Numbers = float | Array

LEAST_SPAN_M = 1e-9
"""Stands in for a difference of heads of 0 where one divides by it."""


@dataclass(frozen=True)
class Wick:
    """The wicks of one reservoir unit; floats or arrays that broadcast (the axes behind the day).

    Attributes: conductance_l_per_m_day, flow [l/day] for each metre of suction beyond the lift. suction_wet_m and
    suction_dry_m [m of water], what the soil pulls with at field capacity and at the dry end, dry >= wet.
    limit_m [m], the greatest lift that the wick can do, whatever the soil pulls. lift_full_m and lift_empty_m [m],
    height from the water up to the root zone with the tank full and empty, empty >= full; linear between.
    """

    conductance_l_per_m_day: Numbers
    suction_wet_m: Numbers
    suction_dry_m: Numbers
    limit_m: Numbers
    lift_full_m: Numbers
    lift_empty_m: Numbers


def wick_conductance_l_per_m_day(conductivity_m_per_day: ArrayLike, area_m2: ArrayLike, length_m: ArrayLike) -> Array:
    """Return K A / length [l/day per m of head] from conductivity K [m/day], area of all wicks A [m2], length [m].

    K is that of the wick as wet as it hangs; wet cotton and a wick gone hard differ by orders of magnitude.
    """
    conductivity, area, length = (np.asarray(v, dtype=np.float64) for v in (conductivity_m_per_day, area_m2, length_m))
    return np.asarray(LITRES_PER_M3 * conductivity * area / length)


def steady_wick(flow_l_per_day: Numbers) -> Wick:
    """Return a wick that lifts the same [l/day] at every level and in every soil, until the soil is at field capacity.

    For a flow that was measured and nothing else known: unit suction, no lift.
    """
    return Wick(
        conductance_l_per_m_day=flow_l_per_day,
        suction_wet_m=1.0,
        suction_dry_m=1.0,
        limit_m=1.0,
        lift_full_m=0.0,
        lift_empty_m=0.0,
    )


def suction_m(wick: Wick, depletion_mm: Numbers, available_mm: Numbers) -> Array:
    """Return the suction [m of water] that the wick carries at a depletion [mm] out of the available water TAW [mm].

    min(limit, wet + (dry - wet) depletion / TAW). The project's own assumption, see above.
    """
    dryness = np.divide(depletion_mm, available_mm)
    pulled = wick.suction_wet_m + np.subtract(wick.suction_dry_m, wick.suction_wet_m) * dryness
    return np.asarray(np.minimum(wick.limit_m, pulled))


def lift_m(wick: Wick, storage_l: Numbers, capacity_l: Numbers) -> Array:
    """Return the height [m] from the water up to the root zone with this much [l] in a tank that holds [l]."""
    filled = np.divide(storage_l, capacity_l)
    return np.asarray(wick.lift_empty_m - np.subtract(wick.lift_empty_m, wick.lift_full_m) * filled)


def wick_flow_l_per_day(
    wick: Wick, storage_l: Numbers, capacity_l: Numbers, depletion_mm: Numbers, available_mm: Numbers
) -> Array:
    """Return what the wick can lift [l/day] at this storage [l] of a capacity [l] and depletion [mm] of TAW [mm].

    q = conductance x (suction - lift), not below 0; any shapes that broadcast; capacity and TAW above 0. A tank
    that holds less, or a soil that has no room, limits it further.
    """
    head = suction_m(wick, depletion_mm, available_mm) - lift_m(wick, storage_l, capacity_l)
    return np.asarray(wick.conductance_l_per_m_day * np.maximum(head, 0.0))


def resting_depletion_mm(wick: Wick, lift: Numbers, available_mm: Numbers) -> Array:
    """Return the depletion [mm of TAW, mm] at which suction equals the lift [m]: no wick wets the soil beyond it.

    0 where the soil pulls more than the lift even at field capacity, TAW where it never does.
    """
    span = np.maximum(np.subtract(wick.suction_dry_m, wick.suction_wet_m), LEAST_SPAN_M)
    return np.asarray(np.clip(np.subtract(lift, wick.suction_wet_m) / span, 0.0, 1.0) * available_mm)
