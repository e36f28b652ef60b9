"""A case folder: one feasibility question as plain files. Opened, checked, saved; never changed by reading."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from plotworth.case.book import Book, Context, read_book
from plotworth.case.cost_lines import CostLine, read_cost_lines
from plotworth.case.mapping import map_sheet, read_mapping
from plotworth.case.plan import Plan, read_plan
from plotworth.case.plan_agreement import agreement_faults, deviation_faults, plan_notices
from plotworth.case.plan_tables import plan_faults
from plotworth.case.records import Table, mass_faults, record_faults, record_notices
from plotworth.case.scenarios import scenario_names
from plotworth.case.schema import ABSENT, OBLIGATORY, table_columns
from plotworth.case.settings import FILE as SETTINGS_FILE
from plotworth.case.settings import Settings, read_settings
from plotworth.case.sheet import Sheet, read_csv, read_excel
from plotworth.case.table import check_sheet, frame
from plotworth.case.writing import write_whole
from plotworth.ground.errors import CaseError, Fault, FaultsError
from plotworth.ground.glossary import suggest

BOOK_FILE = "assumptions.csv"
EXCEL_FILE = "tables.xlsx"
SPECIAL = ("assumptions", "costs")


@dataclass(frozen=True)
class Case:
    """A checked case: settings, assumption book, cost lines, tables as data frames, what to know of them, the plan.

    The plan is the frozen one of the trial, None where the case has none; `scenarios` are the names of those saved.
    """

    path: Path
    settings: Settings
    book: Book
    costs: tuple[CostLine, ...]
    tables: Mapping[str, pd.DataFrame]
    notices: tuple[str, ...]
    plan: Plan | None = None
    scenarios: tuple[str, ...] = ()

    def with_book(self, book: Book) -> "Case":
        """Return the case with another book; nothing is written."""
        return replace(self, book=book)

    def table(self, name: str) -> pd.DataFrame:
        """Return a table as a data frame with all its columns, empty where the case keeps none."""
        return self.tables[name] if name in self.tables else frame([], name)

    def rows(self, name: str) -> list[Any]:
        """Return a table's rows, each with its columns as attributes."""
        return list(self.table(name).itertuples(index=False))


def open_case(path: str | Path) -> Case:
    """Return the case in the folder `path`, read and checked.

    Raises CaseError where the folder is none, FaultsError with every fault of its files.
    """
    folder = Path(path)
    _require_files(folder)
    sheets, faults = _read_sheets(folder)
    plan = None
    try:
        plan = read_plan(folder)
    except FaultsError as error:
        faults += error.faults
    try:
        settings = read_settings(folder)
    except FaultsError as error:
        raise FaultsError([*error.faults, *faults, *_cell_faults(sheets)]) from None
    if faults:
        raise FaultsError(faults)
    case = _checked_case(folder, settings, sheets, plan)
    return replace(case, notices=(*case.notices, *_stray_notices(folder, sheets)))


def _require_files(folder: Path) -> None:
    if not folder.is_dir():
        raise CaseError(f"{folder}: there is no such folder; name the folder that holds {SETTINGS_FILE}.")
    if not (folder / SETTINGS_FILE).exists():
        rule = f"the file is missing from {folder.resolve().name}"
        remedy = "write it, or make a new case with `plotworth new FOLDER`"
        raise FaultsError([Fault(SETTINGS_FILE, 0, "", "", rule, remedy)])


def _read_sheets(folder: Path) -> tuple[dict[str, Sheet], list[Fault]]:
    mapping = read_mapping(folder)
    sheets: dict[str, Sheet] = {}
    faults: list[Fault] = []
    for table in table_columns():
        try:
            sheet = _find_sheet(folder, table, mapping)
        except FaultsError as error:
            faults += error.faults
            continue
        if sheet is not None:
            sheets[table] = sheet
        elif table in OBLIGATORY:
            remedy = f"write it with the columns {', '.join(table_columns()[table])}"
            faults.append(Fault(f"{table}.csv", 0, "", "", "the file is missing", remedy))
    return sheets, faults


