"""Draws of a case, in blocks that know nothing of each other: values by address and shocks for the composition.

Block k of a seed is the same whatever the number of draws, and its first n draws are the same whatever n: a slice of
the draws is the draws of the slice.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from plotworth.choose.correlations import Cluster, clusters, correlate
from plotworth.choose.drawn_rows import CONSTANT, YEARLY, DrawnRow, drawn_rows
from plotworth.choose.events import (
    Events,
    drawn_hole_chances,
    dry_hole_addresses,
    failed_weights,
    season_names,
)
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.structure import HarvestKey, Structure
from plotworth.choose.trial_draws import MODELLED, TrialFigure, draw_errors, follows_the_yield, moved, trial_figures
from plotworth.choose.yearly import levels, with_yields
from plotworth.ground.arrays import Array

BLOCK = 8192
"""Draws in a block: a power of two, for which quasi-random points are balanced."""
STREAMS = ("constant", "yearly", "failed", "holes", "trial")


@dataclass(frozen=True)
class DrawPlan:
    """What is drawn of a case and how.

    `values` by address, shapes (site or 1, 1), hold what is not drawn; `rows` are drawn one by one, `figures` jointly
    from the trial; rows of a cluster are correlated; `events`; `quasi_random`, whether rows drawn once a case follow
    scrambled Sobol points (Owen 1998), an independent scramble a block.
    """

    structure: Structure
    values: Mapping[str, Array]
    rows: tuple[DrawnRow, ...]
    figures: tuple[TrialFigure, ...]
    clusters: tuple[Cluster, ...]
    events: Events
    seed: int
    quasi_random: bool

    @property
    def addresses(self) -> tuple[str, ...]:
        """Addresses of every number that is drawn."""
        return (*(row.address for row in self.rows), *(at for figure in self.figures for at in figure.addresses))

    def of_nature(self, nature: str) -> tuple[DrawnRow, ...]:
        """Return the rows drawn one by one that are `constant` or `yearly`."""
        return tuple(row for row in self.rows if row.nature == nature)


@dataclass(frozen=True)
class Draws:
    """A block of draws: what `evaluate` takes, and one year by itself.

    `values` by address (site or 1, draw or 1) and `shocks` by system and season (year or 1, site or 1, draw or 1);
    `year_values` and `year_shocks` hold the draws of the last year alone in place of levels and means over the years.
    """

    values: Mapping[str, Array]
    shocks: Mapping[HarvestKey, Array]
    year_values: Mapping[str, Array]
    year_shocks: Mapping[HarvestKey, Array]


def draw_plan(
    layout: Layout,
    values: Mapping[str, Array],
    *,
    seed: int,
    events: Events,
    quasi_random: bool = True,
    only: Collection[str] | None = None,
) -> DrawPlan:
    """Return what is drawn of a laid-out case.

    Parameters: layout; values by address, shapes (site or 1, 1), the case's or a dial's; seed, 0 or more; events;
    only, the addresses that are drawn, all others held at their value: none closes every range.
    """
    rows, figures = _without_followers(layout, drawn_rows(layout, values)), trial_figures(layout)
    if only is not None:
        rows = tuple(row for row in rows if row.address in only)
        figures = tuple(kept for figure in figures if (kept := _kept(figure, only)).addresses)
    return DrawPlan(
        structure=layout.structure,
        values=values,
        rows=rows,
        figures=figures,
        clusters=clusters(layout.case, [row.address for row in rows]),
        events=events,
        seed=seed,
        quasi_random=quasi_random,
    )


def _without_followers(layout: Layout, rows: tuple[DrawnRow, ...]) -> tuple[DrawnRow, ...]:
    held = follows_the_yield(layout)
    return tuple(row for row in rows if row.address not in held)


def _kept(figure: TrialFigure, only: Collection[str]) -> TrialFigure:
    """Return the figure with the rows of some addresses alone."""
    places = [k for k, address in enumerate(figure.addresses) if address in only]
    cross = np.ix_(places, places)
    return replace(
        figure,
        addresses=tuple(figure.addresses[k] for k in places),
        estimates=figure.estimates[places],
        is_share=tuple(figure.is_share[k] for k in places),
        trials=tuple(tuple(replace(s, loading=s.loading[cross]) for s in strata) for strata in figure.trials),
        lowest=figure.lowest[places],
        highest=figure.highest[places],
    )


def draw_block(plan: DrawPlan, block: int, draws: int) -> Draws:
    """Return the first `draws` (1 to BLOCK) of a block of a plan: block 0 holds draws 0 to BLOCK - 1, and so on."""
    streams = _streams(plan.seed, block)
    values = {**plan.values, **_constants(plan, streams, draws), **_trial(plan, streams, draws)}
    years = _years(plan, streams["yearly"], draws)
    if plan.events.dry_holes:
        holes = len(dry_hole_addresses(plan.structure))
        values |= drawn_hole_chances(plan.structure, values, streams["holes"].random((holes, BLOCK))[:, :draws])
    harvest = _harvest(plan, values, streams["failed"], draws)
    if not years:
        last = {key: weights[-1:] for key, weights in harvest.items()}
        return Draws(values, harvest, values, last)
    shocks = with_yields(plan.structure, harvest, years)
    level = levels(plan.structure, values, shocks, years)
    one_year = {at: row[-1:] for at, row in years.items()}
    last = {key: weights[-1:] for key, weights in harvest.items()}
    return Draws({**values, **level}, shocks, {**values, **one_year}, last)


def _streams(seed: int, block: int) -> dict[str, np.random.Generator]:
    """Return a generator for each kind of draw, so that one kind more or less leaves the others as they are."""
    children = np.random.SeedSequence((seed, block)).spawn(len(STREAMS))
    return {name: np.random.default_rng(child) for name, child in zip(STREAMS, children, strict=True)}


def _constants(plan: DrawPlan, streams: Mapping[str, np.random.Generator], draws: int) -> dict[str, Array]:
    rows = plan.of_nature(CONSTANT)
    if not rows:
        return {}
    uniforms = _uniforms(plan, streams["constant"], len(rows), draws)
    _correlate(plan, rows, uniforms)
    return {row.address: row.at(uniforms[k])[None] for k, row in enumerate(rows)}


def _uniforms(plan: DrawPlan, generator: np.random.Generator, rows: int, draws: int) -> Array:
    """Return uniforms in [0, 1), shape (row, draw), one row after the other in memory."""
    if not plan.quasi_random:
        return generator.random((rows, BLOCK))[:, :draws]
    from scipy.stats import qmc

    points = qmc.Sobol(rows, scramble=True, rng=generator).random_base2((draws - 1).bit_length())
    return np.ascontiguousarray(points[:draws].T, np.float64)


def _correlate(plan: DrawPlan, rows: tuple[DrawnRow, ...], uniforms: Array) -> None:
    places = {row.address: k for k, row in enumerate(rows)}
    for cluster in plan.clusters:
        if cluster.addresses[0] in places:
            correlate(uniforms, cluster, [places[at] for at in cluster.addresses])


def _trial(plan: DrawPlan, streams: Mapping[str, np.random.Generator], draws: int) -> dict[str, Array]:
    found: dict[str, Array] = {}
    generators = streams["trial"].spawn(len(MODELLED))
    for figure in plan.figures:
        found |= moved(figure, plan.values, draw_errors(figure, generators[figure.place], draws))
    return found


def _years(plan: DrawPlan, generator: np.random.Generator, draws: int) -> dict[str, Array]:
    """Return each yearly row's draws by address, shape (year, draw)."""
    rows, horizon = plan.of_nature(YEARLY), plan.structure.horizon_years
    if not rows:
        return {}
    uniforms = generator.random((len(rows), horizon, BLOCK))[..., :draws]
    _correlate(plan, rows, uniforms)
    for k, row in enumerate(rows):
        for year in uniforms[k]:
            year[:] = row.at(year)
    return {row.address: uniforms[k] for k, row in enumerate(rows)}


def _harvest(
    plan: DrawPlan, values: Mapping[str, Array], generator: np.random.Generator, draws: int
) -> dict[HarvestKey, Array]:
    if not plan.events.failed_seasons:
        return expected_shocks(plan.structure, values)
    seasons, horizon = len(season_names(plan.structure)), plan.structure.horizon_years
    uniforms = generator.random((seasons, horizon, BLOCK))[..., :draws]
    return failed_weights(plan.structure, values, uniforms)
