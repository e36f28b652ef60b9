"""A reservoir unit through a season of a case: its daily balance, its visits, and what they leave of the yield."""

from dataclasses import dataclass

import numpy as np

from plotworth.choose.tank_rows import TankRows
from plotworth.ground.arrays import Array
from plotworth.ground.errors import PlotworthError
from plotworth.ground.handbook import HandbookError, find_rooting, find_yield_response
from plotworth.supply.deficit import YieldLeft, yield_left
from plotworth.supply.lid import Lid, most_evaporation_l
from plotworth.supply.reservoir import Reservoir, Soil, days_to_empty, simulate
from plotworth.supply.reservoir_trace import Totals, Trace, add_up, buffer_days
from plotworth.supply.visits import Visits, plan_visits
from plotworth.supply.wick import steady_wick, wick_flow_l_per_day
from plotworth.supply.wick_calibration import calibrate_wick

OPEN_WATER_OVER_REFERENCE = 1.05
"""Evaporation of open water less than 2 m deep over the reference: FAO-56 Table 12, from memory."""
HALF = 0.5
TAKEN = (
    "Tank full and soil at field capacity at planting; roots of one depth all season.",
    f"Open water evaporates {OPEN_WATER_OVER_REFERENCE:g} of the reference (FAO-56 Table 12, from memory).",
)


@dataclass(frozen=True)
class TankWeather:
    """What a unit meets by day, shape (day,) [mm/day]: demand of the crop, rain in the open, reference at the tank."""

    demand_mm: Array
    rain_mm: Array
    reference_mm: Array

    def part(self, days: slice) -> "TankWeather":
        """Return some of its days."""
        return TankWeather(self.demand_mm[days], self.rain_mm[days], self.reference_mm[days])


@dataclass(frozen=True)
class TankSeason:
    """A reservoir unit through a season.

    Attributes: reservoir, soil and visits it was followed with; trace by day; totals, among them refills, carried_l,
    short_days, uptake_share; wick_l_per_day, what a unit's wicks lift from a half-full tank into soil that has used
    half its water; carried_l_per_m2 of planted ground;
    days_to_empty, from full under the mean day of the peak month without rain; buffer_days, from full tank and soil on
    the first day of the peak month, nobody coming, before the crop is short, at most the days left of the season;
    yield_left by the handbook's response factor, None where it has none.
    """

    reservoir: Reservoir
    soil: Soil
    visits: Visits
    trace: Trace
    totals: Totals
    wick_l_per_day: float
    carried_l_per_m2: float
    days_to_empty: float
    buffer_days: float
    yield_left: YieldLeft | None


def tank_season(
    rows: TankRows, weather: TankWeather, crop: str, peak: slice, *, rain_share: float, notes: list[str]
) -> TankSeason:
    """Return a unit followed through a season, filled up every so many days.

    Parameters: the unit; weather of the season; crop; days of the peak month; share of the rain that comes through
    what stands over it [0-1]; notes, to which what was assumed is added. Errors: PlotworthError where the stated
    days to empty cannot have been, or the handbook has no depletion share of the crop.
    """
    soil, lid = _soil(rows, crop, notes), _lid(rows, rain_share)
    wick = rows.wick
    if wick is None:
        wick = steady_wick(_flow_from_days_to_empty(rows, soil, lid, weather, notes))
    reservoir = Reservoir(rows.tank_l, rows.planted_m2, rows.plants, rows.tank_l, wick, lid)
    visits = plan_visits(rows.rounds, len(weather.demand_mm))
    trace = _follow(reservoir, soil, weather, visits, rows.dew_l_per_m2)
    totals = add_up(trace)
    notes += TAKEN
    rest = weather.part(slice(peak.start, None))
    return TankSeason(
        reservoir=reservoir,
        soil=soil,
        visits=visits,
        trace=trace,
        totals=totals,
        wick_l_per_day=_usual_flow(reservoir, soil),
        carried_l_per_m2=float(totals.carried_l) / rows.planted_m2,
        days_to_empty=_days_to_empty(reservoir, soil, weather.part(peak)),
        buffer_days=float(buffer_days(_follow(reservoir, soil, rest, plan_visits((), 1), rows.dew_l_per_m2))),
        yield_left=_yield_left(trace, crop, notes),
    )


