"""One table of a case, read as text with its line numbers, from CSV or Excel.

Nothing is interpreted here: a sheet is what was written down. A file in another spreadsheet dialect
(semicolons, tabs, cp1252, UTF-16) is recognised by name and refused with the way out; `tidy.py` converts it.
"""

import csv
import datetime
import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from plotworth.ground.errors import Fault, FaultsError

BYTE_ORDER_MARK = "\ufeff"
LINE_END = "\r\n"  # the writer quotes a cell that holds a character of it
TIDY_REMEDY = "run `plotworth tidy CASE --to FOLDER` for a converted copy, or save it as CSV in UTF-8 with commas"
DIALECTS = {
    ";": "columns separated by semicolons, as French and Spanish spreadsheets write them",
    "\t": "columns separated by tabs",
    "|": "columns separated by bars",
}


@dataclass(frozen=True)
class Row:
    """A row of a sheet: its first line in the file, the lines it covers, its cells as text by column."""

    line: int
    last_line: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Sheet:
    """A table as written: file name, header, rows, the file's own lines (none for Excel) and its byte-order mark."""

    file: str
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    lines: tuple[str, ...] = ()
    mark: str = ""

    def with_cell(self, row: Row, column: str, text: str) -> "Sheet":
        """Return the sheet with one cell rewritten; every other line stays as it was, to the byte."""
        changed = replace(row, cells={**row.cells, column: text})
        lines = list(self.lines)
        if lines:
            written = "".join(lines[row.line - 1 : row.last_line])
            blanks = [""] * (row.last_line - row.line)
            lines[row.line - 1 : row.last_line] = [_csv_line(changed, self.header, written), *blanks]
        return replace(self, rows=tuple(changed if r is row else r for r in self.rows), lines=tuple(lines))

    def text(self) -> str:
        """Return the file's text as it would be written back."""
        return self.mark + "".join(self.lines)


def _csv_line(row: Row, header: tuple[str, ...], old_text: str) -> str:
    written = io.StringIO()
    csv.writer(written, lineterminator=LINE_END).writerow([row.cells.get(column, "") for column in header])
    return written.getvalue().removesuffix(LINE_END) + old_text[len(old_text.rstrip("\r\n")) :]


