"""Rows for the charts of a season's water: what covers the demand, the tank's level, the ledger, who lifts it.

Depths are by planted ground, 1 mm is 1 l per m2. Moments are milliseconds since 1970 in universal time, which a
chart can draw and redraw without reading dates out of text.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from plotworth.choose.appraise import Appraisal
from plotworth.choose.season import grow
from plotworth.choose.tank_season import TankSeason
from plotworth.choose.watering import SeasonWater
from plotworth.ground.arrays import Array
from plotworth.supply.requirement import by_week
from plotworth.supply.reservoir_trace import Trace, from_soil_mm, short_of_water

Rows = list[dict[str, Any]]
Labels = Mapping[str, str]

ONE_DAY = pd.Timedelta(days=1)
BROUGHT_IN, WENT_OUT = "in", "out"
THROUGH_THE_PLANTS = "Through the plants"
ROUNDING_L = 1e-9  # a part of the ledger below this is what is left of adding and taking away
Part = tuple[str, str, Any]
"""Side, name and litres of a part of the ledger."""


def moment_ms(moment: pd.Timestamp) -> int:
    """Return a moment as milliseconds since 1970, taken as universal time."""
    return int(moment.value // 1_000_000)


def day_text(day: pd.Timestamp) -> str:
    """Return a day as people write it: `12 April 2026`."""
    return f"{day.day} {day:%B %Y}"


def requirement_rows(water: SeasonWater, labels: Labels) -> Rows:
    """Return by week of the season what the crop takes and what covers it [mm].

    Rows: system, label, week, first_day, from_ms, to_ms, days, taken_mm (crop evapotranspiration), rain_mm,
    watering_mm, soil_mm, short_mm, which four add up to taken_mm; source, what watering_mm is: `watering` or `wick`.
    Water from above counts in the week in which the crop takes it, though the soil may hold it until then or is
    filled up a few days later. What a wick or rain puts into the soil's store counts in the week it is taken out.
    """
    weeks = by_week(water.weather.dates, _daily_cover(water)).to_dict("records")
    return [_week_row(water, labels, week) for week in weeks]


def _daily_cover(water: SeasonWater) -> dict[str, Array]:
    """By day [mm]: what the crop takes, useful rain, water brought to the roots, fall of the store, what is short."""
    demand, tank = water.demand, water.tank
    if tank is None:
        taken, rain = demand.crop_evapotranspiration_mm, demand.effective_rain_mm
        none = np.zeros_like(taken)
        return {"taken_mm": taken, "rain_mm": rain, "watering_mm": taken - rain, "soil_mm": none, "short_mm": none}
    trace = tank.trace
    return {
        "taken_mm": trace.demand_mm,
        "rain_mm": rain_kept_mm(trace),
        "watering_mm": trace.wick_l / trace.planted_m2,
        "soil_mm": from_soil_mm(trace),
        "short_mm": trace.demand_mm - trace.uptake_mm,
    }


def rain_kept_mm(trace: Trace) -> Array:
    """Return by day the rain that stays in reach of the roots [mm]: only rain drains, for a wick stops before."""
    return np.maximum(trace.soil_rain_mm - trace.drained_mm, 0.0)


def _week_row(water: SeasonWater, labels: Labels, week: Mapping[Any, Any]) -> dict[str, Any]:
    """One week; what came beyond the use is taken off the watering, then off the rain."""
    first, days = week["first_day"], int(week["days"])
    beyond = max(-week["soil_mm"], 0.0) + max(-week["watering_mm"], 0.0)
    watering = max(week["watering_mm"], 0.0)
    kept = min(max(-week["soil_mm"], 0.0), watering)
    return {
        "system": water.system,
        "label": labels[water.system],
        "week": int(week["week"]),
        "first_day": day_text(first),
        "from_ms": moment_ms(first),
        "to_ms": moment_ms(first + days * ONE_DAY),
        "days": days,
        "taken_mm": week["taken_mm"],
        "rain_mm": week["rain_mm"] - (beyond - kept),
        "watering_mm": watering - kept,
        "soil_mm": max(week["soil_mm"], 0.0),
        "short_mm": week["short_mm"],
        "source": "watering" if water.tank is None else "wick",
    }


def level_rows(tank: TankSeason, dates: pd.DatetimeIndex) -> Rows:
    """Return the litres in one tank as they rise and fall: each evening, and before and after each filling.

    Rows: at_ms, date, when (`start`, `before filling`, `after filling`, `evening`), litres.
    """
    trace = tank.trace
    rows = [_level(dates[0], "start", float(trace.start_l), day_text(dates[0]))]
    before = float(trace.start_l)
    for day, date in enumerate(dates):
        poured = float(trace.carried_l[day] - trace.spilled_l[day])
        if trace.carried_l[day] > 0.0:
            rows.append(_level(date, "before filling", before, day_text(date)))
            rows.append(_level(date, "after filling", before + poured, day_text(date)))
        before = float(trace.storage_l[day])
        rows.append(_level(date + ONE_DAY, "evening", before, day_text(date)))
    return rows


def _level(moment: pd.Timestamp, when: str, litres: float, date: str) -> dict[str, Any]:
    return {"at_ms": moment_ms(moment), "date": date, "when": when, "litres": litres}


def refill_rows(tank: TankSeason, dates: pd.DatetimeIndex) -> Rows:
    """Return each filling of one tank: at_ms, date, litres in it afterwards, carried_l."""
    filled = {row["at_ms"]: row["litres"] for row in level_rows(tank, dates) if row["when"] == "after filling"}
    carried = tank.trace.carried_l
    return [
        {
            "at_ms": moment_ms(date),
            "date": day_text(date),
            "litres": filled[moment_ms(date)],
            "carried_l": float(litres),
        }
        for date, litres in zip(dates, carried, strict=True)
        if litres > 0.0
    ]


def short_rows(tank: TankSeason, dates: pd.DatetimeIndex) -> Rows:
    """Return each stretch of days on which the crop got less than it asks: from_ms, to_ms, first_day, days, short_l."""
    trace = tank.trace
    missing = (trace.demand_mm - trace.uptake_mm) * trace.planted_m2
    return [
        {
            "from_ms": moment_ms(dates[first]),
            "to_ms": moment_ms(dates[last] + ONE_DAY),
            "first_day": day_text(dates[first]),
            "days": last - first + 1,
            "short_l": float(missing[first : last + 1].sum()),
        }
        for first, last in _stretches(short_of_water(trace))
    ]


def _stretches(flags: Any) -> Iterator[tuple[int, int]]:
    """First and last place of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    for first, behind in zip(edges[::2], edges[1::2], strict=True):
        yield int(first), int(behind) - 1


