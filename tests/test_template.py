"""An empty case: refused with every gap named, and once its blanks are filled a case that is appraised."""

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from folders import bytes_of, run
from plotworth.case.folder import open_case
from plotworth.case.schema import OBLIGATORY, table_columns
from plotworth.case.settings import COVERS, WATER_METHODS
from plotworth.case.template import FIRST_ROWS, NOT_WRITTEN, new_case
from plotworth.ground.errors import CaseError, FaultsError
from plotworth.ground.glossary import GLOSSARY

SYSTEMS = ("reservoir", "drip", "hand")
CURRENCY = "XTS"
VALUES = {  # invented for this test
    "discount_rate": "0.1",
    "family_wage_per_hour": "0.3",
    "hired_wage_per_hour": "0.4",
    "planted_share": "0.8",
    "yield_kg_per_m2": "2.5",
    "water_applied_l_per_m2": "300",
    "delivery_share": "0.9",
    "carrying_h_per_m3": "8",
    "trial_to_farm_share": "0.8",
    "failed_season_chance": "0.05",
    "postharvest_loss_share": "0.1",
    "eaten_share": "0.05",
    "market_price_per_kg": "0.9",
}


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    new_case(tmp_path / "mine")
    return tmp_path / "mine"


def read(path: Path) -> tuple[list[str], list[dict[str, str]]]:
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        return list(reader.fieldnames or []), list(reader)


def fill_rows(path: Path, rows: list[dict[str, str]]) -> None:
    header, _ = read(path)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, header, restval="")
        writer.writeheader()
        writer.writerows(rows)


def fill_settings(folder: Path) -> None:
    """Write into every pair of empty quotation marks."""
    path = folder / "case.toml"
    text = path.read_text(encoding="utf-8").replace('currency = ""', f'currency = "{CURRENCY}"')
    path.write_text(re.sub(r'= ""', '= "filled in"', text), encoding="utf-8")


def fill_assumptions(folder: Path) -> None:
    _, rows = read(folder / "assumptions.csv")
    for row in rows:
        row |= {"value": VALUES[row["name"]], "source": "invented", "unit": row["unit"].replace("CURRENCY", CURRENCY)}
    fill_rows(folder / "assumptions.csv", rows)


def fill_seasons(folder: Path) -> None:
    season = {"season": "dry", "crop": "pepper", "first_month": "2", "months": "5", "share_of_area": "1"}
    fill_rows(folder / "seasons.csv", [{"system": system, **season} for system in SYSTEMS])


def fill_costs(folder: Path) -> None:
    line = {"item": "seed", "group": "seasonal", "basis": "m2", "quantity": "1", "unit_price": "0.1"}
    fill_rows(folder / "costs.csv", [{**line, "source": "invented", "grade": "D"}])


FILLS: tuple[Callable[[Path], None], ...] = (fill_settings, fill_assumptions, fill_seasons, fill_costs)


def faults(folder: Path) -> list[tuple[str, str, str]]:
    """Return file, name and rule of each fault that opening the case gives."""
    with pytest.raises(FaultsError) as caught:
        open_case(folder)
    return [(fault.file, fault.name, fault.rule) for fault in caught.value.faults]


def test_an_empty_case_has_every_table_with_the_columns_of_the_schema_in_their_order(empty: Path) -> None:
    tables = {path.stem for path in empty.glob("*.csv")}
    assert tables == set(table_columns()) - set(NOT_WRITTEN)
    for table in tables:
        header, rows = read(empty / f"{table}.csv")
        assert header == list(table_columns()[table])
        assert bool(rows) == (table == "assumptions")


def test_the_notes_beside_it_tell_every_column_of_every_table_and_the_words_to_choose_from(empty: Path) -> None:
    notes = (empty / "READ ME.txt").read_text(encoding="utf-8")
    for table, columns in table_columns().items():
        section = notes.split(f"\n{table}.csv\n")[1].split(".csv\n")[0]
        for column in columns.values():
            (line,) = (line for line in section.splitlines() if re.match(rf"  {column.name}\b", line))
            assert column.meaning in line
            assert all(choice in line for choice in column.choices)
            assert line.endswith("may be blank") is not column.needed
    assert all(f"{table}.csv" in notes for table in OBLIGATORY)


