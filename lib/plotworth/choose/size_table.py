"""The same case at other sizes and with shared wells, as tables to read, and what they say in sentences."""

from collections.abc import Callable, Iterator, Mapping, Sequence

from plotworth.choose.appraise import Appraisal
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.scale_ladder import (
    SharingRow,
    SizeRow,
    has_shared_lines,
    households_served,
    ladder_areas_m2,
    sharing_rows,
    size_rows,
    stepped_items,
    unit_system,
)
from plotworth.choose.structure import AREA
from plotworth.ground.amounts import amount_text, figures_text
from plotworth.money.costs import STEP_SLACK

AREA_UNIT = "m²"
FEW_NAMES = 3
Cell = Callable[[SizeRow], float]


def size_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return NPV per household and per m2, investment and wells of every system by size, a table each."""
    rows = ladder(appraisal)
    currency = appraisal.case.settings.currency
    shown: list[tuple[str, str, Cell]] = [
        ("NPV for each household by size", currency, lambda row: row.npv_per_household),
        ("NPV per gross m² by size", f"{currency}/m²", lambda row: row.npv_per_m2),
        ("investment of the whole by size", currency, lambda row: row.investment),
    ]
    if any(row.wells == row.wells for row in rows):
        shown.append(("wells by size", "", lambda row: row.wells))
    labels = tuple(plan.label for plan in appraisal.layout.structure.systems)
    return [FigureTable(title, labels, tuple(_by_size(rows, unit, cell))) for title, unit, cell in shown]


def ladder(appraisal: Appraisal) -> list[SizeRow]:
    """Return the case at `UNITS` reservoir units, or at set areas where it has no reservoirs."""
    return size_rows(appraisal.layout, appraisal.values, ladder_areas_m2(appraisal.layout, appraisal.values))


def _by_size(rows: Sequence[SizeRow], unit: str, cell: Cell) -> Iterator[FigureRow]:
    for area in dict.fromkeys(row.area_m2 for row in rows):
        here = [row for row in rows if row.area_m2 == area]
        yield FigureRow(size_words(here[0]), unit, tuple(_text(cell(row)) for row in here))


def size_words(row: SizeRow) -> str:
    """Return a size as people read it: `50 units, 171 m²`, the area alone where there are no reservoirs."""
    area = amount_text(row.area_m2, AREA_UNIT)
    return area if row.units != row.units else f"{figures_text(row.units)} units, {area}"


def _text(value: float) -> str:
    return DASH if value != value else figures_text(value)


def sharing_table(appraisal: Appraisal) -> FigureTable | None:
    """Return NPV of one household by how many share, None where no line is shared.

    A dash stands where what is shared has not the capacity for so many.
    """
    if not has_shared_lines(appraisal.layout):
        return None
    rows = sharing_rows(appraisal.layout, appraisal.values)
    labels = tuple(plan.label for plan in appraisal.layout.structure.systems)
    unit = appraisal.case.settings.currency
    table = tuple(_by_count(rows, unit))
    return FigureTable("NPV of one household by how many share what is shared", labels, table)


def _by_count(rows: Sequence[SharingRow], unit: str) -> Iterator[FigureRow]:
    for count in dict.fromkeys(row.households for row in rows):
        cells = (_text(row.npv) if row.is_served else DASH for row in rows if row.households == count)
        yield FigureRow("1 household" if count == 1 else f"{count} households", unit, tuple(cells))


def size_notes(appraisal: Appraisal) -> list[str]:
    """Return who is worth most at which size, who works a size, where another of something is bought, who shares."""
    rows = ladder(appraisal)
    return [
        _best_sentence(appraisal, rows),
        _worked_by(appraisal),
        *_step_sentences(appraisal),
        *_sharing_sentences(appraisal),
    ]


def _best_sentence(appraisal: Appraisal, rows: Sequence[SizeRow]) -> str:
    if any(row.npv != row.npv for row in rows):
        return "Which system is worth most at which size cannot be said: an assumption is unknown."
    best: dict[str, list[str]] = {}
    for row in rows:
        if row.is_best:
            best.setdefault(row.system, []).append(size_words(row))
    words = [f"{appraisal.case.settings.system(name).label} at {'; '.join(at)}" for name, at in best.items()]
    earning = any(row.npv > 0 for row in rows)
    tail = "" if earning else " No system earns back what it costs at any of these sizes."
    return f"Worth most, or losing least: {'. '.join(words)}.{tail}"


def _worked_by(appraisal: Appraisal) -> str:
    own = amount_text(float(appraisal.values[AREA][0, 0]), AREA_UNIT)
    plan = unit_system(appraisal.layout, appraisal.values)
    units = "" if plan is None else f" Units are reservoirs of {plan.label}."
    return (
        f"A household works {own}, the case's own area; smaller sizes are worked by one household, larger ones by as "
        f"many as their areas fill, with one of everything that is not counted by size.{units}"
    )


def _step_sentences(appraisal: Appraisal) -> Iterator[str]:
    """Yield for each system what is bought again above which areas."""
    for plan in appraisal.layout.structure.systems:
        steps = stepped_items(plan, appraisal.values).items()
        words = [f"{_named(items)} above each {amount_text(step, AREA_UNIT)}" for step, items in steps]
        if words:
            yield f"{plan.label} needs another of {'; of '.join(words)}."


def _named(items: Sequence[str]) -> str:
    more = f" and {len(items) - FEW_NAMES} more" if len(items) > FEW_NAMES else ""
    return ", ".join(items[:FEW_NAMES]) + more


def _sharing_sentences(appraisal: Appraisal) -> Iterator[str]:
    if not has_shared_lines(appraisal.layout):
        return
    labels: Mapping[str, str] = {plan.id: plan.label for plan in appraisal.layout.structure.systems}
    for system, count in households_served(appraisal.layout, appraisal.values).items():
        if count < float("inf"):
            served = "no second household" if count < 2 - STEP_SLACK else f"{count:.0f} households"
            yield f"What {labels[system]} shares is enough for {served} of this size."
