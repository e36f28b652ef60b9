"""One cell: the number, date or word meant, or why it is refused and what to write."""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plotworth.case.cells import Refusal, check_bounds, parse_cell, parse_choice, parse_date, parse_number
from plotworth.case.schema import Column, table_columns


@pytest.mark.parametrize(
    ("text", "value"),
    [("0", 0.0), ("12", 12.0), ("-0.5", -0.5), ("+3", 3.0), (".5", 0.5), ("5.", 5.0), ("1e-3", 0.001), ("007", 7.0)],
)
def test_a_number_has_a_decimal_point(text: str, value: float) -> None:
    assert parse_number(text) == value


@pytest.mark.parametrize(
    ("text", "rule", "remedy"),
    [
        ("0,5", "a decimal comma is not read", "write 0.5, with a decimal point"),
        ("1,500", "commas in numbers are not read", "write 1500, or 1.500 if it is a decimal comma"),
        ("1,500,000", "commas in numbers are not read", "write 1500000"),
        ("1,500.5", "commas in numbers are not read", "write 1500.5"),
        ("10 %", "a share is written between 0 and 1", "write 0.1"),
        ("7.5%", "a share is written between 0 and 1", "write 0.075"),
        (
            "12 kg",
            "a number stands without its unit",
            "write 12; the unit belongs in its own column or the header",
        ),
        ("1e999", "too large", "write a number a scale can show"),
    ],
)
def test_a_number_written_otherwise_is_refused_with_what_to_write(text: str, rule: str, remedy: str) -> None:
    assert parse_number(text) == Refusal(rule, remedy)


@pytest.mark.parametrize("text", ["nan", "inf", "-", "about 5", "1 000", "1_000", "€5", "1.2.3", "#N/A"])
def test_what_is_no_number_is_refused(text: str) -> None:
    refusal = parse_number(text)
    assert isinstance(refusal, Refusal)
    assert refusal.rule == "not a number"
    assert "leave the cell blank where it is not known" in refusal.remedy


def test_bounds_are_allowed_themselves() -> None:
    assert check_bounds(0.0, 0.0, 1.0, "share") is None
    assert check_bounds(1.0, 0.0, 1.0, "share") is None


@pytest.mark.parametrize(
    ("value", "bounds", "unit", "rule", "remedy"),
    [
        (10, (0, 1), "share/year", "must lie between 0 and 1 share/year", "write 0.1 if 10 % is meant"),
        (80, (0, 1), "share", "must lie between 0 and 1 share", "write 0.8 if 80 % is meant"),
        (
            -3,
            (0, 1e7),
            "1",
            "must lie between 0 and 1e+07",
            "write 0 where there was none, or leave the cell blank where it is not known",
        ),
        (0, (0.001, 1e6), "m2", "must lie between 0.001 and 1e+06 m2", "correct the number or its unit"),
        (0, (1, 60), "year", "must lie between 1 and 60 year", "correct the number or its unit"),
    ],
)
def test_a_number_out_of_bounds_is_refused(
    value: float, bounds: tuple[float, float], unit: str, rule: str, remedy: str
) -> None:
    assert check_bounds(value, *bounds, unit) == Refusal(rule, remedy)


def test_a_date_is_year_month_day() -> None:
    assert parse_date("2026-03-09") == datetime.date(2026, 3, 9)


@pytest.mark.parametrize(
    ("text", "rule", "remedy"),
    [
        ("09/03/2026", "a date is written as year-month-day", "write 2026-03-09 if day 9 of month 3 is meant"),
        ("9.3.26", "a date is written as year-month-day", "write 2026-03-09 if day 9 of month 3 is meant"),
        ("03/25/2026", "a date is written as year-month-day", "write 2026-03-25 if day 25 of month 3 is meant"),
        (
            "2026-02-30",
            "there is no such day",
            "write a day of the calendar as year-month-day, such as 2026-03-09",
        ),
        ("March 9", "not a date", "write it as year-month-day, such as 2026-03-09"),
        ("46090", "not a date", "write it as year-month-day, such as 2026-03-09"),
        ("0026-03-09", "the year must lie between 1700 and 2200", "write the year in four digits"),
        ("9999-12-31", "the year must lie between 1700 and 2200", "write the year in four digits"),
    ],
)
def test_another_date_is_refused_with_what_to_write(text: str, rule: str, remedy: str) -> None:
    assert parse_date(text) == Refusal(rule, remedy)


def test_a_word_of_a_closed_list_is_taken_and_another_refused_with_the_nearest() -> None:
    assert parse_choice("refill", ("refill", "rain")) == "refill"
    assert parse_choice("refil", ("refill", "rain")) == Refusal("must be one of refill, rain", "write refill")
    assert parse_choice("zzz", ("refill", "rain")) == Refusal(
        "must be one of refill, rain", "write one of refill, rain"
    )


def column(table: str, name: str) -> Column:
    return table_columns()[table][name]


def test_blank_is_not_zero() -> None:
    fruits = column("harvests", "marketable_fruits")
    assert parse_cell("", fruits) is None
    assert parse_cell("0", fruits) == 0.0


def test_a_blank_where_a_value_is_needed_is_refused_with_its_meaning() -> None:
    expected = Refusal("must not be blank", "write: planted area that is harvested and recorded; guard plants left out")
    assert parse_cell("", column("plots", "net_area_m2")) == expected


def test_a_count_is_whole() -> None:
    refusal = parse_cell("2.5", column("harvests", "marketable_fruits"))
    assert refusal == Refusal(
        "must be a whole number", "write a whole number; a part of one belongs in kilograms or in a share"
    )
    assert parse_cell("2.0", column("harvests", "marketable_fruits")) == 2.0


COLUMNS = [one for columns in table_columns().values() for one in columns.values() if one.kind != "value"]
NUMBERLIKE = st.text(alphabet="0123456789.,-+eE%/ kg", max_size=12)


@given(st.sampled_from(COLUMNS), st.one_of(st.text(max_size=20), NUMBERLIKE))
def test_whatever_a_cell_holds_it_is_a_value_of_its_kind_or_a_refusal(one: Column, text: str) -> None:
    value = parse_cell(text, one)
    if isinstance(value, Refusal):
        assert value.rule
        assert value.remedy
    elif isinstance(value, float):
        assert one.kind in ("number", "whole")
        assert one.lowest <= value <= one.highest
    else:
        assert value is None or isinstance(value, datetime.date if one.kind == "date" else str)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_as_python_writes_it_is_read_back_the_same(value: float) -> None:
    assert parse_number(repr(value)) == value


@given(st.dates(datetime.date(1700, 1, 1), datetime.date(2200, 12, 31)))
def test_an_iso_date_is_read_back_the_same(day: datetime.date) -> None:
    assert parse_date(day.isoformat()) == day
