"""Two assumptions moved together: the difference in NPV in every cell of a grid, in one call of the composition."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from plotworth.choose.crossover import check_systems
from plotworth.choose.input import Input
from plotworth.choose.layout import Layout
from plotworth.choose.lines import Line, Values, evaluated, moved_values, worked_out
from plotworth.choose.sign_changes import TIE
from plotworth.ground.arrays import Array
from plotworth.ground.errors import PlotworthError

POINTS = 7
SPREAD = (0.5, 1.5)
"""Times a value without a range, for the ends of its grid."""


@dataclass(frozen=True)
class BreakEvenGrid:
    """NPV of a system less that of its reference [money], shape (second, first): a row for each second value.

    `first` and `second` inputs, with the values they take; `ahead` of the same shape: 1 the system, -1 its reference,
    0 a tie, NaN not known.
    """

    first: Input
    second: Input
    first_values: tuple[float, ...]
    second_values: tuple[float, ...]
    system: str
    reference: str
    difference: Array
    ahead: Array

    def rows(self) -> list[dict[str, Any]]:
        """Return a row for each cell: first, second, difference [money], ahead."""
        return [
            {"first": x, "second": y, "difference": float(self.difference[j, i]), "ahead": float(self.ahead[j, i])}
            for j, y in enumerate(self.second_values)
            for i, x in enumerate(self.first_values)
        ]


def grid_values(one: Input, value: float, *, points: int = POINTS) -> tuple[float, ...]:
    """Return values for the side of a grid: even from low to high of an input, half to one and a half of its value.

    The value of the case takes the place of the point that is nearest to it.
    """
    low, high = (one.low, one.high) if one.low is not None and one.high is not None else (None, None)
    if low is None or high is None or low >= high:
        low, high = (max(SPREAD[0] * value, one.lowest), min(SPREAD[1] * value, one.highest)) if value else (0.0, 1.0)
    steps = np.linspace(min(low, value), max(high, value), points)
    steps[np.argmin(np.abs(steps - value))] = value
    return tuple(float(step) for step in steps)


def break_even_grid(
    layout: Layout,
    values: Values,
    first: str,
    second: str,
    system: str,
    reference: str,
    *,
    first_values: Sequence[float] = (),
    second_values: Sequence[float] = (),
) -> BreakEvenGrid:
    """Return what a system is worth more than its reference for every pair of values of two inputs.

    Parameters: layout; values by address, shapes (1, 1); addresses of the two inputs; system and reference by id,
    `OWN_WORTH` for its own NPV; the values of either, `grid_values` where none. Every cell is a site;
    where a daily simulation stands on one of the inputs, every cell takes a run of its own.
    Errors: PlotworthError for an address or system that the case has not, and for one input given twice.
    """
    _check(layout, first, second)
    check_systems(layout, system, reference)
    base = worked_out(layout, values)
    one, other = layout.inputs[first], layout.inputs[second]
    across = tuple(first_values) or grid_values(one, float(base[first].flat[0]))
    down = tuple(second_values) or grid_values(other, float(base[second].flat[0]))
    points = [(x, y) for y in down for x in across]
    lines = tuple(Line({first: x, second: y}, {first: 0.0, second: 0.0}) for x, y in points)
    which = np.arange(len(points))
    moved = moved_values(layout, base, lines, which, np.zeros(len(points)))
    shape = len(down), len(across)
    found = evaluated(layout, moved, system, reference)
    difference, gross = (np.broadcast_to(one[:, 0], (len(points),)).reshape(shape) for one in found)
    ahead = np.where(np.abs(difference) <= TIE * gross, 0.0, np.sign(difference))
    return BreakEvenGrid(one, other, across, down, system, reference, difference, ahead)


def _check(layout: Layout, first: str, second: str) -> None:
    for at in (first, second):
        if at not in layout.inputs:
            raise PlotworthError(f"the case has no value at {at!r}; `plotworth trail` lists the addresses")
    if first == second:
        raise PlotworthError(f"a grid needs two assumptions; {first} was given twice")
