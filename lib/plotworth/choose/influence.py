"""What moves the answer of a case, what it rests on, and what would be worth knowing, from one set of draws.

The decision is that between a system and its reference; the value of knowing is that of choosing among all systems.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from plotworth.choose.drawn_sample import SAMPLE_DRAWS, DrawnSample, drawn_sample
from plotworth.choose.events import Events
from plotworth.choose.evidence_share import NO_GRADE, GradeShare, evidence_shares
from plotworth.choose.information_value import Worth, information_values, perfect_information_value, season_value
from plotworth.choose.layout import Layout
from plotworth.choose.risk import ALL_EVENTS, SEED
from plotworth.choose.tornado import Tornado, move_each, tornado, with_switching
from plotworth.choose.variance_shares import first_order_shares
from plotworth.ground.arrays import Array

TRIAL_SEASON = ["site", "trial_year"]
Values = Mapping[str, Array]


@dataclass(frozen=True)
class RowShare:
    """A row with its share of the variance of the difference, the standard error of that [share], and its grade."""

    address: str
    share: float
    error: float
    grade: str


@dataclass(frozen=True)
class RowWorth:
    """A row with the value of knowing it for certain [money] and its standard error, and its grade."""

    address: str
    worth: Worth
    grade: str


@dataclass(frozen=True, repr=False)
class Influence:
    """What moves a case's answer and what would be worth knowing.

    `tornado` of a system against its reference, with switching values; `shares` of the variance of that difference,
    the greatest first, and `rest`, what no row has alone: rows together, and the luck of seasons; `by_swing` and
    `by_spread`, parts by grade; `worth` of knowing each row, the greatest first; `everything`, of knowing all;
    `season`, of one more season after `seasons` of the trial, None without one; `draws`, `seed`, `is_correlated`.
    """

    layout: Layout
    tornado: Tornado
    shares: tuple[RowShare, ...]
    rest: float
    by_swing: tuple[GradeShare, ...]
    by_spread: tuple[GradeShare, ...]
    worth: tuple[RowWorth, ...]
    everything: Worth
    season: Worth | None
    seasons: int
    draws: int
    seed: int
    is_correlated: bool

    @property
    def is_known(self) -> bool:
        """Whether the case has an outcome; not where an assumption is unknown."""
        return not math.isnan(self.tornado.base)


def influence(
    layout: Layout,
    values: Values,
    system: str,
    reference: str,
    *,
    draws: int = SAMPLE_DRAWS,
    seed: int = SEED,
    events: Events = ALL_EVENTS,
) -> Influence:
    """Return what moves the difference between a system and its reference, and what would be worth knowing.

    Parameters: layout; values by address, shapes (1, 1), the case's or a dial's; system and reference by id,
    `OWN_WORTH` for the system's own NPV; draws, some hundreds or more, of which 131,072 are kept; seed; events drawn.
    Errors: PlotworthError for a system that the case has not.
    """
    moved = move_each(layout, values)
    found = with_switching(tornado(moved, system, reference), moved)
    sample = drawn_sample(layout, values, draws=draws, seed=seed, events=events)
    grades = [layout.inputs[at].grade or NO_GRADE for at in sample.addresses]
    told = first_order_shares(sample.drawn, sample.difference(system, reference))
    rows = zip(sample.addresses, told.first.tolist(), told.error.tolist(), grades, strict=True)
    known = information_values(sample.drawn, sample.outcomes)
    worth = [RowWorth(*one) for one in zip(sample.addresses, known, grades, strict=True)]
    seasons = _seasons(layout)
    return Influence(
        layout=layout,
        tornado=found,
        shares=tuple(sorted((RowShare(*row) for row in rows), key=lambda row: -row.share)),
        rest=1.0 - float(told.first.sum()),
        by_swing=tuple(evidence_shares([bar.grade for bar in found.bars], [bar.swing for bar in found.bars])),
        by_spread=tuple(evidence_shares(grades, told.first.tolist())),
        worth=tuple(sorted(worth, key=lambda row: -row.worth.value)),
        everything=perfect_information_value(sample.outcomes),
        season=_season(sample, seasons),
        seasons=seasons,
        draws=sample.drawn.shape[1],
        seed=seed,
        is_correlated=bool(sample.plan.clusters),
    )


def _seasons(layout: Layout) -> int:
    """Return how many seasons the trial has had, each site's by itself; 0 without a trial."""
    return 0 if layout.trial is None else len(layout.trial.units[TRIAL_SEASON].drop_duplicates())


def _season(sample: DrawnSample, seasons: int) -> Worth | None:
    measured = [at for figure in sample.plan.figures for at in figure.addresses if at in sample.addresses]
    if not seasons or not measured:
        return None
    return season_value(sample.of_rows(tuple(measured)), sample.outcomes, seasons=seasons)
