"""The glossary: its terms, units as written in a case, and the near miss of a word."""

import math

import pytest

from plotworth.ground.glossary import GLOSSARY, Term, read_shipped_table, suggest, unit_text


def test_a_term_holds_every_column_of_its_row() -> None:
    """Expected values: the row of the glossary itself, read by eye."""
    term = GLOSSARY["cull_share"]
    assert (term.kind, term.unit, term.per, term.group, term.nature) == (
        "assumption",
        "share",
        "season",
        "yield",
        "yearly",
    )
    assert (term.lowest, term.highest, term.absent) == (0.0, 0.99, "0")
    assert term.label == "Culls"


def test_a_blank_bound_bounds_nothing() -> None:
    assert (GLOSSARY["npv"].lowest, GLOSSARY["npv"].highest) == (-math.inf, math.inf)


@pytest.mark.parametrize(
    ("name", "is_assumption", "is_outcome"),
    [
        ("discount_rate", True, False),
        ("yield_kg_per_m2", True, True),
        ("npv", False, True),
        ("area_m2", False, False),
    ],
)
def test_a_term_is_stated_worked_out_both_or_a_setting(name: str, is_assumption: bool, is_outcome: bool) -> None:
    assert GLOSSARY[name].is_assumption is is_assumption
    assert GLOSSARY[name].is_outcome is is_outcome


def test_the_glossary_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        GLOSSARY["npv"] = GLOSSARY["irr"]  # type: ignore[index]


def test_no_name_stands_in_the_table_twice() -> None:
    names = [row["name"] for row in read_shipped_table("glossary")]
    assert sorted(names) == sorted(GLOSSARY)
    assert all(isinstance(term, Term) for term in GLOSSARY.values())


@pytest.mark.parametrize(
    ("unit", "text"),
    [("money/kg", "XTS/kg"), ("money", "XTS"), ("share/year", "share/year"), ("l/m2", "l/m2"), ("1", "1")],
)
def test_money_is_written_in_the_currency_of_the_case(unit: str, text: str) -> None:
    assert unit_text(unit, "XTS") == text


@pytest.mark.parametrize(
    ("word", "meant"),
    [("discount rate", "discount_rate"), ("Cull_Share", "cull_share"), ("yeild_kg_per_m2", "yield_kg_per_m2")],
)
def test_a_near_miss_finds_the_word_that_was_meant(word: str, meant: str) -> None:
    assert suggest(word, GLOSSARY) == meant


def test_what_is_near_to_nothing_finds_nothing() -> None:
    assert suggest("xyzzy", GLOSSARY) is None
    assert suggest("npv", []) is None


def test_a_number_taken_where_a_book_leaves_a_term_out_lies_within_its_bounds() -> None:
    taken = {name: term for name, term in GLOSSARY.items() if term.absent.replace(".", "").isdigit()}
    assert {"cull_share", "delivery_share", "planted_share"} <= taken.keys()
    for name, term in taken.items():
        assert term.lowest <= float(term.absent) <= term.highest, name