def tank_totals(tank: TankSeason) -> dict[str, float]:
    """Return what the words of the tank's chart stand on: capacity_l, refills, carried_l, empty_days, short_days
    and of these short_days_with_water in the tank.
    """
    totals = tank.totals
    names = ("refills", "carried_l", "empty_days", "short_days", "short_days_with_water")
    return {"capacity_l": float(tank.trace.capacity_l)} | {name: float(getattr(totals, name)) for name in names}


def ledger_rows(water: SeasonWater, labels: Labels) -> Rows:
    """Return where a season's water comes from and goes to [l per m2 of planted ground]; both sides add up alike.

    Rows: system, label, place, side (`in`, `out`), part, through_plants (whether it is that part), litres. The same
    parts for every season of a kind of system, zeros among them.
    """
    parts = _from_above(water) if water.tank is None else _from_a_tank(water, water.tank)
    ends = {"system": water.system, "label": labels[water.system]}
    return [
        {
            **ends,
            "place": place,
            "side": side,
            "part": part,
            "through_plants": part == THROUGH_THE_PLANTS,
            "litres": _without_rounding(float(litres)),
        }
        for place, (side, part, litres) in enumerate(parts)
    ]


def _without_rounding(litres: float) -> float:
    return 0.0 if abs(litres) < ROUNDING_L else litres


