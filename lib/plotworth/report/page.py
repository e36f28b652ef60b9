"""An appraisal as a page of text: what each system is worth, what it yields, takes and costs, side by side."""

import textwrap
from collections.abc import Iterator

from plotworth.choose.appraise import Appraisal
from plotworth.choose.figure_table import DASH, FigureTable, figure_tables, other_crops, reasons
from plotworth.ground.amounts import share_text
from plotworth.ground.cautions import DECISION_SUPPORT

WIDTH = 100
NAME_WIDTH = 34
UNIT_WIDTH = 12
LEAST_COLUMN = 10
HOLDS = {True: "holds", False: "FAILS, so do not use these figures"}


def appraisal_text(appraisal: Appraisal) -> str:
    """Return the page of an appraisal, lines of at most `WIDTH` characters where its labels allow."""
    lines = [*_opening(appraisal)]
    for table in figure_tables(appraisal):
        lines += ["", *_table_lines(table)]
    for sentence in other_crops(appraisal):
        lines += ["", *_wrapped(sentence)]
    if told := reasons(appraisal):
        lines += ["", f"WHY A {DASH}, AND WHAT TO READ WITH CARE", *(line for s in told for line in _wrapped(f"- {s}"))]
    lines += ["", *(f"Check: {check.sentence}: {HOLDS[check.holds]}." for check in appraisal.checks)]
    return "\n".join([*lines, "", *_wrapped(DECISION_SUPPORT)])


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ")


def _opening(appraisal: Appraisal) -> Iterator[str]:
    settings = appraisal.case.settings
    rate = appraisal.layout.inputs["discount_rate"].value
    prices = f"{settings.currency} at {settings.price_year} prices"
    yield settings.title + (" - INVENTED DATA" if settings.invented else "")
    yield from _wrapped(settings.question)
    yield f"{settings.area_m2:g} m², {settings.horizon_years} years, {prices}."
    yield f"Real discount rate {share_text(rate)} a year. Family work at its wage, food eaten at home in kind."
    yield ""
    yield from _wrapped(appraisal.headline)
    for verdict in appraisal.verdicts:
        yield from _wrapped(f"- {verdict.sentence}")


def _table_lines(table: FigureTable) -> Iterator[str]:
    widths = [max(len(label), LEAST_COLUMN) + 2 for label in table.systems]
    yield table.title.upper()
    yield " " * (NAME_WIDTH + UNIT_WIDTH) + _right_aligned(table.systems, widths)
    for row in table.rows:
        yield f"{row.label:<{NAME_WIDTH}}{row.unit:<{UNIT_WIDTH}}{_right_aligned(row.cells, widths)}"


def _right_aligned(cells: tuple[str, ...], widths: list[int]) -> str:
    return "".join(cell.rjust(width) for cell, width in zip(cells, widths, strict=True))
