"""Values that are worked out from other values: closed formulas of the supply floor, run inside the composition.

A book row whose value is the word `computed` takes its number from the inputs listed here, so that a dial on
one of them moves the answer. A computed value may stand on another; the order of `Structure.computed` says so.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.ground.arrays import Array
from plotworth.supply.carrying import hours_per_m3, trip_minutes
from plotworth.supply.hydraulics import Main
from plotworth.supply.pump import Source, energy_per_m3, total_dynamic_head
from plotworth.supply.well import served_area_m2

HARVEST_SHARE, PRICE_INDEX = "/harvest_share", "/price_index"
"""Ends of the addresses of a month of prices.csv: prices/<crop>/<month>."""
NOTHING = np.zeros((1, 1))
Compute = Callable[[Mapping[str, Array]], Array]


@dataclass(frozen=True)
class Formula:
    """How a quantity is worked out: the names of its inputs, the formula in words, and the function."""

    inputs: tuple[str, ...]
    words: str
    compute: Compute


@dataclass(frozen=True)
class ComputedItem:
    """A computed value of a case: its address, the quantity's name, and the address of each input."""

    address: str
    name: str
    inputs: Mapping[str, str]


def _carrying(at: Mapping[str, Array]) -> Array:
    minutes = trip_minutes(at["carry_distance_m"], at["carry_pace_km_per_h"], at["carry_fill_pour_min"])
    return hours_per_m3(at["carry_load_l"], minutes)


def _pump_energy(at: Mapping[str, Array]) -> Array:
    head = total_dynamic_head(
        at["pump_flow_m3_per_h"],
        Source(at["static_level_m"], at["specific_capacity_m3_per_h_per_m"]),
        Main(at["main_length_m"], at["main_diameter_mm"], at["main_hazen_williams_c"]),
        None,
        rise_m=at["rise_m"],
        filter_and_fittings_m=at["filter_and_fittings_m"],
        operating_pressure_m=at["operating_pressure_m"],
    )
    return energy_per_m3(head.total_m, at["pump_efficiency_share"], at["motor_efficiency_share"])


def _area_per_well(at: Mapping[str, Array]) -> Array:
    return served_area_m2(
        at["well_yield_m3_per_h"],
        at["pumping_hours_per_day"],
        at["peak_requirement_l_per_m2_per_day"],
        other_use_m3_per_day=at["well_other_use_m3_per_day"],
    )


def _price_factor(at: Mapping[str, Array]) -> Array:
    """Mean of the price indices of the picking months, weighted by the share of the harvest picked in each."""
    months = [name.removesuffix(HARVEST_SHARE) for name in at if name.endswith(HARVEST_SHARE)]
    shares = [at[f"{month}{HARVEST_SHARE}"] for month in months]
    priced = sum(
        (share * at[f"{month}{PRICE_INDEX}"] for month, share in zip(months, shares, strict=True)), start=NOTHING
    )
    return np.asarray(priced / sum(shares, start=NOTHING))


FORMULAS: Mapping[str, Formula] = {
    "carrying_h_per_m3": Formula(
        ("carry_distance_m", "carry_load_l", "carry_pace_km_per_h", "carry_fill_pour_min"),
        "(2 x distance / pace + filling and pouring) / load",
        _carrying,
    ),
    "pump_energy_kwh_per_m3": Formula(
        (
            "static_level_m",
            "specific_capacity_m3_per_h_per_m",
            "pump_flow_m3_per_h",
            "rise_m",
            "filter_and_fittings_m",
            "main_length_m",
            "main_diameter_mm",
            "main_hazen_williams_c",
            "operating_pressure_m",
            "pump_efficiency_share",
            "motor_efficiency_share",
        ),
        "0.002725 x total dynamic head / (pump efficiency x motor efficiency)",
        _pump_energy,
    ),
    "price_factor": Formula(
        (), "sum of harvest share x price index over the picking months / sum of shares", _price_factor
    ),
    "area_per_well_m2": Formula(
        (
            "well_yield_m3_per_h",
            "pumping_hours_per_day",
            "peak_requirement_l_per_m2_per_day",
            "well_other_use_m3_per_day",
        ),
        "1000 x (well yield x pumping hours - other uses) / peak requirement",
        _area_per_well,
    ),
}


def with_computed(items: Sequence[ComputedItem], values: Mapping[str, Array]) -> Mapping[str, Array]:
    """Return the values with those that are worked out from others put in, or replaced where they stood."""
    if not items:
        return values
    filled = dict(values)
    for item in items:
        at = {name: filled[address] for name, address in item.inputs.items()}
        filled[item.address] = FORMULAS[item.name].compute(at)
    return filled
