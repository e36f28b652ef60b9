"""Sums of every system by area, as tables to read: where the advantage changes hands."""

from collections.abc import Iterator

from plotworth.choose.appraise import Appraisal
from plotworth.choose.cost_table import AreaRow, costs_by_area
from plotworth.choose.figure_table import FigureRow, FigureTable
from plotworth.choose.structure import AREA
from plotworth.ground.amounts import amount_text, figures_text

AREA_STEPS = (0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
"""Multiples of the case's own area at which the sums are shown."""
SUMS = {"investment": "investment by area", "running_cost": "running cost of a full year by area", "npv": "NPV by area"}
AREA_UNIT = "m²"


def area_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return investment, running cost and NPV of every system at multiples of the case's area, a table each."""
    area = float(appraisal.values[AREA][0, 0])
    ladder = [area * step for step in AREA_STEPS]
    rows = costs_by_area(appraisal.layout, appraisal.values, ladder)
    labels = tuple(dict.fromkeys(row.system for row in rows))
    currency = appraisal.case.settings.currency
    return [FigureTable(title, labels, tuple(_rows(rows, ladder, name, currency))) for name, title in SUMS.items()]


def _rows(rows: list[AreaRow], ladder: list[float], name: str, currency: str) -> Iterator[FigureRow]:
    for area in ladder:
        sums = (getattr(row, name) for row in rows if row.area_m2 == area)
        yield FigureRow(amount_text(area, AREA_UNIT), currency, tuple(figures_text(value) for value in sums))
