"""Who lifts the water, as a table to read: trips and hours of carrying, terms of the head, energy of pumping."""

from collections.abc import Mapping

import numpy as np

from plotworth.choose.appraise import Appraisal
from plotworth.choose.computed import FORMULAS
from plotworth.choose.figure_table import FigureTable
from plotworth.choose.structure import SystemPlan
from plotworth.choose.water_chart_rows import lifting_rows
from plotworth.choose.water_table import by_row, written
from plotworth.ground.conversions import MINUTES_PER_HOUR
from plotworth.supply.carrying import litres_per_hour, trip_minutes
from plotworth.supply.hydraulics import Main
from plotworth.supply.pump import Source, total_dynamic_head

LIFTING_ROWS: Mapping[str, tuple[str, str]] = {
    "water_m3": ("Water drawn in a full year", "m³"),
    "carry_distance_m": ("Carried over, one way", "m"),
    "carry_load_l": ("Load of a trip", "L"),
    "trip_minutes": ("A trip takes", "minute"),
    "litres_per_hour": ("One carrier brings", "L/hour"),
    "carrying_h_per_m3": ("Carrying a cubic metre takes", "hour/m³"),
    "trips": ("Trips in a full year", ""),
    "carrying_h": ("Hours of carrying in a full year", "hour"),
    "static_level_m": ("Lift: water below ground, resting", "m"),
    "drawdown_m": ("Lift: drawdown while pumping", "m"),
    "rise_m": ("Lift: rise from the source to the outlet", "m"),
    "filter_and_fittings_m": ("Lift: filter and fittings", "m"),
    "mains_m": ("Lift: friction in the main", "m"),
    "laterals_m": ("Lift: friction in the laterals", "m"),
    "operating_pressure_m": ("Lift: operating pressure", "m"),
    "total_m": ("Total dynamic head", "m"),
    "energy_kwh_per_m3": ("Pumping a cubic metre takes", "kWh/m³"),
    "energy_kwh": ("Energy of pumping in a full year", "kWh"),
}
CARRYING, PUMPING = "carrying_h_per_m3", "pump_energy_kwh_per_m3"
NAN = float("nan")


def lifting_table(appraisal: Appraisal) -> FigureTable:
    """Return what bringing the water takes by system: trips and hours of carrying, terms of the head, energy.

    Trips and terms are those of the first season and stand where the book lets hours or energy be computed; a dash
    where they are typed, and where a row differs between seasons the sums of the year still hold every season.
    """
    rows = {row["system"]: row for row in lifting_rows(appraisal)}
    found = [_lifting_figures(appraisal, plan, rows[plan.id]) for plan in appraisal.layout.structure.systems]
    labels = tuple(plan.label for plan in appraisal.layout.structure.systems)
    return FigureTable("who lifts the water", labels, written(LIFTING_ROWS, by_row(LIFTING_ROWS, found)))


def _lifting_figures(appraisal: Appraisal, plan: SystemPlan, year: Mapping[str, float]) -> dict[str, float]:
    carrying, pumping = (_inputs(appraisal, plan, name) for name in (CARRYING, PUMPING))
    figures = {name: year[name] for name in ("water_m3", "carrying_h", "energy_kwh")}
    figures[CARRYING] = _value(appraisal, plan, CARRYING)
    figures["energy_kwh_per_m3"] = _value(appraisal, plan, PUMPING)
    if carrying:
        figures |= _carrying_figures(carrying, year["carrying_h"])
    if pumping:
        figures |= _head_figures(pumping)
    return figures


def _value(appraisal: Appraisal, plan: SystemPlan, name: str) -> float:
    address = _addresses(plan).get(name)
    return NAN if address is None else float(appraisal.values[address].flat[0])


def _addresses(plan: SystemPlan) -> dict[str, str]:
    """Addresses of the first season and of what holds all year."""
    first = plan.seasons[0].addresses if plan.seasons else {}
    return {**first, **plan.addresses}


def _inputs(appraisal: Appraisal, plan: SystemPlan, name: str) -> dict[str, float]:
    """Inputs of a computed value by name; none where it is typed."""
    address = _addresses(plan).get(name)
    items = [item for item in appraisal.layout.structure.computed if item.address == address]
    names = FORMULAS[name].inputs if items else ()
    return {part: float(appraisal.values[items[0].inputs[part]].flat[0]) for part in names}


def _carrying_figures(at: Mapping[str, float], carrying_h: float) -> dict[str, float]:
    minutes = float(trip_minutes(at["carry_distance_m"], at["carry_pace_km_per_h"], at["carry_fill_pour_min"]))
    return {
        "carry_distance_m": at["carry_distance_m"],
        "carry_load_l": at["carry_load_l"],
        "trip_minutes": minutes,
        "litres_per_hour": float(litres_per_hour(at["carry_load_l"], minutes)),
        "trips": carrying_h * MINUTES_PER_HOUR / minutes,
    }


def _head_figures(at: Mapping[str, float]) -> dict[str, float]:
    head = total_dynamic_head(
        at["pump_flow_m3_per_h"],
        Source(at["static_level_m"], at["specific_capacity_m3_per_h_per_m"]),
        Main(at["main_length_m"], at["main_diameter_mm"], at["main_hazen_williams_c"]),
        None,
        rise_m=at["rise_m"],
        filter_and_fittings_m=at["filter_and_fittings_m"],
        operating_pressure_m=at["operating_pressure_m"],
    )
    terms = {name: float(np.asarray(value)) for name, value in vars(head).items()}
    return terms | {"total_m": float(head.total_m)}
