"""A converted copy of a case whose files came from a spreadsheet of another dialect.

Semicolons, tabs, decimal commas, day-first dates, cp1252 and UTF-16 become commas, decimal points, ISO dates
and UTF-8. Only numbers and dates are rewritten, by the column's kind; the user's own folder stays as it is.
"""

import csv
import io
import re
import shutil
from pathlib import Path

from plotworth.case.schema import table_columns
from plotworth.ground.errors import CaseError

DELIMITERS = ";\t|,"
GROUPED_COMMA = re.compile(r"[+-]?(\d{1,3}(\.\d{3})+|\d+),\d+|[+-]?\d{1,3}(\.\d{3})+")
SPACES = re.compile(r"[\s\u00a0\u202f]")
DAY_FIRST = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})")
NUMBER_KINDS = ("number", "whole", "value")


def tidy_case(source: Path, target: Path) -> list[str]:
    """Write a converted copy of the folder `source` into the new folder `target`.

    Returns a sentence for each file. Raises CaseError where the source is no folder or the target holds files.
    """
    if not source.is_dir():
        raise CaseError(f"{source}: there is no such folder; name the folder to convert.")
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise CaseError(f"{target}: is not an empty folder; name a new one, so that nothing is overwritten.")
    if source.resolve() in target.resolve().parents:
        raise CaseError(f"{target}: lies inside the folder to be converted; name one beside it.")
    target.mkdir(parents=True, exist_ok=True)
    return [_tidy_file(path, target / path.relative_to(source)) for path in sorted(source.rglob("*")) if path.is_file()]


def _tidy_file(path: Path, target: Path) -> str:
    target.parent.mkdir(parents=True, exist_ok=True)
    if path.suffix.lower() not in (".csv", ".toml"):
        shutil.copyfile(path, target)
        return f"{path.name}: copied as it is."
    text, encoding = _decode(path.read_bytes())
    changes = [] if encoding == "UTF-8" else [f"{encoding} to UTF-8"]
    if path.suffix.lower() == ".csv":
        text, more = _tidy_table(text, path.stem)
        changes += more
    target.write_text(text, encoding="utf-8", newline="")
    return f"{path.name}: {', '.join(changes) if changes else 'nothing to convert'}."


def _decode(raw: bytes) -> tuple[str, str]:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16"), "UTF-16"
    if raw.startswith(b"\xef\xbb\xbf"):
        return raw.decode("utf-8-sig"), "a byte-order mark"
    try:
        return raw.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace"), "cp1252"


def _tidy_table(text: str, table: str) -> tuple[str, list[str]]:
    lines = text.splitlines(keepends=True)
    delimiter = max(DELIMITERS, key=lambda mark: lines[0].count(mark)) if lines else ","
    if delimiter == ",":
        return text, []
    rows = list(csv.reader(lines, delimiter=delimiter))
    header = [cell.strip() for cell in rows[0]]
    columns = table_columns().get(table, {})
    kinds = [columns[name].kind if name in columns else "" for name in header]
    converted = [
        header,
        *([_tidy_cell(c, k) for c, k in zip(row, _padded(kinds, row), strict=True)] for row in rows[1:]),
    ]
    count = sum(
        new != old.strip() for a, b in zip(converted[1:], rows[1:], strict=True) for new, old in zip(a, b, strict=True)
    )
    written = io.StringIO()
    csv.writer(written, lineterminator="\n").writerows(converted)
    name = {";": "semicolons", "\t": "tabs", "|": "bars"}[delimiter]
    return written.getvalue(), [f"{name} to commas", f"{count} numbers and dates rewritten (dates read day first)"]


def _padded(kinds: list[str], row: list[str]) -> list[str]:
    return (kinds + [""] * len(row))[: len(row)]


def _tidy_cell(cell: str, kind: str) -> str:
    text = cell.strip()
    if kind in NUMBER_KINDS:
        joined = SPACES.sub("", text)
        return joined.replace(".", "").replace(",", ".") if GROUPED_COMMA.fullmatch(joined) else text
    if kind == "date" and (found := DAY_FIRST.fullmatch(text)):
        day, month, year = (int(part) for part in found.groups())
        return f"{year:04d}-{month:02d}-{day:02d}"
    return text
