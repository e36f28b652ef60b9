"""A mapping file: how tables of a case are made from a file that was not written for it.

`mapping.toml` in the case folder holds one section a table:

    [harvests]
    file = "field_book.csv"                # in the case folder, read as CSV
    delimiter = ","                        # of that file (optional)
    missing = ["NA", "-9999"]              # what stands for blank there (optional)
    where = { site = "North" }             # keep only these rows (optional)
    drop_blank = ["marketable_kg"]         # leave out rows in which this column comes out blank (optional)
    unique = true                          # one row for each distinct result (optional)
    [harvests.columns]
    date = { text = "2026-03-09" }         # the same in every row; {column} inserts a cell
    plot = { text = "{block}-{plot}" }
    marketable_kg = { from = "weight_lb", factor = 0.45359237 }
"""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from plotworth.case.cells import Refusal, parse_number
from plotworth.case.schema import FACTOR_PREFIX, table_columns
from plotworth.case.sheet import Row, Sheet, decode, read_bytes, read_csv
from plotworth.ground.errors import Fault, FaultsError
from plotworth.ground.glossary import suggest

FILE = "mapping.toml"
SECTION_KEYS: dict[str, tuple[type, str]] = {
    "file": (str, 'a file name, such as "field_book.csv"'),
    "delimiter": (str, 'one character, such as ";"'),
    "missing": (list, 'a list of texts, such as ["NA", "-9999"]'),
    "where": (dict, 'columns and what must stand there, such as { site = "North" }'),
    "drop_blank": (list, 'a list of columns of the table, such as ["marketable_kg"]'),
    "unique": (bool, "true or false"),
    "columns": (dict, "a rule for each column of the table"),
}
NEEDED_KEYS = ("file", "columns")
COLUMN_KEYS = ("text", "from", "factor")
INSERTED = re.compile(r"\{([^{}]*)\}")


def read_mapping(folder: Path) -> dict[str, dict[str, Any]]:
    """Return the sections of a case's `mapping.toml` by table, empty where there is none.

    Raises FaultsError with all faults of the file.
    """
    path = folder / FILE
    if not path.exists():
        return {}
    try:
        sections = tomllib.loads(decode(read_bytes(path), FILE))
    except tomllib.TOMLDecodeError as error:
        remedy = "correct the line; text stands in quotation marks"
        raise FaultsError([Fault(FILE, 0, "", str(error), "not TOML that can be read", remedy)]) from None
    faults = [fault for table, section in sections.items() for fault in _section_faults(table, section)]
    if faults:
        raise FaultsError(faults)
    return sections


def _section_faults(table: str, section: object) -> Iterator[Fault]:
    tables = table_columns()
    if table not in tables or not isinstance(section, dict):
        near = suggest(table, [name for name in tables if name != table])
        remedy = f"did you mean [{near}]" if near else f"write one of [{'], ['.join(tables)}]"
        yield Fault(FILE, 0, table, str(section)[:40], "a section names a table and holds its rules", remedy)
        return
    yield from _key_faults(table, section)
    if isinstance(section.get("columns"), dict):
        yield from _column_faults(table, section["columns"])
        for name in _texts(section.get("drop_blank")):
            if name not in section["columns"]:
                yield _unknown(f"{table}.drop_blank", name, "no rule makes this column", section["columns"])


def _key_faults(table: str, section: dict[str, Any]) -> Iterator[Fault]:
    for key, value in section.items():
        if key not in SECTION_KEYS:
            yield _unknown(f"{table}.{key}", key, "no such key", [k for k in SECTION_KEYS if k not in section])
        elif not isinstance(value, SECTION_KEYS[key][0]) or (key == "delimiter" and len(str(value)) != 1):
            yield Fault(FILE, 0, f"{table}.{key}", str(value), "of another kind", f"write {SECTION_KEYS[key][1]}")
    for key in NEEDED_KEYS:
        if key not in section:
            yield Fault(FILE, 0, f"{table}.{key}", "", "the key is missing", f"write {SECTION_KEYS[key][1]}")


