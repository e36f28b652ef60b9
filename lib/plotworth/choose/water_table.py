"""A season's water as tables to read: by month, in all, the tank and who fills it."""

import math
from collections.abc import Mapping, Sequence

from plotworth.choose.appraise import Appraisal
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.missed_visits import MissedVisits
from plotworth.choose.tank_season import TankSeason
from plotworth.choose.water_chart_rows import Labels, day_text, rain_kept_mm
from plotworth.choose.watering import SeasonWater
from plotworth.ground.amounts import amount_text, figures_text, share_text
from plotworth.ground.arrays import Array
from plotworth.supply.requirement import by_month
from plotworth.supply.reservoir_trace import from_soil_mm

MONTH_ROWS: Mapping[str, tuple[str, str]] = {
    "days": ("Days of the season", "day"),
    "crop_evapotranspiration_mm": ("The crop takes (evapotranspiration)", "L/m²"),
    "rain_mm": ("Rain into the soil", "L/m²"),
    "effective_rain_mm": ("Rain the crop could use, soil kept moist", "L/m²"),
    "net_mm": ("To be given, net", "L/m²"),
    "gross_mm": ("To be given, gross", "L/m²"),
}
SUPPLY_ROWS: Mapping[str, tuple[str, str]] = {
    "carried_mm": ("Filled into the tank", "L/m²"),
    "wick_mm": ("Lifted by the wick", "L/m²"),
    "kept_mm": ("Rain that stays with the roots", "L/m²"),
    "soil_mm": ("From the soil's store (below 0: put into it)", "L/m²"),
    "uptake_mm": ("The plants get", "L/m²"),
    "short_mm": ("Short", "L/m²"),
}
SEASON_ROWS: Mapping[str, tuple[str, str]] = {
    "days": ("Days of the season", "day"),
    "taken": ("The crop takes (evapotranspiration)", "L/m²"),
    "evaporated": ("of it from the soil's surface", "L/m²"),
    "rain": ("Rain into the soil", "L/m²"),
    "effective_rain": ("Rain the crop could use, soil kept moist", "L/m²"),
    "net": ("Requirement, net", "L/m²"),
    "gross": ("Requirement, gross", "L/m²"),
    "flushing": ("To flush salt down", "L/m²"),
    "leaching_share": ("Leaching, of the water given", "%"),
    "applied": ("To be applied, first fill counted and what is left over not", "L/m²"),
    "peak_gross": ("Gross requirement a day in the peak month", "L/m²/day"),
    "peak_source": ("The same at the source, what is lost on the way counted", "L/m²/day"),
}
TANK_ROWS: Mapping[str, tuple[str, str]] = {
    "capacity": ("One tank holds", "L"),
    "planted": ("Ground that it waters", "m²"),
    "plants": ("Plants on it", ""),
    "wick": ("Its wicks lift, tank half full and soil half dry", "L/day"),
    "days_to_empty": ("From full to empty in the peak month, no rain", "day"),
    "buffer": ("Days before plants are short if nobody comes, from the peak month on", "day"),
    "refills": ("Fillings in the season", ""),
    "carried": ("Carried to one tank, first fill apart", "L"),
    "carried_area": ("The same by planted ground", "L/m²"),
    "carried_visit": ("Carried to one tank at a filling, mean", "L"),
    "empty": ("Evenings on which it is empty", ""),
    "short": ("Days on which plants get less than they ask", "day"),
    "short_with_water": ("of them with water in the tank: the wick is too slow", "day"),
    "uptake_share": ("Plants get, of what they ask", "%"),
    "yield_low": ("Yield left by short water: low end", "%"),
    "yield_high": ("Yield left by short water: high end", "%"),
}
SHARES = frozenset({"leaching_share", "uptake_share", "yield_low", "yield_high"})
NAN = float("nan")
COUNTED = {
    "trial": "as the trial measured",
    "typed": "as the book states",
    "computed": "which is this requirement, mean over the years of weather",
    "unknown": "which is unknown",
    "absent": "for the book states none",
}
"""Where the water that the appraisal counts comes from, by the origin of its input."""


def month_table(water: SeasonWater, labels: Labels) -> FigureTable:
    """Return the water of a season by month, the whole season last; with a tank, what it supplies below."""
    months, rows = water.months, dict(MONTH_ROWS)
    if water.tank is not None:
        months = months.merge(by_month(water.weather.dates, _supplied_mm(water.tank)).drop(columns="days"), on="month")
        rows |= SUPPLY_ROWS
    heads = tuple(f"{first:%B %Y}" for first in months["month"])
    cells = {name: [*months[name].astype(float), float(months[name].sum())] for name in rows}
    title = f"{labels[water.system]}, {water.crop} in {water.season}: water by month"
    return FigureTable(title, (*heads, "Season"), written(rows, cells))


def _supplied_mm(tank: TankSeason) -> dict[str, Array]:
    trace = tank.trace
    return {
        "carried_mm": (trace.carried_l - trace.spilled_l) / trace.planted_m2,
        "wick_mm": trace.wick_l / trace.planted_m2,
        "kept_mm": rain_kept_mm(trace),
        "soil_mm": from_soil_mm(trace),
        "uptake_mm": trace.uptake_mm,
        "short_mm": trace.demand_mm - trace.uptake_mm,
    }


def season_table(waters: Sequence[SeasonWater], labels: Labels) -> FigureTable:
    """Return the water of a season in all, a column for each of the waters given (one season, several systems)."""
    found = [_season_figures(water) for water in waters]
    peaks = tuple(f"{water.peak_month:%B %Y}" for water in waters)
    rows = [*written(SEASON_ROWS, by_row(SEASON_ROWS, found)), FigureRow("Peak month", "", peaks)]
    season = ", ".join(dict.fromkeys(f"{water.crop} in {water.season}" for water in waters))
    return FigureTable(f"{season}: water of the season", _heads(waters, labels), tuple(rows))


