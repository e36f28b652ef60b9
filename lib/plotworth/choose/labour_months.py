"""Hours of work by task and calendar month, family and hired: what a full year's labour is when it is done.

Arrays are (12, site, draw), January first, for a year of full harvest; over tasks and months they come to the
hours of the composition.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from plotworth.case.cost_lines import CAPITAL, HOUR, SEASONAL, CostLine
from plotworth.choose.layout import Layout
from plotworth.choose.month_prices import season_months
from plotworth.choose.month_shares import (
    MONTHS,
    MonthShares,
    evenly_over,
    in_month,
    picked_by_month,
    watered_by_month,
)
from plotworth.choose.structure import SystemPlan
from plotworth.choose.system import SystemYear
from plotworth.choose.water_case import CaseWater
from plotworth.ground.arrays import Array
from plotworth.money.costs import CostItem
from plotworth.money.labour import LabourItem, plan_work

CARRYING = "carrying water"


@dataclass(frozen=True)
class SystemMonths:
    """A system in a full year, with how the pickings and the water of each of its seasons lie over the months.

    `year`, the composition's; `picked` and `watered` by season.
    """

    year: SystemYear
    picked: tuple[MonthShares, ...]
    watered: tuple[MonthShares, ...]

    @property
    def plan(self) -> SystemPlan:
        """The plan of the system."""
        return self.year.plan

    def months_of(self, season: int) -> list[int]:
        """Return the calendar months (1-12) of a season by its position."""
        plan = self.plan.seasons[season]
        return season_months(plan.first_month, plan.months)


@dataclass(frozen=True)
class TaskMonths:
    """A task of one season, or of the whole year where `season` is None: hours by calendar month (12, site, draw).

    `moves` with the harvest: hours of a full harvest, of which a poor year has less.
    """

    task: str
    season: int | None
    moves: bool
    family: Array
    hired: Array


def system_months(
    layout: Layout, values: Mapping[str, Array], water: CaseWater, years: Mapping[str, SystemYear]
) -> dict[str, SystemMonths]:
    """Return the systems of a case with their months, by id, from `evaluate.run_systems` at the same values."""
    found = {}
    for name, year in years.items():
        seasons = year.plan.seasons
        picked = tuple(picked_by_month(layout, values, name, season) for season in seasons)
        watered = tuple(watered_by_month(water, name, season) for season in seasons)
        found[name] = SystemMonths(year, picked, watered)
    return found


def lines_with_items(layout: Layout, plan: SystemPlan) -> Iterator[tuple[CostLine, CostItem]]:
    """Yield the cost lines of a system, each with its item in the composition."""
    lines = [line for line in layout.case.costs if line.system in ("", plan.id)]
    yield from zip(lines, plan.costs, strict=True)


def tasks_by_month(layout: Layout, values: Mapping[str, Array], months: SystemMonths) -> list[TaskMonths]:
    """Return the hours of a system by task: rows of the labour plan, carrying, and cost lines counted in hours.

    A row without a month is spread evenly over its season; carrying follows the water; a seasonal line in hours falls
    into its month or the season's first, a yearly one into its month or all twelve.
    """
    return [
        *_planned(layout, values, months),
        *_carried(values, months),
        *(task for line, item in lines_with_items(layout, months.plan) for task in _billed(values, months, line, item)),
    ]


def _planned(layout: Layout, values: Mapping[str, Array], months: SystemMonths) -> Iterator[TaskMonths]:
    rows = [row for row in layout.case.rows("labour_plan") if row.system in ("", months.plan.id)]
    for row, item in zip(rows, months.plan.labour, strict=True):
        yield from _row_tasks(values, months, row, item)


def _row_tasks(values: Mapping[str, Array], months: SystemMonths, row: Any, item: LabourItem) -> Iterator[TaskMonths]:
    work = plan_work((item,), values, [season.planted_m2 for season in months.year.seasons])
    hours = work.harvest if item.moves_with_harvest else work.steady
    for k in item.seasons:
        shares = evenly_over(months.months_of(k)) if row.month != row.month else in_month(int(row.month))
        family, hired = hours[k].family * shares, hours[k].hired * shares
        yield TaskMonths(row.task, k, moves=item.moves_with_harvest, family=family, hired=hired)


def _carried(values: Mapping[str, Array], months: SystemMonths) -> Iterator[TaskMonths]:
    family = values[months.plan.addresses["carrying_family_share"]]
    for k, season in enumerate(months.year.seasons):
        hours = season.carrying_h * months.watered[k].shares
        yield TaskMonths(CARRYING, k, moves=False, family=hours * family, hired=hours * (1.0 - family))


def _billed(values: Mapping[str, Array], months: SystemMonths, line: CostLine, item: CostItem) -> Iterator[TaskMonths]:
    """Yield the hired hours of a running cost line that is counted in hours."""
    if line.basis != HOUR or line.group == CAPITAL:
        return
    hours = values[item.quantity_address]
    places: Sequence[int | None] = item.seasons if line.group == SEASONAL else (None,)
    for k in places:
        shares = line_shares(months, line, k)
        yield TaskMonths(line.item, k, moves=False, family=0.0 * hours * shares, hired=hours * shares)


def line_shares(months: SystemMonths, line: CostLine, season: int | None) -> Array:
    """Return when a running cost line is paid: in its month, else in the season's first, else over twelve."""
    if line.month is not None:
        return in_month(line.month)
    if season is not None:
        return in_month(months.plan.seasons[season].first_month)
    return evenly_over(range(1, MONTHS + 1))


def hours_of(tasks: Sequence[TaskMonths]) -> tuple[Array, Array]:
    """Return family and hired hours of a full year by calendar month (12, site, draw) [hour], all tasks added up."""
    nothing = np.zeros((MONTHS, 1, 1))
    return sum((t.family for t in tasks), start=nothing), sum((t.hired for t in tasks), start=nothing)
