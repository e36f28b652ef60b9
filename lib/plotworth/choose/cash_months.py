"""Cash by month: what comes in and goes out in money, month by month over the horizon, from the one composition.

Month 0 is the investment; months 12 t - 11 to 12 t are year t and come to the composition's year t in the cash view:
family work at no wage, food eaten at home left out, no working capital, for which the months stand themselves. With
w the harvest weights of the year: composition's flow = cash + w x eaten value - family hours x family wage, less
working capital in year 0 and plus it in year T.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.case.cost_lines import CAPITAL, HOUR, CostLine
from plotworth.choose.computed import with_computed
from plotworth.choose.evaluate import run_systems
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.labour_months import (
    SystemMonths,
    TaskMonths,
    line_shares,
    lines_with_items,
    system_months,
    tasks_by_month,
)
from plotworth.choose.layout import Layout
from plotworth.choose.loan_flows import financing_by_month, financing_notes, grant_faults
from plotworth.choose.month_shares import MONTHS, prices_by_month
from plotworth.choose.simulated import with_simulated
from plotworth.choose.structure import Structure
from plotworth.choose.water_case import water_of_case
from plotworth.ground.arrays import Array
from plotworth.ground.errors import FaultsError
from plotworth.money.costs import CostItem, add_up, replacement_years

SALES, RESIDUAL = "sales", "residual value"
INVESTMENT, REPLACEMENT = "investment", "replacements"
LINES, UPKEEP, WATER, SELLING, HIRED = (
    "inputs of the season",
    "yearly costs",
    "water and energy",
    "selling costs",
    "hired work",
)
INFLOWS = (SALES, RESIDUAL)
OUTFLOWS = (INVESTMENT, REPLACEMENT, LINES, UPKEEP, WATER, SELLING, HIRED)


@dataclass(frozen=True)
class Stream:
    """Money of a full year by calendar month (12, site, draw), January first: above 0 comes in, below goes out.

    `season`: the position of the season whose harvest weights multiply it, None where it is spent whatever grows.
    """

    kind: str
    label: str
    by_month: Array
    season: int | None


@dataclass(frozen=True)
class CashMonths:
    """Cash of one system: `flows` and `financing` by kind, each (M + 1, site, draw) [money of month 0], M = 12 T.

    Above 0 comes in, below goes out. `first_month` is the calendar month (1-12) of month 1. `normal_year` is the
    running net by month of the year from month 1 on (12, site, draw): harvest weights of the last year, nothing
    bought to last. `months` and `tasks`: what it was made from.
    """

    months: SystemMonths
    first_month: int
    flows: Mapping[str, Array]
    financing: Mapping[str, Array]
    normal_year: Array
    tasks: tuple[TaskMonths, ...]

    @property
    def before(self) -> Array:
        """Net cash of each month before financing."""
        return _total(self.flows)

    @property
    def financed(self) -> Array:
        """Net financing of each month: received less paid."""
        return _total(self.financing)

    @property
    def after(self) -> Array:
        """Net cash of each month after financing."""
        return self.before + self.financed

    def closing(self, *, with_financing: bool) -> Array:
        """Return the balance at the end of each month, from nothing before month 0; the next month opens with it."""
        return np.cumsum(self.after if with_financing else self.before, axis=0)

    def calendar_month(self, month: int) -> int:
        """Return the calendar month (1-12) of month 1..M."""
        return (self.first_month + month - 2) % MONTHS + 1


@dataclass(frozen=True)
class CaseCash:
    """Cash by month of every system of a case, by id, at `values` by address; `notes`, what to know of it."""

    layout: Layout
    values: Mapping[str, Array]
    first_month: int
    systems: Mapping[str, CashMonths]
    notes: tuple[str, ...]


def _total(parts: Mapping[str, Array]) -> Array:
    whole = sum(parts.values())
    assert isinstance(whole, np.ndarray)
    return whole


def cash_by_month(layout: Layout, values: Mapping[str, Array]) -> CaseCash:
    """Return cash by month of every system of a laid-out case at values by address.

    Shapes (site or 1, draw or 1); the months of water follow the first site and draw. Errors: FaultsError where
    grants come to more than an investment.
    """
    structure = layout.structure
    values = with_computed(structure.computed, with_simulated(layout, values))
    years = run_systems(structure, values, expected_shocks(structure, values))
    if faults := grant_faults(layout.case, years, values):
        raise FaultsError(faults)
    first, crossed = first_month(layout)
    months = system_months(layout, values, water_of_case(layout, values), years)
    systems = {name: _cash_months(layout, values, one, first) for name, one in months.items()}
    return CaseCash(layout, values, first, systems, (*_notes(systems), *crossed, *financing_notes(layout)))


def refuse_grants(layout: Layout) -> None:
    """Raise FaultsError where the grants of a laid-out case come to more than an investment."""
    if layout.case.settings.grants:
        years = run_systems(layout.structure, layout.values, expected_shocks(layout.structure, layout.values))
        if faults := grant_faults(layout.case, years, layout.values):
            raise FaultsError(faults)


def first_month(layout: Layout) -> tuple[int, list[str]]:
    """Return the calendar month of month 1, and a note for each season that the turn of the year cuts.

    As case.toml says; else the first month of a season, the earliest in the calendar that cuts fewest seasons.
    """
    stated = layout.case.settings.first_month
    firsts = sorted({season.first_month for plan in layout.structure.systems for season in plan.seasons})
    first = min(firsts, key=lambda month: len(_cut(layout.structure, month))) if stated is None else stated
    return first, [
        f"{name}: the season runs over the turn of the year; its months after it stand at the start of the same year."
        for name in _cut(layout.structure, first)
    ]


def _cut(structure: Structure, first: int) -> list[str]:
    """Return the seasons that run on after the twelfth month of a year that begins in this calendar month."""
    return [
        f"{season.season}, {plan.label}"
        for plan in structure.systems
        for season in plan.seasons
        if (season.first_month - first) % MONTHS + season.months > MONTHS
    ]


def _notes(systems: Mapping[str, CashMonths]) -> Iterator[str]:
    """Yield what the months of sales and water follow, in each season of each system."""
    for cash in systems.values():
        one = cash.months
        for season, picked, watered in zip(one.plan.seasons, one.picked, one.watered, strict=True):
            where = f"{one.plan.label}, {season.season}"
            yield f"{where}: sales follow {picked.follows}; water follows {watered.follows}."


def _cash_months(layout: Layout, values: Mapping[str, Array], months: SystemMonths, first: int) -> CashMonths:
    horizon = layout.structure.horizon_years
    tasks = tuple(tasks_by_month(layout, values, months))
    streams = list(_streams(layout, values, months, tasks))
    flows = {**_running(streams, months, first, horizon), **_lasting(months, horizon)}
    return CashMonths(
        months=months,
        first_month=first,
        flows={kind: flows[kind] for kind in (*INFLOWS, *OUTFLOWS)},
        financing=financing_by_month(layout.case, months.year, values, MONTHS * horizon),
        normal_year=_normal_year(streams, months, first),
        tasks=tasks,
    )


def _streams(
    layout: Layout, values: Mapping[str, Array], months: SystemMonths, tasks: tuple[TaskMonths, ...]
) -> Iterator[Stream]:
    """Yield what runs every year: sales, cost lines, energy, hired work."""
    for k, (season, plan) in enumerate(zip(months.year.seasons, months.plan.seasons, strict=True)):
        prices = prices_by_month(layout, values, plan)
        yield Stream(SALES, season.crop, season.chain.sold * months.picked[k].shares * prices, k)
        yield Stream(WATER, "energy", -months.year.energy[k] * months.watered[k].shares, None)
    for line, item in lines_with_items(layout, months.plan):
        if line.group != CAPITAL and line.basis != HOUR:
            yield from _line_streams(layout, values, months, line, item)
    for task in tasks:
        season_moved = task.season if task.moves else None
        yield Stream(HIRED, task.task, -task.hired * months.year.wages.hired, season_moved)


def _line_streams(
    layout: Layout, values: Mapping[str, Array], months: SystemMonths, line: CostLine, item: CostItem
) -> Iterator[Stream]:
    """Yield a running cost line: its own bill, by season and month.

    In its month; where none is stated, what goes by the kilogram with the pickings, by the m3 with the water.
    """
    bill = add_up((item,), values, months.year.sizes, layout.structure.horizon_years)
    kind = {"m3": WATER, "kg_sold": SELLING}.get(line.basis, UPKEEP if line.group == "yearly" else LINES)
    by_water = line.basis == "m3" and line.month is None
    for k in item.seasons:
        picked = months.picked[k].shares if line.month is None else line_shares(months, line, k)
        yield Stream(kind, line.item, -bill.harvest[k] * picked, k)
        shares = months.watered[k].shares if by_water else line_shares(months, line, k)
        yield Stream(kind, line.item, -bill.seasonal[k] * shares, None)
    shares = _water_of_year(months) if by_water else line_shares(months, line, None)
    yield Stream(kind, line.item, -bill.yearly * shares, None)


def _water_of_year(months: SystemMonths) -> Array:
    """Return how the water of all seasons lies over the year; evenly where none is drawn."""
    seasons = list(zip(months.year.seasons, months.watered, strict=True))
    drawn = sum((season.water_m3 * shares.shares for season, shares in seasons), start=np.zeros((MONTHS, 1, 1)))
    whole = drawn.sum(axis=0)
    return np.where(whole > 0.0, drawn / np.where(whole > 0.0, whole, 1.0), 1.0 / MONTHS)


def _running(streams: list[Stream], months: SystemMonths, first: int, horizon: int) -> dict[str, Array]:
    """Return what runs every year by kind and month (12 T + 1, site, draw), month 0 empty."""
    kinds = dict.fromkeys((SALES, *OUTFLOWS[2:]))
    flows: dict[str, Array] = {kind: np.zeros((horizon * MONTHS + 1, 1, 1)) for kind in kinds}
    weights = [np.ones((horizon, 1, 1)) if s.season is None else months.year.weights[s.season] for s in streams]
    for stream, weight in zip(streams, weights, strict=True):
        by_year = weight[:, None] * np.roll(stream.by_month, 1 - first, axis=0)[None]
        running = by_year.reshape(horizon * MONTHS, *by_year.shape[2:])
        flows[stream.kind] = flows[stream.kind] + np.concatenate([np.zeros_like(running[:1]), running])
    return flows


def _lasting(months: SystemMonths, horizon: int) -> dict[str, Array]:
    """Return what is bought to last, by kind and month: in month 0, again in the month its life ends, residual at T."""
    amounts, last = months.year.amounts, MONTHS * horizon
    investment, replaced, residual = (
        np.zeros((last + 1, *np.broadcast_shapes(amounts.investment.shape, amounts.residual.shape))) for _ in range(3)
    )
    for life, amount in amounts.capital.items():
        investment[0] -= amount
        for year in replacement_years(life, horizon)[1:]:
            replaced[MONTHS * year] -= amount
    residual[last] += amounts.residual
    return {INVESTMENT: investment, REPLACEMENT: replaced, RESIDUAL: residual}


def _normal_year(streams: list[Stream], months: SystemMonths, first: int) -> Array:
    """Return the running net of a year with the last year's harvest weights, by month from month 1 (12, site, draw)."""
    weights = months.year.weights
    net = np.zeros((MONTHS, 1, 1))
    for stream in streams:
        weight = 1.0 if stream.season is None else weights[stream.season][-1]
        net = net + stream.by_month * weight
    return np.roll(net, 1 - first, axis=0)
