"""The three views and the wage views as tables to read, and what they say in sentences."""

from collections.abc import Iterator, Sequence
from typing import Any

from plotworth.choose.appraise import Appraisal, units
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.views import (
    CASH,
    ECONOMIC,
    FAMILY_WAGE,
    FULL,
    FULL_WAGE,
    OFF_SEASON_SHARE,
    OFF_SEASON_WAGE,
    Seen,
    three_views,
    three_wages,
)
from plotworth.ground.amounts import figures_text, money_text, unit_words

MEASURES: Sequence[tuple[str, str, str]] = (
    ("systems", "npv", "NPV"),
    ("against_today", "npv", "NPV against today"),
    ("against_baseline", "npv", "NPV against baseline"),
    ("systems", "equivalent_annual_value", "Even yearly value"),
    ("systems", "benefit_cost_ratio", "Benefit-cost ratio"),
    ("systems", "return_per_family_day", "Return per family day"),
)
WAGE_MEASURES = (("systems", "npv", "NPV"), ("systems", "return_per_family_day", "Return per family day"))
VIEW_WORDS = {CASH: "the cash view", FULL: "the full view", ECONOMIC: "the economic view"}
MEANINGS = (
    "The cash view takes family work at nothing and leaves out what is eaten at home; the full view takes family work "
    "at its wage and food eaten at its farm-gate price; the economic view takes each price at what it is worth to the "
    "economy, with taxes and subsidies left out."
)
NO_FACTORS = (
    "The economic view is the full one here: no economic factor, scarcity value of water or economic discount rate "
    "is stated."
)


def views_table(appraisal: Appraisal) -> FigureTable:
    """Return the measures of every system in the three views, a row for each measure and view."""
    seen = three_views(appraisal.layout, appraisal.values)
    rows = _rows(appraisal, seen, MEASURES, "")
    return FigureTable("measures by view", _labels(appraisal), tuple(rows))


def wage_table(appraisal: Appraisal) -> FigureTable:
    """Return NPV and return per family day by what an hour of family work is valued at, and the wage of a day."""
    rows = _rows(appraisal, three_wages(appraisal.layout, appraisal.values), WAGE_MEASURES, " wage")
    title = "return per family day by what family work is valued at"
    return FigureTable(title, _labels(appraisal), (*rows, *_wage_rows(appraisal)))


def _labels(appraisal: Appraisal) -> tuple[str, ...]:
    return tuple(appraisal.case.settings.system(name).label for name in appraisal.systems)


def _rows(
    appraisal: Appraisal, seen: Sequence[Seen], measures: Sequence[tuple[str, str, str]], word: str
) -> Iterator[FigureRow]:
    unit, settings = units(appraisal.case.settings.currency), appraisal.case.settings
    for part, name, label in measures:
        if part == "against_baseline" and settings.baseline == settings.today:
            continue
        for one in seen:
            figures = one.figures[part]
            cells = tuple(_cell(figures[i][name]) if i in figures else DASH for i in appraisal.systems)
            yield FigureRow(f"{label}: {one.view}{word}", unit_words(unit[name]), cells)


def _cell(value: float) -> str:
    return DASH if value != value else figures_text(value)


def _wage_rows(appraisal: Appraisal) -> Iterator[FigureRow]:
    """Yield what a working day is valued at: at the full wage, and out of season where the book says so."""
    addresses = appraisal.layout.structure.systems[0].addresses
    hour, day, share = (
        float(appraisal.values[addresses[name]][0, 0]) for name in (FAMILY_WAGE, "hours_per_day", OFF_SEASON_SHARE)
    )
    unit, count = f"{appraisal.case.settings.currency}/day", len(appraisal.systems)
    if share == share:
        yield FigureRow(f"Wage of a day: {OFF_SEASON_WAGE}", unit, (_cell(hour * share * day),) * count)
    yield FigureRow(f"Wage of a day: {FULL_WAGE} wage", unit, (_cell(hour * day),) * count)


def views_notes(appraisal: Appraisal) -> list[str]:
    """Return what the views say: which of them orders the systems otherwise, and where a gain becomes a loss."""
    seen = three_views(appraisal.layout, appraisal.values)
    of = {one.view: one for one in seen}
    notes = [MEANINGS, ranking_sentence(appraisal, seen), *_turns(appraisal, seen), *_day_notes(appraisal)]
    return [*notes, NO_FACTORS] if of[ECONOMIC].is_as(of[FULL]) else notes


def ranking_sentence(appraisal: Appraisal, seen: Sequence[Seen]) -> str:
    """Return which view changes the order of the systems by NPV."""
    orders = {one.view: one.ranking() for one in seen}
    if not all(orders.values()):
        return "The order of the systems cannot be said in every view: an assumption is unknown."
    if len(set(orders.values())) == 1:
        return f"By NPV the order is the same in all three views: {_ordered(appraisal, orders[FULL])}."
    other = [f"{VIEW_WORDS[view]} has {_ordered(appraisal, o)}" for view, o in orders.items() if o != orders[FULL]]
    return f"By NPV the full view has the order {_ordered(appraisal, orders[FULL])}; {' and '.join(other)}."


def _ordered(appraisal: Appraisal, order: Sequence[str]) -> str:
    return ", ".join(appraisal.case.settings.system(name).label for name in order)


def _turns(appraisal: Appraisal, seen: Sequence[Seen]) -> Iterator[str]:
    """Yield a sentence for each system that gains against present practice in some views and not in others."""
    for system in appraisal.systems:
        if system == appraisal.case.settings.today:
            continue
        gains = {one.view: one.figures["against_today"][system]["npv"] for one in seen}
        if any(gain != gain for gain in gains.values()) or len({gain > 0 for gain in gains.values()}) == 1:
            continue
        currency, label = appraisal.case.settings.currency, appraisal.case.settings.system(system).label
        words = (f"{money_text(gain, currency)} in {VIEW_WORDS[view]}" for view, gain in gains.items())
        yield f"{label} gains against present practice in one view and not in another: {', '.join(words)}."


def _day_notes(appraisal: Appraisal) -> Iterator[str]:
    """Yield which systems leave a family more for a day of its work than the wage."""
    addresses = appraisal.layout.structure.systems[0].addresses
    wage = float((appraisal.values[addresses[FAMILY_WAGE]] * appraisal.values[addresses["hours_per_day"]])[0, 0])
    days = {name: own["return_per_family_day"] for name, own in appraisal.systems.items()}
    known = {name: value for name, value in days.items() if value == value}
    if wage != wage or not known:
        return
    above = [name for name, value in known.items() if value > wage]
    named = _ordered(appraisal, above) if above else "No system"
    text = f"{money_text(wage, appraisal.case.settings.currency)}"
    yield f"{named} {'bring' if len(above) > 1 else 'brings'} a day of family work more than its wage of {text}."


def view_rows(appraisal: Appraisal) -> list[dict[str, Any]]:
    """Return rows for a chart of the views: view, system, label, npv [money], NaN where it is not known."""
    return [
        {"view": one.view, "system": i, "label": appraisal.case.settings.system(i).label, "npv": own["npv"]}
        for one in three_views(appraisal.layout, appraisal.values)
        for i, own in one.figures["systems"].items()
    ]
