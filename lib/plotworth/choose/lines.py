"""Lines through the values of a case: points along an address, or along several moved together, side by side.

Every point is a site of one call of the composition, so that many lines are followed at once.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plotworth.choose.computed import with_computed
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.probes import rows_of_simulations
from plotworth.choose.simulated import with_simulated
from plotworth.choose.structure import SimulatedItem
from plotworth.ground.arrays import Array, cell
from plotworth.ground.errors import PlotworthError

Values = Mapping[str, Array]
Floats = NDArray[np.float64]
Places = NDArray[np.intp]
OWN_WORTH = ""
"""Stands for the reference where a system is held against nothing: its own NPV against 0."""


@dataclass(frozen=True)
class Line:
    """A way through the values: at point x each address has start + slope x, in its own unit; all others stay."""

    starts: Mapping[str, float]
    slopes: Mapping[str, float]


def along(address: str) -> Line:
    """Return the line on which one address has the value of the point itself."""
    return Line({address: 0.0}, {address: 1.0})


def worked_out(layout: Layout, values: Values) -> Values:
    """Return values with what daily simulations and closed formulas give, worked out anew."""
    return with_computed(layout.structure.computed, with_simulated(layout, values))


def moves_simulated(layout: Layout, address: str) -> bool:
    """Return whether a daily simulation stands on an address, so that each of its points takes a run of its own."""
    return bool(rows_of_simulations(layout).get(address))


def moved_values(
    layout: Layout, values: Values, lines: Sequence[Line], which: Places, points: Floats
) -> dict[str, Array]:
    """Return the values at points of lines, worked out; shapes (point, 1), (1, 1) where nothing moves.

    `values` by address, shapes (1, 1), worked out; `which` line each of the `points` lies on. An address that is
    worked out from others may be moved as well: on its own line it has the value of the point.
    """
    filled = dict(values)
    for at in dict.fromkeys(at for line in lines for at in line.slopes):
        filled[at] = np.repeat(values[at][:1, :1], len(points), axis=0)
    for n, line in enumerate(lines):
        rows = np.flatnonzero(which == n)
        for at, slope in line.slopes.items():
            filled[at][rows, 0] = line.starts[at] + slope * points[rows]
    _simulate(layout, lines, which, filled)
    for item in layout.structure.computed:
        own = np.isin(which, [n for n, line in enumerate(lines) if item.address in line.slopes])
        found = with_computed((item,), filled)[item.address]
        filled[item.address] = np.where(own[:, None], filled[item.address], found) if own.any() else found
    return filled


def _simulate(layout: Layout, lines: Sequence[Line], which: Places, filled: dict[str, Array]) -> None:
    """Put in what daily simulations give at each point of a line that moves one of their rows."""
    rows_of = rows_of_simulations(layout) if layout.structure.simulated else {}
    for n, line in enumerate(lines):
        items = [item for at in line.slopes for item in rows_of.get(at, []) if item.address not in line.slopes]
        for row in np.flatnonzero(which == n) if items else ():
            found = _simulated(layout, items, filled, int(row))
            for address, number in found.items():
                if filled[address].shape[0] == 1:
                    filled[address] = np.repeat(filled[address], len(which), axis=0)
                filled[address][row, 0] = number


def _simulated(layout: Layout, items: Sequence[SimulatedItem], filled: Values, row: int) -> dict[str, float]:
    """Return what simulated values come to at one point, NaN where the point is refused."""
    ones = {at: cell(float(array[row if array.shape[0] > 1 else 0, 0])) for at, array in filled.items()}
    alone = replace(layout, structure=replace(layout.structure, simulated=tuple(dict.fromkeys(items))))
    try:
        found = with_simulated(alone, ones)
    except PlotworthError:
        return {item.address: np.nan for item in items}
    return {item.address: float(found[item.address][0, 0]) for item in items}


def evaluated(layout: Layout, values: Values, system: str, reference: str) -> tuple[Array, Array]:
    """Return NPV of a system less that of its reference, and all money moved by the two [money], (site, draw).

    `values` worked out; reference `OWN_WORTH` for the system's own NPV. Money moved: present values of benefits and
    of costs added up, the measure of what rounding is.
    """
    structure = replace(layout.structure, computed=())
    systems = evaluate(structure, values, expected_shocks(structure, values)).systems
    own = systems[system]
    if reference == OWN_WORTH:
        return own["npv"], _money_moved(own)
    other = systems[reference]
    return own["npv"] - other["npv"], _money_moved(own) + _money_moved(other)


def _money_moved(figures: Mapping[str, Array]) -> Array:
    return np.asarray(np.abs(figures["present_value_benefits"]) + np.abs(figures["present_value_costs"]))


@dataclass(frozen=True)
class Rivals:
    """A system and its reference (`OWN_WORTH` for none) along lines through the values of a case, worked out."""

    layout: Layout
    values: Values
    system: str
    reference: str
    lines: tuple[Line, ...]

    def compare(self, which: Places, points: Floats) -> tuple[Floats, Floats]:
        """Return the difference in NPV and all money moved [money] at points, each on the line of this place."""
        moved = moved_values(self.layout, self.values, self.lines, which, points)
        difference, gross = evaluated(self.layout, moved, self.system, self.reference)
        shape = (len(points),)
        return np.broadcast_to(difference[:, 0], shape), np.broadcast_to(gross[:, 0], shape)
