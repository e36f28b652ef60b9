"""A mapping file: how tables of a case are made from a file that was not written for it.

`mapping.toml` in the case folder holds one section a table:

    [harvests]
    file = "field_book.csv"                # in the case folder, read as CSV
    missing = ["NA", "-9999"]              # what stands for blank there
    where = { site = "North" }             # keep only these rows (optional)
    drop_blank = ["marketable_kg"]         # leave out rows in which this column comes out blank (optional)
    unique = true                          # one row for each distinct result (optional)
    [harvests.columns]
    date = { text = "2026-03-09" }         # the same in every row; {column} inserts a cell
    plot = { text = "{block}-{plot}" }
    marketable_kg = { from = "weight_lb", factor = 0.45359237 }
"""

import tomllib
from pathlib import Path
from typing import Any

from plotworth.case.cells import Refusal, parse_number
from plotworth.case.schema import table_columns
from plotworth.case.sheet import Row, Sheet, decode, read_csv
from plotworth.ground.errors import Fault, FaultsError
from plotworth.ground.glossary import suggest

FILE = "mapping.toml"
SECTION_KEYS = ("file", "delimiter", "missing", "where", "drop_blank", "unique", "columns")
COLUMN_KEYS = ("text", "from", "factor")


def read_mapping(folder: Path) -> dict[str, dict[str, Any]]:
    """Return the sections of a case's `mapping.toml` by table, empty where there is none.

    Raises FaultsError with all faults of the file.
    """
    path = folder / FILE
    if not path.exists():
        return {}
    try:
        sections = tomllib.loads(decode(path.read_bytes(), FILE))
    except tomllib.TOMLDecodeError as error:
        remedy = "correct the line; text stands in quotation marks"
        raise FaultsError([Fault(FILE, 0, "", str(error), "not TOML that can be read", remedy)]) from None
    faults = [fault for table, section in sections.items() for fault in _section_faults(table, section)]
    if faults:
        raise FaultsError(faults)
    return sections


def _section_faults(table: str, section: object) -> list[Fault]:
    tables = table_columns()
    if table not in tables or not isinstance(section, dict):
        near = suggest(table, tables)
        return [Fault(FILE, 0, table, table, "no such table", f"did you mean {near}" if near else "name a table")]
    faults = [
        Fault(FILE, 0, f"{table}.{key}", str(key), "no such key", f"use {', '.join(SECTION_KEYS)}")
        for key in section
        if key not in SECTION_KEYS
    ]
    for key in ("file", "columns"):
        if key not in section:
            faults.append(Fault(FILE, 0, f"{table}.{key}", "", "the key is missing", f"write {key}"))
    for name, rule in section.get("columns", {}).items():
        if not isinstance(rule, dict) or not set(rule) <= set(COLUMN_KEYS) or len({"text", "from"} & set(rule)) != 1:
            remedy = 'write { text = "..." } or { from = "column", factor = 1.0 }'
            faults.append(Fault(FILE, 0, f"{table}.{name}", str(rule), "not a rule for a column", remedy))
    return faults


def map_sheet(folder: Path, section: dict[str, Any]) -> Sheet:
    """Return the sheet that a mapping section makes from its foreign file.

    Rows keep the line numbers of the foreign file. Raises FaultsError where the file is missing, a
    column is unknown, or a cell to be multiplied is no number.
    """
    path = folder / section["file"]
    if not path.exists():
        remedy = "put the file into the case folder or correct its name"
        raise FaultsError([Fault(FILE, 0, "file", section["file"], "there is no such file", remedy)])
    source = read_csv(path, delimiter=section.get("delimiter", ","))
    blank = {"", *section.get("missing", [])}
    rows = [Row(r.line, r.last_line, _cells(r, section, blank, source)) for r in source.rows if _kept(r, section)]
    rows = [row for row in rows if all(row.cells[name] for name in section.get("drop_blank", []))]
    if section.get("unique", False):
        rows = list({tuple(row.cells.values()): row for row in reversed(rows)}.values())[::-1]
    return Sheet(source.file, tuple(section["columns"]), tuple(rows))


def _kept(row: Row, section: dict[str, Any]) -> bool:
    return all(row.cells.get(column) == str(wanted) for column, wanted in section.get("where", {}).items())


def _cells(row: Row, section: dict[str, Any], blank: set[str], source: Sheet) -> dict[str, str]:
    cells = {column: "" if cell in blank else cell for column, cell in row.cells.items()}
    return {name: _cell(name, rule, cells, row, source) for name, rule in section["columns"].items()}


def _cell(name: str, rule: dict[str, Any], cells: dict[str, str], row: Row, source: Sheet) -> str:
    try:
        text = str(rule["text"]).format_map(cells) if "text" in rule else cells[rule["from"]]
    except KeyError as error:
        near = suggest(str(error.args[0]), source.header)
        remedy = f"did you mean {near}" if near else f"use one of {', '.join(source.header)}"
        raise FaultsError(
            [Fault(FILE, 0, name, str(error.args[0]), f"{source.file} has no such column", remedy)]
        ) from None
    if "factor" not in rule or not text:
        return text
    number = parse_number(text)
    if isinstance(number, Refusal):
        raise FaultsError([Fault(source.file, row.line, name, text, number.rule, number.remedy)])
    return repr(number * float(rule["factor"]))