def _soil(rows: TankRows, crop: str, notes: list[str]) -> Soil:
    rooting = find_rooting(crop)
    notes.append(f"Water used without stress: {rooting.depletion_share:g} of the available ({rooting.table}).")
    return Soil(rows.available_mm, rooting.depletion_share, 0.0)


def _lid(rows: TankRows, rain_share: float) -> Lid:
    """The lid in the bed; the water surface lies wholly under it."""
    return Lid(
        catching_m2=rows.lid_m2,
        rain_caught_share=rows.rain_caught_share,
        surface_m2=rows.surface_m2,
        lidded_share=1.0,
        lidded_evaporation_share=rows.lidded_evaporation_share,
        over_bed_share=1.0,
        rain_reaching_share=rain_share,
    )


def _follow(reservoir: Reservoir, soil: Soil, weather: TankWeather, visits: Visits, dew_l_per_m2: float) -> Trace:
    return simulate(
        reservoir,
        soil,
        weather.demand_mm,
        weather.rain_mm,
        visits,
        dew_l_per_m2=dew_l_per_m2,
        open_water_mm=OPEN_WATER_OVER_REFERENCE * weather.reference_mm,
    )


def _flow_from_days_to_empty(rows: TankRows, soil: Soil, lid: Lid, weather: TankWeather, notes: list[str]) -> float:
    """Flow [l/day] that empties a full tank in the stated days: the geometric middle of what is possible."""
    first = rows.emptied_from_day - 1
    seen = weather.part(slice(first, first + rows.days_to_empty))
    if len(seen.demand_mm) < rows.days_to_empty:
        raise PlotworthError(f"the days to empty, {rows.days_to_empty} from day {first + 1}, reach beyond the season")
    found = calibrate_wick(
        Reservoir(rows.tank_l, rows.planted_m2, rows.plants, rows.tank_l, steady_wick(1.0), lid),
        soil,
        seen.demand_mm,
        seen.rain_mm,
        dew_l_per_m2=rows.dew_l_per_m2,
        open_water_mm=OPEN_WATER_OVER_REFERENCE * seen.reference_mm,
    )
    low, high = float(found.low_l_per_m_day), float(found.high_l_per_m_day)
    if np.isnan(low):
        raise PlotworthError(
            f"no wick empties {rows.tank_l:g} l in {rows.days_to_empty} days from day {first + 1} on: crop, soil and "
            "air cannot have taken so much; look for a leak, or correct days_to_empty, tank_l_per_unit or m2_per_unit"
        )
    notes.append(
        f"Wick flow: {low:.3g} to {high:.3g} l a day, read from {rows.days_to_empty} days from full to empty, "
        "with soil at field capacity and no refill in them."
    )
    if not np.isfinite(high):
        notes.append("The crop set the pace in those days: the wick lifts at least that, which is what is taken.")
        return low
    return float(np.sqrt(low * high))


def _usual_flow(reservoir: Reservoir, soil: Soil) -> float:
    capacity, available = float(reservoir.capacity_l), float(soil.available_mm)
    return float(wick_flow_l_per_day(reservoir.wick, HALF * capacity, capacity, HALF * available, available))


def _days_to_empty(reservoir: Reservoir, soil: Soil, weather: TankWeather) -> float:
    demand_l = float(weather.demand_mm.mean()) * float(reservoir.planted_m2)
    open_water = OPEN_WATER_OVER_REFERENCE * float(weather.reference_mm.mean())
    lost = float(most_evaporation_l(reservoir.lid, open_water))
    used = min(demand_l, _usual_flow(reservoir, soil))
    return float(days_to_empty(reservoir.capacity_l, used + lost, 0.0))


def _yield_left(trace: Trace, crop: str, notes: list[str]) -> YieldLeft | None:
    try:
        response = find_yield_response(crop)
    except HandbookError as error:
        notes.append(f"Yield left by short water: not told, {error}.")
        return None
    left = yield_left(trace.uptake_mm.sum(axis=0), trace.demand_mm.sum(axis=0), response)
    if left.beyond_range.any():
        notes.append(
            "More than half the water is missing: the yield left lies beyond what the factor was measured for."
        )
    return left
