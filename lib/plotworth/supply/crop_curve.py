"""Crop coefficient curve: how much of the reference evapotranspiration a crop takes, day by day of its season.

Arrays in, arrays out; daily arrays have the day first and any axes behind it. Key: Allen et al. (1998) FAO
Irrigation and Drainage Paper 56, ch. 6 and 7; equation numbers are the paper's.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plotworth.ground.errors import PlotworthError
from plotworth.ground.handbook import CropCoefficients, StageLengths

Array = NDArray[np.float64]
Numbers = float | Array

STANDARD_WIND_2M_M_S = 2.0
STANDARD_RH_MIN_PCT = 45.0
STANDARD_HEIGHT_M = 3.0
PER_WIND_M_S = 0.04
PER_RH_PCT = 0.004
HEIGHT_POWER = 0.3
WIND_LIMITS_M_S = (1.0, 6.0)
RH_LIMITS_PCT = (20.0, 80.0)
HEIGHT_LIMITS_M = (0.1, 10.0)
LOWEST_ADJUSTED_END = 0.45
LIGHT_WETTING_MM = 10.0
HEAVY_WETTING_MM = 40.0


@dataclass(frozen=True)
class CurvePoints:
    """The three coefficients [1] that make a curve, single or basal, and the height [m] of the grown crop.

    Floats or arrays that broadcast (the axes behind the day).
    """

    initial: Numbers
    mid: Numbers
    end: Numbers
    height_m: Numbers


def single_points(coefficients: CropCoefficients, *, staked: bool) -> CurvePoints:
    """Return the single coefficients of a crop (FAO-56 Table 12): with an average bare soil's evaporation.

    The end is the middle of its printed range, the height of a staked crop the middle of its own. Errors:
    PlotworthError where a staked crop has no value in the handbook.
    """
    end = (coefficients.end_low + coefficients.end_high) / 2
    height = _height_m(coefficients, staked=staked)
    return CurvePoints(coefficients.initial, _mid(coefficients, staked=staked), end, height)


def basal_points(coefficients: CropCoefficients, *, staked: bool) -> CurvePoints:
    """Return the basal coefficients of a crop (FAO-56 Table 17): transpiration over dry soil.

    A staked crop's middle value lies as far above the other as its single value does; from memory this
    is the paper's own footnote (1.10 for pepper and cucumber, 1.15 for tomato). Errors: PlotworthError
    where the handbook has no basal values, or none for a staked crop.
    """
    initial, mid, end = coefficients.basal_initial, coefficients.basal_mid, coefficients.basal_end
    if initial is None or mid is None or end is None:
        raise PlotworthError(f"{coefficients.crop}: the handbook has no basal crop coefficients; state your own")
    raised = _mid(coefficients, staked=staked) - coefficients.mid
    return CurvePoints(initial, mid + raised, end, _height_m(coefficients, staked=staked))


def _mid(coefficients: CropCoefficients, *, staked: bool) -> float:
    if not staked:
        return coefficients.mid
    if coefficients.mid_staked is None:
        raise PlotworthError(f"{coefficients.crop}: the handbook has no coefficient for a staked crop; state your own")
    return coefficients.mid_staked


def _height_m(coefficients: CropCoefficients, *, staked: bool) -> float:
    low, high = coefficients.staked_height_low_m, coefficients.staked_height_high_m
    if not staked or low is None or high is None:
        return coefficients.height_m
    return (low + high) / 2


def climate_adjustment(wind_2m_m_s: Numbers, rh_min_pct: Numbers, height_m: Numbers) -> Array:
    """Return what a climate other than the tables' adds to a coefficient [1].

    Parameters: wind at 2 m [m/s], lowest humidity [%], both means over the stage, and height of the crop [m].
    Eq 62, 65 and 70: (0.04 (u2 - 2) - 0.004 (RHmin - 45)) (h / 3)^0.3, for u2 1-6 m/s, RHmin 20-80 %
    and h 0.1-10 m: values outside count as the limit.
    """
    wind, humidity, height = (np.asarray(value, dtype=np.float64) for value in (wind_2m_m_s, rh_min_pct, height_m))
    dryness = PER_WIND_M_S * (np.clip(wind, *WIND_LIMITS_M_S) - STANDARD_WIND_2M_M_S)
    dryness = dryness - PER_RH_PCT * (np.clip(humidity, *RH_LIMITS_PCT) - STANDARD_RH_MIN_PCT)
    return np.asarray(dryness * (np.clip(height, *HEIGHT_LIMITS_M) / STANDARD_HEIGHT_M) ** HEIGHT_POWER)


def adjusted_mid(mid: Numbers, wind_2m_m_s: Numbers, rh_min_pct: Numbers, height_m: Numbers) -> Array:
    """Return the coefficient of the middle stage in its climate; wind [m/s], humidity [%], height [m]. Eq 62, 70."""
    return np.asarray(np.asarray(mid, dtype=np.float64) + climate_adjustment(wind_2m_m_s, rh_min_pct, height_m))


def adjusted_end(end: Numbers, wind_2m_m_s: Numbers, rh_min_pct: Numbers, height_m: Numbers) -> Array:
    """Return the coefficient of the last day in its climate; wind [m/s], humidity [%], height [m].

    Eq 65: adjusted from a tabulated 0.45 on; a crop that dries off below it stays as it is.
    """
    printed = np.asarray(end, dtype=np.float64)
    adjustment = climate_adjustment(wind_2m_m_s, rh_min_pct, height_m)
    return np.where(printed >= LOWEST_ADJUSTED_END, printed + adjustment, printed)


def points_in_climate(
    points: CurvePoints, wind_2m_m_s: Numbers, rh_min_pct: Numbers, stages: StageLengths
) -> CurvePoints:
    """Return the points with the climate of their own stage: the middle one's for mid, the last one's for end.

    Parameters: wind at 2 m [m/s] and lowest humidity [%] by day of the season, day first. Days without a value
    are left out of a stage's mean; a stage that the days do not reach takes the mean over all of them.
    """
    days = np.arange(1, len(np.asarray(wind_2m_m_s)) + 1)
    first_mid = stages.initial_days + stages.development_days
    first_late = first_mid + stages.mid_days
    wind, humidity = (np.asarray(values, dtype=np.float64) for values in (wind_2m_m_s, rh_min_pct))
    in_mid, in_late = (days > first_mid) & (days <= first_late), days > first_late
    mid = adjusted_mid(points.mid, _mean_over(wind, in_mid), _mean_over(humidity, in_mid), points.height_m)
    end = adjusted_end(points.end, _mean_over(wind, in_late), _mean_over(humidity, in_late), points.height_m)
    return replace(points, mid=mid, end=end)


def _mean_over(values: Array, chosen: NDArray[np.bool_]) -> Array:
    """Mean over the chosen days that have a value, over all days where none is chosen; NaN where none is known."""
    picked = values[chosen] if chosen.any() else values
    known = ~np.isnan(picked)
    count, total = known.sum(axis=0), np.where(known, picked, 0.0).sum(axis=0)
    return np.asarray(np.divide(total, count, out=np.full(np.shape(total), np.nan), where=count > 0))


def coefficient_curve(points: CurvePoints, stages: StageLengths, days: int) -> Array:
    """Return the coefficient [1] of the first `days` days of the season, shape (day, ...).

    Eq 66: level in the initial and the middle stage, straight lines between, the end on the last day of
    the season. Day 1 is the day of planting. Errors: PlotworthError where `days` is more than the stages have.
    """
    if days > stages.total_days:
        raise PlotworthError(f"{days} days were given for a season of {stages.total_days}; use stretched_stages first")
    knots = np.cumsum([0, stages.initial_days, stages.development_days, stages.mid_days, stages.late_days])
    number = np.arange(1, days + 1)
    at_mid = np.interp(number, knots, [0.0, 0.0, 1.0, 1.0, 0.0])
    at_end = np.interp(number, knots, [0.0, 0.0, 0.0, 0.0, 1.0])
    initial, mid, end = (np.asarray(point, dtype=np.float64) for point in (points.initial, points.mid, points.end))
    axes = max(initial.ndim, mid.ndim, end.ndim)
    part_mid, part_end = lifted(at_mid, axes), lifted(at_end, axes)
    return np.asarray((1.0 - part_mid - part_end) * initial + part_mid * mid + part_end * end)


def lifted(daily: Numbers, axes: int) -> Array:
    """Return an array of shape (day, ...) with this many axes behind the day, new ones of length 1 after it."""
    array = np.asarray(daily, dtype=np.float64)
    return array.reshape(array.shape[:1] + (1,) * (axes - array.ndim + 1) + array.shape[1:])


def stretched_stages(stages: StageLengths, total_days: int) -> StageLengths:
    """Return stages of the same proportions for a season of `total_days` [day].

    Handbook stages come from one place and planting; a season known to be longer or shorter keeps their
    shares. The ends of the stages are rounded to whole days. An assumption of ours; the paper asks for local stages.
    """
    lengths = [stages.initial_days, stages.development_days, stages.mid_days, stages.late_days]
    ends = np.rint(np.cumsum(lengths) * total_days / stages.total_days).astype(int)
    initial, development, mid, late = (int(days) for days in np.diff(ends, prepend=0))
    return replace(
        stages, initial_days=initial, development_days=development, mid_days=mid, late_days=late,
        condition=f"stretched from {stages.total_days} to {total_days} days",
    )  # fmt: skip


def initial_coefficient(wetting_mm: Numbers, light: Numbers, heavy: Numbers, *, wetted_share: Numbers) -> Array:
    """Return the single coefficient of the initial stage [1] from how the soil is wetted.

    Parameters: average water of an event [mm over the whole ground]; the readings of the paper's figures for light
    events (10 mm or less) and heavy ones (40 mm or more) at the climate's interval; share of the ground wetted [0-1].
    Eq 59, with the depth on the wetted part I / fw (eq 61), times fw (eq 60). Between 10 and 40 mm straight.
    """
    depth, low, high, share = (
        np.asarray(value, dtype=np.float64) for value in (wetting_mm, light, heavy, wetted_share)
    )
    heaviness = (depth / share - LIGHT_WETTING_MM) / (HEAVY_WETTING_MM - LIGHT_WETTING_MM)
    return np.asarray(share * (low + np.clip(heaviness, 0.0, 1.0) * (high - low)))
