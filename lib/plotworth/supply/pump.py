"""Lifting water with a pump: total dynamic head, energy, fuel, and the panel and tank of a solar pump.

Arrays in, arrays out: all arguments broadcast, in the composition (site, draw); months come first.
Key: Dorn (2008) University of Nebraska-Lincoln, Nebraska Pumping Plant Performance Criteria; also Harrison & Tyson,
University of Georgia, Irrigation Pumping Plant Performance.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from plotworth.ground.arrays import Array
from plotworth.ground.conversions import (
    JOULES_PER_KWH,
    KILOWATTS_PER_HORSEPOWER,
    LITRES_PER_US_GALLON,
    M3_PER_THOUSAND_CUBIC_FEET,
    MEGAJOULES_PER_KWH,
    WATT_HOURS_PER_KWH,
)
from plotworth.supply.hydraulics import GRAVITY_M_S2, Lateral, Main

WATER_KG_PER_M3 = 1000.0
KWH_PER_M3_PER_M = WATER_KG_PER_M3 * GRAVITY_M_S2 / JOULES_PER_KWH
"""Hydraulic energy of lifting a cubic metre by a metre: 2.725 Wh."""
SOLAR_PERFORMANCE_LOW, SOLAR_PERFORMANCE_HIGH = 0.7, 0.8
"""Range of what a panel gives in the field over its rating x sun hours (heat, dust, wiring, mismatch)."""


@dataclass(frozen=True)
class Drive:
    """What turns a pump: shaft work from a unit of bought energy, when well set and kept.

    Attributes: the unit in which its energy is bought; shaft work [kWh/unit]; where that comes from.
    """

    unit: str
    shaft_kwh_per_unit: float
    source: str


NEBRASKA = "Dorn (2008), Nebraska Pumping Plant Performance Criteria, converted from hp-h"
DRIVES: Mapping[str, Drive] = MappingProxyType(
    {
        "grid": Drive("kWh", 1.18 * KILOWATTS_PER_HORSEPOWER, NEBRASKA + " per kWh: a motor of 88 %"),
        "diesel": Drive("L", 16.66 * KILOWATTS_PER_HORSEPOWER / LITRES_PER_US_GALLON, NEBRASKA + " per US gallon"),
        "petrol": Drive("L", 11.5 * KILOWATTS_PER_HORSEPOWER / LITRES_PER_US_GALLON, NEBRASKA + " per US gallon"),
        "propane": Drive("L", 9.2 * KILOWATTS_PER_HORSEPOWER / LITRES_PER_US_GALLON, NEBRASKA + " per US gallon"),
        "natural gas": Drive(
            "m3", 82.2 * KILOWATTS_PER_HORSEPOWER / M3_PER_THOUSAND_CUBIC_FEET, NEBRASKA + " per 1000 cubic feet"
        ),
    }
)
"""Drives of farm size at their criterion. Small engines do far worse: `energy_per_m3` takes the share reached."""


@dataclass(frozen=True)
class Source:
    """A well, borehole or open water as the pump meets it, in the dry season.

    Attributes, any shapes that broadcast: depth of the resting water below ground at the source [m];
    specific capacity [m3/h per m of drawdown], above 0, infinite for open water.
    """

    static_level_m: ArrayLike
    specific_capacity_m3_per_h_per_m: ArrayLike

    def drawdown_m(self, flow_m3_per_h: ArrayLike) -> Array:
        """Return how far the water sinks [m] while a flow [m3/h] is pumped: flow / specific capacity."""
        return np.asarray(flow_m3_per_h, np.float64) / np.asarray(self.specific_capacity_m3_per_h_per_m, np.float64)


@dataclass(frozen=True)
class Head:
    """The terms of a total dynamic head, each [m of water], any shapes that broadcast.

    The rise is from the ground at the source to the highest outlet (or the inlet of the tank, where a tank feeds
    the field by itself; then the operating pressure at the pump is 0).
    """

    static_level_m: Array
    drawdown_m: Array
    rise_m: Array
    filter_and_fittings_m: Array
    mains_m: Array
    laterals_m: Array
    operating_pressure_m: Array

    @property
    def total_m(self) -> Array:
        """The total dynamic head [m]: the sum of the terms."""
        total = np.zeros(())
        for term in fields(self):
            total = total + getattr(self, term.name)
        return total


def total_dynamic_head(
    flow_m3_per_h: ArrayLike,
    source: Source,
    main: Main,
    lateral: Lateral | None,
    *,
    rise_m: ArrayLike,
    filter_and_fittings_m: ArrayLike,
    operating_pressure_m: ArrayLike,
) -> Head:
    """Return the head a pump must give, term by term.

    Parameters: flow of the pump [m3/h]; source; main from the pump to the field; the longest lateral, or None
    where the pump fills a tank; rise to the field, filter and fittings, operating pressure [m of water]
    (1 bar is 10.2 m). A fall to the field is a negative rise.
    Returns: the terms [m] and their sum.
    Equation: method statement of the project: dry-season static level + drawdown + rise + filter and fittings
    + mains (Hazen-Williams) + laterals (Darcy-Blasius, Christiansen) + operating pressure. The velocity head
    is left out: 0.1 m at 1.5 m/s.
    """
    return Head(
        static_level_m=np.asarray(source.static_level_m, np.float64),
        drawdown_m=source.drawdown_m(flow_m3_per_h),
        rise_m=np.asarray(rise_m, np.float64),
        filter_and_fittings_m=np.asarray(filter_and_fittings_m, np.float64),
        mains_m=main.loss_m(flow_m3_per_h),
        laterals_m=np.zeros(()) if lateral is None else lateral.loss_m,
        operating_pressure_m=np.asarray(operating_pressure_m, np.float64),
    )


def hydraulic_kwh(volume_m3: ArrayLike, head_m: ArrayLike) -> Array:
    """Return the energy the water gains: volume [m3] x head [m] x rho g, in kWh (2.725 Wh per m3 per m)."""
    return np.asarray(volume_m3, np.float64) * np.asarray(head_m, np.float64) * KWH_PER_M3_PER_M


def hydraulic_kw(flow_m3_per_h: ArrayLike, head_m: ArrayLike) -> Array:
    """Return the power the water takes up [kW] at a flow [m3/h] and head [m]: Q rho g H / 3.6e6."""
    return hydraulic_kwh(flow_m3_per_h, head_m)


def shaft_kw(flow_m3_per_h: ArrayLike, head_m: ArrayLike, pump_efficiency: ArrayLike) -> Array:
    """Return the power on the pump's shaft [kW] at a flow [m3/h], head [m] and pump efficiency [share], above 0."""
    return hydraulic_kw(flow_m3_per_h, head_m) / np.asarray(pump_efficiency, np.float64)


