"""The assumption book: rows by name and keys, the most specific wins, written back as it was."""

from pathlib import Path

import pytest

from plotworth.case.book import Book, address
from plotworth.case.folder import open_case
from plotworth.ground.errors import FaultsError
from small_case import FILES, added, changed, faults, write_case

BOOK = "assumptions.csv"


def book(folder: Path, *lines: str) -> Book:
    return open_case(write_case(folder, added(BOOK, *lines))).book


def only_fault(folder: Path, old: str, new: str) -> str:
    (text,) = faults(folder, changed(BOOK, old, new))
    return text


# --- reading -------------------------------------------------------------------------------------


def test_a_row_has_one_address() -> None:
    assert address("discount_rate", "", "", "") == "discount_rate"
    assert address("yield_kg_per_m2", "tank", "", "") == "yield_kg_per_m2/tank"
    assert address("market_price_per_kg", "", "pepper", "") == "market_price_per_kg/all/pepper"


def test_values_are_numbers_or_words_and_ranges_may_be_blank(tmp_path: Path) -> None:
    rows = {row.address: row for row in book(tmp_path).rows}
    rate = rows["discount_rate"]
    assert (rate.value, rate.low, rate.high, rate.unit, rate.line) == (0.1, 0.05, 0.2, "share/year", 2)
    trial = rows["yield_kg_per_m2/tank/pepper"]
    assert (trial.value, trial.low, trial.high) == ("trial", None, None)


def test_what_a_row_leaves_out_is_taken_from_the_glossary(tmp_path: Path) -> None:
    row = book(tmp_path).at("market_price_per_kg/all/pepper")
    assert (row.spread, row.nature) == ("peaked", "yearly")


def test_the_most_specific_row_wins(tmp_path: Path) -> None:
    rows = book(
        tmp_path,
        "cull_share,,,,0.1,,,share,invented,,D",
        "cull_share,tank,,,0.2,,,share,invented,,D",
        "cull_share,tank,pepper,,0.3,,,share,invented,,D",
    )
    assert rows.find("cull_share", system="hand", crop="pepper", season="dry").value == 0.1
    assert rows.find("cull_share", system="tank", crop="other", season="dry").value == 0.2
    assert rows.find("cull_share", system="tank", crop="pepper", season="dry").value == 0.3


def test_a_row_that_is_left_out_is_none_and_not_zero(tmp_path: Path) -> None:
    assert book(tmp_path).find("eaten_share", system="tank", crop="pepper", season="dry") is None


def test_zero_is_a_value(tmp_path: Path) -> None:
    assert book(tmp_path, "eaten_share,,,,0,,,share,invented,,D").find("eaten_share").value == 0.0


def test_an_address_that_is_not_there_is_answered_with_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(KeyError, match="no row at discount_rat; the nearest is discount_rate"):
        book(tmp_path).at("discount_rat")


def test_the_datasheet_shows_value_range_unit_grade_and_source_by_group(tmp_path: Path) -> None:
    lines = book(tmp_path).datasheet().splitlines()
    assert lines[0] == "MONEY"
    assert lines[1].split() == ["discount_rate", "0.1", "share/year", "(0.05", "to", "0.2)", "[D]", "invented"]
    assert "MARKET" in lines


