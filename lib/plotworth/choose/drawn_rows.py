"""Which numbers of a case are drawn, from what range, and how often: one draw a case, or one a year.

A row is drawn where the book states a range for it and it is neither a choice nor fixed. What the composition never
reads, what is worked out from other rows, and what is unknown stays as it is.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.case.book import TRIAL
from plotworth.case.folder import BOOK_FILE
from plotworth.choose.input import Input
from plotworth.choose.layout import Layout
from plotworth.choose.structure import Structure
from plotworth.ground.arrays import Array

CHOICE, CONSTANT, YEARLY = "choice", "constant", "yearly"
FIXED, EVEN, PEAKED, MEASURED = "fixed", "even", "peaked", "measured"
NORMAL_95 = 1.959963984540054
"""Standard errors on either side of a mean within which 95 % of a normal distribution lies."""


@dataclass(frozen=True)
class DrawnRow:
    """A number that is drawn: its address, range, the value most believed [its own unit], shape and nature.

    `spread` peaked (triangle with its top at `value`), even (uniform) or measured (normal, 95 % of it between `low` and
    `high`, kept within `lowest` and `highest`); `nature` constant (one draw a case) or yearly (one draw a year).
    """

    address: str
    low: float
    value: float
    high: float
    lowest: float
    highest: float
    spread: str
    nature: str

    def at(self, uniforms: Array) -> Array:
        """Return the values at which this row's distribution reaches shares `uniforms` in [0, 1), any shape.

        Triangle: low + sqrt(u (high - low)(value - low)) up to u = (value - low) / (high - low), then
        high - sqrt((1 - u)(high - low)(high - value)).
        """
        width = self.high - self.low
        if self.spread == EVEN:
            return self.low + uniforms * width
        if self.spread == MEASURED:
            return self._measured_at(uniforms)
        return self._triangle_at(uniforms, width)

    def _triangle_at(self, uniforms: Array, width: float) -> Array:
        """Add up the two sides, each standing still beyond the top: no branch, which chance would make slow."""
        rise, fall = width * (self.value - self.low), width * (self.high - self.value)
        top = (self.value - self.low) / width
        found = np.minimum(uniforms, top)
        found *= rise
        np.sqrt(found, out=found)
        right = 1.0 - np.maximum(uniforms, top)
        right *= fall
        found -= np.sqrt(right, out=right)
        found += self.low + self.high - self.value
        return np.clip(found, self.low, self.high, out=found)

    def _measured_at(self, uniforms: Array) -> Array:
        from scipy.special import ndtri

        error = (self.high - self.low) / (2.0 * NORMAL_95)
        return np.asarray(np.clip(self.value + error * ndtri(uniforms), self.lowest, self.highest), np.float64)


def used_addresses(structure: Structure) -> set[str]:
    """Return the addresses that the composition reads: rows, cost lines, labour plan, inputs of closed formulas."""
    used: set[str] = set()
    for plan in structure.systems:
        for addresses in (plan.addresses, *(season.addresses for season in plan.seasons)):
            used |= set(addresses.values())
        used |= {at for item in plan.costs for at in (item.quantity_address, item.price_address)}
        used |= {at for item in plan.labour for at in (item.hours_address, item.family_share_address)}
    return used | {at for item in structure.computed for at in item.inputs.values()}


def drawn_rows(layout: Layout, values: Mapping[str, Array]) -> tuple[DrawnRow, ...]:
    """Return the rows that are drawn one by one, those of the trial's block models left out.

    `values` by address, shapes (1, 1): a dial's value takes the top of the triangle and widens a range it lies outside.
    """
    used = used_addresses(layout.structure)
    return tuple(drawn_row(one, values) for at, one in layout.inputs.items() if at in used and is_drawn(layout, one))


def is_drawn(layout: Layout, one: Input) -> bool:
    """Return whether an input is drawn from a range of its own; rows the trial draws jointly are not."""
    has_range = one.low is not None and one.high is not None and one.low < one.high
    return has_range and one.spread != FIXED and one.nature != CHOICE and _is_stated(layout, one)


def _is_stated(layout: Layout, one: Input) -> bool:
    """Whether the row states its range: typed, or taken from the trial with a range written beside it or of a mass."""
    if one.origin == TRIAL:
        return has_own_range(layout, one) or one.address.startswith("fruit_mass_g")
    return one.origin == "typed"


def has_own_range(layout: Layout, one: Input) -> bool:
    """Return whether the book writes low and high beside the word trial: they are drawn from, its plots are not."""
    if one.file != BOOK_FILE:
        return False
    return any(row.line == one.line and row.low is not None for row in layout.case.book.rows)


def drawn_row(one: Input, values: Mapping[str, Array]) -> DrawnRow:
    """Return the row of an input that is drawn, at values by address, shapes (1, 1): see `drawn_rows`."""
    assert one.low is not None
    assert one.high is not None
    value = float(values[one.address].flat[0])
    measured = one.origin == TRIAL and one.address.startswith("fruit_mass_g")
    return DrawnRow(
        address=one.address,
        low=min(one.low, value),
        value=value,
        high=max(one.high, value),
        lowest=one.lowest,
        highest=one.highest,
        spread=MEASURED if measured else one.spread,
        nature=CONSTANT if measured else one.nature,
    )


def held_notes(layout: Layout) -> Iterator[str]:
    """Yield what a reader should know of numbers that are not drawn though they are not certain."""
    if layout.structure.simulated:
        names = sorted({item.name for item in layout.structure.simulated})
        yield (
            f"Values of the daily simulations ({', '.join(names)}) are held at their own value: the rows they stand on "
            "are not drawn through them."
        )
    used = used_addresses(layout.structure)
    open_ended = [
        one
        for at, one in layout.inputs.items()
        if at in used and one.low is None and one.nature != CHOICE and one.origin == "typed" and one.spread != FIXED
    ]
    if open_ended:
        yield f"{len(open_ended)} numbers have no range in the book and are held at their value."
