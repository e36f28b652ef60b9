"""What each chart of a season's water says in words, made from the rows it is drawn from; see `captions.py`."""

from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import amount_text, figures_text, share_text
from plotworth.show.captions import join_words, plural
from plotworth.show.water_charts import COVERS, PER_AREA

Rows = Sequence[Mapping[str, Any]]
SHARE_DIGITS = 2
SOURCES = ("rain_mm", "watering_mm", "soil_mm")


def _sum(rows: Rows, key: str) -> float:
    return sum(float(row[key]) for row in rows)


def _share(part: float, whole: float) -> str:
    return share_text(part / whole if whole else 0.0, digits=SHARE_DIGITS)


def _area(litres: float) -> str:
    return amount_text(litres, PER_AREA)


def requirement_title(rows: Rows) -> str:
    """Return how much the crop of one system takes in a season, what share each source covers, what is short."""
    taken, short = _sum(rows, "taken_mm"), _sum(rows, "short_mm")
    words = dict(zip(SOURCES, ("rain", str(rows[0]["source"]), "the soil's store"), strict=True))
    covers = [f"{words[key]} {_share(_sum(rows, key), taken)}" for key in SOURCES if _sum(rows, key) > 0]
    missing = f"; {_share(short, taken)} is short" if short > 0 else ""
    return f"{rows[0]['label']}: of {_area(taken)} that the crop takes, {join_words(covers)}{missing}"


def requirement_text(rows: Rows) -> str:
    """Return the spoken form of `requirement_chart`: the season, its greatest week, weeks that are short."""
    most = max(rows, key=lambda row: float(row["taken_mm"]) / float(row["days"]))
    daily = _area(float(most["taken_mm"]) / float(most["days"]))
    parts = [f"{words.lower()} {_area(_sum(rows, key))}" for key, (words, _) in COVERS.items()]
    weeks = [row for row in rows if float(row["short_mm"]) > 0]
    worst = max(rows, key=lambda row: float(row["short_mm"]))
    short = f" Short in {plural(len(weeks), 'week')}, most in week {worst['week']}." if weeks else ""
    return (
        f"Column chart by week from {rows[0]['first_day']}, {plural(len(rows), 'week')}, {rows[0]['label']}. The crop "
        f"takes {_area(_sum(rows, 'taken_mm'))}: {', '.join(parts)}. Most in week {most['week']}, from "
        f"{most['first_day']}: {daily} a day.{short}"
    )


def level_title(label: str, totals: Mapping[str, float]) -> str:
    """Return how often one tank is filled and whether its plants are short, by `tank_totals`."""
    tank = f"{label}, one tank of {amount_text(totals['capacity_l'], 'L')}"
    filled = f"filled {_times(totals['refills'])} with {amount_text(totals['carried_l'], 'L')}"
    return f"{tank}: {filled}, {_short_words(totals)}"


def _times(count: float) -> str:
    return "once" if count == 1 else plural(int(count), "time")


def _short_words(totals: Mapping[str, float]) -> str:
    short, with_water = int(totals["short_days"]), int(totals["short_days_with_water"])
    if not short:
        return "its plants never short"
    watered = "all" if with_water == short else "none" if not with_water else str(with_water)
    return f"its plants short on {plural(short, 'day')}, {watered} of them with water left in the tank"


def level_text(label: str, levels: Rows, short: Rows, totals: Mapping[str, float]) -> str:
    """Return the spoken form of `level_chart`: fillings, the lowest level, the stretches that are short."""
    lowest = min(levels, key=lambda row: float(row["litres"]))
    stretches = [f"{plural(int(row['days']), 'day')} from {row['first_day']}" for row in short]
    words = f" Plants are short for {join_words(stretches)}." if stretches else " Plants are never short."
    return (
        f"Line chart of the litres in one tank by day, {label}: {amount_text(totals['capacity_l'], 'L')} when full, "
        f"filled {_times(totals['refills'])}, empty in the evening of {plural(int(totals['empty_days']), 'day')}; "
        f"lowest on {lowest['date']} at {amount_text(float(lowest['litres']), 'L')}.{words}"
    )


def ledger_title(rows: Rows) -> str:
    """Return how much of the water that comes in goes through the plants of one system."""
    coming = _sum([row for row in rows if row["side"] == "in"], "litres")
    through = _sum([row for row in rows if row["through_plants"]], "litres")
    share = _share(through, coming)
    return f"{rows[0]['label']}: of {_area(coming)} that come in, {_area(through)} go through the plants, {share}"


def ledger_text(rows: Rows) -> str:
    """Return the spoken form of `ledger_chart`: every part, what comes in and what goes out."""
    sides = [
        ", ".join(f"{row['part'].lower()} {_area(float(row['litres']))}" for row in rows if row["side"] == side)
        for side in ("in", "out")
    ]
    return f"Stair chart of the water of a season, {rows[0]['label']}. In: {sides[0]}. Out: {sides[1]}."


def lifting_title(rows: Rows, quantity: str, *, heading: str, unit: str) -> str:
    """Return who takes most of a quantity of `lifting_rows` in a year, and who least."""
    ranked = sorted(rows, key=lambda row: float(row[quantity]))
    least, most = float(ranked[0][quantity]), float(ranked[-1][quantity])
    if most == 0:
        return f"{heading}: none in any system"
    none = [str(row["label"]) for row in ranked if float(row[quantity]) == 0]
    other = f"none: {join_words(none)}" if none else f"least: {ranked[0]['label']}, {amount_text(least, unit)}"
    return f"{heading}, most: {ranked[-1]['label']}, {amount_text(most, unit)} a year; {other}"


def lifting_text(rows: Rows, quantity: str, *, heading: str, unit: str) -> str:
    """Return the spoken form of `lifting_chart`."""
    bars = [
        f"{row['label']} {amount_text(float(row[quantity]), unit)} for {amount_text(float(row['water_m3']), 'm³')}"
        for row in rows
    ]
    return f"Bar chart of {heading.lower()} a year by system and the water drawn: {', '.join(bars)}."


def years_title(rows: Rows) -> str:
    """Return how the requirement differs between years of weather, or that one year cannot tell."""
    years = sorted({int(row["year"]) for row in rows})
    if len(years) == 1:
        return f"One year of weather, {years[0]}: how the requirement differs between years is not known"
    return f"Required in {len(years)} years of weather: {join_words(_reaches(rows))}"


def years_text(rows: Rows) -> str:
    """Return the spoken form of `years_chart`."""
    dots = [f"{row['label']} {row['year']} {_area(float(row['litres']))}" for row in rows]
    return f"Dot chart of the water that a season requires, a dot a year of weather: {', '.join(dots)}."


def _reaches(rows: Rows) -> list[str]:
    systems: dict[str, list[float]] = {}
    for row in rows:
        systems.setdefault(str(row["label"]), []).append(float(row["litres"]))
    return [f"{label} {figures_text(min(own))} to {_area(max(own))}" for label, own in systems.items()]
