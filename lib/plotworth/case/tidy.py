"""A converted copy of a case whose files came from a spreadsheet of another dialect.

Semicolons, tabs, decimal commas, day-first dates, cp1252 and UTF-16 become commas, decimal points, ISO dates
and UTF-8. Only the case's own tables are converted, and in them only numbers and dates, by the column's kind;
other files are copied, and the user's own folder stays as it is.
"""

import csv
import io
import re
import shutil
from dataclasses import dataclass, replace
from pathlib import Path

from plotworth.case.dialect import COMMA, Dialect, find_dialect, is_undecided, plain_cell
from plotworth.case.schema import table_columns
from plotworth.ground.errors import CaseError

DELIMITERS = {",": "", ";": "semicolons to commas", "\t": "tabs to commas", "|": "bars to commas"}
NAMED_DELIMITER = re.compile(r'"?sep=(.)"?\s*')
NO_CHANGE = "nothing to convert"


@dataclass(frozen=True)
class _Table:
    """A table in another dialect: its delimiter in words, its rows, the kind of each column, what its cells show."""

    change: str
    rows: list[list[str]]
    kinds: list[str]
    dialect: Dialect


def tidy_case(source: Path, target: Path) -> list[str]:
    """Write a converted copy of the folder `source` into the new folder `target`.

    Returns a sentence for each file. Raises CaseError where the source is no folder or the target holds files.
    """
    _require_room(source, target)
    paths = sorted(path for path in source.rglob("*") if path.is_file())
    texts = {path: _decode(path.read_bytes()) for path in paths if _is_table(path, source) or path.suffix == ".toml"}
    tables = _read_tables({path: text for path, (text, _) in texts.items() if path.suffix != ".toml"})
    sentences = []
    for path in paths:
        place = target / path.relative_to(source)
        place.parent.mkdir(parents=True, exist_ok=True)
        if path in texts:
            sentences.append(_write(path.name, place, *texts[path], tables.get(path)))
        else:
            shutil.copyfile(path, place)
            sentences.append(f"{path.name}: copied as it is.")
    return sentences


def _require_room(source: Path, target: Path) -> None:
    if not source.is_dir():
        raise CaseError(f"{source}: there is no such folder; name the folder to convert.")
    if source.resolve() in target.resolve().parents:
        raise CaseError(f"{target}: lies inside the folder to be converted; name one beside it.")
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise CaseError(f"{target}: is not an empty folder; name a new one, so that nothing is overwritten.")
    target.mkdir(parents=True, exist_ok=True)


def _is_table(path: Path, source: Path) -> bool:
    return path.parent == source and path.suffix == ".csv" and path.stem in table_columns()


def _decode(raw: bytes) -> tuple[str, str]:
    """Return a file's text, and in words what has to change for it to be UTF-8."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", "replace"), "UTF-16 to UTF-8"
    if raw.startswith(b"\xef\xbb\xbf"):
        return raw.decode("utf-8-sig", "replace"), "byte-order mark removed"
    if b"\x00" in raw:
        return raw.decode("utf-16-le" if raw[1:2] == b"\x00" else "utf-16-be", "replace"), "UTF-16 to UTF-8"
    try:
        return raw.decode("utf-8"), ""
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace"), "cp1252 to UTF-8"


def _read_tables(texts: dict[Path, str]) -> dict[Path, _Table]:
    """Return the tables in another dialect; one whose numbers decide nothing takes after the others of its folder."""
    found = {path: table for path, text in texts.items() if (table := _read_table(text, path.stem)) is not None}
    marks: frozenset[str] = frozenset().union(*(table.dialect.marks for table in found.values()))
    usual = marks if len(marks) == 1 else frozenset(COMMA)
    return {
        path: replace(table, dialect=replace(table.dialect, marks=table.dialect.marks or usual))
        for path, table in found.items()
    }


def _read_table(text: str, name: str) -> _Table | None:
    """Return a table that is parted by another delimiter than commas, None for any other text."""
    lines = list(io.StringIO(text, newline=""))
    named = NAMED_DELIMITER.fullmatch(lines[0]) if lines else None
    lines = lines[1:] if named else lines
    if not lines:
        return None
    delimiter = named[1] if named else max(DELIMITERS, key=lines[0].count)
    if delimiter == "," and not named:
        return None
    try:
        rows = [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=delimiter)]
    except csv.Error:
        return None
    columns = table_columns()[name]
    kinds = [columns[cell].kind if cell in columns else "" for cell in rows[0]]
    return _Table(DELIMITERS.get(delimiter, "delimiter to commas"), rows, kinds, find_dialect(rows[1:], kinds))


def _write(name: str, place: Path, text: str, change: str, table: _Table | None) -> str:
    """Write one file of text, converted where it is a table in another dialect; return the sentence on it."""
    changes = [change] if change else []
    if table is not None:
        rows = [table.rows[0], *([*_plain_row(row, table)] for row in table.rows[1:])]
        changes += [part for part in (table.change, _count(rows, table), _left(table)) if part]
        written = io.StringIO()
        csv.writer(written, lineterminator="\n").writerows(rows)
        text = written.getvalue()
    place.write_text(text, encoding="utf-8", newline="")
    return f"{name}: {', '.join(changes) or NO_CHANGE}."


def _plain_row(row: list[str], table: _Table) -> list[str]:
    kinds = (table.kinds + [""] * len(row))[: len(row)]
    return [plain_cell(cell, kind, table.dialect) for cell, kind in zip(row, kinds, strict=True)]


def _count(rows: list[list[str]], table: _Table) -> str:
    pairs = [(new, old) for a, b in zip(rows, table.rows, strict=True) for new, old in zip(a, b, strict=True)]
    changed = sum(new != old for new, old in pairs)
    return f"{changed} numbers and dates rewritten (dates read day first)" if changed else ""


def _left(table: _Table) -> str:
    """Return in words which cells may be read in two ways, where the table uses both decimal marks."""
    if len(table.dialect.marks) < 2:
        return ""
    left = [
        f"{cell} (row {number})"
        for number, row in enumerate(table.rows[1:], start=2)
        for cell, kind in zip(row, table.kinds, strict=False)
        if is_undecided(cell, kind)
    ]
    return f"left for you to judge, since decimal commas and points both occur: {'; '.join(left)}" if left else ""