def _from_above(water: SeasonWater) -> list[Part]:
    demand, need = water.demand, water.requirement
    taken, evaporated = demand.crop_evapotranspiration_mm.sum(), demand.evaporation_mm.sum()
    return [
        (BROUGHT_IN, "Given to the bed", need.season_mm),
        (BROUGHT_IN, "Rain into the soil", demand.rain_mm.sum()),
        (BROUGHT_IN, "From the soil's store", taken - demand.effective_rain_mm.sum() - need.net_mm.sum()),
        (WENT_OUT, THROUGH_THE_PLANTS, taken - evaporated),
        (WENT_OUT, "Evaporated from the soil", evaporated),
        (WENT_OUT, "Lost in giving it, or leached", need.season_mm - need.net_mm.sum()),
        (WENT_OUT, "Rain that drained", (demand.rain_mm - demand.effective_rain_mm).sum()),
    ]


def _from_a_tank(water: SeasonWater, tank: TankSeason) -> list[Part]:
    totals, ground, flushed = tank.totals, float(tank.trace.planted_m2), float(water.requirement.flushing_mm)
    evaporated = _evaporated_mm(water, tank)
    return [
        (BROUGHT_IN, "Brought: first fill, refills, flushing", (totals.start_l + totals.carried_l) / ground + flushed),
        (BROUGHT_IN, "Rain into the soil", totals.soil_rain_l / ground),
        (BROUGHT_IN, "Caught by the lid", totals.caught_l / ground),
        (BROUGHT_IN, "From the soil's store", totals.from_soil_l / ground),
        (WENT_OUT, THROUGH_THE_PLANTS, totals.uptake_l / ground - evaporated),
        (WENT_OUT, "Evaporated from the soil", evaporated),
        (WENT_OUT, "Evaporated from the tank", totals.evaporated_l / ground),
        (WENT_OUT, "Spilled and overflowed", (totals.spilled_l + totals.overflow_l) / ground),
        (WENT_OUT, "Drained below the roots", totals.drained_l / ground + flushed),
        (WENT_OUT, "Left in the tank", totals.left_over_l / ground),
    ]


def _evaporated_mm(water: SeasonWater, tank: TankSeason) -> float:
    """Evaporation of the soil over the season [mm], cut with the crop's uptake as the balance cuts both: by day."""
    asked, got = tank.trace.demand_mm, tank.trace.uptake_mm
    met = np.divide(got, asked, out=np.zeros_like(got), where=asked > 0.0)
    return float((met * water.demand.evaporation_mm).sum())


def lifting_rows(appraisal: Appraisal) -> Rows:
    """Return what bringing the water takes in a full year: system, label, water_m3, carrying_h, energy_kwh."""
    return [
        {
            "system": plan.id,
            "label": plan.label,
            "water_m3": appraisal.systems[plan.id]["water_m3"],
            "carrying_h": sum(float(grow(season, appraisal.values).carrying_h.flat[0]) for season in plan.seasons),
            "energy_kwh": appraisal.systems[plan.id]["energy_kwh"],
        }
        for plan in appraisal.layout.structure.systems
    ]


def year_rows(waters: Sequence[SeasonWater], labels: Labels) -> Rows:
    """Return each season's requirement [l per m2] by year of planting: system, label, year, litres, taken (by the
    crop), rain (of use), applied (to the bed, or filled into the tank and not left over)."""
    return [
        {
            "system": water.system,
            "label": labels[water.system],
            "year": water.year,
            "litres": float(water.requirement.season_mm),
            "taken": float(water.demand.crop_evapotranspiration_mm.sum()),
            "rain": float(water.demand.effective_rain_mm.sum()),
            "applied": water.applied_l_per_m2,
        }
        for water in waters
    ]