# --- faults --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "0.1,0.05,0.2,share/year",
            "10,,,share/year",
            "assumptions.csv line 2, discount_rate: found '10'; must lie between 0 and 1 share/year; "
            "write 0.1 if 10 % is meant.",
        ),
        (
            "0.1,0.05,0.2,share/year",
            "10 %,,,share/year",
            "assumptions.csv line 2, discount_rate: found '10 %'; a share is written between 0 and 1; write 0.1.",
        ),
        (
            "0.1,0.05,0.2,share/year",
            '"0,1",,,share/year',
            "assumptions.csv line 2, discount_rate: found '0,1'; a decimal comma is not read; "
            "write 0.1, with a decimal point.",
        ),
        (
            "0.1,0.05,0.2,",
            "0.1,0.2,0.05,",
            "assumptions.csv line 2, discount_rate: found 'low 0.2 and high 0.05'; low is above high; "
            "write low 0.05 and high 0.2.",
        ),
        (
            "0.1,0.05,0.2,",
            "0.3,0.05,0.2,",
            "assumptions.csv line 2, discount_rate: found '0.3'; the value lies outside its own range 0.05 to 0.2; "
            "widen the range or correct the value.",
        ),
        (
            "0.1,0.05,0.2,",
            "0.1,0.05,,",
            "assumptions.csv line 2, discount_rate: low and high stand together; write both, or neither.",
        ),
        (
            "0.1,0.05,0.2,",
            "0.1,0.05,2,",
            "assumptions.csv line 2, discount_rate: found 'high 2'; must lie between 0 and 1 share/year; "
            "write 0.02 if 2 % is meant.",
        ),
        (
            "2,1,3,kg/m2",
            "-2,,,kg/m2",
            "assumptions.csv line 4, yield_kg_per_m2: found '-2'; must lie between 0 and 1000 kg/m2; "
            "write 0 where there was none, or leave the cell blank where it is not known.",
        ),
        (
            "XTS/kg",
            "XTS/t",
            "assumptions.csv line 5, market_price_per_kg: found 'XTS/t'; market price is stated in XTS/kg; "
            "convert the value and write XTS/kg.",
        ),
        (
            "XTS/kg",
            "",
            "assumptions.csv line 5, unit: must not be blank; write: unit as in the glossary.",
        ),
        (
            "0.5,0.25,1,",
            ",,,",
            "assumptions.csv line 5, market_price_per_kg: the value is blank; write the number, or unknown; "
            "price paid at the market for a kilogram.",
        ),
        (
            "discount_rate,",
            "discont_rate,",
            "assumptions.csv line 2, discont_rate: found 'discont_rate'; no such assumption; "
            "did you mean discount_rate.",
        ),
        (
            "discount_rate,,,,0.1,0.05,0.2,share/year",
            "area_m2,,,,100,,,m2",
            "assumptions.csv line 2, area_m2: found 'area_m2'; is a setting of the case; write area_m2 in case.toml.",
        ),
        (
            "discount_rate,,,,0.1,0.05,0.2,share/year",
            "npv,,,,100,,,XTS",
            "assumptions.csv line 2, npv: found 'npv'; is worked out and not stated; remove the row.",
        ),
        (
            "discount_rate,,",
            "discount_rate,tank,",
            "assumptions.csv line 2, discount_rate: found 'tank'; discount rate holds for every system; "
            "leave the column system blank.",
        ),
        (
            "kg_per_m2,hand,pepper",
            "kg_per_m2,hands,pepper",
            "assumptions.csv line 4, yield_kg_per_m2: found 'hands'; the case has no such system; did you mean hand.",
        ),
        (
            "kg_per_m2,hand,pepper",
            "kg_per_m2,hand,peper",
            "assumptions.csv line 4, yield_kg_per_m2: found 'peper'; the case has no such crop; did you mean pepper.",
        ),
        (
            "2,1,3,kg/m2",
            "trial,,,kg/m2",
            "assumptions.csv line 4, yield_kg_per_m2: found 'trial'; no treatment measured the system hand; "
            "name its treatment in case.toml or write a number.",
        ),
        (
            "0.5,0.25,1,XTS/kg",
            "computed,,,XTS/kg",
            "assumptions.csv line 5, market_price_per_kg: found 'computed'; nothing computes it yet; write a number.",
        ),
        (
            "invented,,D\nyield_kg_per_m2,tank",
            "invented,,E\nyield_kg_per_m2,tank",
            "assumptions.csv line 2, grade: found 'E'; must be one of A, B, C, D; write one of A, B, C, D.",
        ),
        (
            ",unit,",
            ",units,",
            "assumptions.csv line 1, units: found 'units'; the table knows no such column; did you mean unit.",
        ),
    ],
)
def test_a_row_that_cannot_be_meant_is_refused(tmp_path: Path, old: str, new: str, expected: str) -> None:
    assert expected in faults(tmp_path, changed(BOOK, old, new))


def test_a_trial_measures_only_what_it_can(tmp_path: Path) -> None:
    text = only_fault(tmp_path, "0.5,0.25,1,XTS/kg", "trial,,,XTS/kg")
    assert "a trial measures plants_per_m2, fruits_per_m2, fruit_mass_g, yield_kg_per_m2, " in text
    assert text.endswith("only; write a number.")


def test_the_same_assumption_twice_is_refused(tmp_path: Path) -> None:
    texts = faults(tmp_path, added(BOOK, "discount_rate,,,,0.12,,,share/year,invented,,D"))
    expected = "assumptions.csv line 6, discount_rate: found 'discount_rate'; line 2 states the same assumption"
    assert texts == [f"{expected}; keep one of them."]