def _season_figures(water: SeasonWater) -> dict[str, float]:
    demand, need = water.demand, water.requirement
    return {
        "days": float(len(water.weather.dates)),
        "taken": float(demand.crop_evapotranspiration_mm.sum()),
        "evaporated": float(demand.evaporation_mm.sum()),
        "rain": float(demand.rain_mm.sum()),
        "effective_rain": float(demand.effective_rain_mm.sum()),
        "net": float(need.net_mm.sum()),
        "gross": float(need.gross_mm.sum()),
        "flushing": float(need.flushing_mm),
        "leaching_share": water.leaching_share,
        "applied": water.applied_l_per_m2,
        "peak_gross": water.peak_gross_mm_per_day,
        "peak_source": water.peak_requirement_l_per_m2_per_day,
    }


def tank_table(waters: Sequence[SeasonWater], labels: Labels) -> FigureTable | None:
    """Return one tank, its fillings and what its plants get, a column for each season with a tank; None without."""
    tanks = [(water, water.tank) for water in waters if water.tank is not None]
    if not tanks:
        return None
    cells = by_row(TANK_ROWS, [_tank_figures(tank) for _, tank in tanks])
    heads = _heads([water for water, _ in tanks], labels)
    return FigureTable("one tank and who fills it", heads, written(TANK_ROWS, cells))


def _tank_figures(tank: TankSeason) -> dict[str, float]:
    totals, left = tank.totals, tank.yield_left
    refills, carried = float(totals.refills), float(totals.carried_l)
    return {
        "capacity": float(tank.trace.capacity_l),
        "planted": float(tank.trace.planted_m2),
        "plants": float(tank.trace.plants),
        "wick": tank.wick_l_per_day,
        "days_to_empty": tank.days_to_empty,
        "buffer": tank.buffer_days,
        "refills": refills,
        "carried": carried,
        "carried_area": tank.carried_l_per_m2,
        "carried_visit": carried / refills if refills else NAN,
        "empty": float(totals.empty_days),
        "short": float(totals.short_days),
        "short_with_water": float(totals.short_days_with_water),
        "uptake_share": float(totals.uptake_share),
        "yield_low": NAN if left is None else float(left.low),
        "yield_high": NAN if left is None else float(left.high),
    }


def counted_sentences(appraisal: Appraisal, waters: Sequence[SeasonWater], labels: Labels) -> list[str]:
    """Return beside each requirement what the appraisal counts as applied, and where it has that from."""
    return [_counted_sentence(appraisal, water, labels[water.system]) for water in waters]


def _counted_sentence(appraisal: Appraisal, water: SeasonWater, label: str) -> str:
    plan = next(s for s in appraisal.layout.structure.system(water.system).seasons if s.season == water.season)
    address = plan.addresses["water_applied_l_per_m2"]
    origin = COUNTED[appraisal.layout.inputs[address].origin]
    counted = appraisal.values[address].item()
    told = (
        f"{label}: {amount_text(water.applied_l_per_m2, 'L/m²')} are to be applied by the requirement worked out here"
    )
    if math.isnan(counted):
        return f"{told}; what the appraisal is to count is unknown."
    return f"{told}; the appraisal counts {amount_text(counted, 'L/m²')}, {origin}."


def missed_visit_sentence(missed: MissedVisits, label: str) -> str:
    """Return what becomes of the plants where the visit is missed whose loss costs them most water."""
    worst, planned = missed.worst, missed.planned
    if worst is None:
        return f"{label}: nobody is to come in this season, so no visit can be missed."
    if not worst.short_days:
        return f"{label}: whichever single visit is missed, the plants are still not short."
    by = f" by {worst.who}" if len({visit.who for visit in missed.visits}) > 1 else ""
    visit = f"{label}: if the visit of {day_text(worst.date)}{by} is missed and not made up for"
    with_all = share_text(planned.uptake_share)
    got = f"{share_text(worst.uptake_share)} of the water they ask ({with_all} with every visit)"
    instead = f" instead of {planned.short_days}" if planned.short_days else ""
    short = f"the plants are short on {_days(worst.short_days)}{instead}"
    return f"{visit}, {short} and get {got}; no other visit matters more."


def _days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"


def _heads(waters: Sequence[SeasonWater], labels: Labels) -> tuple[str, ...]:
    """A head for each water: its system's label, with the season where the waters are of several."""
    several = len({water.season for water in waters}) > 1
    return tuple(labels[water.system] + (f", {water.season}" if several else "") for water in waters)


def by_row(rows: Mapping[str, tuple[str, str]], found: Sequence[Mapping[str, float]]) -> dict[str, list[float]]:
    """Return figures of several columns as cells by row; NaN where a column does not hold one."""
    return {name: [figures.get(name, NAN) for figures in found] for name in rows}


def written(rows: Mapping[str, tuple[str, str]], cells: Mapping[str, Sequence[float]]) -> tuple[FigureRow, ...]:
    """Return rows to read: label, unit and cells by name; shares in per cent, a dash for what is not a number."""
    return tuple(
        FigureRow(label, unit, tuple(_text(name, value) for value in cells[name]))
        for name, (label, unit) in rows.items()
    )


def _text(name: str, value: float) -> str:
    if not math.isfinite(value):
        return DASH
    return figures_text(100 * value if name in SHARES else value)
