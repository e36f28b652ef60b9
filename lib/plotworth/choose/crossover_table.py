"""Where two systems tie, in sentences and tables to read."""

import math
from collections.abc import Iterator, Sequence

from plotworth.choose.appraise import Appraisal
from plotworth.choose.break_even_grid import BreakEvenGrid
from plotworth.choose.case_crossover import CaseCrossover
from plotworth.choose.crossover import REFERENCE_AHEAD, SAME, SYSTEM_AHEAD, BreakEven
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.input_names import input_name
from plotworth.choose.joint_change import JointChange, MovedRow
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH
from plotworth.choose.structure import AREA
from plotworth.choose.switching import SwitchingValue
from plotworth.ground.amounts import NO_BREAK, figures_text, share_text, unit_words

SHARE = "share"
DIGITS = range(3, 8)
SHOWN_ROWS = 20
"""Switching values in the table on the page; all are in the JSON."""
SHOWN_MOVES = 10
STEP_MARK = "*"
BELIEVED = {True: "yes", False: "no", None: DASH}


def value_text(value: float, unit: str, *, digits: int = DIGITS.start) -> str:
    """Return a value of an input as people read it: `369 m²`, `15.7 % a year`."""
    if unit.split("/")[0] == SHARE:
        return share_text(value, digits=digits) + (" a year" if unit.endswith("/year") else "")
    words = unit_words(unit)
    return figures_text(value, digits=digits) + (f"{NO_BREAK}{words}" if words else "")


def _texts(found: BreakEven) -> list[str]:
    """Return both ends and every crossing of a range, with the digits that tell neighbours apart."""
    marks = [found.low, *(one.at for one in found.crossings), found.high]
    for digits in DIGITS:
        texts = [value_text(mark, found.unit, digits=digits) for mark in marks]
        if len(set(texts)) == len(set(marks)):
            break
    return texts


def break_even_sentences(layout: Layout, found: BreakEven) -> list[str]:
    """Return who is worth more in which part of a range, and what must be known of the ends of the parts."""
    texts = _texts(found)
    ends = f"from {texts[0]} to {texts[-1]}"
    who = {SYSTEM_AHEAD: _label(layout, found.system), REFERENCE_AHEAD: _label(layout, found.reference)}
    name = "area" if found.address == AREA else input_name(layout, found.address)
    if found.ahead_at_low is None:
        return [f"{name}: it cannot be said who is worth more {ends}: {found.why}."]
    if found.ahead_at_low == SAME:
        return [f"{name}: {who[SYSTEM_AHEAD]} and {who[REFERENCE_AHEAD]} are worth the same everywhere {ends}."]
    where = "" if found.address == AREA else f"{name}: "
    return [f"{where}{_who_is_ahead(found, texts, who)}.", *_notes(found, texts)]


def _label(layout: Layout, system: str) -> str:
    return "nothing" if system == OWN_WORTH else layout.structure.system(system).label


def _who_is_ahead(found: BreakEven, texts: Sequence[str], who: dict[int, str]) -> str:
    verb = "is worth more than"
    first, other = who[found.ahead_at_low or 0], who[-(found.ahead_at_low or 0)]
    if found.reference == OWN_WORTH:
        return _own_worth(found, texts, who[SYSTEM_AHEAD])
    if not found.crossings:
        every = "at every area" if found.address == AREA else "everywhere"
        return f"{first} {verb} {other} {every} from {texts[0]} to {texts[-1]}; within it there is no tie"
    own, others = (_ranges(found, texts, ahead) for ahead in (found.ahead_at_low, -(found.ahead_at_low or 0)))
    return f"{first} {verb} {other} {own}; {other} is worth more {others}"


def _own_worth(found: BreakEven, texts: Sequence[str], label: str) -> str:
    """Return where a system by itself earns back what it costs, NPV above 0."""
    if not found.crossings:
        does = "earns" if found.ahead_at_low == SYSTEM_AHEAD else "does not earn"
        where = "everywhere" if found.ahead_at_low == SYSTEM_AHEAD else "anywhere"
        return f"{label} by itself {does} back what it costs {where} from {texts[0]} to {texts[-1]}"
    return f"{label} by itself earns back what it costs {_ranges(found, texts, SYSTEM_AHEAD)}"


