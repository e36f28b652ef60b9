"""Probes: one number of a case moved at a time, all moved numbers side by side as draws of one call.

The first draw is the case as it is. Then come, for every address, its value moved a little up and down, its value at
either end of what one would believe, and no value at all, which shows where a number enters without moving anything.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plotworth.choose.assumed import SIMULATED_NAMES
from plotworth.choose.computed import with_computed
from plotworth.choose.input import Input
from plotworth.choose.layout import Layout
from plotworth.choose.simulated import with_simulated
from plotworth.choose.structure import SimulatedItem
from plotworth.choose.water_case import OF_THE_COMPOSITION
from plotworth.ground.arrays import Array, cell
from plotworth.ground.errors import PlotworthError

SMALL = 0.01
"""Part of a value by which it is moved a little; of 1 where the value is 0."""
LOW_END, HIGH_END = 0.5, 2.0
"""Times a value without a range of its own, for its ends."""
WHOLE_STEP, WHOLE_NUMBERS = 1.0, ("watering_interval_days", "refill_interval_days", "growing_days", "stage_row",
                                  "days_to_empty", "days_to_empty_from_day")  # fmt: skip
APPLIED = "water_applied_l_per_m2"
"""What short water leaves of a yield stands on it, beside the season's own rows."""
GUESS = 0.5
"""Stands for a value that is unknown: a share, rate, price or size that every assumption allows."""
UP, DOWN, LOW, HIGH, NONE = KINDS = range(5)
Values = Mapping[str, Array]


@dataclass(frozen=True)
class Probes:
    """Values by address with one draw for the case as it is and five for every address that is probed.

    `values` of shape (1, 1 + 5 n); `addresses`, n of them; `simulated_from` by address of a simulated value: the
    addresses whose move moved it, or without which it has none.
    """

    values: Values
    addresses: tuple[str, ...]
    simulated_from: Mapping[str, tuple[str, ...]]

    def draws(self, kind: int) -> slice:
        """Return the draws of one kind of probe, in the order of the addresses."""
        first = 1 + kind * len(self.addresses)
        return slice(first, first + len(self.addresses))


def probes(layout: Layout, values: Values) -> Probes:
    """Return the probes of a laid-out case at values by address, of which the first site and draw counts.

    An unknown value is probed from a guess, so that what waits for it is found. What closed formulas and daily
    simulations give is worked out anew in every draw that moves one of their inputs; a value of theirs is also
    moved by itself.
    """
    known = _known(layout, values)
    moved = np.array([_moved(layout.inputs[at], number) for at, number in known.items()])
    grid = {at: np.full((1, 1 + moved.size), number) for at, number in known.items()}
    names = tuple(known)
    for place, (at, row) in enumerate(zip(names, moved, strict=True)):
        grid[at][0, 1 + place :: len(names)] = row
    simulated_from = _simulate(layout, known, names, grid)
    for item in layout.structure.computed:
        own = 1 + names.index(item.address)
        kept = grid[item.address][0, own :: len(names)].copy()
        grid[item.address] = with_computed((item,), grid)[item.address].copy()
        grid[item.address][0, own :: len(names)] = kept
    return Probes(grid, names, simulated_from)


def _known(layout: Layout, values: Values) -> dict[str, float]:
    """Return the value of every input, a guess where it is unknown; what follows from guesses is worked out anew."""
    typed = {at: float(values[at].flat[0]) for at in layout.inputs}
    return {at: GUESS if np.isnan(number) else number for at, number in typed.items()}


def _moved(one: Input, number: float) -> tuple[float, ...]:
    """Return an input moved up and down, at its low and high end, and without value, within what is possible."""
    step = SMALL * (abs(number) or 1.0)
    if one.address.split("/")[0] in WHOLE_NUMBERS:
        step = WHOLE_STEP
    low = LOW_END * number if one.low is None else one.low
    high = (HIGH_END * number or LOW_END) if one.high is None else one.high
    up, down, low, high = np.clip((number + step, number - step, low, high), one.lowest, one.highest)
    return float(up), float(down), float(low), float(high), np.nan


def _simulate(
    layout: Layout, known: Mapping[str, float], names: Sequence[str], grid: Mapping[str, Array]
) -> dict[str, tuple[str, ...]]:
    """Put what the simulations give into the draws that move one of their rows; return what each was moved by.

    A row is taken on only where the move before showed nothing: a season takes time to follow.
    """
    found: dict[str, dict[str, None]] = {item.address: {} for item in layout.structure.simulated}
    for at, items in rows_of_simulations(layout).items():
        moved: set[str] = set()
        for kind in (UP, DOWN, NONE, LOW, HIGH):
            if len(moved) == len(items) or (kind in (LOW, HIGH) and moved):
                continue
            draw = _draw(names, at, kind)
            for address, figure in _simulated(layout, {**known, at: float(grid[at][0, draw])}, items).items():
                if kind != NONE and np.isnan(figure):
                    continue  # refused, as a day more than the weather covers: the other way may be possible
                grid[address][0, draw] = figure
                if figure != known[address]:
                    found[address][at] = None
                    moved |= {address} if kind != NONE else set()
    return {address: tuple(moved_by) for address, moved_by in found.items()}


def _draw(names: Sequence[str], at: str, kind: int) -> int:
    return 1 + kind * len(names) + names.index(at)


def rows_of_simulations(layout: Layout) -> dict[str, list[SimulatedItem]]:
    """Return the rows that simulated values could stand on, by address, each with the values that it could move."""
    rows: dict[str, list[SimulatedItem]] = {}
    for item in sorted(layout.structure.simulated, key=lambda item: SIMULATED_NAMES.index(item.name)):
        for plan in layout.structure.system(item.system).seasons:
            if item.season in ("", plan.season):
                for at in (*plan.water.values(), *(plan.addresses[name] for name in (*OF_THE_COMPOSITION, APPLIED))):
                    if item.address != at and item not in rows.setdefault(at, []):
                        rows[at].append(item)
    return rows


def _simulated(layout: Layout, known: Mapping[str, float], items: Sequence[SimulatedItem]) -> dict[str, float]:
    """Return what simulated values come to, one after the other, NaN for one that is refused."""
    values: Values = {address: cell(figure) for address, figure in known.items()}
    found, memory = {}, dict(layout.memory)
    for item in items:
        alone = replace(layout, structure=replace(layout.structure, simulated=(item,)), memory=memory)
        try:
            values = with_simulated(alone, values)
        except PlotworthError:
            values = {**values, item.address: cell(np.nan)}
        found[item.address] = float(values[item.address].flat[0])
    return found
