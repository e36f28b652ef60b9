"""Simulated values of many sites or draws at once: one daily simulation for each different set of its rows."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from plotworth.choose.assumed import SIMULATED_NAMES
from plotworth.choose.layout import Layout
from plotworth.choose.probes import rows_of_simulations
from plotworth.choose.simulated import with_simulated
from plotworth.choose.structure import SimulatedItem
from plotworth.ground.arrays import Array, cell
from plotworth.ground.errors import PlotworthError

Values = Mapping[str, Array]


def with_simulated_each(layout: Layout, values: Values) -> tuple[Values, Mapping[int, str]]:
    """Return the values with the simulated ones put in for every site and draw, and where a simulation was refused.

    Parameters: layout; values by address, each (site or 1, draw or 1). Returns: values by address; a simulated one has
    the shape that the rows it stands on broadcast to, (1, 1) where none of them varies; by flat place in that shape
    the sentence of a refusal, where the value is NaN.
    A simulation follows a season day by day and takes milliseconds; equal sets of rows are followed once.
    """
    filled, refused = dict(values), {}
    rows = rows_of_simulations(layout)
    for item in sorted(layout.structure.simulated, key=lambda item: SIMULATED_NAMES.index(item.name)):
        stands_on = [at for at, items in rows.items() if item in items and filled[at].size > 1]
        filled[item.address], gaps = _each(layout, filled, item, stands_on)
        refused.update(gaps)
    return filled, refused


def _each(layout: Layout, values: Values, item: SimulatedItem, stands_on: list[str]) -> tuple[Array, dict[int, str]]:
    """Return one simulated value wherever the rows it stands on vary, and the refusals by flat place."""
    shape = np.broadcast_shapes((1, 1), *(values[at].shape for at in stands_on))
    table = np.array([np.broadcast_to(values[at], shape).ravel() for at in stands_on]).reshape(len(stands_on), -1)
    sets, places = np.unique(table.T, axis=0, return_inverse=True) if stands_on else (np.empty((1, 0)), np.zeros(1))
    places = places.ravel().astype(np.intp)
    alone = replace(layout, structure=replace(layout.structure, simulated=(item,)))
    first = {at: cell(float(array.flat[0])) for at, array in values.items()}
    figures, gaps = np.full(len(sets), np.nan), {}
    for place, numbers in enumerate(sets):
        moved = {at: cell(float(number)) for at, number in zip(stands_on, numbers, strict=True)}
        try:
            figures[place] = with_simulated(alone, {**first, **moved})[item.address].flat[0]
        except PlotworthError as error:
            gaps.update(dict.fromkeys(np.flatnonzero(places == place).tolist(), str(error)))
    return figures[places].reshape(shape), gaps