def _column_faults(table: str, rules: dict[str, Any]) -> Iterator[Fault]:
    columns = table_columns()[table]
    for name, rule in rules.items():
        if name not in columns and not (table == "plots" and name.startswith(FACTOR_PREFIX)):
            free = [column for column in columns if column not in rules]
            yield _unknown(f"{table}.{name}", name, "the table knows no such column", free)
        if not _is_rule(rule):
            remedy = 'write { text = "..." } or { from = "column", factor = 1.0 }'
            yield Fault(FILE, 0, f"{table}.{name}", str(rule), "not a rule for a column", remedy)
    for column in columns.values():
        if column.needed and column.name not in rules:
            remedy = f"write {column.name} = {{ from = ... }}: {column.meaning.lower()}"
            yield Fault(FILE, 0, f"{table}.{column.name}", "", "the column has no rule", remedy)


def _is_rule(rule: object) -> bool:
    if not isinstance(rule, dict) or not set(rule) <= set(COLUMN_KEYS) or len({"text", "from"} & set(rule)) != 1:
        return False
    factor = rule.get("factor", 1.0)
    return isinstance(rule.get("from", ""), str) and isinstance(factor, int | float) and not isinstance(factor, bool)


def _texts(values: object) -> list[str]:
    return [str(value) for value in values] if isinstance(values, list) else []


def _unknown(name: str, found: str, rule: str, words: Any) -> Fault:
    near = suggest(found, words)
    return Fault(FILE, 0, name, found, rule, f"did you mean {near}" if near else f"use one of {', '.join(words)}")


def map_sheet(folder: Path, section: dict[str, Any]) -> Sheet:
    """Return the sheet that a mapping section makes from its foreign file.

    Rows keep the line numbers of the foreign file. Raises FaultsError where the file is missing, a
    column is unknown, or with every cell to be multiplied that is no number.
    """
    path = folder / section["file"]
    if not path.is_file():
        remedy = "put the file into the case folder or correct its name"
        raise FaultsError([Fault(FILE, 0, "file", section["file"], "there is no such file", remedy)])
    source = read_csv(path, delimiter=section.get("delimiter", ","))
    faults = list(_reference_faults(section, source))
    if faults:
        raise FaultsError(faults)
    rows = [_mapped(row, section, source.file, faults) for row in source.rows if _kept(row, section)]
    if faults:
        raise FaultsError(faults)
    rows = [row for row in rows if all(row.cells[name] for name in section.get("drop_blank", []))]
    if section.get("unique", False):
        rows = list({tuple(row.cells.values()): row for row in reversed(rows)}.values())[::-1]
    return Sheet(source.file, tuple(section["columns"]), tuple(rows))


def _reference_faults(section: dict[str, Any], source: Sheet) -> Iterator[Fault]:
    """Yield a fault for every column that a rule or filter names and the foreign file lacks."""
    wanted = {name: _named(rule) for name, rule in section["columns"].items()}
    wanted["where"] = list(section.get("where", {}))
    for name, columns in wanted.items():
        for column in columns:
            if column not in source.header:
                yield _unknown(name, column, f"{source.file} has no such column", source.header)


def _named(rule: dict[str, Any]) -> list[str]:
    return [rule["from"]] if "from" in rule else INSERTED.findall(str(rule["text"]))


def _kept(row: Row, section: dict[str, Any]) -> bool:
    return all(row.cells[column] == str(wanted) for column, wanted in section.get("where", {}).items())


def _mapped(row: Row, section: dict[str, Any], file: str, faults: list[Fault]) -> Row:
    blank = {"", *_texts(section.get("missing"))}
    cells = {column: "" if cell in blank else cell for column, cell in row.cells.items()}
    mapped = {}
    for name, rule in section["columns"].items():
        text = cells[rule["from"]] if "from" in rule else _filled(str(rule["text"]), cells)
        if "factor" in rule and text:
            number = parse_number(text)
            if isinstance(number, Refusal):
                faults.append(Fault(file, row.line, name, text, number.rule, number.remedy))
            else:
                text = repr(number * float(rule["factor"]))
        mapped[name] = text
    return Row(row.line, row.last_line, mapped)


def _filled(template: str, cells: dict[str, str]) -> str:
    return INSERTED.sub(lambda found: cells[found[1]], template)