def _ranges(found: BreakEven, texts: Sequence[str], ahead: int | None) -> str:
    """Return the parts of a range in which one of the two is ahead: `below 34 m² and between 40 and 69 m²`."""
    last = len(found.parts) - 1
    words = []
    for k, (*_, own) in enumerate(found.parts):
        if own == ahead:
            between = f"from {texts[k]} to {texts[k + 1]}"
            words.append(f"below {texts[1]}" if k == 0 else f"above {texts[k]}" if k == last else between)
    return " and ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)


def _notes(found: BreakEven, texts: Sequence[str]) -> Iterator[str]:
    steps = [text for one, text in zip(found.crossings, texts[1:-1], strict=True) if one.is_step]
    if steps:
        yield f"At {', '.join(steps)} what is bought in steps changes by one, which turns the order without a tie."
    if not found.is_certain:
        yield "Followed on a grid of daily simulations: two turns near to each other may be missed."


def area_table(layout: Layout, areas: Sequence[BreakEven]) -> FigureTable:
    """Return a row for every pair: who is worth more at the smallest area, where that turns, who at the largest."""
    rows = tuple(_area_row(layout, one) for one in areas)
    heads = ("worth more at the smallest", "turns at", "worth more at the largest")
    return FigureTable("areas at which the order turns", heads, rows)


def _area_row(layout: Layout, found: BreakEven) -> FigureRow:
    label = f"{_label(layout, found.system)} or {_label(layout, found.reference)}"
    texts = _texts(found)
    if not found.parts:
        return FigureRow(label, "", (DASH, found.why, DASH))
    names = {SYSTEM_AHEAD: found.system, REFERENCE_AHEAD: found.reference}
    ahead = [_label(layout, names[own]) if own else "the same" for *_, own in found.parts]
    turns = ", ".join(texts[1:-1]) or f"no turn from {texts[0]} to {texts[-1]}"
    return FigureRow(label, "", (ahead[0], turns, ahead[-1]))


def switching_table(layout: Layout, rows: Sequence[SwitchingValue], *, most: int = SHOWN_ROWS) -> FigureTable:
    """Return the nearest switching values: value, tie, change, whether one would believe it, grade."""
    heads = ("value", "tie at", "change %", "believed, grade")
    shown = tuple(_switching_row(layout, row) for row in rows if not math.isnan(row.at))[:most]
    return FigureTable("switching values, the nearest first", heads, shown)


def _switching_row(layout: Layout, row: SwitchingValue) -> FigureRow:
    unit = row.input.unit
    cells = (
        bare_text(row.found.value, unit),
        bare_text(row.at, unit) + (STEP_MARK if row.is_step else ""),
        _change_text(row.change_share),
        f"{BELIEVED[row.is_believed]}, {row.input.grade or DASH}",
    )
    return FigureRow(input_name(layout, row.input.address), shown_unit(unit), cells)


def _change_text(share: float) -> str:
    sign = "+" if share > 0 else ""
    return DASH if math.isnan(share) else f"{sign}{figures_text(100 * share)}"


def bare_text(value: float, unit: str) -> str:
    """Return a value without its unit, a share in per cent."""
    return figures_text(100 * value if unit.split("/")[0] == SHARE else value)


def shown_unit(unit: str) -> str:
    """Return the unit that stands beside `bare_text`: `% a year` for a share a year."""
    return {"share": "%", "share/year": "% a year"}.get(unit, unit_words(unit))


def switching_notes(rows: Sequence[SwitchingValue]) -> list[str]:
    """Return how many assumptions turn the order within what one would believe, further away, and nowhere."""
    believed = sum(bool(row.is_believed) for row in rows)
    nowhere = sum(math.isnan(row.at) for row in rows)
    unknown = sum(row.found.ahead_at_low is None for row in rows)
    further = len(rows) - believed - nowhere
    lines = [
        f"Of {len(rows)} assumptions that move the difference, {believed} turn the order by themselves within the "
        f"range that one would believe, {further} further away or without a range, {nowhere} nowhere from an eighth "
        "(or nothing) to ten times their value. Each moves alone, all others stay."
    ]
    if any(row.is_step for row in rows):
        lines.append(f"{STEP_MARK} marks a step of capacity: the order turns there without a tie.")
    if any(not row.found.is_certain for row in rows):
        lines.append("Rows that daily simulations stand on are followed on a grid.")
    return [*lines, *([f"{unknown} could not be followed to the end."] if unknown else [])]


