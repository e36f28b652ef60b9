"""What a reservoir did, day by day, what that comes to, and whether its water balance closes.

Litres are those of one reservoir unit, mm those of its planted ground: 1 mm on 1 m2 is 1 l.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

WHOLE_DEMAND = 1.0 - 1e-12
"""A day's uptake of this part of the demand counts as all of it: rounding, not drought."""


@dataclass(frozen=True)
class Trace:
    """A reservoir and its soil by day; all arrays (day, ...) but the last five, which are (...).

    Attributes: storage_l and depletion_mm at the end of the day; carried_l, brought by visitors, spilled_l of it
    that did not fit; caught_l by the lid from rain and dew, overflow_l of it that did not fit; evaporated_l;
    wick_l, lifted into the soil; demand_mm, what the crop would use; soil_rain_mm, rain into the soil; uptake_mm,
    what the crop got; drained_mm, below the roots. start_l and start_depletion_mm, before the first day;
    capacity_l, planted_m2 and plants of the unit.
    """

    storage_l: Array
    depletion_mm: Array
    carried_l: Array
    spilled_l: Array
    caught_l: Array
    overflow_l: Array
    evaporated_l: Array
    wick_l: Array
    demand_mm: Array
    soil_rain_mm: Array
    uptake_mm: Array
    drained_mm: Array
    start_l: Array
    start_depletion_mm: Array
    capacity_l: Array
    planted_m2: Array
    plants: Array


@dataclass(frozen=True)
class Totals:
    """Sums over the days of a trace, shape (...): litres [l] and days of one reservoir unit.

    Attributes: demand_l, uptake_l, wick_l, soil_rain_l, drained_l, from_soil_l (store at the start less store at the
    end); must_come_from_soil_l, demand that the wick did not meet; carried_l, spilled_l, caught_l, overflow_l,
    evaporated_l, start_l, left_over_l; refills, days with water carried; short_days, the crop got less than its
    demand, short_days_with_water of them with water still in the tank: the wick is too slow; empty_days, tank
    empty in the evening; buffer_days, days before the first short one, all days if there is none;
    applied_l_per_m2 = (first fill + carried - spilled - left over) / planted ground;
    uptake_share of the demand, NaN without demand: what the yield response takes;
    uptake_l_per_plant_day, mean over the days.
    """

    demand_l: Array
    uptake_l: Array
    wick_l: Array
    soil_rain_l: Array
    drained_l: Array
    from_soil_l: Array
    must_come_from_soil_l: Array
    carried_l: Array
    spilled_l: Array
    caught_l: Array
    overflow_l: Array
    evaporated_l: Array
    start_l: Array
    left_over_l: Array
    refills: Array
    short_days: Array
    short_days_with_water: Array
    empty_days: Array
    buffer_days: Array
    applied_l_per_m2: Array
    uptake_share: Array
    uptake_l_per_plant_day: Array


def short_of_water(trace: Trace) -> Flags:
    """Return on which days, (day, ...), the crop got less than its demand."""
    return np.asarray(trace.uptake_mm < trace.demand_mm * WHOLE_DEMAND)


def must_come_from_soil_mm(trace: Trace) -> Array:
    """Return what of each day's demand the wick did not meet [mm], (day, ...): soil and rain must, if they can."""
    return np.maximum(trace.demand_mm - trace.wick_l / trace.planted_m2, 0.0)


def from_soil_mm(trace: Trace) -> Array:
    """Return by how much the soil's store fell on each day [mm], (day, ...); below 0 where it was filled."""
    return trace.depletion_mm - _before(trace.depletion_mm, trace.start_depletion_mm)


def room_before_visits_l(trace: Trace) -> Array:
    """Return the room in the tank each morning [l], (day, ...), before anybody comes."""
    return trace.capacity_l - _before(trace.storage_l, trace.start_l)


def buffer_days(trace: Trace) -> Array:
    """Return the days before the first on which the crop is short, (...); the number of days if there is none.

    In a trace without visits: how long crop and reservoir get by if nobody comes.
    """
    short = short_of_water(trace)
    return np.where(short.any(axis=0), short.argmax(axis=0), len(short)).astype(np.float64)


def reservoir_gap_l(trace: Trace) -> Array:
    """Return water that the tank's balance cannot explain [l], (day, ...): 0 but for rounding.

    Rise of the store - (carried - spilled + caught - overflow - evaporated - lifted by the wick).
    """
    gained = trace.carried_l - trace.spilled_l + trace.caught_l - trace.overflow_l
    rise = trace.storage_l - _before(trace.storage_l, trace.start_l)
    return np.asarray(rise - (gained - trace.evaporated_l - trace.wick_l))


def soil_gap_mm(trace: Trace) -> Array:
    """Return water that the soil's balance cannot explain [mm], (day, ...): 0 but for rounding.

    Fall of the store - (uptake + drained - rain - lifted by the wick).
    """
    gained = trace.soil_rain_mm + trace.wick_l / trace.planted_m2
    return np.asarray(from_soil_mm(trace) - (trace.uptake_mm + trace.drained_mm - gained))


def add_up(trace: Trace) -> Totals:
    """Add the days of a trace up; at least one day."""
    short, empty = short_of_water(trace), trace.storage_l <= 0.0
    ground, days = trace.planted_m2, len(trace.storage_l)
    demand, uptake = trace.demand_mm.sum(axis=0), trace.uptake_mm.sum(axis=0)
    carried, spilled = trace.carried_l.sum(axis=0), trace.spilled_l.sum(axis=0)
    left_over = trace.storage_l[-1]
    return Totals(
        demand_l=demand * ground,
        uptake_l=uptake * ground,
        wick_l=trace.wick_l.sum(axis=0),
        soil_rain_l=trace.soil_rain_mm.sum(axis=0) * ground,
        drained_l=trace.drained_mm.sum(axis=0) * ground,
        from_soil_l=(trace.depletion_mm[-1] - trace.start_depletion_mm) * ground,
        must_come_from_soil_l=must_come_from_soil_mm(trace).sum(axis=0) * ground,
        carried_l=carried,
        spilled_l=spilled,
        caught_l=trace.caught_l.sum(axis=0),
        overflow_l=trace.overflow_l.sum(axis=0),
        evaporated_l=trace.evaporated_l.sum(axis=0),
        start_l=trace.start_l,
        left_over_l=left_over,
        refills=_count(trace.carried_l > 0.0),
        short_days=_count(short),
        short_days_with_water=_count(short & ~empty),
        empty_days=_count(empty),
        buffer_days=buffer_days(trace),
        applied_l_per_m2=(trace.start_l + carried - spilled - left_over) / ground,
        uptake_share=np.divide(uptake, demand, out=np.full(demand.shape, np.nan), where=demand > 0.0),
        uptake_l_per_plant_day=uptake * ground / trace.plants / days,
    )


def _count(flags: Flags) -> Array:
    return np.asarray(flags.sum(axis=0), dtype=np.float64)


def _before(by_day: Array, start: Array) -> Array:
    """The same series a day earlier."""
    return np.concatenate([start[None], by_day[:-1]])
