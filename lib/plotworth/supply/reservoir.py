"""A wick-fed reservoir and the soil it feeds: a daily balance of both, and its closed forms.

One unit is one tank with the ground it waters: a tank a plant and one for a whole bed differ in numbers alone.
Litres are those of a unit, mm those of its planted ground: 1 mm on 1 m2 is 1 l. Daily arrays have the day
first; behind it come any axes, in the composition (site, draw).

The order within a day, which decides what is left for whom:
1. morning: visitors pour in cans, what does not fit is spilled; then those who fill up do;
2. rain and dew come in by the lid, what does not fit overflows and is lost;
3. water evaporates from the tank, as long as there is any;
4. rain enters the soil;
5. the wick lifts: at the level left after 1-3, against the soil's suction at noon (after rain and half of the
   day's demand), at most what is in the tank, and never so much that the soil ends the day wetter than where its
   suction equals the lift;
6. the crop takes Ks x demand, Ks by FAO-56 eq. 84 from the depletion after 4 and 5, never more than is there;
7. what is then above field capacity drains.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plotworth.supply.crop_curve import lifted
from plotworth.supply.lid import Lid, dew_caught_l, most_evaporation_l, rain_caught_l, rain_on_soil_mm
from plotworth.supply.reservoir_trace import Trace
from plotworth.supply.soil_water import depletion_share
from plotworth.supply.visits import Visits, visits_of_a_day
from plotworth.supply.wick import LEAST_SPAN_M, Wick

Array = NDArray[np.float64]
Numbers = float | Array

LEAST_SPAN_MM = 1e-9
"""Stands in for a depth of water of 0 where one divides by it: a tank without room, a bed without a soil store."""
NOON = 0.5  # part of the day's demand that has been taken up when the wick's suction is read


@dataclass(frozen=True)
class Reservoir:
    """One reservoir unit; floats or arrays that broadcast (the axes behind the day).

    Attributes: capacity_l; planted_m2 that it waters, above 0; plants on it, above 0; start_l in the tank before
    the first day, at most the capacity; wick; lid.
    """

    capacity_l: Numbers
    planted_m2: Numbers
    plants: Numbers
    start_l: Numbers
    wick: Wick
    lid: Lid


@dataclass(frozen=True)
class Soil:
    """The root zone of a unit, of one depth all season; floats or arrays that broadcast (the axes behind the day).

    Attributes: available_mm, water between field capacity and wilting point (TAW), 0 or more; tabulated_share
    [0-1], part of it used without stress at 5 mm a day (p, FAO-56 Table 22), below 0.8, moved with the day's demand;
    start_depletion_mm before the first day, 0 at field capacity, at most TAW.
    """

    available_mm: Numbers
    tabulated_share: Numbers
    start_depletion_mm: Numbers


@dataclass(frozen=True)
class _Fixed:
    """What stays the same through the days, shape (...) or thinner."""

    capacity: Array
    ground: Array
    taw: Array
    conductance: Array
    limit: Array
    wet: Array
    lift_empty: Array
    suction_per_mm: Array
    lift_per_l: Array
    mm_per_suction: Array


@dataclass(frozen=True)
class _Weather:
    """What each day brings whatever the state, (day, ...) or thinner."""

    brought: Array
    filled: Array
    caught: Array
    evaporable: Array
    rain: Array
    demand: Array
    steepness: Array


@dataclass(frozen=True)
class _Rooms:
    """Where the results of each day go, (day, ...)."""

    storage: Array
    depletion: Array
    carried: Array
    spilled: Array
    overflow: Array
    evaporated: Array
    lifted: Array
    uptake: Array
    drained: Array


def simulate(
    reservoir: Reservoir,
    soil: Soil,
    demand_mm: ArrayLike,
    rain_mm: ArrayLike,
    visits: Visits,
    *,
    dew_l_per_m2: ArrayLike,
    open_water_mm: ArrayLike,
) -> Trace:
    """Follow a reservoir and its soil day by day.

    Parameters, shape (day, ...), length 1 or a single number where all days are alike, at least one with all days:
    demand of the crop without stress [mm/day] (ETc); rain in the open [mm/day]; visits; dew [l/m2 of lid and
    night], counted up to the ceiling; evaporation of open water [mm/day]. All 0 or more and none missing.
    Returns: the trace, all its arrays of the full shape.

    The order within a day and the equations stand at the head of this room. Nothing runs off; roots do not deepen.
    """
    weather, inner = _weather(reservoir, soil, visits, (demand_mm, rain_mm, dew_l_per_m2, open_water_mm))
    fixed = _fixed(reservoir, soil)
    start, dry = (np.broadcast_to(_array(v), inner) for v in (reservoir.start_l, soil.start_depletion_mm))
    rooms = _empty_rooms((len(weather.demand), *inner))
    _follow(fixed, weather, rooms, start.copy(), dry.copy())
    return _trace(reservoir, weather, rooms, start, dry)


def litres_per_plant(depth_mm: ArrayLike, plants_per_m2: ArrayLike) -> Array:
    """Return what a depth of water on planted ground [mm] is for a plant [l], at a density [plants/m2]."""
    return np.asarray(_array(depth_mm) / _array(plants_per_m2))


def days_to_empty(storage_l: ArrayLike, outflow_l_per_day: ArrayLike, inflow_l_per_day: ArrayLike) -> Array:
    """Return how many days a storage [l] lasts under a constant outflow and inflow [l/day]; any shapes.

    storage / (outflow - inflow); infinite where the inflow is as great. Outflow is evaporation and the lesser of
    what the crop takes and what the wick lifts. Holds while the wick's flow and the soil's store stay the same.
    """
    storage, net = _array(storage_l), _array(outflow_l_per_day) - _array(inflow_l_per_day)
    shape = np.broadcast_shapes(storage.shape, net.shape)
    return np.asarray(np.divide(storage, net, out=np.full(shape, np.inf), where=net > 0.0))


def days_from_the_soil(store_mm: ArrayLike, demand_mm: ArrayLike) -> Array:
    """Return how many days a store in the soil [mm] meets a constant demand [mm/day]; infinite without demand.

    store / demand, any shapes. With what is left of the readily available water as the store, the days until it is
    used up. `simulate` shows the first short day one later: FAO-56 judges stress by the morning.
    """
    store, demand = _array(store_mm), _array(demand_mm)
    shape = np.broadcast_shapes(store.shape, demand.shape)
    return np.asarray(np.divide(store, demand, out=np.full(shape, np.inf), where=demand > 0.0))


def _array(values: ArrayLike) -> Array:
    return np.asarray(values, dtype=np.float64)


def _fixed(reservoir: Reservoir, soil: Soil) -> _Fixed:
    wick, capacity, taw = reservoir.wick, _array(reservoir.capacity_l), _array(soil.available_mm)
    span = np.subtract(wick.suction_dry_m, wick.suction_wet_m)
    drop = np.subtract(wick.lift_empty_m, wick.lift_full_m)
    return _Fixed(
        capacity=capacity,
        ground=_array(reservoir.planted_m2),
        taw=taw,
        conductance=_array(wick.conductance_l_per_m_day),
        limit=_array(wick.limit_m),
        wet=_array(wick.suction_wet_m),
        lift_empty=_array(wick.lift_empty_m),
        suction_per_mm=_array(span / np.maximum(taw, LEAST_SPAN_MM)),
        lift_per_l=_array(drop / np.maximum(capacity, LEAST_SPAN_MM)),
        mm_per_suction=_array(taw / np.maximum(span, LEAST_SPAN_M)),
    )


def _weather(
    reservoir: Reservoir, soil: Soil, visits: Visits, given: tuple[ArrayLike, ...]
) -> tuple[_Weather, tuple[int, ...]]:
    """Everything that does not depend on the state, and the shape behind the day."""
    brought, filled = visits_of_a_day(visits)
    daily = [*(_array(values) for values in given), brought, filled]
    inner = np.broadcast_shapes(*(np.shape(value) for value in _parameters(reservoir, soil)))
    axes = max(len(inner), *(array.ndim - 1 for array in daily))
    demand, rain, dew, open_water, brought, filled = (lifted(array, axes) for array in daily)
    days, *inner_list = np.broadcast_shapes(
        demand.shape, rain.shape, dew.shape, open_water.shape, brought.shape, filled.shape, (1,) * (axes + 1), inner
    )
    share, taw, lid = depletion_share(_array(soil.tabulated_share), demand), soil.available_mm, reservoir.lid
    series = (
        brought,
        filled,
        rain_caught_l(lid, rain) + dew_caught_l(lid, dew),
        most_evaporation_l(lid, open_water),
        rain_on_soil_mm(lid, rain, reservoir.planted_m2),
        demand,
        1.0 / np.maximum((1.0 - share) * taw, LEAST_SPAN_MM),
    )
    return _Weather(*(np.broadcast_to(array, (days, *array.shape[1:])) for array in series)), tuple(inner_list)


def _parameters(reservoir: Reservoir, soil: Soil) -> list[Numbers]:
    unit = [reservoir.capacity_l, reservoir.planted_m2, reservoir.plants, reservoir.start_l]
    return [*unit, *vars(reservoir.wick).values(), *vars(reservoir.lid).values(), *vars(soil).values()]


def _empty_rooms(shape: tuple[int, ...]) -> _Rooms:
    storage, depletion, overflow, evaporated, flow, uptake, drained = (np.empty(shape) for _ in range(7))
    carried, spilled = np.zeros(shape), np.zeros(shape)
    return _Rooms(storage, depletion, carried, spilled, overflow, evaporated, flow, uptake, drained)


def _follow(fixed: _Fixed, weather: _Weather, rooms: _Rooms, storage: Array, depletion: Array) -> None:
    """Go through the days, with storage [l] and depletion [mm] changed in place."""
    somebody = np.asarray((weather.brought > 0.0) | (weather.filled > 0.0))
    comes = np.asarray(somebody.any(axis=tuple(range(1, somebody.ndim))))
    head, most = np.empty_like(storage), np.empty_like(storage)
    for day, demand in enumerate(weather.demand):
        flow, uptake, drained = rooms.lifted[day, ...], rooms.uptake[day, ...], rooms.drained[day, ...]
        if comes[day]:
            _pour(fixed, weather, rooms, day, storage)
        _catch_and_evaporate(fixed, weather, rooms, day, storage)
        np.subtract(depletion, weather.rain[day], out=depletion)
        _wick(fixed, demand, storage, depletion, head, most, flow)
        np.divide(flow, fixed.ground, out=head)
        np.subtract(depletion, head, out=depletion)
        _take_up(fixed, weather.steepness[day], demand, depletion, head, uptake)
        np.negative(np.minimum(depletion, 0.0, out=head), out=drained)
        np.maximum(depletion, 0.0, out=depletion)
        rooms.storage[day], rooms.depletion[day] = storage, depletion


def _pour(fixed: _Fixed, weather: _Weather, rooms: _Rooms, day: int, storage: Array) -> None:
    """Cans first, what does not fit is spilled, then the room left is filled up."""
    room = fixed.capacity - storage
    brought, spilled = weather.brought[day], np.maximum(weather.brought[day] - room, 0.0)
    rooms.carried[day] = brought + weather.filled[day] * np.maximum(room - brought, 0.0)
    rooms.spilled[day] = spilled
    storage += rooms.carried[day] - spilled
    np.minimum(storage, fixed.capacity, out=storage)


def _catch_and_evaporate(fixed: _Fixed, weather: _Weather, rooms: _Rooms, day: int, storage: Array) -> None:
    overflow, evaporated = rooms.overflow[day, ...], rooms.evaporated[day, ...]
    storage += weather.caught[day]
    np.subtract(storage, fixed.capacity, out=overflow)
    np.maximum(overflow, 0.0, out=overflow)
    np.minimum(storage, fixed.capacity, out=storage)
    np.minimum(storage, weather.evaporable[day], out=evaporated)
    np.subtract(storage, evaporated, out=storage)


def _wick(
    fixed: _Fixed, demand: Array, storage: Array, depletion: Array, head: Array, most: Array, flow: Array
) -> None:
    """Lift: `wick.wick_flow_l_per_day` at noon, at most what the soil has room for and the tank holds."""
    np.multiply(storage, fixed.lift_per_l, out=most)
    lift = np.subtract(fixed.lift_empty, most, out=most)
    noon = np.add(depletion, NOON * demand, out=head)
    np.minimum(np.maximum(noon, 0.0, out=noon), fixed.taw, out=noon)
    suction = np.add(np.multiply(noon, fixed.suction_per_mm, out=head), fixed.wet, out=head)
    np.minimum(suction, fixed.limit, out=suction)
    np.maximum(np.subtract(suction, lift, out=head), 0.0, out=head)
    np.multiply(head, fixed.conductance, out=flow)
    resting = np.multiply(np.subtract(lift, fixed.wet, out=most), fixed.mm_per_suction, out=most)
    np.maximum(resting, 0.0, out=resting)
    room = np.subtract(np.add(depletion, demand, out=head), resting, out=head)
    np.multiply(np.maximum(room, 0.0, out=room), fixed.ground, out=room)
    np.minimum(flow, np.minimum(room, storage, out=room), out=flow)
    np.subtract(storage, flow, out=storage)


def _take_up(fixed: _Fixed, steepness: Array, demand: Array, depletion: Array, left: Array, uptake: Array) -> None:
    """Ks x demand, at most what is there; the depletion grows by it."""
    np.subtract(fixed.taw, depletion, out=left)
    np.multiply(left, steepness, out=uptake)
    np.minimum(np.maximum(uptake, 0.0, out=uptake), 1.0, out=uptake)
    np.multiply(uptake, demand, out=uptake)
    np.minimum(uptake, np.maximum(left, 0.0, out=left), out=uptake)
    np.add(depletion, uptake, out=depletion)


def _trace(reservoir: Reservoir, weather: _Weather, rooms: _Rooms, start: Array, dry: Array) -> Trace:
    full, inner = rooms.storage.shape, start.shape
    return Trace(
        storage_l=rooms.storage,
        depletion_mm=rooms.depletion,
        carried_l=rooms.carried,
        spilled_l=rooms.spilled,
        caught_l=np.broadcast_to(weather.caught, full),
        overflow_l=rooms.overflow,
        evaporated_l=rooms.evaporated,
        wick_l=rooms.lifted,
        demand_mm=np.broadcast_to(weather.demand, full),
        soil_rain_mm=np.broadcast_to(weather.rain, full),
        uptake_mm=rooms.uptake,
        drained_mm=rooms.drained,
        start_l=start,
        start_depletion_mm=dry,
        capacity_l=np.broadcast_to(_array(reservoir.capacity_l), inner),
        planted_m2=np.broadcast_to(_array(reservoir.planted_m2), inner),
        plants=np.broadcast_to(_array(reservoir.plants), inner),
    )