def _find_sheet(folder: Path, table: str, mapping: dict[str, dict[str, Any]]) -> Sheet | None:
    found: list[Sheet] = []
    if table in mapping:
        found.append(map_sheet(folder, mapping[table]))
    if (folder / f"{table}.csv").exists():
        found.append(read_csv(folder / f"{table}.csv"))
    for file, sheet_name in ((f"{table}.xlsx", None), (EXCEL_FILE, table)):
        if (folder / file).exists() and (sheet := read_excel(folder / file, sheet_name)):
            found.append(sheet)
    if len(found) > 1:
        rule = f"the table stands in {' and in '.join(sheet.file for sheet in found)}"
        raise FaultsError([Fault(found[1].file, 0, table, "", rule, "keep one of them")])
    return found[0] if found else None


def _stray_notices(folder: Path, sheets: Mapping[str, Sheet]) -> Iterator[str]:
    read = {EXCEL_FILE, *(sheet.file for sheet in sheets.values())}
    for path in sorted(folder.iterdir()):
        near = suggest(path.stem, table_columns()) if path.suffix in (".csv", ".xlsx") else None
        if near and path.name not in read:
            yield f"{path.name}: no table has this name, so nothing is read from it; did you mean {near}{path.suffix}?"


def _cell_faults(sheets: dict[str, Sheet]) -> list[Fault]:
    """Return the faults that the tables have whatever the settings say."""
    special = [fault for name in SPECIAL if name in sheets for fault in check_sheet(sheets[name], name)[1]]
    return _checked_tables(sheets)[1] + special


def _context(settings: Settings, seasons: Table) -> Context:
    keys = tuple((e.text("system"), e.text("crop"), e.text("season")) for e in seasons.entries)
    measured = tuple(system.id for system in settings.systems if system.treatment)
    return Context(keys, tuple(system.id for system in settings.systems), measured, settings.currency)


def _checked_case(folder: Path, settings: Settings, sheets: dict[str, Sheet], plan: Plan | None) -> Case:
    tables, faults = _checked_tables(sheets)
    context = _context(settings, tables["seasons"])
    book, book_faults = read_book(sheets["assumptions"], context)
    costs, cost_faults = read_cost_lines(sheets["costs"], context)
    faults += book_faults + cost_faults
    if not faults:
        faults = record_faults(tables, settings.as_of) + mass_faults(tables) + plan_faults(tables, settings)
        faults += deviation_faults(tables) + agreement_faults(plan, tables, settings.as_of)
    if faults:
        raise FaultsError(faults)
    kept = {name: table for name, table in tables.items() if table.entries}
    frames = {name: frame(table.entries, name) for name, table in kept.items()}
    notices = (
        *plan_notices(plan, kept),
        *record_notices(kept),
        *(why for name, why in ABSENT.items() if name not in kept),
    )
    return Case(folder, settings, book, costs, frames, notices, plan, scenario_names(folder))


def _checked_tables(sheets: dict[str, Sheet]) -> tuple[dict[str, Table], list[Fault]]:
    tables: dict[str, Table] = {}
    faults: list[Fault] = []
    for name, sheet in sheets.items():
        if name in OBLIGATORY and not sheet.rows:
            faults.append(
                Fault(sheet.file, 0, "", "", "the table has no rows", "write at least one row below the header")
            )
        if name in SPECIAL:
            continue
        entries, found = check_sheet(sheet, name)
        tables[name] = Table(sheet.file, entries)
        faults += found
    return tables, faults


def save_book(case: Case) -> None:
    """Write the case's assumption book back into its folder, at once or not at all.

    Raises CaseError where the book was read from Excel or by way of a mapping, or cannot be written.
    """
    if not case.book.sheet.lines:
        raise CaseError(f"{case.book.sheet.file}: only a book kept in {BOOK_FILE} is written back; change it there.")
    write_whole(case.path / BOOK_FILE, case.book.text())
