"""The cost table: every line of every system, counted and priced; and the sums of each system by area."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.case.cost_lines import HOUR, YEARLY, CostLine
from plotworth.case.folder import Case
from plotworth.choose.evaluate import evaluate, run_systems
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.structure import AREA
from plotworth.choose.system import SystemYear
from plotworth.ground.arrays import Array
from plotworth.money.costs import CostItem, counted

LABOUR_LINE = "labour and carrying"
LABOUR_SOURCE = "labour plan, carrying and wages of the book"
ENERGY_LINE = "energy for the pump"
ENERGY_SOURCE = "pump energy and price of energy of the book"


@dataclass(frozen=True)
class CostRow:
    """A cost line of one system: `number` on its basis (of a full year for running lines), price, amount [money].

    `amount` is paid once for capital and in a full year for the others; `life_years` [year] None for these.
    """

    system: str
    item: str
    group: str
    basis: str
    number: float
    unit_price: float
    amount: float
    life_years: int | None
    grade: str
    source: str


@dataclass(frozen=True)
class AreaRow:
    """Sums of one system at one area [m2 gross], money in the case's currency."""

    area_m2: float
    system: str
    investment: float
    working_capital: float
    running_cost: float
    npv: float


def cost_table(case: Case, layout: Layout, values: Mapping[str, Array]) -> list[CostRow]:
    """Return the cost lines of every system with what they come to; labour and carrying as one line at the end.

    `values` by address, shapes (1, 1). The amounts of running lines sum to the system's running cost, those of
    capital to its investment.
    """
    systems = run_systems(layout.structure, values, expected_shocks(layout.structure, values))
    return [row for system in systems.values() for row in _rows(case, system, values)]


def _rows(case: Case, system: SystemYear, values: Mapping[str, Array]) -> list[CostRow]:
    lines = [line for line in case.costs if line.system in ("", system.plan.id)]
    rows = [_row(system, line, item, values) for line, item in zip(lines, system.plan.costs, strict=True)]
    return [*rows, _labour_row(system), *_energy_rows(system)]


def _row(system: SystemYear, line: CostLine, item: CostItem, values: Mapping[str, Array]) -> CostRow:
    quantity, price = values[item.quantity_address], float(values[item.price_address][0, 0])
    by_season = item.group == "seasonal" or item.basis == "kg_sold"
    places: Sequence[int | None] = item.seasons if by_season else (None,)
    number = sum(float(counted(item, quantity, system.sizes, place)[0, 0]) for place in places)
    return CostRow(
        system=system.plan.label,
        item=line.item,
        group=line.group,
        basis=line.basis,
        number=number,
        unit_price=price,
        amount=number * price,
        life_years=line.life_years,
        grade=line.grade,
        source=line.source,
    )


def _labour_row(system: SystemYear) -> CostRow:
    hours = system.family_hours + system.hired_hours - system.bill.hours
    amount = system.labour_cost - system.bill.hours * system.wages.hired
    number, cost = float(hours[0, 0]), float(amount[0, 0])
    wage = cost / number if number else np.nan
    return CostRow(
        system.plan.label,
        LABOUR_LINE,
        YEARLY,
        HOUR,
        number,
        wage,
        cost,
        life_years=None,
        grade="",
        source=LABOUR_SOURCE,
    )


def _energy_rows(system: SystemYear) -> list[CostRow]:
    """Return the pump's energy as a line, none where no pump takes any."""
    bought, cost = (sum(float(part[0, 0]) for part in parts) for parts in (system.energy_kwh, system.energy))
    if not bought:
        return []
    labels = (system.plan.label, ENERGY_LINE, YEARLY, "kWh")
    return [CostRow(*labels, bought, cost / bought, cost, life_years=None, grade="", source=ENERGY_SOURCE)]


def costs_by_area(layout: Layout, values: Mapping[str, Array], areas_m2: Sequence[float]) -> list[AreaRow]:
    """Return investment, working capital, running cost and NPV of each system at several areas [m2 gross].

    One call of the composition serves all areas.
    """
    ladder = {**values, AREA: np.array([list(areas_m2)], dtype=np.float64)}
    outcome = evaluate(layout.structure, ladder, expected_shocks(layout.structure, ladder))
    return [
        AreaRow(area, plan.label, *_sums(outcome.systems[plan.id], place))
        for plan in layout.structure.systems
        for place, area in enumerate(areas_m2)
    ]


def _sums(figures: Mapping[str, Array], place: int) -> tuple[float, ...]:
    arrays = (figures[name] for name in ("investment", "working_capital", "running_cost", "npv"))
    return tuple(float(array[0, place if array.shape[1] > 1 else 0]) for array in arrays)