def test_the_settings_are_commented_and_tell_every_word_that_may_stand_there(empty: Path) -> None:
    text = (empty / "case.toml").read_text(encoding="utf-8")
    assert all(word in text for word in (*WATER_METHODS, *COVERS))
    assert text.count("#") > 10


def test_the_first_rows_of_the_book_say_what_they_are_in_the_glossary_s_words(empty: Path) -> None:
    _, rows = read(empty / "assumptions.csv")
    assert [row["name"] for row in rows] == list(FIRST_ROWS)
    needed = {term.name for term in GLOSSARY.values() if term.is_assumption and term.absent == "needed"}
    assert needed <= set(FIRST_ROWS)
    for row in rows:
        assert row["note"] == GLOSSARY[row["name"]].meaning
        assert row["unit"].replace("CURRENCY", "money") == GLOSSARY[row["name"]].unit
        assert (row["value"], row["source"]) == ("", "")


def test_check_names_every_gap_of_the_settings_and_the_tables_at_once(empty: Path) -> None:
    assert faults(empty) == [
        ("case.toml", "title", "must not be blank"),
        ("case.toml", "question", "must not be blank"),
        ("case.toml", "currency", "must be a code of three capitals"),
        ("seasons.csv", "", "the table has no rows"),
        ("costs.csv", "", "the table has no rows"),
        *[("assumptions.csv", "source", "must not be blank")] * len(FIRST_ROWS),
    ]


def test_once_the_settings_stand_check_names_each_value_and_each_unit_of_money(empty: Path) -> None:
    fill_settings(empty)
    found = faults(empty)
    assert {name for _, name, rule in found if rule == "the value is blank"} == set(FIRST_ROWS)
    money = {name for _, name, rule in found if "is stated in" in rule}
    assert money == {name for name in FIRST_ROWS if "money" in GLOSSARY[name].unit}


@pytest.mark.parametrize("left_out", FILLS, ids=lambda fill: fill.__name__)
def test_a_case_filled_in_but_for_one_file_is_still_refused(empty: Path, left_out: Callable[[Path], None]) -> None:
    for fill in FILLS:
        if fill is not left_out:
            fill(empty)
    file = left_out.__name__.replace("fill_", "").replace("settings", "case") + "."
    assert all(name.startswith(file) for name, _, _ in faults(empty))


def test_filled_in_it_passes_check_and_is_appraised(tmp_path: Path) -> None:
    folder = tmp_path / "mein Fall"
    made = run("new", str(folder))
    assert (made.code, made.err) == (0, "")
    assert f'run `plotworth check "{folder}"`' in made.out
    for fill in FILLS:
        fill(folder)
    checked = run("check", str(folder))
    assert (checked.code, checked.err) == (0, "")
    assert "INVENTED" not in checked.out
    data = json.loads(run("appraise", str(folder), "--json").out)
    # 100 m2 x 0.8 planted x 2.5 kg/m2 x 0.8 of the trial
    assert data["systems"]["hand"]["marketable_kg"] == pytest.approx(160)
    assert set(data["systems"]) == set(SYSTEMS)


def test_a_folder_that_holds_anything_is_refused_and_stays_as_it_is(empty: Path) -> None:
    before = bytes_of(empty)
    with pytest.raises(CaseError, match="is not an empty folder"):
        new_case(empty)
    with pytest.raises(CaseError, match="is not an empty folder"):
        new_case(empty / "case.toml")
    assert bytes_of(empty) == before


def test_an_empty_folder_and_folders_that_are_still_to_be_made_are_taken(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    new_case(tmp_path / "there")
    new_case(tmp_path / "a" / "b")
    assert bytes_of(tmp_path / "there") == bytes_of(tmp_path / "a" / "b")
