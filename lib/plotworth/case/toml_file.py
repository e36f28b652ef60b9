"""Files of settings in TOML: read with a fault where they are broken, written key by key."""

import datetime
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from plotworth.case.sheet import decode, read_bytes
from plotworth.ground.errors import Fault, FaultsError

TYPE_WORDS: dict[type, str] = {
    str: "text in quotation marks",
    int: "a whole number",
    float: "a number with a decimal point",
    bool: "true or false",
    datetime.date: "a date such as 2026-03-09",
    list: "a list of [[systems]]",
    dict: "a table of its own",
}
DELETE = "\x7f"  # the one control character that JSON leaves as it is and TOML refuses


def read_toml(path: Path) -> tuple[dict[str, Any], str]:
    """Return the values of a TOML file, and its text, in which faults are given their line.

    Raises FaultsError where it is not UTF-8 or not TOML.
    """
    text = decode(read_bytes(path), path.name)
    try:
        return tomllib.loads(text), text
    except tomllib.TOMLDecodeError as error:
        raise FaultsError([_syntax_fault(error, text, path.name)]) from None


def _syntax_fault(error: tomllib.TOMLDecodeError, text: str, file: str) -> Fault:
    where = re.search(r"line (\d+)", str(error))
    line = int(where[1]) if where else text.count("\n") + 1
    lines = text.splitlines()
    found = lines[line - 1].strip() if 0 < line <= len(lines) else ""
    remedy = 'write name = value; text stands in "quotation marks", numbers have a decimal point, dates are 2026-03-09'
    return Fault(file, line, "", found, "not TOML that can be read", remedy)


def is_kind(value: object, kind: type) -> bool:
    """Return whether a TOML value is of a kind: a whole number is also a float, true is no number, a time no date."""
    if kind is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    if kind is int:
        return isinstance(value, int) and not isinstance(value, bool)
    if kind is datetime.date:
        return isinstance(value, datetime.date) and not isinstance(value, datetime.datetime)
    return isinstance(value, kind)


def line_of(lines: Sequence[str], key: str) -> int:
    """Return the line, from 1, at which a key is first set; 0 where it is not."""
    return next((n for n, line in enumerate(lines, 1) if re.match(rf"\s*{re.escape(key)}\s*=", line)), 0)


def toml_value(value: object) -> str:
    """Return a text, number, truth, date, list or mapping as TOML on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace(DELETE, "\\u007f")
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {toml_value(part)}" for key, part in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_value(part) for part in value) + "]"
    return repr(value)