def test_two_rows_that_are_equally_specific_and_both_apply_are_refused(tmp_path: Path) -> None:
    lines = ["cull_share,tank,,,0.1,,,share,invented,,D", "cull_share,,pepper,,0.2,,,share,invented,,D"]
    assert faults(tmp_path, added(BOOK, *lines)) == [
        "assumptions.csv line 7, cull_share: found 'cull_share/all/pepper'; line 6 is as specific and applies to "
        "tank/pepper/dry too; make one of the two more specific."
    ]


def test_a_tie_is_none_where_a_more_specific_row_decides(tmp_path: Path) -> None:
    lines = [
        "cull_share,tank,,,0.1,,,share,invented,,D",
        "cull_share,,pepper,,0.2,,,share,invented,,D",
        "cull_share,tank,pepper,,0.3,,,share,invented,,D",
    ]
    assert book(tmp_path, *lines).find("cull_share", system="tank", crop="pepper", season="dry").value == 0.3


def test_every_fault_of_the_book_comes_at_once(tmp_path: Path) -> None:
    files = added(BOOK, "cull_shar,,,,0.1,,,share,invented,,D", "eaten_share,,,,4,,,%,invented,,D")
    texts = faults(tmp_path, files)
    assert [text.split(":")[0] for text in texts] == [
        "assumptions.csv line 6, cull_shar",
        "assumptions.csv line 7, eaten_share",
        "assumptions.csv line 7, eaten_share",
    ]


def test_seasons_that_cannot_be_read_do_not_make_every_crop_a_fault(tmp_path: Path) -> None:
    texts = faults(tmp_path, changed("seasons.csv", "months", "monts"))
    assert all(text.startswith("seasons.csv line 1") for text in texts)


# --- writing back --------------------------------------------------------------------------------

PLAIN = FILES[BOOK]
WRITTEN = [
    PLAIN,
    PLAIN.replace("\n", "\r\n"),
    "\ufeff" + PLAIN,
    PLAIN.replace("discount_rate", '"discount_rate"').replace("invented", '"invented, and ""quoted"""'),
    PLAIN.replace("share/year,invented", 'share/year,"invented\nover two lines"'),
    PLAIN.replace("0.1,0.05", " 0.1 ,0.05").rstrip("\n"),
    PLAIN.replace("\nmarket", "\n\n,,,,,,,,,,\nmarket"),
]


@pytest.mark.parametrize("text", WRITTEN)
def test_a_book_is_written_back_byte_for_byte(tmp_path: Path, text: str) -> None:
    case = open_case(write_case(tmp_path, {BOOK: text}))
    assert case.book.text() == text


@pytest.mark.parametrize("text", WRITTEN)
def test_a_changed_value_changes_its_row_and_no_other(tmp_path: Path, text: str) -> None:
    case = open_case(write_case(tmp_path, {BOOK: text}))
    new = case.book.with_value("market_price_per_kg/all/pepper", "0.75")
    assert new.text() == text.replace("0.5,0.25,1", "0.75,0.25,1")
    assert new.at("market_price_per_kg/all/pepper").value == 0.75
    assert case.book.at("market_price_per_kg/all/pepper").value == 0.5


@pytest.mark.parametrize("text", WRITTEN)
def test_a_book_with_every_value_rewritten_opens_as_before(tmp_path: Path, text: str) -> None:
    before = open_case(write_case(tmp_path, {BOOK: text})).book
    after = before
    for row in before.rows:
        value = row.value if isinstance(row.value, str) else repr(row.value)
        after = after.with_value(row.address, value).with_value(row.address, value)
    assert open_case(write_case(tmp_path, {BOOK: after.text()})).book.rows == before.rows


def test_a_value_may_be_set_to_unknown(tmp_path: Path) -> None:
    new = book(tmp_path).with_value("yield_kg_per_m2/hand/pepper", "unknown")
    assert "yield_kg_per_m2,hand,pepper,,unknown,1,3" in new.text()


def test_a_value_that_is_neither_number_nor_word_is_not_taken(tmp_path: Path) -> None:
    with pytest.raises(FaultsError) as caught:
        book(tmp_path).with_value("discount_rate", "0,1")
    assert str(caught.value) == (
        "assumptions.csv line 2, discount_rate: found '0,1'; a decimal comma is not read; "
        "write 0.1, with a decimal point."
    )
