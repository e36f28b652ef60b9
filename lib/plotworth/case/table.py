"""A sheet checked against its schema: typed columns in a data frame, or every fault with its line."""

import datetime
from dataclasses import dataclass
from typing import Any

import pandas as pd

from plotworth.case.cells import Refusal, parse_cell
from plotworth.case.schema import FACTOR_PREFIX, Column, table_columns
from plotworth.case.sheet import Row, Sheet
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import suggest

Value = float | str | datetime.date | None


@dataclass(frozen=True)
class Entry:
    """A checked row: its line and its values by column, None where blank."""

    line: int
    values: dict[str, Value]

    def text(self, column: str) -> str:
        """Return a text cell, empty where blank."""
        value = self.values.get(column)
        return value if isinstance(value, str) else ""

    def number(self, column: str) -> float | None:
        """Return a number cell, None where blank."""
        value = self.values.get(column)
        return value if isinstance(value, float) else None


def check_sheet(sheet: Sheet, table: str) -> tuple[list[Entry], list[Fault]]:
    """Return the checked rows of a sheet, and all its faults of columns and cells."""
    columns = dict(table_columns()[table])
    faults = _header_faults(sheet, table, columns)
    for name in sheet.header:
        if table == "plots" and name.startswith(FACTOR_PREFIX):
            columns[name] = Column(name, "text", "", False, 0, 0, (), "A factor of the trial")
    if any(fault.line == 1 for fault in faults):
        return [], faults
    entries = [_entry(row, columns, sheet.file, faults) for row in sheet.rows]
    return entries, faults


def _header_faults(sheet: Sheet, table: str, columns: dict[str, Column]) -> list[Fault]:
    faults = []
    for name in sheet.header:
        if name not in columns and not (table == "plots" and name.startswith(FACTOR_PREFIX)):
            faults.append(_unknown_column(sheet, table, name, [c for c in columns if c not in sheet.header]))
    for column in columns.values():
        if column.needed and column.name not in sheet.header:
            remedy = f"add it: {column.meaning.lower()}"
            faults.append(Fault(sheet.file, 1, column.name, "", "the column is missing", remedy))
    return faults


def _unknown_column(sheet: Sheet, table: str, name: str, free: list[str]) -> Fault:
    near = suggest(name, free)
    remedy = f"did you mean {near}" if near else f"use {', '.join(free) or 'the known columns'}, or remove it"
    if table == "plots" and not near:
        remedy += f"; a factor of the trial is named {FACTOR_PREFIX}NAME"
    return Fault(sheet.file, 1, name or "(blank)", name, "the table knows no such column", remedy)


def _entry(row: Row, columns: dict[str, Column], file: str, faults: list[Fault]) -> Entry:
    values: dict[str, Value] = {}
    for name, column in columns.items():
        if column.kind == "value":
            values[name] = row.cells.get(name, "") or None
            continue
        value = parse_cell(row.cells.get(name, ""), column)
        if isinstance(value, Refusal):
            faults.append(Fault(file, row.line, name, row.cells.get(name, ""), value.rule, value.remedy))
            value = None
        values[name] = value
    return Entry(row.line, values)


def frame(entries: list[Entry], table: str) -> pd.DataFrame:
    """Return checked rows as a data frame: numbers float (NaN where blank), text "" where blank, dates, `line`."""
    columns = table_columns()[table]
    factors = sorted({name for entry in entries for name in entry.values if name not in columns})
    data: dict[str, pd.Series[Any]] = {}
    for name in [*columns, *factors]:
        kind = columns[name].kind if name in columns else "text"
        data[name] = _series([entry.values[name] for entry in entries], kind)
    data["line"] = pd.Series([entry.line for entry in entries], dtype="int64")
    return pd.DataFrame(data)


def _series(values: list[Value], kind: str) -> "pd.Series[Any]":
    if kind in ("number", "whole"):
        return pd.Series(values, dtype="float64")
    if kind == "date":
        return pd.Series(pd.to_datetime(pd.Series(values, dtype="object")), dtype="datetime64[ns]")
    return pd.Series([v or "" for v in values], dtype="object")
