"""Which inputs a panel on water offers: tank, wick, lid and visits, watering, the way to the source, the well."""

from collections.abc import Iterator, Sequence

from plotworth.choose.controls import Control, control_of
from plotworth.choose.layout import Layout
from plotworth.choose.structure import SeasonPlan, SystemPlan

FIRST = (
    "refill_interval_days",
    "wick_flow_l_per_day",
    "wick_conductivity_m_per_day",
    "days_to_empty",
    "tank_l_per_unit",
    "wetted_share",
    "carry_distance_m",
    "static_level_m",
)
MORE = (
    "lid_m2_per_unit",
    "lid_rain_caught_share",
    "watering_interval_days",
    "application_efficiency_share",
    "cover_demand_share",
    "rooting_depth_m",
    "growing_days",
    "soil_salinity_ds_m",
    "carry_load_l",
    "pump_efficiency_share",
)


def water_controls(layout: Layout) -> list[Control]:
    """Return the controls of water that matter most, in the season of the main crop, as far as the book states them.

    A label names its system where the row holds for one system alone; each address comes once.
    """
    return _controls(layout, FIRST)


def more_water_controls(layout: Layout) -> list[Control]:
    """Return the other controls of water, in the same way."""
    return _controls(layout, MORE)


def _controls(layout: Layout, names: Sequence[str]) -> list[Control]:
    seen: dict[str, Control] = {}
    for name in names:
        for address, system in _addresses(layout, name):
            one = layout.inputs[address]
            if one.value == one.value and address not in seen:
                own = f"{one.label}: {system.label}" if "/" in address and f"/{system.id}" in address else one.label
                seen[address] = control_of(one, own)
    return list(seen.values())


def _addresses(layout: Layout, name: str) -> Iterator[tuple[str, SystemPlan]]:
    computed = {item.address: item for item in layout.structure.computed}
    for system in layout.structure.systems:
        plan = _main_season(layout, system)
        if name in plan.water:
            yield plan.water[name], system
        for address in plan.addresses.values():
            if address in computed and name in computed[address].inputs:
                yield computed[address].inputs[name], system


def _main_season(layout: Layout, system: SystemPlan) -> SeasonPlan:
    return next((plan for plan in system.seasons if plan.crop == layout.structure.main_crop), system.seasons[0])
