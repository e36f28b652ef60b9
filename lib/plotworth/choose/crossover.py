"""At what area, price, distance or other value two systems are worth the same: every one of them in a range.

All points of all stretches go through one call of the composition; a stretch lies between two steps of capacity.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.choose.capacity_edges import MOST_EDGES, smooth_stretches
from plotworth.choose.coarse_signs import coarse_signs
from plotworth.choose.input import Input
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH, Rivals, Values, along, moves_simulated, worked_out
from plotworth.choose.probes import WHOLE_NUMBERS
from plotworth.choose.sign_changes import Signs, signs_along
from plotworth.choose.structure import AREA, SystemPlan
from plotworth.ground.errors import PlotworthError

BELOW, ABOVE = 8.0, 10.0
"""How far a value is followed by itself: from an eighth of it to ten times it, within what is possible."""
SYSTEM_AHEAD, REFERENCE_AHEAD, SAME = 1, -1, 0
TOO_MANY = f"the range holds more than {MOST_EDGES} steps of capacity"
NOT_KNOWN = "an assumption is unknown, or has no worth somewhere in the range"


@dataclass(frozen=True)
class Crossing:
    """A value at which the better of the two changes.

    `at` in the unit of the input; `is_step`: at a step of capacity, which jumps over the tie; up to and including
    `at` the one is better, above it the other; `ahead_above`, 1 the system, -1 the reference; `left_over`, what NPV
    differs by there as a part of all money moved [share], NaN at a step.
    """

    at: float
    is_step: bool
    ahead_above: int
    left_over: float


@dataclass(frozen=True)
class BreakEven:
    """Where a system and its reference (`OWN_WORTH`: its own NPV and 0) tie, along one input from `low` to `high`.

    `value` of the case; `ahead_at_low`: 1 the system, -1 the reference, 0 the same all along, None not known, with
    `why`; `is_certain`: whether all crossings were found, False where a daily simulation was followed on a grid.
    """

    address: str
    label: str
    unit: str
    value: float
    system: str
    reference: str
    low: float
    high: float
    ahead_at_low: int | None
    crossings: tuple[Crossing, ...]
    is_certain: bool
    why: str

    @property
    def parts(self) -> list[tuple[float, float, int]]:
        """The range in parts, each with its low and high end and who is ahead in it; none where not known."""
        if self.ahead_at_low is None:
            return []
        marks = [self.low, *(one.at for one in self.crossings), self.high]
        ahead = [self.ahead_at_low, *(one.ahead_above for one in self.crossings)]
        return list(zip(marks[:-1], marks[1:], ahead, strict=True))

    @property
    def nearest(self) -> Crossing | None:
        """The crossing nearest to the value of the case, None where there is none."""
        return min(self.crossings, key=lambda one: abs(one.at - self.value), default=None)


def search_range(one: Input) -> tuple[float, float]:
    """Return how far an input is followed: from an eighth of its value to ten times it, its own range within.

    Shares and whatever cannot be below 0 start at 0; nothing goes beyond what is possible. A value of 0 without a
    range goes up to 1 of its unit.
    """
    low, high = one.value / BELOW, one.value * ABOVE
    if one.value == 0.0:
        low, high = 0.0, 1.0 if one.high is None or one.high <= 0.0 else ABOVE * one.high
    elif one.value < 0.0:
        low, high = high, -high
    if one.lowest == 0.0:
        low = 0.0
    low, high = min(low, *_stated(one.low, low)), max(high, *_stated(one.high, high))
    return max(low, one.lowest), min(high, one.highest)


def _stated(end: float | None, otherwise: float) -> tuple[float]:
    return (otherwise if end is None else end,)


def break_even(
    layout: Layout,
    values: Values,
    address: str,
    system: str,
    reference: str,
    low: float | None = None,
    high: float | None = None,
) -> BreakEven:
    """Return every value of an input, from low to high [its unit], at which a system and its reference tie.

    Parameters: layout; values by address, shapes (1, 1), of any view; address of the input that moves; system and
    reference by id, `OWN_WORTH` for the system's own NPV against 0; low and high, `search_range` where None.
    Errors: PlotworthError for an address or a system that the case has not, and for a range that has no width or
    leaves what is possible.
    """
    one = _input_at(layout, address)
    check_systems(layout, system, reference)
    ends = _checked_range(one, low, high)
    return break_evens(layout, values, [address], system, reference, ranges=[ends])[0]


def break_even_area(
    layout: Layout,
    values: Values,
    system: str,
    reference: str,
    low: float | None = None,
    high: float | None = None,
) -> BreakEven:
    """Return every gross area [m2] at which a system and its reference tie: `break_even` along the area."""
    return break_even(layout, values, AREA, system, reference, low, high)


def break_evens(
    layout: Layout,
    values: Values,
    addresses: Sequence[str],
    system: str,
    reference: str,
    *,
    ranges: Sequence[tuple[float, float]],
) -> list[BreakEven]:
    """Return `break_even` of many inputs, all followed side by side in the same calls of the composition."""
    base = worked_out(layout, values)
    rivals = Rivals(layout, base, system, reference, tuple(along(at) for at in addresses))
    slow = [moves_simulated(layout, at) for at in addresses]
    signs = _signs(rivals, addresses, ranges, slow)
    return [
        _break_even(layout, base, rivals, address, ends, signs.get(n), is_certain=not slow[n])
        for n, (address, ends) in enumerate(zip(addresses, ranges, strict=True))
    ]


def _signs(
    rivals: Rivals, addresses: Sequence[str], ranges: Sequence[tuple[float, float]], slow: Sequence[bool]
) -> dict[int, Signs]:
    """Return the signs of each line by number; none of a line with too many steps."""
    quick = [n for n, is_slow in enumerate(slow) if not is_slow]
    lines = [rivals.lines[n] for n in quick]
    stretches = smooth_stretches(rivals.layout, rivals.values, plans_of(rivals), lines, [ranges[n] for n in quick])
    among_quick = Rivals(rivals.layout, rivals.values, rivals.system, rivals.reference, tuple(lines))
    found = signs_along(among_quick.compare, [one for own in stretches.values() for one in own])
    signs = {quick[k]: one for k, one in found.items()}
    for n in (n for n, is_slow in enumerate(slow) if is_slow):
        is_whole = addresses[n].split("/")[0] in WHOLE_NUMBERS
        signs[n] = coarse_signs(rivals.compare, n, *ranges[n], is_whole=is_whole)
    return signs


def plans_of(rivals: Rivals) -> list[SystemPlan]:
    """Return the plans of the two that are compared, one where a system is held against nothing."""
    names = [name for name in (rivals.system, rivals.reference) if name != OWN_WORTH]
    return [rivals.layout.structure.system(name) for name in dict.fromkeys(names)]


def _break_even(
    layout: Layout,
    base: Values,
    rivals: Rivals,
    address: str,
    ends: tuple[float, float],
    signs: Signs | None,
    *,
    is_certain: bool,
) -> BreakEven:
    one = layout.inputs[address]
    told = Signs(None, ()) if signs is None else signs
    why = TOO_MANY if signs is None else NOT_KNOWN if told.first is None else ""
    crossings = tuple(Crossing(c.at, c.is_step, c.after, c.left_over) for c in told.changes)
    value = float(base[address].flat[0])
    names = rivals.system, rivals.reference
    return BreakEven(address, one.label, one.unit, value, *names, *ends, told.first, crossings, is_certain, why)


def _input_at(layout: Layout, address: str) -> Input:
    if address not in layout.inputs:
        raise PlotworthError(f"the case has no value at {address!r}; `plotworth trail` lists the addresses")
    return layout.inputs[address]


def check_systems(layout: Layout, system: str, reference: str) -> None:
    """Refuse a system or a reference that the case has not."""
    known = [plan.id for plan in layout.structure.systems]
    for name in (system, reference):
        if name not in known and not (name == OWN_WORTH and name == reference):
            raise PlotworthError(f"the case has no system {name!r}; its systems are {', '.join(known)}")


def _checked_range(one: Input, low: float | None, high: float | None) -> tuple[float, float]:
    usual = (np.nan, np.nan) if one.value != one.value else search_range(one)
    start, end = usual[0] if low is None else low, usual[1] if high is None else high
    if not start < end:
        raise PlotworthError(f"{one.address} from {start:g} to {end:g}: the range has no width; state another")
    if start < one.lowest or end > one.highest:
        raise PlotworthError(
            f"{one.address} from {start:g} to {end:g}: possible is {one.lowest:g} to {one.highest:g} {one.unit}"
        )
    return start, end
