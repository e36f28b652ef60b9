"""Switching values: for every assumption the value at which two systems tie, and how far away it is.

Each assumption moves alone, all others stay. Where daily simulations stand on a row, each of its points takes a run of
its own, some hundredths of a second; such rows are followed on a grid.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.choose.crossover import BreakEven, break_evens, check_systems, search_range
from plotworth.choose.input import Input
from plotworth.choose.layout import Layout
from plotworth.choose.lines import Rivals, Values, along, worked_out
from plotworth.choose.sign_changes import RESOLVED

LOOKS = (0.0, 1.0 / 3.0, 1.0)
"""Parts of a range at which one looks whether an input moves the difference at all."""


@dataclass(frozen=True)
class SwitchingValue:
    """An assumption with the nearest value at which a system and its reference tie.

    `input` with its believed range, grade and place in the files; `found`, every crossing of its search range.
    """

    input: Input
    found: BreakEven

    @property
    def at(self) -> float:
        """The switching value nearest to the value of the case [its unit]; NaN where there is none in the range."""
        nearest = self.found.nearest
        return math.nan if nearest is None else nearest.at

    @property
    def is_step(self) -> bool:
        """Whether the better of the two changes at a step of capacity, which jumps over the tie."""
        nearest = self.found.nearest
        return nearest is not None and nearest.is_step

    @property
    def change_share(self) -> float:
        """The change that it takes, as a share of the value [share]; NaN for a value of 0 and without a tie."""
        value = self.found.value
        return (self.at - value) / abs(value) if value else math.nan

    @property
    def is_believed(self) -> bool | None:
        """Whether the tie lies within the range that one would believe; None where the case states no range."""
        low, high = self.input.low, self.input.high
        if low is None or high is None or low >= high:
            return None
        return low <= self.at <= high

    @property
    def way_share(self) -> float:
        """Part of the way from the value to the believed end on the side of the tie [share]; NaN without either."""
        if self.is_believed is None or math.isnan(self.at):
            return math.nan
        end = self.input.high if self.at > self.found.value else self.input.low
        way = abs(float(end or 0.0) - self.found.value)
        return abs(self.at - self.found.value) / way if way else math.inf


def switching_values(layout: Layout, values: Values, system: str, reference: str) -> list[SwitchingValue]:
    """Return every assumption that moves the difference, the nearest tie first, those without a tie last.

    Parameters: layout; values by address, shapes (1, 1); system and reference by id, `OWN_WORTH` for the system's own
    NPV against 0. First those that tie within what one would believe, by the part of the way to the end of their
    range; then the others by the change that it takes; then those that tie nowhere in their search range.
    Errors: PlotworthError for a system that the case has not.
    """
    check_systems(layout, system, reference)
    addresses = _moving(layout, values, system, reference)
    ranges = [search_range(layout.inputs[at]) for at in addresses]
    found = break_evens(layout, values, addresses, system, reference, ranges=ranges)
    rows = [SwitchingValue(layout.inputs[one.address], one) for one in found]
    return sorted(rows, key=_nearness)


def _nearness(row: SwitchingValue) -> tuple[int, float]:
    if math.isnan(row.at):
        return 3, 0.0
    if row.is_believed:
        return 0, row.way_share
    return (1, abs(row.change_share)) if row.found.value else (2, abs(row.at))


def _moving(layout: Layout, values: Values, system: str, reference: str) -> list[str]:
    """Return the addresses with a value and a range, moved over which the difference in NPV does not stay."""
    base = worked_out(layout, values)
    known = [at for at, one in layout.inputs.items() if one.value == one.value and _has_width(one)]
    rivals = Rivals(layout, base, system, reference, tuple(along(at) for at in known))
    difference, gross = rivals.compare(np.repeat(np.arange(len(known)), len(LOOKS)), _looks(layout, known))
    apart, money = (one.reshape(-1, len(LOOKS)) for one in (difference, gross))
    stays = np.ptp(apart, axis=1) <= RESOLVED * money.max(axis=1)
    return [at for at, still in zip(known, stays, strict=True) if not still]


def _has_width(one: Input) -> bool:
    low, high = search_range(one)
    return low < high


def _looks(layout: Layout, addresses: Sequence[str]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    ranges = np.array([search_range(layout.inputs[at]) for at in addresses])
    return np.asarray(ranges[:, :1] + np.diff(ranges, axis=1) * np.array(LOOKS)).ravel()
