"""Soil water: what the root zone holds, what of it the crop uses without stress, how it runs down by day.

1 mm is 1 l per m2. Arrays in, arrays out; daily arrays have the day first and any axes behind it.
Key: Allen et al. (1998) FAO Irrigation and Drainage Paper 56, ch. 8; equation numbers are the paper's.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plotworth.ground.conversions import MILLIMETRES_PER_M
from plotworth.supply.crop_curve import lifted

Array = NDArray[np.float64]
Numbers = float | Array

STANDARD_USE_MM = 5.0
SHARE_PER_MM = 0.04
DEPLETION_LIMITS = (0.1, 0.8)


@dataclass(frozen=True)
class RootZoneTrace:
    """The root zone by day, day first.

    Attributes: depletion_mm, water missing to field capacity at the end of the day; evapotranspiration_mm, what
    the crop got; stress_coefficient, its share of what it could use [0-1]; drained_mm, below the roots.
    Depletion before + evapotranspiration + drained = depletion after + water given, day by day.
    """

    depletion_mm: Array
    evapotranspiration_mm: Array
    stress_coefficient: Array
    drained_mm: Array


def total_available_mm(available_mm_per_m: Numbers, rooting_depth_m: Numbers) -> Array:
    """Return the water [mm] between field capacity and wilting point in a root zone [m deep]; any shapes.

    Eq 82: TAW = 1000 (field capacity - wilting point) Zr; the soil's holding is given in mm per m of depth.
    """
    return np.asarray(np.asarray(available_mm_per_m, dtype=np.float64) * np.asarray(rooting_depth_m))


def available_mm_per_m(field_capacity_share: Numbers, wilting_share: Numbers) -> Array:
    """Return what a soil holds for plants [mm per m of depth] from its water at two points [m3/m3]; any shapes."""
    held = np.asarray(field_capacity_share, dtype=np.float64) - np.asarray(wilting_share, dtype=np.float64)
    return np.asarray(MILLIMETRES_PER_M * held)


def depletion_share(tabulated_share: Numbers, crop_evapotranspiration_mm: Numbers) -> Array:
    """Return the share [0-1] of the available water that a crop uses without stress on a day; any shapes.

    Parameters: share of FAO-56 Table 22, which stands for 5 mm/day; the day's crop evapotranspiration [mm].
    p = p_table + 0.04 (5 - ETc), limited to 0.1-0.8.
    """
    use = np.asarray(crop_evapotranspiration_mm, dtype=np.float64)
    return np.asarray(np.clip(np.asarray(tabulated_share) + SHARE_PER_MM * (STANDARD_USE_MM - use), *DEPLETION_LIMITS))


def readily_available_mm(total_mm: Numbers, share: Numbers) -> Array:
    """Return the water [mm] that a crop uses without stress: a share [0-1] of the available [mm]. Eq 83."""
    return np.asarray(np.asarray(total_mm, dtype=np.float64) * np.asarray(share))


def stress_coefficient(depletion_mm: Numbers, total_mm: Numbers, share: Numbers) -> Array:
    """Return the share [0-1] of its full use that a crop manages at a depletion [mm]; any shapes.

    Parameters: depletion; available water TAW [mm], above 0; share used without stress p [0-1], below 1.
    Eq 84: Ks = (TAW - Dr) / ((1 - p) TAW), 1 up to the depletion p TAW, 0 at the wilting point.
    """
    depletion, total, free = (np.asarray(value, dtype=np.float64) for value in (depletion_mm, total_mm, share))
    return np.asarray(np.clip((total - depletion) / ((1.0 - free) * total), 0.0, 1.0))


def follow_root_zone(
    crop_evapotranspiration_mm: Numbers,
    water_mm: Numbers,
    *,
    total_mm: Numbers,
    tabulated_share: Numbers,
    start_depletion_mm: Numbers,
) -> RootZoneTrace:
    """Follow the water of a root zone day by day.

    Parameters, shape (day, ...): full crop evapotranspiration [mm]; water that enters the soil, rain and
    watering and what rises from below [mm]. Shape (...): available water TAW [mm]; depletion share of Table 22
    [0-1]; depletion at the start [mm], 0 at field capacity, at most TAW.

    Eq 85-88, one day after another: the day's water comes first, the crop takes Ks ETc with Ks from the
    depletion then (eq 84) and never more than is there, what is more than both drains. Without run-off.
    """
    inner = (total_mm, tabulated_share, start_depletion_mm)
    axes = max(*(np.ndim(value) for value in inner), *(np.ndim(v) - 1 for v in (crop_evapotranspiration_mm, water_mm)))
    need, given = np.broadcast_arrays(lifted(crop_evapotranspiration_mm, axes), lifted(water_mm, axes))
    free = depletion_share(tabulated_share, need)
    total, depletion = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in (inner[0], inner[2])))
    days = []
    for day in range(len(need)):
        days.append(_after_a_day(depletion, total, need[day], given[day], free[day]))
        depletion = days[-1][0]
    traced = [np.stack(np.broadcast_arrays(*values)) for values in zip(*days, strict=True)]
    return RootZoneTrace(*traced)


def _after_a_day(
    depletion: Array, total: Array, need: Array, given: Array, free: Array
) -> tuple[Array, Array, Array, Array]:
    """Depletion, use, stress and drainage of one day."""
    balance = depletion - given
    wetted = np.maximum(balance, 0.0)
    stress = stress_coefficient(wetted, total, free)
    used = np.minimum(stress * need, total - wetted)
    left = balance + used
    return np.maximum(left, 0.0), used, stress, np.maximum(-left, 0.0)
