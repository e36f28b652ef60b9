"""Many sites: the same case with other values at some addresses, one composition for a slice of sites at a time.

Sites lie along the first axis of the core's arrays. A slice is all that is in memory, and what a site comes to does not
depend on which slice it is in or which sites stand beside it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import compress

import numpy as np
from numpy.typing import NDArray

from plotworth.case.site_table import SiteRows
from plotworth.choose.computed import with_computed
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.simulated_each import with_simulated_each
from plotworth.choose.site_risk import SiteDraws, risk_of_sites, risk_paths
from plotworth.ground.arrays import Array
from plotworth.ground.errors import Fault
from plotworth.ground.outcome import Outcome

Numbers = NDArray[np.float64]
SLICE = 4096
"""Sites at a time: the years of so many stay in the processor's cache."""
ALONE = (
    "npv",
    "equivalent_annual_value",
    "investment",
    "running_cost",
    "return_per_family_day",
    "yield_kg_per_m2",
    "water_l_per_m2",
)
REMEDY = "correct what the site states, or leave it blank for the case's own"
AGAINST: Mapping[str, tuple[str, ...]] = {"against_baseline": ("npv", "less_water_share"), "against_today": ("npv",)}


@dataclass(frozen=True)
class SiteResults:
    """What a slice of sites comes to: their names, outcomes by path, shape (site,), NaN without a value.

    `best`: id of the system with the greatest NPV at each site, "" where one is not known; `faults` of the rows read
    with them that were refused; `read` rows so far, and `share` of the table read.
    """

    names: tuple[str, ...]
    best: tuple[str, ...]
    outcomes: Mapping[str, Numbers]
    faults: tuple[Fault, ...]
    read: int
    share: float


def site_paths(layout: Layout) -> tuple[str, ...]:
    """Return the paths of the outcomes told of each site: the main ones of every system, alone and against others."""
    structure = layout.structure
    references = {"against_baseline": structure.baseline, "against_today": structure.today}
    paths = [f"systems/{plan.id}/{name}" for plan in structure.systems for name in ALONE]
    for part, names in AGAINST.items():
        others = [plan.id for plan in structure.systems if plan.id != references[part]]
        paths += [f"{part}/{system}/{name}" for system in others for name in names]
    return tuple(paths)


@dataclass(frozen=True)
class SiteWork:
    """What is asked of each site: paths of the outcomes, the table's name for faults, and the draws, None without."""

    paths: tuple[str, ...]
    file: str
    drawn: SiteDraws | None = None

    def columns(self, layout: Layout) -> tuple[str, ...]:
        """Return the paths of all outcomes of a site: those asked for, then those that draws add."""
        return (*self.paths, *(risk_paths(layout.structure) if self.drawn else ()))


def slice_results(layout: Layout, rows: SiteRows, work: SiteWork) -> SiteResults:
    """Return what a slice of sites comes to.

    Parameters: layout of the case; rows of the slice; work, what is asked of each.
    A value that a row leaves blank is the case's own. A site at which a daily simulation is refused is left out and
    reported. The sites are evaluated side by side in one call of the composition.
    """
    if not rows.names:
        nothing = {path: np.empty(0) for path in work.columns(layout)}
        return SiteResults((), (), nothing, rows.faults, rows.read, rows.share)
    values, refused = _site_values(layout, rows)
    outcome = evaluate(layout.structure, values, expected_shocks(layout.structure, values))
    count = len(rows.names)
    kept = np.array([place not in refused for place in range(count)])
    outcomes = {path: _column(outcome, path, count) for path in work.paths}
    if work.drawn is not None:
        outcomes |= risk_of_sites(work.drawn, values, count)
    return SiteResults(
        names=tuple(compress(rows.names, kept)),
        best=tuple(compress(_best(layout, outcome, count), kept)),
        outcomes={path: column[kept] for path, column in outcomes.items()},
        faults=(*rows.faults, *_refusals(rows, refused, work.file)),
        read=rows.read,
        share=rows.share,
    )


def _site_values(layout: Layout, rows: SiteRows) -> tuple[Mapping[str, Array], Mapping[int, str]]:
    """Return values by address, sites along the first axis, and the places at which a simulation was refused."""
    stated = {at: np.where(np.isnan(own), layout.values[at][0, 0], own)[:, None] for at, own in rows.values.items()}
    values, refused = with_simulated_each(layout, {**layout.values, **stated}, rows.values)
    return with_computed(layout.structure.computed, values), refused


def _refusals(rows: SiteRows, refused: Mapping[int, str], file: str) -> Iterator[Fault]:
    for place in sorted(refused):
        yield Fault(file, rows.lines[place], rows.names[place], "", refused[place].rstrip("."), REMEDY)


def _column(outcome: Outcome, path: str, count: int) -> Numbers:
    return np.broadcast_to(outcome.at(path), (count, 1))[:, 0]


def _best(layout: Layout, outcome: Outcome, count: int) -> list[str]:
    """Return the id of the system with the greatest NPV at each site, the first of equals, "" where one is unknown."""
    ids = [plan.id for plan in layout.structure.systems]
    worth = np.stack([_column(outcome, f"systems/{name}/npv", count) for name in ids])
    known = ~np.isnan(worth).any(axis=0)
    greatest = np.where(known, worth.argmax(axis=0), len(ids))
    return [[*ids, ""][place] for place in greatest]
