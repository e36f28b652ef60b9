"""Edges along a line through the values of a case: where another well or another of something in steps is bought.

Between two edges every amount is smooth. Besides capacity there are two kinks: a price that volume has brought down
to nothing, and the season that takes most plants. All are found by halving whole numbers counted by the composition's
own rules, down to two neighbouring numbers of the machine: one on either side of the edge.
"""

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from plotworth.choose.layout import Layout
from plotworth.choose.lines import Line, Values, moved_values
from plotworth.choose.season import grow
from plotworth.choose.sign_changes import Stretch
from plotworth.choose.structure import AREA, SystemPlan
from plotworth.ground.arrays import Array
from plotworth.ground.conversions import KG_PER_T
from plotworth.money.costs import capacity_steps

Floats = NDArray[np.float64]
MOST_EDGES = 1000
"""Edges of a line up to which they are followed; a range that holds more is too wide."""
HALVINGS = 120
Count = Callable[[NDArray[np.intp], Floats], Floats]


def capacity_counts(plans: Sequence[SystemPlan], values: Values, points: int) -> Floats:
    """Return what systems count in whole numbers at each point, shape (point, counted thing).

    `values` worked out, shapes (point or 1, 1). Wells and steps by system [1]; 1 where volume has brought a price to
    nothing, else 0; the place of the season with most plants.
    """
    columns = [column for plan in plans for column in _counts(plan, values)]
    return np.column_stack([np.broadcast_to(column[:, 0], (points,)) for column in columns])


def _counts(plan: SystemPlan, values: Values) -> Iterator[Array]:
    at = {name: values[address] for name, address in plan.addresses.items()}
    yield capacity_steps(values[AREA] * at["planted_share"], at["area_per_well_m2"])
    yield from (capacity_steps(values[AREA], step) for step in sorted({one.step_m2 or 0.0 for one in plan.costs} - {0}))
    years = [grow(season, values) for season in plan.seasons]
    for season, year in zip(plan.seasons, years, strict=True):
        fall = values[season.addresses["price_fall_share_per_t"]] * (year.chain.sold / KG_PER_T)
        yield np.asarray(fall >= 1.0, dtype=np.float64)
    plants = np.broadcast_arrays(*(year.plants for year in years))
    yield np.argmax(np.stack(plants), axis=0).astype(np.float64)


def smooth_stretches(
    layout: Layout,
    values: Values,
    plans: Sequence[SystemPlan],
    lines: Sequence[Line],
    ranges: Sequence[tuple[float, float]],
) -> dict[int, list[Stretch]]:
    """Return the stretches of each line between its edges, by its number; none where they are more than `MOST_EDGES`.

    `values` by address, shapes (1, 1), worked out; `plans` whose edges count; `ranges` low and high end of each line.
    """
    ends = np.array(ranges, dtype=np.float64).reshape(-1, 2)
    which = np.arange(len(lines))

    def counted(own: NDArray[np.intp], points: Floats) -> Floats:
        return capacity_counts(plans, moved_values(layout, values, lines, own, points), len(points))

    first, last = counted(which, ends[:, 0]), counted(which, ends[:, 1])
    wanted = [edge for n in which for edge in _wanted(int(n), first[n], last[n])]
    counts = {n: sum(edge[0] == n for edge in wanted) for n in dict.fromkeys(edge[0] for edge in wanted)}
    wanted = [edge for edge in wanted if counts[edge[0]] <= MOST_EDGES]
    edges = _edges(counted, wanted, ends)
    return {
        int(n): _between(int(n), ranges[int(n)], edges.get(int(n), [])) if counts.get(int(n), 0) <= MOST_EDGES else []
        for n in which
    }


Wanted = tuple[int, int, float, bool]
"""An edge to be found: line, counted thing, the number below which it stands on one side, whether it rises."""


def _wanted(line: int, first: Floats, last: Floats) -> Iterator[Wanted]:
    for column in np.flatnonzero(np.isfinite(first) & np.isfinite(last) & (first != last)):
        low, high = sorted((first[column], last[column]))
        passed = min(int(high - low), MOST_EDGES + 1)
        yield from ((line, int(column), float(low + k), bool(last[column] > first[column])) for k in range(passed))


def _edges(counted: Count, wanted: Sequence[Wanted], ends: Floats) -> dict[int, list[tuple[float, float]]]:
    """Return both sides of each edge, by line: neighbouring numbers between which a count passes from k to k + 1."""
    if not wanted:
        return {}
    which, column = (np.array([edge[k] for edge in wanted], dtype=np.intp) for k in (0, 1))
    level, rises = np.array([edge[2] for edge in wanted]), np.array([edge[3] for edge in wanted])
    low, high = ends[which, 0].copy(), ends[which, 1].copy()
    for _ in range(HALVINGS):
        middle = low + (high - low) / 2.0
        if ((middle <= low) | (middle >= high)).all():
            break
        above = counted(which, middle)[np.arange(len(which)), column] > level
        is_past = above == rises
        high, low = np.where(is_past, middle, high), np.where(is_past, low, middle)
    found: dict[int, list[tuple[float, float]]] = {}
    for line, below, over in zip(which, low, high, strict=True):
        found.setdefault(int(line), []).append((float(below), float(over)))
    return {line: sorted(set(own)) for line, own in found.items()}


def _between(line: int, ends: tuple[float, float], edges: Sequence[tuple[float, float]]) -> list[Stretch]:
    """Return the stretches from one edge to the next, without those that have no point."""
    starts = [ends[0], *(over for _, over in edges)]
    stops = [*(below for below, _ in edges), ends[1]]
    return [Stretch(line, start, stop) for start, stop in zip(starts, stops, strict=True) if start <= stop]