def joint_sentences(layout: Layout, joint: JointChange) -> list[str]:
    """Return the least joint change in sentences, or why there is none."""
    other = joint.reference if joint.ahead == SYSTEM_AHEAD else joint.system
    lines = []
    if joint.why:
        lines.append(f"Least joint change: none, {joint.why}.")
    else:
        label = _label(layout, other)
        lines += [f"{_together_words(layout, joint, label)}", _nearest_words(joint)]
    if joint.left_out:
        names = ", ".join(input_name(layout, at) for at in joint.left_out)
        lines.append(f"Left out, since daily simulations stand on them: {names}.")
    return lines


def _together_words(layout: Layout, joint: JointChange, label: str) -> str:
    together = joint.together
    assert together is not None
    names = [f"{input_name(layout, row.input.address)} ({_move_words(row)})" for row in together.rows]
    listed = " and ".join(part for part in ("; ".join(names[:-1]), names[-1]) if part)
    if math.isnan(together.way_share):
        return f"Even with {listed}, each at the end of its range that speaks for {label}, the order would stay."
    share = share_text(together.way_share, digits=2)
    return f"If these moved {share} of the way to the end of their ranges together, the two would tie: {listed}."


def _move_words(row: MovedRow) -> str:
    unit = row.input.unit
    return f"{value_text(row.value, unit)} to {value_text(row.moved_to, unit)}"


def _nearest_words(joint: JointChange) -> str:
    far = max(abs(row.width_share) for row in joint.rows)
    return (
        f"With every assumption that has a range moved at once, none needs to move more than "
        f"{share_text(far, digits=2)} of the width of its range: that is the nearest tie."
    )


def joint_table(layout: Layout, joint: JointChange, *, most: int = SHOWN_MOVES) -> FigureTable | None:
    """Return the rows that the least joint change moves farthest, None where there is none."""
    if not joint.rows:
        return None
    rows = (
        FigureRow(
            input_name(layout, row.input.address),
            shown_unit(row.input.unit),
            (
                bare_text(row.value, row.input.unit),
                bare_text(row.moved_to, row.input.unit),
                figures_text(100 * row.width_share, digits=2),
                row.input.grade or DASH,
            ),
        )
        for row in joint.rows[:most]
    )
    heads = ("value", "moved to", "% of range", "grade")
    return FigureTable("least joint change to a tie", heads, tuple(rows))


def grid_table(appraisal: Appraisal, grid: BreakEvenGrid) -> FigureTable:
    """Return the grid: NPV of the system less that of its reference, a column for each value of the first input."""
    layout, currency = appraisal.layout, appraisal.case.settings.currency
    heads = tuple(value_text(value, grid.first.unit) for value in grid.first_values)
    rows = tuple(
        FigureRow(value_text(value, grid.second.unit), currency, tuple(figures_text(float(cell)) for cell in own))
        for value, own in zip(grid.second_values, grid.difference, strict=True)
    )
    first, second = (input_name(layout, one.address) for one in (grid.first, grid.second))
    title = (
        f"{_label(layout, grid.system)} less {_label(layout, grid.reference)} by {second} (down) and {first} (across)"
    )
    return FigureTable(title, heads, rows)


def crossover_sentences(appraisal: Appraisal, found: CaseCrossover) -> list[str]:
    """Return what the crossover of a case says: by area, by itself, along the first inputs, together."""
    layout = appraisal.layout
    told = [line for one in (*found.areas, *found.inputs) for line in break_even_sentences(layout, one)]
    return [*told, *switching_notes(found.switching), *joint_sentences(layout, found.joint)]


def crossover_tables(appraisal: Appraisal, found: CaseCrossover) -> list[FigureTable]:
    """Return the tables of the crossover of a case: switching values, joint change, grid; areas are in sentences."""
    layout = appraisal.layout
    tables = [switching_table(layout, found.switching)]
    joint = joint_table(layout, found.joint)
    grid = None if found.grid is None else grid_table(appraisal, found.grid)
    return [*tables, *(one for one in (joint, grid) if one is not None)]