def read_bytes(path: Path) -> bytes:
    """Return a file's bytes; raises FaultsError where it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        rule, remedy = f"the file cannot be read ({error.strerror})", "close other programs that hold it, or replace it"
        raise FaultsError([Fault(path.name, 0, "", "", rule, remedy)]) from None


def decode(raw: bytes, file: str) -> str:
    """Return a file's text, which must be UTF-8 (a byte-order mark before it is let pass).

    Raises FaultsError naming the encoding the file seems to have.
    """
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in raw:
        raise FaultsError([Fault(file, 1, "", "UTF-16", "a table is read as UTF-8", TIDY_REMEDY)])
    try:
        return raw.decode("utf-8-sig" if raw.startswith(b"\xef\xbb\xbf") else "utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        before, after = raw[max(0, error.start - 12) : error.start], raw[error.start : error.start + 12]
        found = (before.split(b"\n")[-1] + after.split(b"\n")[0]).decode("cp1252", "replace").strip()
        rule = "the file is not UTF-8 and looks like cp1252, as Western European spreadsheets write it"
        raise FaultsError([Fault(file, line, "", found, rule, TIDY_REMEDY)]) from None


def read_csv(path: Path, *, delimiter: str = ",") -> Sheet:
    """Return the CSV file at `path` as a sheet.

    Raises FaultsError with every fault of form: another dialect, a header named twice, a row with
    too many or too few cells.
    """
    raw = read_bytes(path)
    text = decode(raw, path.name)
    if not text.strip():
        remedy = "write the header line and the rows, or remove the file"
        raise FaultsError([Fault(path.name, 0, "", "", "the file is empty", remedy)])
    lines = tuple(io.StringIO(text, newline=""))
    records = list(_records(lines, delimiter, path.name))
    header = tuple(cell.strip() for cell in records[0][2])
    check_header(path.name, header, delimiter)
    mark = BYTE_ORDER_MARK if raw.startswith(BYTE_ORDER_MARK.encode()) else ""
    return Sheet(path.name, header, _rows(path.name, header, records[1:]), lines, mark)


def _records(lines: tuple[str, ...], delimiter: str, file: str) -> Iterator[tuple[int, int, list[str]]]:
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    first = 1
    try:
        for cells in reader:
            yield first, reader.line_num, cells
            first = reader.line_num + 1
    except csv.Error as error:
        remedy = "close the quotation mark, or write it twice inside a quoted cell"
        raise FaultsError([Fault(file, first, "", str(error), "a quoted cell is not closed", remedy)]) from None


def check_header(file: str, header: tuple[str, ...], delimiter: str) -> None:
    """Raise FaultsError where the first line is blank, of another dialect, or names a column twice."""
    if not any(header):
        remedy = "write the names of the columns into the first line"
        raise FaultsError([Fault(file, 1, "", "", "the first line is blank", remedy)])
    joined = delimiter.join(header)
    for other, dialect in DIALECTS.items():
        if delimiter == "," and other in joined and joined.count(other) >= joined.count(","):
            raise FaultsError([Fault(file, 1, "", joined[:60], dialect, TIDY_REMEDY)])
    twice = sorted({column for column in header if column and header.count(column) > 1})
    if twice:
        rule, remedy = "the header names a column twice", "rename or remove one of them"
        raise FaultsError([Fault(file, 1, column, column, rule, remedy) for column in twice])


def _rows(file: str, header: tuple[str, ...], records: list[tuple[int, int, list[str]]]) -> tuple[Row, ...]:
    rows, faults = [], []
    for first, last, cells in records:
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(header):
            faults.append(width_fault(file, first, cells, len(header)))
        rows.append(Row(first, last, {c: cell.strip() for c, cell in zip(header, cells, strict=False)}))
    if faults:
        raise FaultsError(faults)
    return tuple(rows)


def width_fault(file: str, line: int, cells: list[str], width: int) -> Fault:
    """Return the fault of a row that has more or fewer cells than the header."""
    remedy = f"write {width} cells, and quote a cell that holds a comma"
    if len(cells) > width:
        remedy += "; a decimal comma splits a number in two, so write 0.5 and not 0,5"
    return Fault(file, line, "", ",".join(cells)[:60], f"the row has {len(cells)} cells and the header {width}", remedy)


def read_excel(path: Path, sheet: str | None) -> Sheet | None:
    """Return one sheet of an Excel file as text, or None where the file has no such sheet.

    `sheet` names it; None takes the first. Dates become ISO, whole numbers lose their `.0`.
    """
    raw = read_bytes(path)
    try:
        cells = _excel_cells(raw, sheet)
    except Exception as error:  # noqa: BLE001 - a damaged file fails in ways the reader has no common error for
        remedy = "save it anew as .xlsx without a password, or as CSV in UTF-8 with commas"
        rule = "not an Excel file that can be read"
        raise FaultsError([Fault(path.name, 0, "", type(error).__name__, rule, remedy)]) from None
    if cells is None:
        return None
    file = path.name if sheet is None else f"{path.name}[{sheet}]"
    if not cells or not any(cells[0]):
        raise FaultsError([Fault(file, 0, "", "", "the sheet is empty", "write the header and the rows, or remove it")])
    width = max(i for i, cell in enumerate(cells[0]) if cell) + 1
    header = tuple(cells[0][:width])
    check_header(file, header, ",")
    records = [(n, n, _fit(row, width)) for n, row in enumerate(cells[1:], start=2)]
    return Sheet(file, header, _rows(file, header, records))


def _excel_cells(raw: bytes, sheet: str | None) -> list[list[str]] | None:
    from openpyxl import load_workbook

    workbook = load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
    if sheet is not None and sheet not in workbook.sheetnames:
        return None
    return [[_cell_text(value) for value in row] for row in workbook[sheet or workbook.sheetnames[0]].values]


def _fit(row: list[str], width: int) -> list[str]:
    return row if any(row[width:]) else [*row[:width], *[""] * (width - len(row))]


def _cell_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(sep=" ")
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    return str(value).strip()


def write_csv(path: Path, header: tuple[str, ...], rows: list[dict[str, str]]) -> None:
    """Write a table of text cells as UTF-8 CSV with commas and newline line ends."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, header, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
