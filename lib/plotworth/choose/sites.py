"""Many sites: the same case with other values at some addresses, one composition for a slice of sites at a time.

Sites lie along the first axis of the core's arrays. A slice is all that is in memory, and what a site comes to does not
depend on which slice it is in or which sites stand beside it.
"""

from collections.abc import Iterator, Mapping, Sequence
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


def slice_results(layout: Layout, rows: SiteRows, *, paths: Sequence[str], file: str) -> SiteResults:
    """Return what a slice of sites comes to.

    Parameters: layout of the case; rows of the slice; paths of the outcomes; file, the table's name for faults.
    A value that a row leaves blank is the case's own. A site at which a daily simulation is refused is left out and
    reported. The sites are evaluated side by side in one call of the composition.
    """
    if not rows.names:
        return SiteResults((), (), {path: np.empty(0) for path in paths}, rows.faults, rows.read, rows.share)
    outcome, refused = _evaluated(layout, rows)
    count = len(rows.names)
    kept = np.array([place not in refused for place in range(count)])
    return SiteResults(
        names=tuple(compress(rows.names, kept)),
        best=tuple(compress(_best(layout, outcome, count), kept)),
        outcomes={path: _column(outcome, path, count)[kept] for path in paths},
        faults=(*rows.faults, *_refusals(rows, refused, file)),
        read=rows.read,
        share=rows.share,
    )


def _evaluated(layout: Layout, rows: SiteRows) -> tuple[Outcome, Mapping[int, str]]:
    """Return the outcome of a slice, sites along the first axis, and the places at which a simulation was refused."""
    stated = {at: np.where(np.isnan(own), layout.values[at][0, 0], own)[:, None] for at, own in rows.values.items()}
    values, refused = with_simulated_each(layout, {**layout.values, **stated}, rows.values)
    known = with_computed(layout.structure.computed, values)
    return evaluate(layout.structure, known, expected_shocks(layout.structure, known)), refused


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