def energy_per_m3(
    head_m: ArrayLike, pump_efficiency: ArrayLike, shaft_kwh_per_unit: ArrayLike, *, share_reached: ArrayLike = 1.0
) -> Array:
    """Return the energy bought for each cubic metre lifted, in the drive's unit.

    Parameters: head [m]; pump efficiency [share], above 0; shaft work from a unit of energy [kWh/unit], above 0:
    the efficiency of a motor for electricity, `DRIVES` for fuels; share of that which the drive reaches
    [share], above 0, 1 for a drive at its criterion.
    Returns: units per m3: kWh of electricity, L of diesel, petrol or propane, m3 of gas.
    Equation: 0.002725 H / (pump efficiency x shaft work x share reached).
    """
    shaft_kwh = hydraulic_kwh(1.0, head_m) / np.asarray(pump_efficiency, np.float64)
    return shaft_kwh / (np.asarray(shaft_kwh_per_unit, np.float64) * np.asarray(share_reached, np.float64))


def peak_sun_hours(solar_mj_per_m2: ArrayLike) -> Array:
    """Return the hours at 1 kW per m2 that make up a day's radiation in the panel's plane [MJ per m2 and day]."""
    return np.asarray(solar_mj_per_m2, np.float64) / MEGAJOULES_PER_KWH


def solar_panel_w(daily_kwh: ArrayLike, sun_h: ArrayLike, performance_share: ArrayLike) -> Array:
    """Return the panel that a solar pump needs.

    Parameters: electricity of a day [kWh/day], shape (...), or (12, ...) by month; full sun hours of a day [h],
    above 0, same months; performance [share], 0.7 to 0.8.
    Returns: W of rated panel, same shape. Equation: daily Wh / (sun hours x performance).
    """
    rated_hours = np.asarray(sun_h, np.float64) * np.asarray(performance_share, np.float64)
    return np.asarray(daily_kwh, np.float64) * WATT_HOURS_PER_KWH / rated_hours


def worst_month_panel_w(daily_kwh: ArrayLike, sun_h: ArrayLike, performance_share: ArrayLike) -> Array:
    """Return the panel that serves every month: the largest of `solar_panel_w`, months first.

    Parameters: electricity of a day [kWh/day] and full sun hours [h], shape (months, ...), months that are
    pumped in; performance [share]. Returns: W, shape (...).
    """
    largest: Array = np.max(solar_panel_w(daily_kwh, sun_h, performance_share), axis=0)
    return largest


def solar_flow_m3_per_h(daily_m3: ArrayLike, sun_h: ArrayLike) -> Array:
    """Return the flow [m3/h] at which a day's water [m3/day] must be pumped in its full sun hours [h], above 0.

    It is this flow, not the day's mean, that draws the well down and rubs in the pipes.
    """
    return np.asarray(daily_m3, np.float64) / np.asarray(sun_h, np.float64)


def tank_m3(daily_m3: ArrayLike, days_stored: ArrayLike) -> Array:
    """Return the tank [m3] that bridges days without sun: a day's water [m3/day] x days [day]."""
    return np.asarray(daily_m3, np.float64) * np.asarray(days_stored, np.float64)
