"""The least joint change that turns a decision: many assumptions each moved a little, together, to a tie.

Distances are measured in the width of each row's own range, so that rows of any unit count alike:
z = (x - value) / (high - low). The nearest tie makes sum z^2 least with every row within its range. Where it is, z is
the slope of the difference times one common number, cut at the ends of the ranges (the condition of Lagrange, of
Karush, Kuhn and Tucker at the ends). From where the case stands the tie of the straight line with the slopes found is
taken, slopes are found anew there, each time in one call of the composition with every row moved either way, until
the place stays; then the way to it is followed to the tie to rounding.

Source of the steps: Hasofer and Lind (1974), Rackwitz and Fiessler (1978), for the nearest failure (from memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.choose.capacity_edges import smooth_stretches
from plotworth.choose.computed import with_computed
from plotworth.choose.crossover import check_systems, plans_of
from plotworth.choose.input import Input
from plotworth.choose.layout import Layout
from plotworth.choose.lines import Floats, Line, Rivals, Values, evaluated, moves_simulated, worked_out
from plotworth.choose.sign_changes import TIE, Signs, signs_along

SLOPE_STEP = 1e-4
"""Part of a row's range by which it is moved for its slope."""
FEW = 3
CHOICE = "choice"
BEYOND = 1.0 + 1e-4
"""How far the way to the nearest tie is followed: a hair beyond it, for what the search left over."""
STAYS, MOST_STEPS, FREE_STEPS = 1e-9, 60, 10
"""Widths below which a place stays; steps at most; steps after which half of each is taken, not to go in circles."""
SAME = "the two are worth the same already"
NOT_KNOWN = "an assumption is unknown"
NO_ROWS = "no assumption of the case has a range"
NOT_REACHED = "with every row at the end of its range that speaks for the other, the order stays"
NOT_FOUND = "no tie was found within the ranges"


@dataclass(frozen=True)
class MovedRow:
    """An assumption at the nearest tie: where it stands, where it is moved to, and the range it is moved in."""

    input: Input
    value: float
    moved_to: float
    low: float
    high: float

    @property
    def width_share(self) -> float:
        """How far it is moved, as a part of the width of its range [share]; below 0 for a move down."""
        return (self.moved_to - self.value) / (self.high - self.low)


@dataclass(frozen=True)
class Together:
    """The few rows that count most, all moved the same part of the way to the end that speaks for the other system.

    `way_share`: that part at which the two tie [share]; NaN where even the ends do not turn the decision.
    """

    rows: tuple[MovedRow, ...]
    way_share: float


@dataclass(frozen=True)
class JointChange:
    """The nearest tie of a system and its reference; `ahead` now: 1 the system, -1 the reference, 0 a tie.

    `rows` by how far each is moved, the farthest first; `distance` from where the case stands, in widths of ranges;
    `together` of the first few; `left_out`: rows with a range that daily simulations stand on; `why` there is none.
    """

    system: str
    reference: str
    ahead: int | None
    rows: tuple[MovedRow, ...]
    distance: float
    together: Together | None
    left_out: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class _Space:
    """Rows in widths of their ranges: z = 0 is the case, `low` and `high` the ends."""

    rivals: Rivals
    rows: tuple[Input, ...]
    values: Floats
    low: Floats
    width: Floats

    def at(self, places: Floats) -> tuple[Floats, Floats]:
        """Return the difference in NPV and all money moved at places, shape (place, row)."""
        points = self.values + places * self.width
        moved = {row.address: points[:, [k]] for k, row in enumerate(self.rows)}
        one, shape = self.rivals, (len(places),)
        worked = with_computed(one.layout.structure.computed, {**one.values, **moved})
        found = evaluated(one.layout, worked, one.system, one.reference)
        difference, gross = (np.broadcast_to(array[:, 0], shape) for array in found)
        return difference, gross

    def along(self, way: Floats) -> Rivals:
        """Return the rivals along the line that is at the case at 0 and farther by `way`, in widths, at 1."""
        own = [row.address for row in self.rows]
        slopes = dict(zip(own, (way * self.width).tolist(), strict=True))
        one = self.rivals
        line = Line(dict(zip(own, self.values.tolist(), strict=True)), slopes)
        return Rivals(one.layout, one.values, one.system, one.reference, (line,))

    @property
    def ends(self) -> tuple[Floats, Floats]:
        """Both ends of each row, in widths from the case."""
        low = (self.low - self.values) / self.width
        return low, low + 1.0

    def slopes(self, place: Floats) -> Floats:
        """Return the slope of the difference by row at a place [money per width], from a small step either way."""
        step = SLOPE_STEP * np.eye(len(place))
        difference, _ = self.at(np.vstack([place + step, place - step]))
        up, down = np.split(difference, 2)
        return (up - down) / (2.0 * SLOPE_STEP)


def joint_change(layout: Layout, values: Values, system: str, reference: str) -> JointChange:
    """Return the least joint change of all assumptions with a range at which a system and its reference tie.

    Parameters: layout; values by address, shapes (1, 1); system and reference by id, `OWN_WORTH` for the system's own
    NPV against 0. Choices of the decider (nature `choice`) stay, and so do rows that daily simulations stand on,
    which are named. The nearest tie is one of the neighbourhood: a composition with steps may have another elsewhere.
    Errors: PlotworthError for a system that the case has not.
    """
    check_systems(layout, system, reference)
    base = worked_out(layout, values)
    ranged = [one for one in layout.inputs.values() if _has_range(one) and one.nature != CHOICE]
    left_out = tuple(one.address for one in ranged if moves_simulated(layout, one.address))
    computed = {item.address for item in layout.structure.computed}
    rows = tuple(one for one in ranged if one.address not in computed and one.address not in left_out)
    if not rows:
        return _none(system, reference, None, left_out, NO_ROWS)
    space = _space(Rivals(layout, base, system, reference, ()), rows)
    return _nearest(space, left_out)


