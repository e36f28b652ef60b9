"""What the charts of the crossover are drawn from: worth by area with its ties, switching values, a grid."""

import math
from collections.abc import Sequence
from typing import Any

from plotworth.choose.break_even_grid import BreakEvenGrid
from plotworth.choose.crossover import BreakEven
from plotworth.choose.crossover_table import value_text
from plotworth.choose.input_names import input_name
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH, Values, worked_out
from plotworth.choose.scale_ladder import size_curve, size_rows
from plotworth.choose.switching import SwitchingValue

Rows = list[dict[str, Any]]
MOST_BARS = 10
WIDEST = 1.0
"""Change of a value, as a share of it, up to which a switching value that is not believed is drawn."""


def area_rows(layout: Layout, values: Values, *, low_m2: float, high_m2: float) -> Rows:
    """Return NPV of every system by area [m2], both sides of every step: system, label, area_m2, npv, is_step."""
    kept = ("system", "label", "area_m2", "npv", "is_step")
    curve = size_curve(layout, worked_out(layout, values), low_m2=low_m2, high_m2=high_m2)
    return [{key: row[key] for key in kept} for row in curve]


def tie_rows(layout: Layout, values: Values, areas: Sequence[BreakEven]) -> Rows:
    """Return each area at which two systems change places: area_m2, npv of the two, text, above and below by label.

    A change at a step has no tie; it stands at the NPV of whoever is ahead above it. Systems alone are left out.
    """
    turns = [(one, turn) for one in areas if one.reference != OWN_WORTH for turn in one.crossings]
    if not turns:
        return []
    found = size_rows(layout, worked_out(layout, values), [turn.at for _, turn in turns])
    labels = {plan.id: plan.label for plan in layout.structure.systems}
    npv = {(row.area_m2, row.system): row.npv for row in found}
    rows: Rows = []
    for one, turn in turns:
        above, below = (one.system, one.reference)[:: turn.ahead_above]
        rows.append(
            {
                "area_m2": turn.at,
                "npv": npv[turn.at, above],
                "text": value_text(turn.at, "m2"),
                "above": labels[above],
                "below": labels[below],
                "is_step": turn.is_step,
            }
        )
    return sorted(rows, key=lambda row: float(row["area_m2"]))


def switching_rows(layout: Layout, rows: Sequence[SwitchingValue], *, most: int = MOST_BARS) -> Rows:
    """Return the nearest switching values as shares of the value of the case, for a chart.

    Rows: name, grade, tie, tie_share (of the value), low_share and high_share of the range that one would believe, NaN
    without one, words (`177 m in place of 250 m`), is_believed. Values of 0 and ties that no one would believe and that
    ask for more than the value again are left out.
    """
    shown = [row for row in rows if _is_drawn(row)][:most]
    return [
        {
            "name": input_name(layout, row.input.address),
            "grade": row.input.grade,
            "tie": row.at,
            "tie_share": row.at / row.found.value,
            "low_share": _end(row.input.low, row),
            "high_share": _end(row.input.high, row),
            "words": f"{value_text(row.at, row.input.unit)} in place of {value_text(row.found.value, row.input.unit)}",
            "is_believed": bool(row.is_believed),
        }
        for row in shown
    ]


def _is_drawn(row: SwitchingValue) -> bool:
    if math.isnan(row.change_share):
        return False
    return bool(row.is_believed) or abs(row.change_share) <= WIDEST


def _end(end: float | None, row: SwitchingValue) -> float:
    return math.nan if end is None or row.is_believed is None else end / row.found.value


def grid_rows(grid: BreakEvenGrid) -> Rows:
    """Return the cells of a grid: first and second in words, x and y their places from 0, difference, ahead."""
    first, second = (
        [value_text(value, one.unit) for value in values]
        for one, values in ((grid.first, grid.first_values), (grid.second, grid.second_values))
    )
    return [
        {
            "first": first[i],
            "second": second[j],
            "x": i,
            "y": j,
            "difference": float(grid.difference[j, i]),
            "ahead": float(grid.ahead[j, i]),
        }
        for j in range(len(second))
        for i in range(len(first))
    ]
