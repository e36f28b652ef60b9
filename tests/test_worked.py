"""Worked sentences: brackets where arithmetic needs them, nothing in them that changes nothing. All by hand."""

import pytest

from plotworth.choose.worked import comes_to, names_of, number, plain, sentence, stated, worked

GIVEN = {"a": stated(6.0), "b": stated(2.0), "c": stated(-3.0), "one": plain(1.0), "none": plain(0.0)}


@pytest.mark.parametrize(
    ("expression", "text"),
    [
        ("a - (b - c)", "6 - (2 - (-3))"),
        ("a / (b * c)", "6 / (2 x (-3))"),
        ("(a + b) * c", "(6 + 2) x (-3)"),
        ("a * b / 1000", "6 x 2 / 1000"),
        ("a * one - none", "6"),
        ("a * (1 - none) * b", "6 x 2"),
        ("a + b * none", "6"),
        ("a * max(1 - none * b; 0) - b", "6 - 2"),
        ("max(a - b; 0)", "max(6 - 2, 0)"),
        ("a / (1 - (1 + b) ** -a)", "6 / (1 - (1 + 2)^-6)"),
    ],
)
def test_an_expression_reads_as_one_would_write_it(expression: str, text: str) -> None:
    assert worked(expression, GIVEN).text == text


@pytest.mark.parametrize("expression", ["a - (b - c)", "a / (b * c)", "(a + b) * c", "max(a - b; 0)", "a ** b / c"])
def test_what_is_shown_comes_to_what_is_computed(expression: str) -> None:
    term = worked(expression, GIVEN)
    assert comes_to(term.text) == pytest.approx(term.value, rel=1e-12)


def test_a_stated_zero_and_a_stated_one_are_shown() -> None:
    assert worked("a * b", {"a": stated(64.0), "b": stated(0.0)}).text == "64 x 0"
    assert worked("a * b", {"a": stated(1.0), "b": stated(7.0)}).text == "1 x 7"


def test_the_result_has_as_many_digits_as_its_shown_numbers_give() -> None:
    """1 / 3 to six figures times 3 is 0.999999: to five figures it is 1. A result of another value is not shown."""
    term = worked("a * b", {"a": stated(1 / 3), "b": stated(3.0)})
    assert sentence(term, 1.0, "kg") == "0.333333 x 3 = 1 kg"
    assert sentence(term, 2.0, "kg") == ""


def test_there_is_no_sentence_about_a_single_number_or_a_gap() -> None:
    assert sentence(stated(3.0), 3.0, "kg") == ""
    assert sentence(worked("a / b", {"a": stated(1.0), "b": stated(0.0)}), float("nan"), "kg") == ""


def test_numbers_have_no_exponent_and_no_grouping() -> None:
    assert [number(x) for x in (1e6, 0.00001234567, -5023.0358, 0.0)] == ["1000000", "0.0000123457", "(-5023.04)", "0"]


def test_names_come_in_their_order_once() -> None:
    assert names_of("b * max(1 - a; 0) + b") == ["b", "a"]
