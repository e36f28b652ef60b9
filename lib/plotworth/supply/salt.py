"""Salt: what the water and the fertiliser bring, what leaching takes out, what is left costs in yield.

Water that drains through the root zone can carry salt down (leaching). Water that rises from below,
as from a wick, cannot: its salt stays near the surface until rain or a flush by hand drains. Plants
are taken to leave the salt behind and nothing to precipitate, so that the salt kept is the most
there can be. 1 l per m2 is 1 mm.

EC is an electrical conductivity [dS/m]: ECw of the water, ECe of the extract of saturated soil.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plotworth.ground.conversions import GRAMS_PER_KG
from plotworth.ground.handbook import SaltTolerance, find_salt_tolerance

Floats = NDArray[np.float64]

# TDS [g/l] = 0.64 EC [dS/m] below about 5 dS/m: USDA Salinity Laboratory Staff (1954) Agriculture Handbook 60,
# and the spread of the factor, APHA (1992) method 2510; both as quoted in Irrigation Science (2018),
# doi 10.1007/s00271-018-0569-9.
SALT_G_PER_L_PER_DS_M = 0.64
SALT_G_PER_L_PER_DS_M_LOW_HIGH = (0.55, 0.9)
HIGHEST_EC_OF_THE_FACTOR_DS_M = 5.0

# FAO-29 (Ayers & Westcot 1985) Table 4 lists ECw = ECe / 1.5; FAO-56 after eq. 93: at leaching fractions of 15-20 %.
EXTRACT_PER_WATER = 1.5
LEACHING_DIVISOR = 5.0  # the 5 in LR = ECw / (5 ECe - ECw), FAO-29 and FAO-56 p. 180

L_PER_M2_PER_M = 1000.0
PERCENT = 100.0

# FAO-29 Table 1: below the first limit no restriction on use, above the second a severe one.
EC_LIMITS_DS_M = (0.7, 3.0)
DISSOLVED_LIMITS_MG_L = (450.0, 2000.0)
NORMAL_PH = (6.5, 8.4)
RESTRICTIONS = ("none", "slight to moderate", "severe")
RESTRICTION_UNKNOWN = "unknown"
WATER_CLASS_SOURCE = "FAO Irrigation and Drainage Paper 29 rev. 1 (Ayers & Westcot 1985), Table 1"


@dataclass(frozen=True)
class SaltTrace:
    """Salt in the root zone at the end of each season, season axis first.

    Attributes: salt_kg_per_m2 [kg/m2] after flushing; extract_ds_m [dS/m], ECe after flushing;
    highest_extract_ds_m [dS/m], ECe before flushing, which the crop met last; brought_kg_per_m2
    [kg/m2] with the water and the flush; washed_out_kg_per_m2 [kg/m2]; flush_l_per_m2 [l/m2] given
    by hand, water that has to be drawn too.
    start + brought = washed out + salt, season by season.
    """

    salt_kg_per_m2: Floats
    extract_ds_m: Floats
    highest_extract_ds_m: Floats
    brought_kg_per_m2: Floats
    washed_out_kg_per_m2: Floats
    flush_l_per_m2: Floats


def _floats(*values: ArrayLike) -> tuple[Floats, ...]:
    return tuple(np.asarray(value, dtype=np.float64) for value in values)


def salt_added_kg_per_m2(water_l_per_m2: ArrayLike, water_ds_m: ArrayLike) -> Floats:
    """Return the salt [kg/m2] that water [l/m2] of an electrical conductivity ECw [dS/m] brings; any shapes.

    0.64 g/l per dS/m x water / 1000. Valid below 5 dS/m; the factor runs from 0.55 to 0.9 with the
    kind of salt. Source: beside SALT_G_PER_L_PER_DS_M.
    """
    litres, conductivity = _floats(water_l_per_m2, water_ds_m)
    return np.asarray(litres * conductivity * SALT_G_PER_L_PER_DS_M / GRAMS_PER_KG)


def saturation_water_l_per_m2(rooting_depth_m: ArrayLike, saturated_share: ArrayLike) -> Floats:
    """Return the water [l/m2] that a root zone [m deep] holds when saturated [m3 of water per m3 of soil]."""
    depth, share = _floats(rooting_depth_m, saturated_share)
    return np.asarray(depth * share * L_PER_M2_PER_M)


def extract_of_salt_ds_m(salt_kg_per_m2: ArrayLike, saturation_l_per_m2: ArrayLike) -> Floats:
    """Return ECe [dS/m] of a root zone with this much salt [kg/m2] and water at saturation [l/m2]; any shapes.

    All of the salt is taken to be dissolved. Same factor and valid range as `salt_added_kg_per_m2`.
    """
    salt, water = _floats(salt_kg_per_m2, saturation_l_per_m2)
    return np.asarray(salt * GRAMS_PER_KG / water / SALT_G_PER_L_PER_DS_M)


def leaching_requirement(water_ds_m: ArrayLike, extract_ds_m: ArrayLike) -> Floats:
    """Return the share of the water that has to drain so that the root zone stays at ECe; any shapes.

    Parameters: ECw of the water and ECe that the crop is to meet [dS/m]. LR = ECw / (5 ECe - ECw).
    For water that enters from above. NaN from ECw = 2.5 ECe on, where LR would be 1 or more: no
    amount of that water holds that ECe. Source: FAO-29; FAO-56 p. 180.
    """
    water, extract = _floats(water_ds_m, extract_ds_m)
    room = LEACHING_DIVISOR * extract - water
    share = np.divide(water, room, out=np.full(np.broadcast(water, extract).shape, np.nan), where=room > 0)
    return np.asarray(np.where(share < 1.0, share, np.nan))


def gross_depth_mm(evapotranspiration_mm: ArrayLike, leaching_share: ArrayLike) -> Floats:
    """Return the depth of water [mm] that covers evapotranspiration [mm] and leaching [share]; any shapes.

    AW = ET / (1 - LR). NaN for a leaching share of 1 and above. Source: FAO-29; FAO-56 p. 180.
    """
    need, share = _floats(evapotranspiration_mm, leaching_share)
    kept = np.where(share < 1.0, 1.0 - share, np.nan)
    return np.asarray(need / kept)


def extract_under_leaching_ds_m(water_ds_m: ArrayLike, leaching_share: ArrayLike) -> Floats:
    """Return ECe [dS/m] in the long run under water of ECw [dS/m] when a share of it drains; any shapes.

    ECe = ECw (1 + LF) / (5 LF), the leaching requirement read backwards; infinite without leaching.
    The text of FAO-56 after eq. 93 gives 1.5 ECw at 15-20 %; the formula gives 1.53 and 1.20.
    """
    water, share = _floats(water_ds_m, leaching_share)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(water * (1.0 + share) / (LEACHING_DIVISOR * share))


def water_of_extract_ds_m(extract_ds_m: ArrayLike) -> Floats:
    """Return ECw [dS/m] that goes with ECe [dS/m] in the tables of FAO-29: ECw = ECe / 1.5, at 15-20 % leaching."""
    return np.asarray(_floats(extract_ds_m)[0] / EXTRACT_PER_WATER)


def yield_share_under_salt(extract_ds_m: ArrayLike, threshold_ds_m: ArrayLike, slope_pct_per_ds_m: ArrayLike) -> Floats:
    """Return the share of the yield that salt leaves, 0-1; any shapes.

    Parameters: ECe over the root zone; threshold a [dS/m]; loss b per dS/m above it [%].
    Yr = 100 - b (ECe - a), clipped at 0 and 100. Source: Maas & Hoffman (1977), as in FAO-61 Annex 1.
    """
    extract, threshold, slope = _floats(extract_ds_m, threshold_ds_m, slope_pct_per_ds_m)
    return np.asarray(np.clip(1.0 - slope / PERCENT * (extract - threshold), 0.0, 1.0))


def extract_at_loss_ds_m(loss_share: ArrayLike, threshold_ds_m: ArrayLike, slope_pct_per_ds_m: ArrayLike) -> Floats:
    """Return ECe [dS/m] at which this share of the yield is lost: a + 100 loss / b; any shapes.

    Parameters as in `yield_share_under_salt`; loss 0-1, at 0 the threshold.
    """
    loss, threshold, slope = _floats(loss_share, threshold_ds_m, slope_pct_per_ds_m)
    return np.asarray(threshold + PERCENT * loss / slope)


def salt_loss_low_high(extract_ds_m: ArrayLike, tolerance: SaltTolerance) -> tuple[Floats, Floats]:
    """Return the least and the greatest share of yield lost at ECe [dS/m] that the handbook's ranges allow.

    Least: highest threshold with the gentlest slope; greatest: lowest threshold with the steepest.
    """
    kept_most = yield_share_under_salt(extract_ds_m, tolerance.threshold_high_ds_m, tolerance.slope_low_pct)
    kept_least = yield_share_under_salt(extract_ds_m, tolerance.threshold_low_ds_m, tolerance.slope_high_pct)
    return 1.0 - kept_most, 1.0 - kept_least


def salt_yield_share(crop: str, soil_salinity_ds_m: Floats) -> Floats:
    """Return the share of the yield that salt leaves by the middle of the handbook's ranges, 0-1; any shape.

    Parameters: crop by any of its names; ECe over the root zone [dS/m]. Threshold and slope are the middles of
    their ranges over the sources (`salt_loss_low_high` has the ends). Raises HandbookError for a crop without a row.
    Equation and source: `yield_share_under_salt`; FAO-56 Table 23.
    """
    row = find_salt_tolerance(crop)
    threshold = np.mean([row.threshold_low_ds_m, row.threshold_high_ds_m])
    slope = np.mean([row.slope_low_pct, row.slope_high_pct])
    return yield_share_under_salt(soil_salinity_ds_m, threshold, slope)


def restriction_on_use(measured: ArrayLike, limits: tuple[float, float]) -> NDArray[np.str_]:
    """Return the degree of restriction on use of a water, one of RESTRICTIONS, "unknown" for NaN; any shape.

    Parameters: what was measured; EC_LIMITS_DS_M for ECw [dS/m] or DISSOLVED_LIMITS_MG_L for
    dissolved solids [mg/l]; the limits themselves are "slight to moderate". Source: FAO-29 Table 1.
    """
    values = _floats(measured)[0]
    conditions = [np.isnan(values), values < limits[0], values <= limits[1]]
    return np.asarray(np.select(conditions, [RESTRICTION_UNKNOWN, *RESTRICTIONS[:2]], RESTRICTIONS[2]), dtype=np.str_)


def salt_after_flushing_kg_per_m2(
    salt_kg_per_m2: ArrayLike,
    drained_l_per_m2: ArrayLike,
    flush_ds_m: ArrayLike,
    *,
    saturation_l_per_m2: ArrayLike,
    mixing_share: ArrayLike,
) -> Floats:
    """Return the salt [kg/m2] that is left after water has drained through the root zone; any shapes.

    Parameters: salt before [kg/m2]; water that drains [l/m2], not what was poured; its ECw [dS/m], 0
    for rain; water at saturation [l/m2]; share of the drained water that mixes with the soil's own,
    0-1: the rest runs by in cracks and takes nothing (an assumption to be stated, no source).

    S = S_w + (S_0 - S_w) exp(-mixing x drained / saturation), S_w the salt at which the soil's water is as
    salty as the flush. Derivation: a well mixed store, inflow = outflow.
    """
    salt, drained, mixing = _floats(salt_kg_per_m2, drained_l_per_m2, mixing_share)
    floor = salt_added_kg_per_m2(saturation_l_per_m2, flush_ds_m)
    left = np.exp(-mixing * drained / _floats(saturation_l_per_m2)[0])
    return np.asarray(floor + (salt - floor) * left)


def flushing_l_per_m2(
    extract_ds_m: ArrayLike,
    wanted_ds_m: ArrayLike,
    flush_ds_m: ArrayLike,
    *,
    saturation_l_per_m2: ArrayLike,
    mixing_share: ArrayLike,
) -> Floats:
    """Return the water [l/m2] that must drain to bring ECe down to what is wanted [dS/m]; any shapes.

    Parameters as in `salt_after_flushing_kg_per_m2`, which it reads backwards. 0 where ECe is low
    enough; NaN where the flush [dS/m] is as salty as what is wanted or saltier: it cannot get there.
    """
    extract, wanted, flush = _floats(extract_ds_m, wanted_ds_m, flush_ds_m)
    saturation, mixing = _floats(saturation_l_per_m2, mixing_share)
    reachable = np.where(wanted > flush, wanted - flush, np.nan)
    ratio = np.maximum(extract - flush, reachable) / reachable
    litres = saturation / mixing * np.log(ratio)
    return np.asarray(np.where(extract <= wanted, 0.0, litres))


def salt_of_rising_water(
    water_l_per_m2: ArrayLike,
    water_ds_m: ArrayLike,
    *,
    rain_drained_l_per_m2: ArrayLike,
    flush_drained_l_per_m2: ArrayLike,
    saturation_l_per_m2: ArrayLike,
    mixing_share: ArrayLike,
    start_kg_per_m2: ArrayLike,
) -> SaltTrace:
    """Follow the salt of a root zone that is fed from below, season by season.

    Parameters, shape (season, ...) with length 1 where all seasons are alike: water supplied [l/m2] of
    ECw [dS/m]; rain that drains through after the crop [l/m2], 0 under a cover; water poured by hand,
    of the same ECw, that drains after the rain [l/m2]. Shape (...): water at saturation [l/m2]; mixing
    share 0-1; salt at the start [kg/m2].

    Nothing leaches while water rises. Each season: salt comes with the water, rain flushes, then the hand.
    """
    inner = _floats(saturation_l_per_m2, mixing_share, start_kg_per_m2)
    saturation, mixing, start = np.broadcast_arrays(*inner)
    seasonal = (water_l_per_m2, water_ds_m, rain_drained_l_per_m2, flush_drained_l_per_m2)
    water, conductivity, rain, flush = _by_season(seasonal, start.shape)
    added = salt_added_kg_per_m2(water, conductivity)
    kept, highest = [start], []
    for season in range(len(water)):
        highest.append(kept[-1] + added[season])
        rained = _flushed(highest[-1], rain[season], 0.0, saturation, mixing)
        kept.append(_flushed(rained, flush[season], conductivity[season], saturation, mixing))
    salt = np.stack(np.broadcast_arrays(*kept))
    brought = added + salt_added_kg_per_m2(flush, conductivity)
    return SaltTrace(
        salt_kg_per_m2=salt[1:],
        extract_ds_m=extract_of_salt_ds_m(salt[1:], saturation),
        highest_extract_ds_m=extract_of_salt_ds_m(np.stack(highest), saturation),
        brought_kg_per_m2=brought,
        washed_out_kg_per_m2=brought - np.diff(salt, axis=0),
        flush_l_per_m2=flush,
    )


def _by_season(seasonal: Sequence[ArrayLike], inner_shape: tuple[int, ...]) -> list[Floats]:
    """Broadcast arrays of shape (season, ...) against each other and against arrays without a season axis."""
    arrays = [np.atleast_1d(np.asarray(values, dtype=np.float64)) for values in seasonal]
    axes = max(len(inner_shape), *(array.ndim - 1 for array in arrays))
    lifted = [array.reshape(array.shape[:1] + (1,) * (axes - array.ndim + 1) + array.shape[1:]) for array in arrays]
    shape = np.broadcast_shapes(inner_shape, *(array.shape for array in lifted))
    return [np.broadcast_to(array, shape) for array in lifted]


def _flushed(salt: Floats, drained: Floats, flush_ds_m: ArrayLike, saturation: Floats, mixing: Floats) -> Floats:
    return salt_after_flushing_kg_per_m2(salt, drained, flush_ds_m, saturation_l_per_m2=saturation, mixing_share=mixing)


def fertiliser_extract_ds_m(
    fertiliser_kg_per_m2: ArrayLike, salt_share: ArrayLike, saturation_l_per_m2: ArrayLike
) -> Floats:
    """Return by how much a dose of fertiliser raises ECe [dS/m] before the crop takes any of it up; any shapes.

    Parameters: product given at once [kg/m2 of the ground it is spread on: a ring or a band is smaller
    than the bed]; share of it that dissolves as salt, 0-1, an assumption to be stated (urea itself
    does not conduct; it does once it has turned); water at saturation where it lies [l/m2].
    The factor is that of `salt_added_kg_per_m2`, for mixed salts: common practice, no source for a
    single fertiliser. Compare the sum of this and what is there with the crop's threshold.
    """
    product, share = _floats(fertiliser_kg_per_m2, salt_share)
    return extract_of_salt_ds_m(product * share, saturation_l_per_m2)


def most_fertiliser_kg_per_m2(
    threshold_ds_m: ArrayLike, present_ds_m: ArrayLike, salt_share: ArrayLike, saturation_l_per_m2: ArrayLike
) -> Floats:
    """Return the largest dose [kg/m2] that keeps ECe at the crop's threshold [dS/m]; 0 where it is passed already.

    `fertiliser_extract_ds_m` read backwards: present ECe [dS/m], salt share 0-1, water at saturation [l/m2].
    """
    threshold, present, share = _floats(threshold_ds_m, present_ds_m, salt_share)
    room = np.maximum(threshold - present, 0.0)
    return np.asarray(salt_added_kg_per_m2(saturation_l_per_m2, room) / share)
