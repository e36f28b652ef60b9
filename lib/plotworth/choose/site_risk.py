"""How sure the answer is at each of many sites: the same draws for all, so that sites differ by their own values.

What a table of sites states is taken as certain there; what it leaves to the case is drawn from the case's ranges.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plotworth.choose.distribution import PERCENTS
from plotworth.choose.draws import BLOCK, DrawPlan, draw_block, draw_plan
from plotworth.choose.events import Events
from plotworth.choose.layout import Layout
from plotworth.choose.present_worth import net_present_values
from plotworth.choose.structure import Structure
from plotworth.ground.arrays import Array
from plotworth.ground.errors import PlotworthError

FEWEST_DRAWS, MOST_DRAWS = 2, 100_000
CELLS = 32_768
"""Sites times draws evaluated at a time."""
RISK = "risk"
LOSS, IS_BEST, OVER_TODAY, OVER_BASELINE = (
    "chance_of_loss",
    "chance_of_best",
    "chance_better_than_today",
    "chance_better_than_baseline",
)
Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class SiteDraws:
    """What is drawn for every site alike: the plan of the draws, with the case's values, and how many [1]."""

    plan: DrawPlan
    draws: int


def site_draws(layout: Layout, stated: Collection[str], *, draws: int, seed: int) -> SiteDraws:
    """Return what is drawn of a case whose sites state their own values at the addresses `stated`.

    Errors: PlotworthError where draws lie outside 2 to 100,000 or the seed is negative.
    """
    if not FEWEST_DRAWS <= draws <= MOST_DRAWS:
        raise PlotworthError(f"{draws} draws a site: take {FEWEST_DRAWS} to {MOST_DRAWS:,}.")
    if seed < 0:
        raise PlotworthError(f"seed {seed}: take a whole number, 0 or more.")
    drawn = [at for at in layout.inputs if at not in stated]
    return SiteDraws(draw_plan(layout, layout.values, seed=seed, events=Events(), only=drawn), draws)


def sites_at_a_time(draws: int, size: int) -> int:
    """Return how many sites of so many draws make a slice: `size`, or fewer so that memory stays bounded."""
    return max(1, min(size, CELLS // draws))


def risk_paths(structure: Structure) -> tuple[str, ...]:
    """Return the columns that draws add to the results of a site, by system."""
    return tuple(path for plan in structure.systems for path in _paths(structure, plan.id))


def _paths(structure: Structure, system: str) -> Iterator[str]:
    names = [*(f"npv_p{percent:.0f}" for percent in PERCENTS), LOSS, IS_BEST]
    names += [OVER_TODAY] * (system != structure.today) + [OVER_BASELINE] * (system != structure.baseline)
    yield from (f"{RISK}/{system}/{name}" for name in names)


def risk_of_sites(drawn: SiteDraws, values: Mapping[str, Array], sites: int) -> dict[str, Numbers]:
    """Return percentiles of NPV [money] and chances [share] of every system at each site, by path, shape (site,).

    Parameters: what is drawn; values by address, shapes (site or 1, 1), simulated ones put in; sites, how many.
    Chance of loss: NPV below 0; of being best: no system above it; of being better: above the reference. NaN where one
    of the draws has no value.
    """
    npv = _npv(replace(drawn.plan, values=values), drawn.draws, sites)
    structure = drawn.plan.structure
    best = np.max(list(npv.values()), axis=0)
    found: dict[str, Numbers] = {}
    for system, own in npv.items():
        numbers = [*np.percentile(own, PERCENTS, axis=1), _chance(own, own < 0), _chance(best, own >= best)]
        for reference in (structure.today, structure.baseline):
            if reference != system:
                numbers.append(_chance(own - npv[reference], own > npv[reference]))
        found |= dict(zip(_paths(structure, system), numbers, strict=True))
    return found


def _npv(plan: DrawPlan, draws: int, sites: int) -> dict[str, Array]:
    """Return the NPV of every system [money] by id, shape (site, draw)."""
    parts: dict[str, list[Array]] = {system.id: [] for system in plan.structure.systems}
    for start in range(0, draws, BLOCK):
        width = min(BLOCK, draws - start)
        block = draw_block(plan, start // BLOCK, width)
        for system, worth in net_present_values(plan.structure, block.values, block.shocks).items():
            parts[system].append(np.broadcast_to(worth, (sites, width)))
    return {system: np.concatenate(found, axis=1) for system, found in parts.items()}


def _chance(known: Array, happened: NDArray[np.bool_]) -> Numbers:
    """Return the share of a site's draws in which something happened, NaN where a draw has no value."""
    return np.where(np.isnan(known).any(axis=1), np.nan, happened.mean(axis=1))
