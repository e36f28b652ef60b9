"""Demand: the water a crop takes day by day, and what has to be given because rain does not bring it.

Bare ground by the single coefficient; ground that lids, mulch or drip leave partly dry by the basal coefficient
and the evaporation of what is wetted and open. A daily balance of the root zone tells which rain is of use.
1 mm is 1 l per m2 of planted ground. Daily arrays have the day first and any axes behind it.
Key: Allen et al. (1998) FAO Irrigation and Drainage Paper 56, ch. 6-8; equation numbers are the paper's.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plotworth.ground.handbook import CropCoefficients, StageLengths
from plotworth.supply.crop_curve import (
    CurvePoints,
    basal_points,
    coefficient_curve,
    lifted,
    points_in_climate,
    single_points,
)
from plotworth.supply.season_weather import SeasonWeather
from plotworth.supply.soil_evaporation import (
    OpenGround,
    Surface,
    canopy_share,
    exposed_shares,
    first_lack_mm,
    greatest_coefficient,
    lack_after_a_day,
    rain_into_soil_mm,
)

Array = NDArray[np.float64]
Numbers = float | Array


@dataclass(frozen=True)
class Shelter:
    """What stands over the crop; floats or arrays that broadcast (the axes behind the day).

    Attributes: reference_share, reference evapotranspiration under it over that outside, stated with its source;
    rain_share, share of the rain that comes through, 0 under a closed tunnel.
    """

    reference_share: Numbers
    rain_share: Numbers


OPEN_FIELD = Shelter(reference_share=1.0, rain_share=1.0)


@dataclass(frozen=True)
class Watering:
    """When the root zone is filled up and how far.

    Attributes: interval_days, every how many days, in the evening, and on the last day of the season;
    room_for_rain_mm, how far below field capacity it is left [mm]; start_depletion_mm, how far below field capacity
    it is before the first day [mm].
    """

    interval_days: int
    room_for_rain_mm: Numbers
    start_depletion_mm: Numbers


EVERY_DAY = Watering(interval_days=1, room_for_rain_mm=0.0, start_depletion_mm=0.0)


@dataclass(frozen=True)
class SeasonDemand:
    """Water of a season by day [mm/day], day first; all by area of planted ground.

    Attributes: reference_mm, under the shelter; crop_coefficient [1], crop evapotranspiration over reference;
    crop_evapotranspiration_mm; evaporation_mm, the part of it from the soil, NaN by the single coefficient, which
    does not tell; rain_mm that enters the soil; effective_rain_mm, the part that the crop can use; net_mm to be
    given, on the days it is given; depletion_mm, short of field capacity in the evening.
    start depletion + evapotranspiration = effective rain + net + last depletion.
    """

    reference_mm: Array
    crop_coefficient: Array
    crop_evapotranspiration_mm: Array
    evaporation_mm: Array
    rain_mm: Array
    effective_rain_mm: Array
    net_mm: Array
    depletion_mm: Array


def season_demand(
    weather: SeasonWeather,
    stages: StageLengths,
    coefficients: CropCoefficients,
    surface: Surface | None,
    *,
    staked: bool,
    shelter: Shelter = OPEN_FIELD,
    watering: Watering = EVERY_DAY,
) -> SeasonDemand:
    """Return what a crop takes and needs, day by day.

    Parameters: weather of the season, at most as many days as the stages have; stages and coefficients of the
    handbook; surface of ground that is partly dry, None for bare ground wholly wetted; whether the
    crop is staked; shelter over it; watering.

    None: ETc = Kc ETo (eq 58). Surface: ETc = (Kcb + Ke) ETo (eq 69), Ke by a daily balance of the surface
    layer. Coefficients are adjusted to the climate of the weather given (eq 62, 65, 70): under a shelter its
    wind and humidity should be those under it. The crop is never short: rain beyond the room there is drains.
    Errors: PlotworthError where the handbook has no value that is asked for.
    """
    points = (
        single_points(coefficients, staked=staked) if surface is None else basal_points(coefficients, staked=staked)
    )
    return demand_of_curve(weather, stages, points, surface, shelter=shelter, watering=watering)


def demand_of_curve(
    weather: SeasonWeather,
    stages: StageLengths,
    points: CurvePoints,
    surface: Surface | None,
    *,
    shelter: Shelter = OPEN_FIELD,
    watering: Watering = EVERY_DAY,
) -> SeasonDemand:
    """Return the same from coefficients of one's own, floats or arrays: single without a surface, basal with one."""
    adjusted = points_in_climate(points, weather.wind_2m_m_s, weather.rh_min_pct, stages)
    curve = coefficient_curve(adjusted, stages, len(weather.reference_mm))
    axes = _axes_behind_the_day(weather, curve, adjusted, surface, shelter, watering)
    reference = np.asarray(lifted(weather.reference_mm, axes) * shelter.reference_share)
    fall = np.asarray(lifted(weather.rain_mm, axes) * shelter.rain_share)
    basal = lifted(curve, axes)
    if surface is None:
        return _followed(basal, reference, fall, None, watering)
    wind, humidity = lifted(weather.wind_2m_m_s, axes), lifted(weather.rh_min_pct, axes)
    greatest = greatest_coefficient(basal, wind, humidity, adjusted.height_m)
    exposed = exposed_shares(canopy_share(basal, greatest, adjusted.height_m), surface)
    ground = OpenGround(surface, exposed, basal, greatest, reference, fall)
    return _followed(basal, reference, rain_into_soil_mm(fall, surface), ground, watering)