def _has_range(one: Input) -> bool:
    return one.value == one.value and one.low is not None and one.high is not None and one.low < one.high


def _none(system: str, reference: str, ahead: int | None, left_out: tuple[str, ...], why: str) -> JointChange:
    return JointChange(system, reference, ahead, (), np.nan, None, left_out, why)


def _space(rivals: Rivals, rows: tuple[Input, ...]) -> _Space:
    """Return the rows in widths; a value that a dial has moved out of its range widens it."""
    values = np.array([float(rivals.values[row.address].flat[0]) for row in rows])
    low = np.minimum([float(row.low or 0.0) for row in rows], values)
    high = np.maximum([float(row.high or 0.0) for row in rows], values)
    return _Space(rivals, rows, values, low, high - low)


def _nearest(space: _Space, left_out: tuple[str, ...]) -> JointChange:
    names = space.rivals.system, space.rivals.reference
    here = np.zeros(len(space.rows))
    (difference,), (gross,) = space.at(here[None])
    if not np.isfinite(difference):
        return _none(*names, None, left_out, NOT_KNOWN)
    if abs(difference) <= TIE * gross:
        return _none(*names, 0, left_out, SAME)
    ahead = int(np.sign(difference))
    slopes = space.slopes(here)
    corner = _corner(space, -ahead * slopes)
    if np.sign(space.at(corner[None])[0][0]) == ahead:
        return _none(*names, ahead, left_out, NOT_REACHED)
    place = _tie_towards(space, _searched(space, slopes))
    if place is None:
        return _none(*names, ahead, left_out, NOT_FOUND)
    rows = _moved(space, place)
    return JointChange(
        *names,
        ahead,
        tuple(rows),
        float(np.sqrt((place**2).sum())),
        _together(space, np.argsort(-np.abs(place), kind="stable")[:FEW].tolist(), corner),
        left_out,
        "",
    )


def _corner(space: _Space, towards: Floats) -> Floats:
    """Return every row at the end of its range that its slope speaks for; rows without a slope stay."""
    low, high = space.ends
    return np.where(towards > 0, high, np.where(towards < 0, low, 0.0))


def _searched(space: _Space, slopes: Floats) -> Floats:
    """Return the place at which the condition of the nearest tie holds, or the last one looked at."""
    place = np.zeros(len(slopes))
    for step in range(MOST_STEPS):
        (difference, *_), _ = space.at(place[None])
        nearest = _nearest_on_plane(slopes, float(slopes @ place - difference), *space.ends)
        moved = nearest if step < FREE_STEPS else (place + nearest) / 2.0
        if np.abs(moved - place).max() <= STAYS:
            break
        place, slopes = moved, space.slopes(moved)
    return place


def _nearest_on_plane(slopes: Floats, wanted: float, low: Floats, high: Floats) -> Floats:
    """Return the z nearest to 0 with slopes z = wanted and low <= z <= high; the nearest it comes to where none is.

    z = clip(number x slopes), in which slopes z rises with the number in straight parts from end to end of a row.
    """
    moving = slopes != 0.0
    marks = np.sort(np.concatenate([low[moving] / slopes[moving], high[moving] / slopes[moving]]))
    reached = np.clip(marks[:, None] * slopes, low, high) @ slopes
    return np.asarray(np.clip(np.interp(wanted, reached, marks) * slopes, low, high))


def _tie_towards(space: _Space, place: Floats) -> Floats | None:
    """Return the first tie on the way from the case to a place, None where there is none."""
    share = _first_change(space, place, BEYOND)
    return None if share is None else place * share


def _first_change(space: _Space, way: Floats, end: float) -> float | None:
    """Return the first part of a way at which the better of the two changes, None where it does not up to `end`."""
    rivals = space.along(way)
    stretches = smooth_stretches(rivals.layout, rivals.values, plans_of(rivals), rivals.lines, [(0.0, end)])
    signs: Mapping[int, Signs] = signs_along(rivals.compare, stretches[0])
    return signs[0].changes[0].at if 0 in signs and signs[0].changes else None


def _moved(space: _Space, place: Floats) -> list[MovedRow]:
    ends = zip(space.rows, space.values, place * space.width, space.low, space.width, strict=True)
    rows = [MovedRow(row, float(v), float(v + m), float(low), float(low + width)) for row, v, m, low, width in ends]
    return sorted(rows, key=lambda row: -abs(row.width_share))


def _together(space: _Space, first: Sequence[int], corner: Floats) -> Together:
    """Return the common part of the way to their ends at which a few rows, moved together, make a tie."""
    few = np.zeros(len(corner))
    few[first] = corner[first]
    share = _first_change(space, few, 1.0)
    way = np.nan if share is None else share
    moved = _moved(space, few * (1.0 if share is None else share))
    own = {space.rows[k].address for k in first}
    return Together(tuple(row for row in moved if row.input.address in own), way)
