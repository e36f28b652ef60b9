"""The tornado: every row moved alone to P10 and P90 of its own distribution, all in one call of the composition."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plotworth.choose.crossover import break_evens, check_systems
from plotworth.choose.drawn_rows import CHOICE
from plotworth.choose.evidence_share import NO_GRADE
from plotworth.choose.input import Input
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH, worked_out
from plotworth.choose.present_worth import net_present_values
from plotworth.choose.probes import rows_of_simulations
from plotworth.choose.row_ends import RowEnds, row_ends
from plotworth.choose.simulated_each import with_simulated_each
from plotworth.choose.structure import Structure
from plotworth.ground.arrays import Array

ROUNDING = 1e-9
"""Part of the NPVs under which a swing of their difference is what rounding leaves of two that move alike."""
Values = Mapping[str, Array]


@dataclass(frozen=True, repr=False)
class MovedCase:
    """A case with each row moved alone.

    `values` as it was, worked out; `ends` of k rows; `npv` by system [money], shape (1 + 2 k,): the case itself, then
    every row at its low end, then every row at its high end; NaN where a daily simulation is refused.
    """

    layout: Layout
    values: Values
    ends: tuple[RowEnds, ...]
    npv: Mapping[str, Array]

    def difference(self, system: str, reference: str) -> Array:
        """Return NPV of a system less that of its reference, its own with `OWN_WORTH` [money], shape (1 + 2 k,)."""
        own = self.npv[system]
        return own if reference == OWN_WORTH else own - self.npv[reference]


@dataclass(frozen=True)
class Bar:
    """A row of a tornado: its input, ends [its unit], kind, and the outcome there and at the value itself [money].

    `switching`, the value within the bar at which the outcome passes 0, the nearest to the value [its unit]; NaN where
    the bar does not cross 0 or the marks were not asked for.
    """

    input: Input
    low: float
    high: float
    kind: str
    at_low: float
    at_high: float
    base: float
    switching: float = math.nan

    @property
    def swing(self) -> float:
        """How far the outcome goes from one end to the other, the value itself counted [money, 0 or more]."""
        told = (self.at_low, self.at_high, self.base)
        return max(told) - min(told)

    @property
    def crosses_zero(self) -> bool:
        """Whether an end has another sign than the case: the row alone turns the decision within its bar."""
        return min(self.at_low, self.at_high) * self.base < 0 or max(self.at_low, self.at_high) * self.base < 0

    @property
    def grade(self) -> str:
        """Grade of the row: A measured here, B published, C quoted, D judged; `none` where it states none."""
        return self.input.grade or NO_GRADE


@dataclass(frozen=True)
class Tornado:
    """The bars of a system against its reference (`OWN_WORTH`: its own NPV), the greatest swing first.

    `base` [money], that of the case; `bars` of rows that are drawn; `choices`, the decider's own, with the ends of the
    range that the book states; `not_told`, addresses at whose ends there is no outcome.
    No bars where the case itself has no outcome, since an assumption is unknown.
    """

    system: str
    reference: str
    base: float
    bars: tuple[Bar, ...]
    choices: tuple[Bar, ...]
    not_told: tuple[str, ...]


def move_each(layout: Layout, values: Values) -> MovedCase:
    """Return the NPV of every system with each row moved alone to either of its ends: one call of the composition.

    Parameters: layout; values by address, shapes (1, 1), the case's or a dial's. What daily simulations give is worked
    out anew at the ends of the rows that they stand on.
    """
    base = worked_out(layout, values)
    ends = row_ends(layout, base)
    put = _with_simulated(layout, {**base, **_at_ends(base, ends)}, ends)
    worth = net_present_values(layout.structure, put, expected_shocks(layout.structure, put))
    npv = {system: np.broadcast_to(found[0], (1 + 2 * len(ends),)) for system, found in worth.items()}
    return MovedCase(layout, base, ends, npv)


def _at_ends(base: Values, ends: Sequence[RowEnds]) -> dict[str, Array]:
    """Return each row as it is everywhere but at its own two draws, shape (1, 1 + 2 k)."""
    count = len(ends)
    put = {one.address: np.full((1, 1 + 2 * count), base[one.address][0, 0]) for one in ends}
    for place, one in enumerate(ends):
        put[one.address][0, [1 + place, 1 + count + place]] = one.low, one.high
    return put


def _with_simulated(layout: Layout, put: Values, ends: Sequence[RowEnds]) -> Values:
    if not layout.structure.simulated:
        return put
    under = [one.address for one in ends if one.address in rows_of_simulations(layout)]
    return with_simulated_each(layout, put, under)[0]


def tornado(moved: MovedCase, system: str, reference: str) -> Tornado:
    """Return the bars of a moved case for a system against a reference, `OWN_WORTH` for its own NPV.

    Rows that move nothing are left out. Errors: PlotworthError for a system that the case has not.
    """
    check_systems(moved.layout, system, reference)
    told, count = moved.difference(system, reference), len(moved.ends)
    base = float(told[0])
    bars = [
        Bar(moved.layout.inputs[one.address], one.low, one.high, one.kind, float(low), float(high), base)
        for one, low, high in zip(moved.ends, told[1 : 1 + count], told[1 + count :], strict=True)
    ]
    least = ROUNDING * max(abs(float(npv[0])) for npv in moved.npv.values())
    known = sorted((bar for bar in bars if bar.swing > least), key=lambda bar: -bar.swing)
    return Tornado(
        system=system,
        reference=reference,
        base=base,
        bars=tuple(bar for bar in known if bar.kind != CHOICE),
        choices=tuple(bar for bar in known if bar.kind == CHOICE),
        not_told=tuple(bar.input.address for bar in bars if _is_refused(bar)),
    )


def _is_refused(bar: Bar) -> bool:
    return math.isnan(bar.at_low + bar.at_high) and not math.isnan(bar.base)


def with_switching(found: Tornado, moved: MovedCase) -> Tornado:
    """Return a tornado with the value at which each bar that crosses 0 does so."""
    crossing = [bar for bar in (*found.bars, *found.choices) if bar.crosses_zero]
    addresses = [bar.input.address for bar in crossing]
    ranges = [(min(bar.low, _value(moved, bar)), max(bar.high, _value(moved, bar))) for bar in crossing]
    told = break_evens(moved.layout, moved.values, addresses, found.system, found.reference, ranges=ranges)
    marks = {one.address: one.nearest.at for one in told if one.nearest is not None}
    bars, choices = (
        tuple(replace(bar, switching=marks.get(bar.input.address, math.nan)) for bar in group)
        for group in (found.bars, found.choices)
    )
    return replace(found, bars=bars, choices=choices)


def _value(moved: MovedCase, bar: Bar) -> float:
    return float(moved.values[bar.input.address][0, 0])


def by_influence(layout: Layout) -> list[str]:
    """Return the addresses of a case that move its decision, the most influential first: for the order of dials.

    By the greatest swing, over all systems, of NPV less that of the baseline; of NPV where there is one system alone.
    Choices are among them, by the ends of their ranges.
    """
    moved = move_each(layout, layout.values)
    swings = {one.address: 0.0 for one in moved.ends}
    for system, reference in _pairs(layout.structure):
        found = tornado(moved, system, reference)
        for bar in (*found.bars, *found.choices):
            swings[bar.input.address] = max(swings[bar.input.address], bar.swing)
    return [address for address in sorted(swings, key=lambda at: -swings[at]) if swings[address] > 0]


def _pairs(structure: Structure) -> list[tuple[str, str]]:
    others = [plan.id for plan in structure.systems if plan.id != structure.baseline]
    return [(name, structure.baseline) for name in others] or [(structure.baseline, OWN_WORTH)]
