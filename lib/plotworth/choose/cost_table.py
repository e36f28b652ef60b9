"""The cost table: every line of every system, counted and priced; and the sums of each system by area."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from plotworth.case.cost_lines import HOUR, CostLine
from plotworth.case.folder import Case
from plotworth.choose.evaluate import evaluate, run_systems
from plotworth.choose.inputs import Layout, expected_shocks
from plotworth.choose.structure import AREA
from plotworth.choose.system import SystemYear
from plotworth.ground.arrays import Array
from plotworth.money.costs import CostItem, counted

BY_AREA = ("investment", "working_capital", "running_cost", "npv")
LABOUR_LINE = "labour and carrying"


def cost_table(case: Case, layout: Layout, values: Mapping[str, Array]) -> pd.DataFrame:
    """Return the cost lines of every system with what they come to; one row a line and system.

    Columns: system; item; group (capital, seasonal, yearly); basis; count [on the basis, a year of running
    lines]; unit_price [money]; amount [money: once for capital, a full year for the others]; life_years [year];
    grade; source. Labour and carrying stand as one yearly line. Values are of shape (1, 1).
    """
    systems = run_systems(layout.structure, values, expected_shocks(layout.structure, values))
    rows = [row for system in systems.values() for row in _rows(case, system, values)]
    return pd.DataFrame(rows)


def _rows(case: Case, system: SystemYear, values: Mapping[str, Array]) -> list[dict[str, object]]:
    lines = [line for line in case.costs if line.system in ("", system.plan.id)]
    rows = [_row(system, line, item, values) for line, item in zip(lines, system.plan.costs, strict=True)]
    hours = float((system.family_hours + system.hired_hours - system.bill.hours)[0, 0])
    labour = float((system.labour_cost - system.bill.hours * system.wages.hired)[0, 0])
    labour_row = {
        "system": system.plan.label,
        "item": LABOUR_LINE,
        "group": "yearly",
        "basis": HOUR,
        "count": hours,
        "unit_price": np.nan,
        "amount": labour,
        "life_years": np.nan,
        "grade": "",
        "source": "labour plan, carrying and wages of the book",
    }
    return [*rows, labour_row]


def _row(system: SystemYear, line: CostLine, item: CostItem, values: Mapping[str, Array]) -> dict[str, object]:
    quantity, price = values[item.quantity_address], float(values[item.price_address][0, 0])
    seasons: Sequence[int | None] = item.seasons if item.group == "seasonal" or item.basis == "kg_sold" else (None,)
    count = sum(float(counted(item, quantity, system.sizes, season)[0, 0]) for season in seasons)
    return {
        "system": system.plan.label,
        "item": line.item,
        "group": line.group,
        "basis": line.basis,
        "count": count,
        "unit_price": price,
        "amount": count * price,
        "life_years": np.nan if line.life_years is None else line.life_years,
        "grade": line.grade,
        "source": line.source,
    }


def costs_by_area(layout: Layout, values: Mapping[str, Array], areas_m2: Sequence[float]) -> pd.DataFrame:
    """Return investment, working capital, running cost and NPV [money] of each system at several areas.

    Columns: area_m2 [m2 gross]; system; the four sums. One call of the composition serves all areas.
    """
    ladder = {**values, AREA: np.array([list(areas_m2)], dtype=np.float64)}
    outcome = evaluate(layout.structure, ladder, expected_shocks(layout.structure, ladder))
    rows = []
    for plan in layout.structure.systems:
        figures = {name: np.broadcast_to(outcome.systems[plan.id][name], (1, len(areas_m2)))[0] for name in BY_AREA}
        rows += [
            {"area_m2": area, "system": plan.label, **{name: float(figures[name][n]) for name in BY_AREA}}
            for n, area in enumerate(areas_m2)
        ]
    return pd.DataFrame(rows)
