"""Simulated values of many sites or draws at once: one daily simulation for each different set of its rows."""

from collections.abc import Collection, Mapping
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


def with_simulated_each(
    layout: Layout, values: Values, moved: Collection[str]
) -> tuple[Mapping[str, Array], Mapping[int, str]]:
    """Return the values with the simulated ones put in for every site and draw, and where a simulation was refused.

    Parameters: layout; values by address, each (site or 1, draw or 1); moved, the addresses of which sites or draws
    have values of their own. Returns: values by address, a simulated one in the shape that the moved rows it stands on
    broadcast to; by flat place in that shape the sentence of a refusal, where the value is NaN.
    Errors: FaultsError where a simulation is refused that stands on no moved row.
    A simulation follows a season day by day and takes milliseconds; equal sets of rows are followed once.
    """
    filled: dict[str, Array] = dict(values)
    refused: dict[int, str] = {}
    varying = set(moved)
    rows = rows_of_simulations(layout)
    for item in sorted(layout.structure.simulated, key=lambda item: SIMULATED_NAMES.index(item.name)):
        alone = replace(layout, structure=replace(layout.structure, simulated=(item,)))
        stands_on = [at for at, items in rows.items() if item in items and at in varying]
        if stands_on:
            filled[item.address], gaps = _each(alone, filled, item, stands_on)
            refused.update(gaps)
            varying.add(item.address)
        else:
            filled[item.address] = with_simulated(alone, _first(filled))[item.address]
    return filled, refused


def _first(values: Values) -> dict[str, Array]:
    return {at: cell(float(array.flat[0])) for at, array in values.items()}


def _each(alone: Layout, values: Values, item: SimulatedItem, stands_on: list[str]) -> tuple[Array, dict[int, str]]:
    """Return one simulated value wherever the rows it stands on vary, and the refusals by flat place."""
    shape = np.broadcast_shapes((1, 1), *(values[at].shape for at in stands_on))
    table = np.array([np.broadcast_to(values[at], shape).ravel() for at in stands_on])
    sets, places = np.unique(table.T, axis=0, return_inverse=True)
    places, first = places.ravel(), _first(values)
    figures, gaps = np.full(len(sets), np.nan), dict[int, str]()
    for place, numbers in enumerate(sets):
        moved = {at: cell(float(number)) for at, number in zip(stands_on, numbers, strict=True)}
        try:
            figures[place] = with_simulated(alone, {**first, **moved})[item.address].flat[0]
        except PlotworthError as error:
            gaps.update(dict.fromkeys(np.flatnonzero(places == place).tolist(), str(error)))
    return figures[places].reshape(shape), gaps
