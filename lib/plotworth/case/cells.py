"""One cell: text in, value out, or the rule it breaks and what to write instead."""

import datetime
import math
import re
from dataclasses import dataclass

from plotworth.case.schema import Column
from plotworth.ground.glossary import suggest

NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?")
PERCENT = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*%")
WITH_UNIT = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*[A-Za-z/].*")
DAY_FIRST = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})")
YEARS = range(1700, 2201)
MONTHS = 12


@dataclass(frozen=True)
class Refusal:
    """Why a cell is refused: the rule it breaks and the remedy."""

    rule: str
    remedy: str


def parse_number(text: str) -> float | Refusal:
    """Return the number written in a cell with a decimal point, or the refusal."""
    if NUMBER.fullmatch(text):
        return float(text) if math.isfinite(float(text)) else Refusal("too large", "write a number a scale can show")
    return Refusal(*_number_refusal(text))


def _number_refusal(text: str) -> tuple[str, str]:
    if THOUSANDS.fullmatch(text):
        either = f", or {text.replace(',', '.')} if it is a decimal comma" if DECIMAL_COMMA.fullmatch(text) else ""
        return "commas in numbers are not read", f"write {text.replace(',', '')}{either}"
    if DECIMAL_COMMA.fullmatch(text):
        return "a decimal comma is not read", f"write {text.replace(',', '.')}, with a decimal point"
    if percent := PERCENT.fullmatch(text):
        return "a share is written between 0 and 1", f"write {float(percent[1]) / 100:g}"
    if with_unit := WITH_UNIT.fullmatch(text):
        return (
            "a number stands without its unit",
            f"write {with_unit[1]}; the unit belongs in its own column or the header",
        )
    return "not a number", "write a number with a decimal point, or leave the cell blank where it is not known"


def check_bounds(value: float, lowest: float, highest: float, unit: str) -> Refusal | None:
    """Return the refusal of a value outside its bounds (both allowed), or None."""
    if lowest <= value <= highest:
        return None
    unit_words = f" {unit}" if unit not in ("", "1") else ""
    rule = f"must lie between {lowest:g} and {highest:g}{unit_words}"
    if unit.startswith("share") and 1 < value <= 100:
        return Refusal(rule, f"write {value / 100:g} if {value:g} % is meant")
    if value < lowest == 0:
        return Refusal(rule, "write 0 where there was none, or leave the cell blank where it is not known")
    return Refusal(rule, "correct the number or its unit")


def parse_date(text: str) -> datetime.date | Refusal:
    """Return the ISO date in a cell, or the refusal."""
    try:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            return _check_year(datetime.date.fromisoformat(text))
    except ValueError:
        return Refusal("there is no such day", "write a day of the calendar as year-month-day, such as 2026-03-09")
    if day_first := DAY_FIRST.fullmatch(text):
        return Refusal("a date is written as year-month-day", _day_first_remedy(*day_first.groups()))
    return Refusal("not a date", "write it as year-month-day, such as 2026-03-09")


def _check_year(day: datetime.date) -> datetime.date | Refusal:
    if day.year in YEARS:
        return day
    return Refusal(f"the year must lie between {YEARS[0]} and {YEARS[-1]}", "write the year in four digits")


def _day_first_remedy(first: str, second: str, year: str) -> str:
    day, month = int(first), int(second)
    if month > MONTHS:
        day, month = month, day
    year = year if len(year) == 4 else f"20{year}"
    return f"write {year}-{month:02d}-{day:02d} if day {day} of month {month} is meant"


def parse_choice(text: str, choices: tuple[str, ...]) -> str | Refusal:
    """Return the word of a closed list, or the refusal with the nearest word."""
    if text in choices:
        return text
    near = suggest(text, choices)
    return Refusal(
        f"must be one of {', '.join(choices)}", f"write {near}" if near else f"write one of {', '.join(choices)}"
    )


def parse_cell(text: str, column: Column) -> float | str | datetime.date | Refusal | None:
    """Return the value of a cell by its column's kind: None where blank, or the refusal."""
    if not text:
        return Refusal("must not be blank", f"write: {column.meaning.lower()}") if column.needed else None
    if column.kind == "text":
        return text
    if column.kind == "date":
        return parse_date(text)
    if column.kind == "choice":
        return parse_choice(text, column.choices)
    return _parse_quantity(text, column)


def _parse_quantity(text: str, column: Column) -> float | Refusal:
    number = parse_number(text)
    if isinstance(number, Refusal):
        return number
    if column.kind == "whole" and not number.is_integer():
        return Refusal(
            "must be a whole number", "write a whole number; a part of one belongs in kilograms or in a share"
        )
    return check_bounds(number, column.lowest, column.highest, column.unit) or number