def _axes_behind_the_day(
    weather: SeasonWeather,
    curve: Array,
    points: CurvePoints,
    surface: Surface | None,
    shelter: Shelter,
    watering: Watering,
) -> int:
    """How many axes lie behind the day, the most that any input has."""
    daily = (weather.reference_mm, weather.rain_mm, weather.wind_2m_m_s, weather.rh_min_pct, curve)
    ground = () if surface is None else surface.numbers()
    levels = (points.height_m, shelter.reference_share, shelter.rain_share, *ground)
    levels += (watering.room_for_rain_mm, watering.start_depletion_mm)
    return max(*(np.ndim(values) - 1 for values in daily), *(np.ndim(value) for value in levels))


def _followed(
    coefficient: Array, reference: Array, rain: Array, ground: OpenGround | None, watering: Watering
) -> SeasonDemand:
    """Follow root zone and surface through the season, one day after another."""
    crop = coefficient * reference
    last = len(crop) - 1
    depletion, given = np.asarray(watering.start_depletion_mm, dtype=np.float64), np.zeros(())
    lack = None if ground is None else first_lack_mm(ground)
    days: list[tuple[Array, ...]] = []
    for day in range(last + 1):
        evaporated = np.zeros(())
        if ground is not None and lack is not None:
            lack, evaporated = lack_after_a_day(ground, day, lack, given)
        use = crop[day] + evaporated
        effective = np.minimum(rain[day], depletion + use)
        depletion = depletion + use - effective
        watered = (day + 1) % watering.interval_days == 0 or day == last
        given = np.maximum(depletion - watering.room_for_rain_mm, 0.0) if watered else np.zeros(())
        depletion = depletion - given
        days.append((use, evaporated, effective, given, depletion))
    return _demand(reference, rain, days, told=ground is not None)


def _demand(reference: Array, rain: Array, days: list[tuple[Array, ...]], *, told: bool) -> SeasonDemand:
    """Stack the days; `told` says whether evaporation was followed."""
    shape = np.broadcast_shapes(*(value.shape for value in days[0]), *(value.shape for value in days[-1]))
    columns = zip(*days, strict=True)
    use, evaporated, effective, given, depletion = (
        np.stack([np.broadcast_to(value, shape) for value in column]) for column in columns
    )
    coefficient = np.divide(
        use, reference, out=np.full(use.shape, np.nan), where=np.broadcast_to(reference > 0, use.shape)
    )
    return SeasonDemand(
        reference_mm=np.broadcast_to(reference, use.shape),
        crop_coefficient=coefficient,
        crop_evapotranspiration_mm=use,
        evaporation_mm=evaporated if told else np.full(use.shape, np.nan),
        rain_mm=np.broadcast_to(rain, use.shape),
        effective_rain_mm=effective,
        net_mm=given,
        depletion_mm=depletion,
    )
