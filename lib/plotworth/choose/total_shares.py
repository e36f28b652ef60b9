"""First and total order shares of a case's rows, by pick and freeze: what a row does alone, and in all.

Every row is a group of uniforms of its own, a yearly one with a uniform for each year; so are what the trial measured,
figure by figure, the seasons that fail and the dry holes.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.drawn_rows import CONSTANT, YEARLY
from plotworth.choose.draws import DrawPlan, draw_plan
from plotworth.choose.events import Events, drawn_hole_chances, dry_hole_addresses, failed_weights, season_names
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH, worked_out
from plotworth.choose.present_worth import net_present_values
from plotworth.choose.risk import ALL_EVENTS, SEED
from plotworth.choose.trial_draws import Stratum, TrialFigure, moved
from plotworth.choose.variance_shares import sobol_indices
from plotworth.choose.yearly import levels, with_yields
from plotworth.ground.arrays import Array

TOTAL_DRAWS = 1024
SEASONS_THAT_FAIL, DRY_HOLES = "events/failed_seasons", "events/dry_holes"
Values = Mapping[str, Array]


@dataclass(frozen=True)
class TotalShare:
    """A group's shares of the variance of a difference with their standard errors [share].

    `addresses` of its rows, or the name of an event; `first`: what goes once the group is known; `total`: what stays
    where all else is known, so that total less first is what it does together with others.
    """

    addresses: tuple[str, ...]
    first: float
    total: float
    first_error: float
    total_error: float


def total_shares(
    layout: Layout,
    values: Values,
    system: str,
    reference: str,
    *,
    draws: int = TOTAL_DRAWS,
    seed: int = SEED,
    events: Events = ALL_EVENTS,
) -> list[TotalShare]:
    """Return first and total order shares of every row and event, the greatest total first; none with correlated rows.

    Parameters as in `influence`; draws, a power of two of at most 8,192, taken 2 + groups times. A share assumes that
    rows are independent: with correlated ones `first_order_shares` from given draws stay, these are not told.
    """
    plan = draw_plan(layout, worked_out(layout, values), seed=seed, events=events)
    if plan.clusters:
        return []
    groups = list(_groups(plan))
    ends = np.cumsum([count for _, count in groups]).tolist()
    places = [range(end - count, end) for end, (_, count) in zip(ends, groups, strict=True)]

    def difference(uniforms: Array) -> Array:
        npv = _worth(plan, [uniforms[list(place)] for place in places])
        own = npv[system] if reference == OWN_WORTH else npv[system] - npv[reference]
        return np.broadcast_to(own[0], (uniforms.shape[1],))

    found = sobol_indices(difference, places, draws=draws, seed=seed)
    told = zip(found.first, found.total, found.first_error, found.total_error, strict=True)
    rows = [TotalShare(names, *map(float, numbers)) for (names, _), numbers in zip(groups, told, strict=True)]
    return sorted(rows, key=lambda row: -row.total)


def _groups(plan: DrawPlan) -> Iterator[tuple[tuple[str, ...], int]]:
    """Yield the names of each group and how many uniforms it takes, in the order in which `_worth` reads them."""
    horizon = plan.structure.horizon_years
    yield from (((row.address,), 1) for row in plan.of_nature(CONSTANT))
    yield from (((row.address,), horizon) for row in plan.of_nature(YEARLY))
    yield from ((figure.addresses, len(_strata(figure)) * (1 + len(figure.addresses))) for figure in plan.figures)
    if plan.events.failed_seasons:
        yield (SEASONS_THAT_FAIL,), len(season_names(plan.structure)) * horizon
    if plan.events.dry_holes and (holes := dry_hole_addresses(plan.structure)):
        yield (DRY_HOLES,), len(holes)


def _worth(plan: DrawPlan, uniforms: list[Array]) -> dict[str, Array]:
    """Return NPV of every system at uniforms of each group, each of shape (uniform, draw)."""
    parts = iter(uniforms)
    values = dict(plan.values) | {row.address: row.at(next(parts)) for row in plan.of_nature(CONSTANT)}
    years = {row.address: row.at(next(parts)) for row in plan.of_nature(YEARLY)}
    for figure in plan.figures:
        values |= moved(figure, plan.values, _errors(figure, next(parts)))
    harvest = expected_shocks(plan.structure, values)
    if plan.events.failed_seasons:
        by_season = next(parts).reshape(len(season_names(plan.structure)), plan.structure.horizon_years, -1)
        harvest = failed_weights(plan.structure, values, by_season)
    if plan.events.dry_holes and dry_hole_addresses(plan.structure):
        values |= drawn_hole_chances(plan.structure, values, next(parts))
    shocks = with_yields(plan.structure, harvest, years)
    return net_present_values(plan.structure, values | levels(plan.structure, values, shocks, years), shocks)


def _strata(figure: TrialFigure) -> list[Stratum]:
    return [one for trial in figure.trials for one in trial]


def _errors(figure: TrialFigure, uniforms: Array) -> Array:
    """Return errors of a figure's means, shape (r, draw): mean squares drawn, then errors given them."""
    from scipy.special import chdtri, ndtri

    strata = _strata(figure)
    errors = np.zeros((len(figure.addresses), uniforms.shape[1]))
    for stratum, own in zip(strata, np.split(uniforms, len(strata)), strict=True):
        freedom = stratum.degrees_of_freedom
        squares = freedom / chdtri(freedom, own[0]) if np.isfinite(freedom) else 1.0
        size, vectors = np.linalg.eigh(stratum.loading)
        spread = (vectors * np.sqrt(np.maximum(size, 0.0))) @ ndtri(own[1:])
        errors += spread * np.sqrt(stratum.mean_square * squares)
    return errors
