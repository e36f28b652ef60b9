"""The rows of the book that a season's water stands on: read for one season, what is missing named all at once."""

from dataclasses import dataclass

from plotworth.case.settings import RESERVOIR
from plotworth.choose.tank_rows import TankRows, read_tank_rows
from plotworth.choose.water_reader import Reader
from plotworth.ground.errors import PlotworthError
from plotworth.ground.handbook import application_efficiency

RAIN = "rain"
HANDBOOK_METHODS = {"drip": "drip", "furrow": "surface", "sprinkler": "sprinkler"}
RAINPROOF_COVERS = ("tunnel", "house")
NO_COVER = "none"


@dataclass(frozen=True)
class WaterRows:
    """What the book states of a season's water; units in the names.

    `interval_days` between waterings; `leaching_ds_m` is salt in the water and in the soil [dS/m], None where not
    both are stated; `growing_days` None where the months of the season count; `stage_row` counted from 1;
    `tank` None where the water does not rise from a reservoir.
    """

    application_share: float
    wetted_share: float
    covered_share: float
    rain_through_cover: float
    evaporable_mm: float
    readily_evaporable_mm: float
    interval_days: int
    growing_days: int | None
    stage_row: int
    staked: bool
    cover_demand_share: float
    rain_share: float
    delivery_share: float
    leaching_ds_m: tuple[float, float] | None
    flushing_mm: float
    tank: TankRows | None


def read_water_rows(reader: Reader) -> WaterRows:
    """Return what the book states of a season's water; what is missing goes to `reader.faults`, what was taken instead
    to `reader.notes`. Errors: PlotworthError where the system has no way of watering.
    """
    method = reader.case.settings.system(reader.system).water_method
    if method in ("", RAIN):
        said = "names no water_method" if not method else "is watered by rain alone"
        raise PlotworthError(f"the system {reader.system} {said}, so that no requirement can be told; see case.toml")
    tank = read_tank_rows(reader) if method == RESERVOIR else None
    covered, through = _covered(reader, tank)
    demand_share, rain_share = _cover(reader)
    evaporable, readily = _surface_layer(reader)
    growing = reader.stated("growing_days")
    return WaterRows(
        application_share=_application(reader, method),
        wetted_share=0.0 if tank else reader.needed("wetted_share"),
        covered_share=covered,
        rain_through_cover=through,
        evaporable_mm=evaporable,
        readily_evaporable_mm=readily,
        interval_days=1 if tank else reader.whole("watering_interval_days", reader.needed("watering_interval_days")),
        growing_days=None if growing is None else reader.whole("growing_days", growing),
        stage_row=reader.whole("stage_row", reader.taken("stage_row", 1, "the handbook's first row of the crop")),
        staked=reader.taken("staked", 0.0, "the crop stands without stakes") > 0,
        cover_demand_share=demand_share,
        rain_share=rain_share,
        delivery_share=reader.laid_out("delivery_share"),
        leaching_ds_m=None if tank else _salt(reader),
        flushing_mm=reader.taken("flushing_l_per_m2", 0.0, "no flushing by hand") if tank else 0.0,
        tank=tank,
    )


def _application(reader: Reader, method: str) -> float:
    name = "application_efficiency_share"
    if method == RESERVOIR:
        return reader.taken(name, 1.0, "what a wick lifts comes to the roots; the tank's own losses are in its balance")
    if method not in HANDBOOK_METHODS:
        return reader.needed(name)
    row = application_efficiency(HANDBOOK_METHODS[method])
    return reader.taken(name, row.share, f"{row.source}, {row.table}, {row.method}")


def _surface_layer(reader: Reader) -> tuple[float, float]:
    evaporable, readily = reader.needed("evaporable_water_mm"), reader.needed("readily_evaporable_water_mm")
    if readily >= evaporable:
        rule = f"must lie below the evaporable water, {evaporable:g} mm"
        reader.fault("readily_evaporable_water_mm", f"{readily:g}", rule, "see FAO-56 Table 19")
    return evaporable, readily


def _covered(reader: Reader, tank: TankRows | None) -> tuple[float, float]:
    """Share of the ground that is covered, and share of the rain on it that enters the soil."""
    if tank is None:
        return reader.taken("covered_share", 0.0, "bare ground"), 1.0
    if reader.stated("covered_share"):
        reader.notes.append("Mulched ground: left out of account; the lid's share of the bed is counted as covered.")
    reader.notes.append(
        "Water rises from below: the surface of the soil stays dry, and nothing is counted for leaching."
    )
    reader.notes.append("The tank stands in the bed: its lid covers ground, and rain it does not catch runs onto it.")
    if tank.lid_m2 > tank.planted_m2:
        rule = f"must not be larger than the bed of one unit, {tank.planted_m2:g} m2"
        reader.fault("lid_m2_per_unit", f"{tank.lid_m2:g}", rule, "correct lid or m2_per_unit")
    return tank.lid_m2 / tank.planted_m2, 1.0 - tank.rain_caught_share


def _cover(reader: Reader) -> tuple[float, float]:
    """Reference evapotranspiration under the system's cover over that outside, and share of the rain let through."""
    cover = reader.case.settings.system(reader.system).cover
    if cover == NO_COVER:
        return 1.0, 1.0
    rainproof = cover in RAINPROOF_COVERS
    reader.notes.append(f"Under the {cover}: {'no rain' if rainproof else 'all rain'} comes through; wind and humidity")
    reader.notes[-1] += " are taken as outside."
    return reader.needed("cover_demand_share"), 0.0 if rainproof else 1.0


def _salt(reader: Reader) -> tuple[float, float] | None:
    water, soil = reader.stated("water_salinity_ds_m"), reader.stated("soil_salinity_ds_m")
    if water is None and soil is None:
        reader.notes.append("Salt in water and soil: not stated, so that no water is counted for leaching.")
        return None
    return reader.needed("water_salinity_ds_m"), reader.needed("soil_salinity_ds_m")
