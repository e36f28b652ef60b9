"""Why the answer moved, as a page of text: each system's worth before and after, and what every input adds."""

from collections.abc import Iterator

from plotworth.choose.bridge import Bridge, Part
from plotworth.choose.figure_table import FigureRow, FigureTable
from plotworth.choose.layout import Layout
from plotworth.ground.amounts import UNKNOWN, figures_text, unit_words
from plotworth.report.page import tables_lines, title_lines, wrapped

BOOK_NAME = "the book"
VALUE_DIGITS = 4
METHOD = (
    "Inputs act together. Each is given the mean of what it does over all orders in which they could have moved, so "
    "that no order is preferred and the parts add up to the whole."
)


def explain_text(layout: Layout, found: Bridge, *, names: tuple[str, str]) -> str:
    """Return the page: `found` is the bridge of every system's NPV, `names` those of its two sides."""
    settings = layout.case.settings
    lines = [*title_lines(settings), "", *wrapped(f"Why the answer moves from {names[0]} to {names[1]}.")]
    if not found.parts:
        return "\n".join(
            [*lines, "", f"Nothing moves: both have the same value at all {len(layout.inputs)} addresses."]
        )
    lines += ["", f"WHAT MOVES: {len(found.moved)} INPUTS", *_moved_lines(found)]
    lines += tables_lines([_table(layout, found, names)])
    lines += ["", *wrapped(METHOD), *_method_lines(found), *_gap_lines(found)]
    return "\n".join(lines)


def _moved_lines(found: Bridge) -> Iterator[str]:
    for one in found.moved:
        unit = unit_words(one.unit)
        ends = [f"{end:.{VALUE_DIGITS}g}" if end == end else UNKNOWN for end in (one.before, one.after)]
        yield from wrapped(f"- {one.label} ({one.address}): {ends[0]} to {ends[1]} {unit}".rstrip())


def _table(layout: Layout, found: Bridge, names: tuple[str, str]) -> FigureTable:
    labels = tuple(plan.label for plan in layout.structure.systems)
    unit = next(iter(found.units.values()))
    ends = [
        FigureRow(name, unit, tuple(figures_text(number) for number in side.values()))
        for name, side in zip(names, (found.before, found.after), strict=True)
    ]
    parts = [FigureRow(part.label, unit, _amounts(part)) for part in found.parts]
    return FigureTable("Net present value", labels, (ends[0], *parts, ends[1]))


def _amounts(part: Part) -> tuple[str, ...]:
    return tuple(f"{'+' if number > 0 else ''}{figures_text(number)}" for number in part.amounts.values())


def _method_lines(found: Bridge) -> Iterator[str]:
    if found.by != "input":
        yield from wrapped("Inputs of one group move together: so many are easier to read by group.")
    if found.orders:
        error = max(max(part.errors.values()) for part in found.parts)
        unit = next(iter(found.units.values()))
        yield from wrapped(
            f"The mean is over {found.orders} orders drawn by lot; its greatest standard error is "
            f"{unit} {figures_text(error)}."
        )


def _gap_lines(found: Bridge) -> Iterator[str]:
    if any(number != number for side in (found.before, found.after) for number in side.values()):
        yield from wrapped(f"{UNKNOWN.capitalize()}: an assumption is unknown on one of the two sides.")
