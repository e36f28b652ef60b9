"""How another spreadsheet writes numbers and dates: told by a table's own cells, turned into points and ISO.

A cell such as 1.234 is a thousand and more to one reader and little more than one to another. It is rewritten
only where the other cells say which of the two the table's writer was; else it stays, and is named.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

COMMA, POINT = ",", "."
MARKS = (COMMA, POINT)
NUMBER_KINDS = ("number", "whole", "value")
GROUPED_BY_SPACE = re.compile(r"([+-]?\d{1,3}(?:[\s']\d{3})+)((?:[.,]\d+)?)")
WRITTEN = {
    COMMA: re.compile(r"[+-]?([1-9]\d{0,2}(\.\d{3})+|\d*)(,\d+)?([eE][+-]?\d+)?"),
    POINT: re.compile(r"[+-]?([1-9]\d{0,2}(,\d{3})+|\d*)(\.\d+)?([eE][+-]?\d+)?"),
}
NUMERIC_DATE = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})")
MONTHS = 12


@dataclass(frozen=True)
class Dialect:
    """What a table's cells show: the decimal marks its numbers prove, whether its dates can be day first.

    `marks` holds none where no number decides, both where the numbers contradict each other.
    """

    marks: frozenset[str]
    day_first: bool


def find_dialect(rows: Iterable[Sequence[str]], kinds: Sequence[str]) -> Dialect:
    """Return the dialect of rows of cells; `kinds` are those of the columns, as in the schema."""
    marks: set[str] = set()
    day_first = True
    for row in rows:
        for cell, kind in zip(row, kinds, strict=False):
            fitting = _fitting(_without_spaces(cell)) if kind in NUMBER_KINDS else ()
            marks |= set(fitting) if len(fitting) == 1 else set()
            if kind == "date" and (found := NUMERIC_DATE.fullmatch(cell.strip())):
                day_first &= int(found[2]) <= MONTHS
    return Dialect(frozenset(marks), day_first)


def _fitting(text: str) -> tuple[str, ...]:
    """Return the decimal marks with which a text is a number: both for 12 and for 1.234, none for a word."""
    if not any(letter.isdigit() for letter in text):
        return ()
    return tuple(mark for mark in MARKS if WRITTEN[mark].fullmatch(text))


def _without_spaces(cell: str) -> str:
    found = GROUPED_BY_SPACE.fullmatch(cell.strip())
    return re.sub(r"[\s']", "", found[1]) + found[2] if found else cell.strip()


def is_undecided(cell: str, kind: str) -> bool:
    """Whether a cell is one number with a decimal comma and another with a decimal point."""
    text = _without_spaces(cell)
    return kind in NUMBER_KINDS and len(_fitting(text)) == len(MARKS) and any(mark in text for mark in MARKS)


def plain_cell(cell: str, kind: str, dialect: Dialect) -> str:
    """Return a cell as this library writes it: decimal point, no grouping, ISO date; as it was where it cannot say."""
    if kind in NUMBER_KINDS:
        return _plain_number(cell.strip(), dialect.marks)
    if kind == "date" and dialect.day_first and (found := NUMERIC_DATE.fullmatch(cell.strip())):
        day, month, year = (int(part) for part in found.groups())
        return f"{year:04d}-{month:02d}-{day:02d}"
    return cell.strip()


def _plain_number(text: str, marks: frozenset[str]) -> str:
    joined = _without_spaces(text)
    possible = [mark for mark in _fitting(joined) if mark in marks]
    if len(possible) != 1:
        return joined if not any(mark in joined for mark in MARKS) else text
    (mark,) = possible
    group = COMMA if mark == POINT else POINT
    return joined.replace(group, "").replace(mark, POINT)
