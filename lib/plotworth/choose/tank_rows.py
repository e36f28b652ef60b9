"""The rows of the book that a reservoir unit stands on: tank, soil, wick, lid, and who fills it."""

from dataclasses import dataclass
from math import nan

from plotworth.choose.water_reader import Reader
from plotworth.ground.errors import Fault
from plotworth.supply.visits import Round
from plotworth.supply.wick import Wick, steady_wick, wick_conductance_l_per_m_day

WHO = "whoever refills"
TO_THE_BRIM, CANS_ALONE = 1.0, 0.0
WICK = ("wick_area_m2_per_unit", "wick_length_m", "wick_lift_full_m", "wick_lift_empty_m", "wick_limit_m",
        "soil_suction_wet_m", "soil_suction_dry_m")  # fmt: skip
"""What a wick's flow is worked out from, beside its conductivity."""


@dataclass(frozen=True)
class TankRows:
    """What the book states of one reservoir unit and who fills it; units in the names.

    `wick` is None where its flow is to be read from `days_to_empty` [day], beginning on the day
    `emptied_from_day` of the season, counted from 1. `rounds` are the regular visits of the season.
    """

    tank_l: float
    planted_m2: float
    plants: float
    wick: Wick | None
    days_to_empty: int
    emptied_from_day: int
    available_mm: float
    lid_m2: float
    rain_caught_share: float
    surface_m2: float
    lidded_evaporation_share: float
    dew_l_per_m2: float
    rounds: tuple[Round, ...]


def read_tank_rows(reader: Reader) -> TankRows:
    """Return what the book states of a unit; what is missing goes to `reader.faults`, what was taken to its notes."""
    planted = reader.laid_out("m2_per_unit")
    wick, emptied, from_day = _wick(reader)
    return TankRows(
        tank_l=reader.needed("tank_l_per_unit"),
        planted_m2=planted,
        plants=reader.laid_out("plants_per_m2") * planted,
        wick=wick,
        days_to_empty=emptied,
        emptied_from_day=from_day,
        available_mm=reader.needed("available_water_mm_per_m") * reader.needed("rooting_depth_m"),
        lid_m2=reader.needed("lid_m2_per_unit"),
        rain_caught_share=reader.needed("lid_rain_caught_share"),
        surface_m2=reader.needed("tank_surface_m2_per_unit"),
        lidded_evaporation_share=reader.needed("lidded_evaporation_share"),
        dew_l_per_m2=reader.taken("dew_l_per_m2", 0.0, "no dew counted"),
        rounds=_rounds(reader),
    )


def _rounds(reader: Reader) -> tuple[Round, ...]:
    """Return the visits of the case's table, or one visitor who fills up every so many days."""
    table = reader.case.table("visits")
    own = table[table["system"].isin([reader.system]) & table["season"].isin(["", reader.plan.season])]
    if own.empty:
        every = reader.whole("refill_interval_days", reader.needed("refill_interval_days"))
        reader.notes.append(f"Visits: {WHO} fills the tank to the brim every {every} days; no visit is missed.")
        return (Round(WHO, every, every, brought_l=0.0, filled_share=TO_THE_BRIM),)
    if "refill_interval_days" in reader.plan.water:
        reader.notes.append("Refill interval: visits.csv says who comes when, so that the row is not used.")
    reader.notes.append("Visits: as visits.csv plans them; no visit is missed.")
    return tuple(
        _round(str(who), int(first), int(every), float(litres))
        for who, first, every, litres in zip(
            own["who"], own["first_day"], own["every_days"], own["litres"].astype(float), strict=True
        )
    )


def _round(who: str, first_day: int, every_days: int, litres: float) -> Round:
    """Return a visitor's round; no litres stated: to the brim."""
    if litres != litres:
        return Round(who, first_day - 1, every_days, brought_l=0.0, filled_share=TO_THE_BRIM)
    return Round(who, first_day - 1, every_days, brought_l=litres, filled_share=CANS_ALONE)


def _wick(reader: Reader) -> tuple[Wick | None, int, int]:
    """Return the wick as its flow or its make is stated; else the days from full to empty and the day they began."""
    flow = reader.stated("wick_flow_l_per_day")
    if flow is not None:
        reader.notes.append("The wick lifts the same at every level and in every soil drier than field capacity.")
        return steady_wick(flow), 0, 0
    if reader.stated("wick_conductivity_m_per_day") is not None:
        return _wick_as_made(reader), 0, 0
    if reader.stated("days_to_empty") is None:
        reader.miss("wick_flow_l_per_day")
        reader.faults[-1] = _or_another_way(reader.faults[-1])
        return None, 0, 0
    reader.notes.append("The wick lifts the same at every level and in every soil drier than field capacity.")
    names = ("days_to_empty", "days_to_empty_from_day")
    days, first = (reader.whole(name, reader.needed(name)) for name in names)
    return None, days, first


def _wick_as_made(reader: Reader) -> Wick:
    """Return the wick of stated conductivity, area and length; its flow falls with the level in the tank."""
    area, length, full, empty, limit, wet, dry = (reader.needed(name) for name in WICK)
    for name, upper, low, high in (
        ("wick_lift_empty_m", "wick_lift_full_m", full, empty),
        ("soil_suction_dry_m", "soil_suction_wet_m", wet, dry),
    ):
        if high < low:
            reader.fault(name, f"{high:g}", f"must not lie below {upper}, {low:g} m", "correct one of them")
    reader.notes.append(
        "The wick's flow follows conductivity, area, length, lift and suction; suction on a straight line from field "
        "capacity to the dry end, the project's own assumption."
    )
    conductivity = reader.needed("wick_conductivity_m_per_day")
    conductance = wick_conductance_l_per_m_day(conductivity, area, length) if length > 0 else nan
    return Wick(float(conductance), wet, dry, limit, full, empty)


def _or_another_way(fault: Fault) -> Fault:
    remedy = (
        f"{fault.remedy}; or rows days_to_empty and days_to_empty_from_day in day, from which it is read; or "
        f"wick_conductivity_m_per_day and what goes with it"
    )
    return Fault(fault.file, fault.line, fault.name, fault.found, fault.rule, remedy)
