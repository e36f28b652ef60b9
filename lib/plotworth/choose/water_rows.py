"""The rows of the book that a season's water stands on: read for one season, what is missing named all at once."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite, nan

from plotworth.case.folder import BOOK_FILE, Case
from plotworth.choose.layout import Layout
from plotworth.choose.structure import SeasonPlan
from plotworth.ground.arrays import Array
from plotworth.ground.errors import Fault, PlotworthError
from plotworth.ground.glossary import GLOSSARY, unit_text
from plotworth.ground.handbook import application_efficiency

RESERVOIR = "reservoir"
RAIN = "rain"
HANDBOOK_METHODS = {"drip": "drip", "furrow": "surface", "sprinkler": "sprinkler"}
RAINPROOF_COVERS = ("tunnel", "house")
NO_COVER = "none"


@dataclass(frozen=True)
class TankRows:
    """What the book states of one reservoir unit and who fills it; units in the names.

    `wick_l_per_day` is None where it is to be read from `days_to_empty` [day], beginning on the day
    `emptied_from_day` of the season, counted from 1.
    """

    tank_l: float
    planted_m2: float
    plants: float
    wick_l_per_day: float | None
    days_to_empty: int
    emptied_from_day: int
    available_mm: float
    lid_m2: float
    rain_caught_share: float
    surface_m2: float
    lidded_evaporation_share: float
    dew_l_per_m2: float
    refill_interval_days: int


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


@dataclass
class Reader:
    """Reads rows of one season of one system at these values; gathers faults and notes on the way."""

    layout: Layout
    values: Mapping[str, Array]
    system: str
    plan: SeasonPlan
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def case(self) -> Case:
        """The case whose rows are read."""
        return self.layout.case

    def stated(self, name: str) -> float | None:
        """Return the value of a row in the glossary's unit, None where the book states nothing or unknown."""
        if name not in self.plan.water:
            return None
        value = float(self.values[self.plan.water[name]].flat[0])
        return value if isfinite(value) else None

    def needed(self, name: str) -> float:
        """Return what the book states; NaN and a fault where it states nothing."""
        value = self.stated(name)
        if value is None:
            self.miss(name)
        return nan if value is None else value

    def laid_out(self, name: str) -> float:
        """Return a value of the composition (of its first site); NaN and a fault where it is unknown."""
        value = float(self.values[self.plan.addresses[name]].flat[0])
        if not isfinite(value):
            self.miss(name)
        return value

    def taken(self, name: str, value: float, why: str) -> float:
        """Return what the book states, else the value with a note that says why it is taken."""
        stated = self.stated(name)
        if stated is None:
            self.notes.append(f"{GLOSSARY[name].label}: not stated, taken as {value:g} ({why}).")
        return value if stated is None else stated

    def whole(self, name: str, value: float) -> int:
        """Return a number of days or a place in a list as whole; a fault where it is a fraction."""
        if isfinite(value) and value != int(value):
            self.fault(name, f"{value:g}", "must be a whole number", f"write {round(value)}")
        return round(value) if isfinite(value) else 0

    def miss(self, name: str) -> None:
        """Add the fault of a row that is missing, with its unit and meaning."""
        term = GLOSSARY[name]
        unit = unit_text(term.unit, self.case.settings.currency)
        keys = f" for {self.system}" + (f" and {self.plan.crop}" if term.per == "season" else "")
        rule = "the assumption is missing, and the season's water stands on it"
        self.fault(name, "", rule, f"write a row {name}{keys} in {unit}: {term.meaning[:1].lower()}{term.meaning[1:]}")

    def fault(self, name: str, found: str, rule: str, remedy: str) -> None:
        """Add a fault of the book, at the row's line where there is one."""
        at = {**self.plan.addresses, **self.plan.water}.get(name, "")
        line = self.layout.inputs[at].line if at in self.layout.inputs else 0
        self.faults.append(Fault(BOOK_FILE, line, name, found, rule, remedy))


def read_water_rows(reader: Reader) -> WaterRows:
    """Return what the book states of a season's water; what is missing goes to `reader.faults`, what was taken instead
    to `reader.notes`. Errors: PlotworthError where the system has no way of watering.
    """
    method = reader.case.settings.system(reader.system).water_method
    if method in ("", RAIN):
        said = "names no water_method" if not method else "is watered by rain alone"
        raise PlotworthError(f"the system {reader.system} {said}, so that no requirement can be told; see case.toml")
    tank = _tank(reader) if method == RESERVOIR else None
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


def _tank(reader: Reader) -> TankRows:
    planted = reader.laid_out("m2_per_unit")
    flow, emptied, from_day = _wick(reader)
    refill = reader.whole("refill_interval_days", reader.needed("refill_interval_days"))
    return TankRows(
        tank_l=reader.needed("tank_l_per_unit"),
        planted_m2=planted,
        plants=reader.laid_out("plants_per_m2") * planted,
        wick_l_per_day=flow,
        days_to_empty=emptied,
        emptied_from_day=from_day,
        available_mm=reader.needed("available_water_mm_per_m") * reader.needed("rooting_depth_m"),
        lid_m2=reader.needed("lid_m2_per_unit"),
        rain_caught_share=reader.needed("lid_rain_caught_share"),
        surface_m2=reader.needed("tank_surface_m2_per_unit"),
        lidded_evaporation_share=reader.needed("lidded_evaporation_share"),
        dew_l_per_m2=reader.taken("dew_l_per_m2", 0.0, "no dew counted"),
        refill_interval_days=refill,
    )


def _wick(reader: Reader) -> tuple[float | None, int, int]:
    """Flow where it is stated; else the days from full to empty and the day on which they began."""
    flow = reader.stated("wick_flow_l_per_day")
    if flow is not None:
        return flow, 0, 0
    if reader.stated("days_to_empty") is None:
        reader.miss("wick_flow_l_per_day")
        reader.faults[-1] = _or_days_to_empty(reader.faults[-1])
        return nan, 0, 0
    names = ("days_to_empty", "days_to_empty_from_day")
    days, first = (reader.whole(name, reader.needed(name)) for name in names)
    return None, days, first


def _or_days_to_empty(fault: Fault) -> Fault:
    remedy = f"{fault.remedy}; or rows days_to_empty and days_to_empty_from_day in day, from which it is read"
    return Fault(fault.file, fault.line, fault.name, fault.found, fault.rule, remedy)
