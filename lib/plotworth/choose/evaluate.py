"""The one composition: structure, values and shocks in, outcomes out. Pure.

The same call serves a slider (one site, one draw), a tornado, draws by the thousand and many sites. All
systems share the values; only the last step subtracts.
"""

from collections.abc import Hashable, Mapping, Sequence
from typing import TypeVar

import numpy as np

from plotworth.choose.computed import with_computed
from plotworth.choose.figures import physical_difference, physical_figures, season_figures
from plotworth.choose.structure import HarvestKey, Structure
from plotworth.choose.system import SystemYear, run_system
from plotworth.choose.worth import measure
from plotworth.ground.arrays import Array
from plotworth.ground.outcome import Outcome, join
from plotworth.money.cashflow import by_year

Key = TypeVar("Key", bound=Hashable)
BLOCK = 8192
"""Draws evaluated at a time, so that the years of a block stay in the processor's cache."""
KEPT_BYTES = 31 * 2**20
"""A piece of memory asked for and given back at once, never touched: from then on the C library of Linux keeps freed
pieces up to this size for the next block, where it would hand them back and have every page cleared again."""


def evaluate(
    structure: Structure, values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array], *, block: int = BLOCK
) -> Outcome:
    """Return the outcomes of every system, alone and against the two reference lines.

    Parameters: structure; values by address, each of shape (site or 1, draw or 1), in the units of the
    glossary; shocks: the harvest weight [share] of each system and season, shape (year or 1, site or 1,
    draw or 1); block: draws at a time [1].
    Returns: an Outcome in the full view: family labour at its wage, home consumption in kind.
    Raises: KeyError for an address the values lack.
    Equations: the project's method, see `season.grow`, `system.run_system`, `cashflow`, `measures`.
    """
    draws = max([array.shape[-1] for array in (*values.values(), *shocks.values())], default=1)
    starts = range(0, draws, block)
    np.empty(KEPT_BYTES, dtype=np.uint8)
    blocks = (_evaluate_block(structure, _cut(values, a, block), _cut(shocks, a, block)) for a in starts)
    return join(blocks, [min(block, draws - a) for a in starts])


def _cut(arrays: Mapping[Key, Array], start: int, width: int) -> dict[Key, Array]:
    return {key: a if a.shape[-1] == 1 else a[..., start : start + width] for key, a in arrays.items()}


def run_systems(
    structure: Structure, values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array]
) -> dict[str, SystemYear]:
    """Return every system in a full year, by id: what `evaluate` makes its outcomes from."""
    filled = with_computed(structure.computed, values)
    return {plan.id: run_system(plan, filled, shocks, structure.horizon_years) for plan in structure.systems}


def flows_by_year(
    structure: Structure, values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array]
) -> dict[str, Array]:
    """Return the yearly flows of every system [money], by id, shape (T+1, site, draw): for charts and checks."""
    systems = run_systems(structure, values, shocks)
    return {name: by_year(s.amounts, s.weights, structure.horizon_years) for name, s in systems.items()}


def _evaluate_block(structure: Structure, values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array]) -> Outcome:
    systems = run_systems(structure, values, shocks)
    pairs = _pairs(structure)
    money, facts = measure(systems, pairs, structure, values)
    physical = {name: physical_figures(system, structure.main_crop) for name, system in systems.items()}
    parts: dict[str, dict[str, dict[str, Array]]] = {"systems": {}, "against_baseline": {}, "against_today": {}}
    for part, name, reference in pairs:
        own = physical[name]
        shown = own if reference is None else physical_difference(own, physical[reference])
        parts[part][name] = {**shown, **money[f"{part}/{name}"]}
    seasons = {
        f"{system.plan.id}/{plan.season}": season_figures(year)
        for system in systems.values()
        for plan, year in zip(system.plan.seasons, system.seasons, strict=True)
    }
    return Outcome(**parts, seasons=seasons, facts=facts)


def _pairs(structure: Structure) -> Sequence[tuple[str, str, str | None]]:
    """Return every stream to be measured: the part of the outcome, the system, and what it is set against."""
    ids = [plan.id for plan in structure.systems]
    alone = [("systems", name, None) for name in ids]
    against = [
        (part, name, reference)
        for part, reference in (("against_baseline", structure.baseline), ("against_today", structure.today))
        for name in ids
        if name != reference
    ]
    return [*alone, *against]


def broadcast_shape(values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array]) -> tuple[int, ...]:
    """Return the (site, draw) shape that all inputs broadcast to."""
    return np.broadcast_shapes(*(a.shape for a in values.values()), *(a.shape[-2:] for a in shocks.values()))
