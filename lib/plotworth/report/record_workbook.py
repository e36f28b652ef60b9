"""The tables of a case as one Excel workbook: a sheet a table, drop-downs, and the bounds of the columns built in.

Filled in, it is the case's `tables.xlsx` and passes through the same checks as CSV files do. What a spreadsheet cannot
hold a cell to (two rows for one plot and day, a date before planting) `plotworth check` finds.
"""

import datetime
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from plotworth.case.schema import OBLIGATORY, Column, table_columns
from plotworth.ground.glossary import GLOSSARY
from plotworth.report.record_forms import BLANK_RULE

LAST_ROW = 5000  # rows that have drop-downs and bounds; more may be written
PLOTS_LISTED = 1000
LISTS, GUIDE = "lists", "read me"
NOT_IN_WORKBOOK = ("sites",)
FIRST_DAY, LAST_DAY = datetime.date(1900, 1, 1), datetime.date(2200, 12, 31)  # what a spreadsheet can date
WIDEST = 9.99e307  # stands for no bound: a spreadsheet's validation needs a number
LONGEST_RULE = 255  # letters that a spreadsheet takes for a list or a message
WIDTH, WIDE_WIDTH = 15, 34
WIDE = ("note", "source", "item", "what", "why", "task")
PLOT_LIST = f"='plots'!$A$2:$A${PLOTS_LISTED + 1}"
GUIDES = (
    "One sheet a table; the first row names the columns and stays as it is. Point at a heading for meaning and unit.",
    BLANK_RULE,
    "Headings in dark cells must be filled in every row; the others where known. Dates are year-month-day.",
    "Shares lie between 0 and 1. Write units into no cell.",
    "Write the plots first: the other sheets then offer their names.",
    "Keep the file under its name, tables.xlsx, beside case.toml, and run `plotworth check` on the folder.",
)


def write_workbook(path: Path, rows: Mapping[str, Sequence[Mapping[str, str]]]) -> None:
    """Write the workbook.

    Parameters: path of the new file; rows by table that are written in, as text by column (none: the sheet is empty
    below its heading). Column A of the sheet `plots` holds the plots' names, from which other sheets offer them.
    """
    import xlsxwriter

    book = xlsxwriter.Workbook(str(path))
    formats = _formats(book)
    guide = book.add_worksheet(GUIDE)
    guide.set_column(0, 0, 110)
    for number, sentence in enumerate(GUIDES):
        guide.write_string(number, 0, sentence, formats["wrap"])
    for table, columns in table_columns().items():
        if table not in NOT_IN_WORKBOOK:
            _write_table(book, table, list(columns.values()), rows.get(table, ()), formats)
    _write_lists(book)
    book.close()


def _formats(book: Any) -> dict[str, Any]:
    heading = {"bold": True, "border": 1, "text_wrap": True, "valign": "top"}
    return {
        "needed": book.add_format({**heading, "bg_color": "#1f2a30", "font_color": "#ffffff"}),
        "optional": book.add_format({**heading, "bg_color": "#e4e7e9"}),
        "text": book.add_format({"num_format": "@"}),
        "date": book.add_format({"num_format": "yyyy-mm-dd"}),
        "number": book.add_format({"num_format": "General"}),
        "wrap": book.add_format({"text_wrap": True}),
    }


@cache
def long_lists() -> dict[tuple[str, str], tuple[str, ...]]:
    """Return the words of each drop-down, by table and column, that are too many for a rule and stand in a sheet."""
    lists = {
        (table, column.name): column.choices
        for table, columns in table_columns().items()
        for column in columns.values()
        if len(",".join(column.choices)) > LONGEST_RULE
    }
    lists["assumptions", "name"] = tuple(sorted(term.name for term in GLOSSARY.values() if term.is_assumption))
    return lists


def _write_lists(book: Any) -> None:
    sheet = book.add_worksheet(LISTS)
    sheet.hide()
    for number, words in enumerate(long_lists().values()):
        sheet.write_column(0, number, words)


def _list_range(key: tuple[str, str]) -> str:
    from xlsxwriter.utility import xl_range_abs

    column = list(long_lists()).index(key)
    return f"='{LISTS}'!{xl_range_abs(0, column, len(long_lists()[key]) - 1, column)}"


def _write_table(
    book: Any, table: str, columns: list[Column], rows: Sequence[Mapping[str, str]], formats: Mapping[str, Any]
) -> None:
    sheet = book.add_worksheet(table)
    sheet.freeze_panes(1, 0)
    if table in OBLIGATORY:
        sheet.set_tab_color("#1f2a30")
    for number, column in enumerate(columns):
        looks = formats.get({"date": "date", "text": "text", "choice": "text"}.get(column.kind, "number"))
        sheet.set_column(number, number, WIDE_WIDTH if column.name in WIDE else WIDTH, looks)
        sheet.write_string(0, number, column.name, formats["needed" if column.needed else "optional"])
        sheet.write_comment(0, number, comment(column), {"x_scale": 2, "y_scale": 1.3})
        if rule := validation(table, column):
            sheet.data_validation(1, number, LAST_ROW, number, rule)
        for line, row in enumerate(rows, start=1):
            _write_cell(sheet, line, number, column, row.get(column.name, ""))


def _write_cell(sheet: Any, line: int, number: int, column: Column, text: str) -> None:
    if text and column.kind in ("number", "whole"):
        sheet.write_number(line, number, float(text))
    elif text:
        sheet.write_string(line, number, text)


def comment(column: Column) -> str:
    """Return what stands beside a heading: meaning, unit, bounds, words to choose from, whether it may be blank."""
    unit = f" Unit: {column.unit}." if column.unit not in ("", "1") else ""
    bounds = f" From {column.lowest:g} to {column.highest:g}." if column.highest < WIDEST else ""
    choices = f" One of: {', '.join(column.choices)}." if column.choices else ""
    return f"{column.meaning}.{unit}{bounds}{choices} {'Needed.' if column.needed else 'May be blank.'}"


def validation(table: str, column: Column) -> dict[str, Any] | None:
    """Return the rule of a column's cells for the spreadsheet, None where any text may stand."""
    refusal = {"error_title": column.name, "error_message": comment(column)[:LONGEST_RULE], "ignore_blank": True}
    if (table, column.name) in long_lists():
        return {"validate": "list", "source": _list_range((table, column.name)), **refusal}
    if column.kind == "choice":
        return {"validate": "list", "source": list(column.choices), **refusal}
    if column.kind == "date":
        return {"validate": "date", "criteria": "between", "minimum": FIRST_DAY, "maximum": LAST_DAY, **refusal}
    if column.kind in ("number", "whole"):
        kind = "integer" if column.kind == "whole" else "decimal"
        low, high = max(column.lowest, -WIDEST), min(column.highest, WIDEST)
        return {"validate": kind, "criteria": "between", "minimum": low, "maximum": high, **refusal}
    if column.name == "plot" and table != "plots":
        return {"validate": "list", "source": PLOT_LIST, **refusal}
    return None
