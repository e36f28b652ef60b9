"""Soil evaporation: what wetted soil between the plants gives off, by a daily balance of its surface layer.

Two strips of ground can evaporate: the one that watering wets and the rest that only rain wets. Each has its own
surface layer; soil under lids, mulch or leaves gives off nothing. With one strip, or with both equally wet, this
is FAO-56 to the letter; two strips are the extension of Allen et al. (2005) J. Irrig. Drain. Eng. 131:2-13 (from
memory), needed where drip runs daily and rain comes between.
Key: Allen et al. (1998) FAO Irrigation and Drainage Paper 56, ch. 7; equation numbers are the paper's.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plotworth.ground.conversions import MILLIMETRES_PER_M
from plotworth.supply.crop_curve import climate_adjustment

Array = NDArray[np.float64]
Numbers = float | Array

WILTING_PART = 0.5
WET_SURFACE_COEFFICIENT = 1.2
WET_SOIL_ABOVE_BASAL = 0.05
LEAST_COEFFICIENT = 0.15
LEAST_SPREAD = 0.01
HEIGHT_POWER_PER_M = 0.5
DRIP_SHADE = 2.0 / 3.0


@dataclass(frozen=True)
class Surface:
    """The ground between and under the plants; floats or arrays that broadcast (the axes behind the day).

    Attributes: evaporable_mm (TEW) and readily_evaporable_mm (REW), below it: water [mm] that the surface layer
    can lose in all, and as fast as the air takes it (FAO-56 Table 19, or eq 73). wetted_share: share of the
    ground that watering wets at the surface (fw, Table 20), 0 where water rises from below and the surface stays dry.
    covered_share: ground under lids or mulch, where nothing evaporates; mulch that stops half the
    evaporation counts with half its share. rain_through_cover: share of the rain on covered ground that enters the
    soil, 0 for lids, 1 for straw. at_the_plant: watering wets under the leaves first, as drippers do.
    """

    evaporable_mm: Numbers
    readily_evaporable_mm: Numbers
    wetted_share: Numbers
    covered_share: Numbers
    rain_through_cover: Numbers
    at_the_plant: bool

    def numbers(self) -> tuple[Numbers, ...]:
        """Every number of it."""
        depths = (self.evaporable_mm, self.readily_evaporable_mm)
        return (*depths, self.wetted_share, self.covered_share, self.rain_through_cover)


@dataclass(frozen=True)
class Strips:
    """Two values, one for the strip that watering wets and one for the strip that only rain wets."""

    watered: Array
    rained: Array


@dataclass(frozen=True)
class OpenGround:
    """A surface through a season, day first.

    Attributes: surface; exposed shares [0-1]; basal and greatest coefficient [1]; reference evapotranspiration
    [mm/day]; rain that falls on open ground [mm/day].
    """

    surface: Surface
    exposed: Strips
    basal: Array
    greatest: Array
    reference_mm: Array
    rain_mm: Array


def evaporable_mm(field_capacity_share: Numbers, wilting_share: Numbers, depth_m: Numbers) -> Array:
    """Return the water [mm] that a surface layer can lose; soil water at two points [m3/m3], layer 0.10-0.15 m deep.

    Eq 73: TEW = 1000 (field capacity - 0.5 wilting point) Ze.
    """
    held, kept = (np.asarray(value, dtype=np.float64) for value in (field_capacity_share, wilting_share))
    return np.asarray(MILLIMETRES_PER_M * (held - WILTING_PART * kept) * np.asarray(depth_m))


def greatest_coefficient(basal: Numbers, wind_2m_m_s: Numbers, rh_min_pct: Numbers, height_m: Numbers) -> Array:
    """Return the coefficient [1] of wet ground: no more than the air takes up. Wind [m/s], humidity [%], height [m].

    Eq 72: the greater of 1.2 + the climate adjustment and Kcb + 0.05.
    """
    wet = WET_SURFACE_COEFFICIENT + climate_adjustment(wind_2m_m_s, rh_min_pct, height_m)
    return np.maximum(wet, np.asarray(basal) + WET_SOIL_ABOVE_BASAL)


def canopy_share(basal: Numbers, greatest: Numbers, height_m: Numbers) -> Array:
    """Return the share [0-1] of the ground that leaves shade, from basal and greatest coefficient and height [m].

    Eq 76: ((Kcb - Kcmin) / (Kcmax - Kcmin))^(1 + 0.5 h) with Kcmin 0.15. The grown crop's height all season.
    """
    spread = np.maximum(np.asarray(greatest, dtype=np.float64) - LEAST_COEFFICIENT, LEAST_SPREAD)
    share = np.clip((np.asarray(basal) - LEAST_COEFFICIENT) / spread, 0.0, 1.0)
    return np.asarray(share ** (1.0 + HEIGHT_POWER_PER_M * np.asarray(height_m)))


def exposed_shares(canopy: Numbers, surface: Surface) -> Strips:
    """Return the shares [0-1] of the ground that are wetted and open to sun and air, by strip.

    Eq 75: watered min(1 - fc, fw), fw (1 - 2/3 fc) where water is given at the plant; with rain
    min(1 - fc, open ground) in all. Open ground is what no lid or mulch covers.
    """
    shade, wetted = np.asarray(canopy, dtype=np.float64), np.asarray(surface.wetted_share, dtype=np.float64)
    bare = np.minimum(1.0 - shade, 1.0 - np.asarray(surface.covered_share))
    under_leaves = DRIP_SHADE * shade if surface.at_the_plant else 0.0
    watered = np.minimum(bare, wetted * (1.0 - under_leaves))
    return Strips(watered, np.asarray(bare - watered))


def evaporation_reduction(depleted_mm: Numbers, surface: Surface) -> Array:
    """Return how fast a surface layer gives off water that has already lost some [mm], as a share of the fastest [0-1].

    Eq 74: Kr = (TEW - De) / (TEW - REW) above REW, 1 below.
    """
    total, ready = (np.asarray(v, dtype=np.float64) for v in (surface.evaporable_mm, surface.readily_evaporable_mm))
    return np.asarray(np.clip((total - np.asarray(depleted_mm)) / (total - ready), 0.0, 1.0))


def evaporation_coefficients(
    depleted_mm: Strips, exposed: Strips, basal: Numbers, greatest: Numbers, surface: Surface
) -> Strips:
    """Return the evaporation coefficients [1] of a day, by strip, from what each layer has lost [mm].

    Eq 71: Ke = Kr (Kcmax - Kcb), at most few Kcmax; the energy left by the crop goes to the strips by the
    water open to the air in each.
    """
    left = np.asarray(greatest, dtype=np.float64) - np.asarray(basal)
    part = _watered_part(depleted_mm, exposed, surface)
    watered = evaporation_reduction(depleted_mm.watered, surface) * part * left
    rained = evaporation_reduction(depleted_mm.rained, surface) * (1.0 - part) * left
    return Strips(
        np.minimum(watered, exposed.watered * greatest), np.asarray(np.minimum(rained, exposed.rained * greatest))
    )


def _watered_part(depleted: Strips, exposed: Strips, surface: Surface) -> Array:
    """Part of the open surface water that lies in the watered strip, 0 where there is none at all."""
    total = np.asarray(surface.evaporable_mm, dtype=np.float64)
    watered = exposed.watered * np.maximum(total - depleted.watered, 0.0)
    both = watered + exposed.rained * np.maximum(total - depleted.rained, 0.0)
    return np.divide(watered, both, out=np.zeros_like(both), where=both > 0)


def wetted_layers(depleted_mm: Strips, rain_mm: Numbers, watering_mm: Numbers, surface: Surface) -> Strips:
    """Return what the layers lack [mm] after rain [mm] and watering [mm over the whole ground] of a day.

    Eq 77 and 79: rain wets both strips, watering its own with I / fw; more than the layer lacks runs through.
    """
    on_strip = _on_strip(np.asarray(watering_mm, dtype=np.float64), np.asarray(surface.wetted_share, dtype=np.float64))
    watered = np.maximum(depleted_mm.watered - rain_mm - on_strip, 0.0)
    return Strips(watered, np.asarray(np.maximum(depleted_mm.rained - rain_mm, 0.0)))


def dried_layers(
    depleted_mm: Strips, coefficients: Strips, exposed: Strips, reference_mm: Numbers, surface: Surface
) -> tuple[Strips, Array]:
    """Return what the layers lack [mm] at the end of a day and what the day evaporated [mm over the whole ground].

    Eq 77: De + E / few, E = Ke ETo; a layer loses no more than it holds.
    """
    total = np.asarray(surface.evaporable_mm, dtype=np.float64)
    room = Strips(exposed.watered * (total - depleted_mm.watered), exposed.rained * (total - depleted_mm.rained))
    watered = np.minimum(coefficients.watered * reference_mm, room.watered)
    rained = np.minimum(coefficients.rained * reference_mm, room.rained)
    return Strips(
        depleted_mm.watered + _on_strip(watered, exposed.watered),
        depleted_mm.rained + _on_strip(rained, exposed.rained),
    ), np.asarray(watered + rained)


def first_lack_mm(ground: OpenGround) -> Strips:
    """Return what the layers lack [mm] at planting: the strip that is watered in is wet, the rest dry."""
    total = np.asarray(ground.surface.evaporable_mm, dtype=np.float64)
    return Strips(np.zeros_like(total), total)


def lack_after_a_day(ground: OpenGround, day: int, lack_mm: Strips, watering_mm: Numbers) -> tuple[Strips, Array]:
    """Return what the layers lack [mm] after a day, counted from 0, and what the day evaporated [mm].

    Parameters: what they lacked before [mm]; the watering of the evening before [mm over the whole ground].
    """
    exposed = Strips(ground.exposed.watered[day], ground.exposed.rained[day])
    wetted = wetted_layers(lack_mm, ground.rain_mm[day], watering_mm, ground.surface)
    coefficients = evaporation_coefficients(wetted, exposed, ground.basal[day], ground.greatest[day], ground.surface)
    return dried_layers(wetted, coefficients, exposed, ground.reference_mm[day], ground.surface)


def rain_into_soil_mm(rain_mm: Numbers, surface: Surface) -> Array:
    """Return the rain that enters the soil [mm over the whole ground] of what falls [mm]."""
    kept_out = np.asarray(surface.covered_share, dtype=np.float64) * (1.0 - np.asarray(surface.rain_through_cover))
    return np.asarray(np.asarray(rain_mm, dtype=np.float64) * (1.0 - kept_out))


def _on_strip(depth_mm: Array, share: Array) -> Array:
    """Spread a depth over the whole ground on a strip of it; none where there is no strip."""
    shape = np.broadcast_shapes(depth_mm.shape, share.shape)
    return np.divide(depth_mm, share, out=np.zeros(shape), where=np.broadcast_to(share > 0, shape))
