"""Sign changes along a line that a daily simulation follows: on a grid, closed in by halving, whole days as such.

A season followed day by day is no smooth function of its rows, and each point takes a run of its own; so two changes
nearer to each other than a step of the grid may be missed, which is said wherever these are shown.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plotworth.choose.sign_changes import TIE, Compare, SignChange, Signs

Floats = NDArray[np.float64]
GRID = 9
HALVINGS = 16
MOST_WHOLE = 60
"""Whole numbers of a range up to which each is looked at."""


def grid_points(low: float, high: float, *, is_whole: bool) -> Floats:
    """Return the points of a line that are looked at first: every whole number, or an even grid."""
    if is_whole:
        whole = np.arange(np.ceil(low), np.floor(high) + 1.0)
        return whole[:: int(np.ceil(len(whole) / MOST_WHOLE)) or 1]
    return np.linspace(low, high, GRID)


def coarse_signs(compare: Compare, line: int, low: float, high: float, *, is_whole: bool) -> Signs:
    """Return the signs of a line that is followed on a grid; a change between whole numbers stands at the upper."""
    points = grid_points(low, high, is_whole=is_whole)
    if len(points) == 0:
        return Signs(None, ())
    difference, gross = compare(np.full(len(points), line, dtype=np.intp), points)
    if not np.isfinite(difference).all():
        return Signs(None, ())
    signs = np.where(np.abs(difference) <= TIE * gross, 0, np.sign(difference)).astype(int)
    told = np.flatnonzero(signs)
    if len(told) == 0:
        return Signs(0, ())
    turns = [(i, j) for i, j in pairwise(told) if signs[i] != signs[j]]
    changes = [
        SignChange(float(points[j]), True, int(signs[j]), np.nan, np.nan)
        if is_whole
        else _closed_in(compare, line, (float(points[i]), float(points[j])), int(signs[j]))
        for i, j in turns
    ]
    return Signs(int(signs[told[0]]), tuple(changes))


def _closed_in(compare: Compare, line: int, ends: tuple[float, float], after: int) -> SignChange:
    """Return the change between two points, halved `HALVINGS` times; a step where nothing near 0 is found."""
    low, high = ends
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        is_after = int(np.sign(_value(compare, line, middle)[0])) == after
        low, high = (low, middle) if is_after else (middle, high)
    (value, gross), (before, _) = _value(compare, line, high), _value(compare, line, low)
    slope = (value - before) / (high - low)
    is_step = abs(value - before) > _ordinary(compare, line, ends) * STEEP
    left = abs(value) / gross
    return SignChange(high, is_step, after, np.nan if is_step else slope, np.nan if is_step else left)


STEEP = 0.5
"""Part of the change between two points of the grid that a change across the last halving cannot have but by a step."""


def _ordinary(compare: Compare, line: int, ends: tuple[float, float]) -> float:
    (low, _), (high, _) = (_value(compare, line, end) for end in ends)
    return abs(high - low)


def _value(compare: Compare, line: int, point: float) -> tuple[float, float]:
    difference, gross = compare(np.array([line], dtype=np.intp), np.array([point]))
    return float(difference[0]), float(gross[0])
