"""Tables of nutrients and salt: cells are the figures of the rooms, gaps are dashes with a sentence; page and JSON."""

from dataclasses import replace
from pathlib import Path

import pytest

from folders import DEMO
from plotworth import Appraisal, appraise, open_case
from plotworth.choose.figure_table import DASH, FigureTable
from plotworth.choose.soil_table import CLASS_LABEL, CLASS_NOTE, nutrient_tables, salt_tables, soil_notes, soil_tables
from plotworth.ground.amounts import MINUS
from plotworth.report.exchange import appraisal_data
from plotworth.report.page import WIDTH, appraisal_text
from soil_case import INPUTS, SALT, soil_appraisal

RAW = INPUTS.replace("yard_waste_compost", "raw_cattle_manure")


@pytest.fixture(scope="module")
def demo() -> Appraisal:
    return appraise(open_case(DEMO))


def cell(table: FigureTable, label: str, column: str) -> str:
    row = next(row for row in table.rows if row.label == label)
    return row.cells[table.systems.index(column)]


def test_each_nutrient_has_a_table_with_a_column_for_each_treatment(demo: Appraisal) -> None:
    tables = nutrient_tables(demo)
    labels = ("Wick-fed tank", "Well and drip", "Hand watering", "drip+fungus", "hand+fungus", "tank+fungus")
    assert [table.systems for table in tables] == [labels] * 3
    assert [table.title.split(": ")[1][:4].rstrip(",") for table in tables] == ["N, p", "P2O5", "K2O"]


def test_cells_are_the_figures_worked_by_hand_in_grams(tmp_path: Path) -> None:
    """As in test_soil_balance: 24.5 g given, 5.5 at first, 15 to 17.5 removed."""
    nitrogen = nutrient_tables(soil_appraisal(tmp_path))[0]
    assert cell(nitrogen, "Given, all inputs", "Tank") == "24.5"
    assert cell(nitrogen, "Of it in the first season: high", "Tank") == "5.5"
    assert cell(nitrogen, "Removed by fruit and culls: high", "Tank") == "17.5"
    assert cell(nitrogen, "First season's balance: low", "Tank") == f"{MINUS}12"
    assert cell(nitrogen, "Replacing a deficit of all: low", "Hand") == DASH


def test_what_was_written_down_stands_apart_only_where_something_was_not(tmp_path: Path, demo: Appraisal) -> None:
    label = "Given, as far as written down"
    assert label not in [row.label for row in nutrient_tables(demo)[0].rows]
    lines = "".join(line for line in INPUTS.splitlines(keepends=True) if ",H2," not in line)
    assert cell(nutrient_tables(soil_appraisal(tmp_path, inputs=lines))[0], label, "Hand") == "0"


def test_salt_has_a_table_for_each_crop_and_season_without_rows_of_dashes(tmp_path: Path) -> None:
    (table,) = salt_tables(soil_appraisal(tmp_path, book=SALT))
    assert table.title == "salt: sweet pepper, dry"
    assert cell(table, CLASS_LABEL, "Tank") == "moderate"
    assert cell(table, "Of water from above, to drain", "Hand") == "11"  # 1 / 9
    assert cell(table, "Of water from above, to drain", "Tank") == DASH
    assert cell(table, "Flushing that undoes the rise", "Tank") == "175"  # 400 ln 1.55
    assert cell(table, "Yield that the salt leaves: low", "Tank") == "93"
    (bare,) = salt_tables(soil_appraisal(tmp_path, book={"soil_salinity_ds_m": 2.0}))
    assert all(set(row.cells) != {DASH} for row in bare.rows)
    assert CLASS_LABEL not in [row.label for row in bare.rows]


def test_notes_say_gaps_sources_the_class_and_what_is_left_out(tmp_path: Path) -> None:
    notes = soil_notes(soil_appraisal(tmp_path, book=SALT))
    assert CLASS_NOTE in notes
    for word in ("Hegde (1997)", "legumes", "nothing to precipitate", "FAO Irrigation and Drainage Paper 56"):
        assert any(word in note for note in notes), word
    assert len(set(notes)) == len(notes)


def test_raw_manure_brings_its_intervals_and_the_rules_of_composting(tmp_path: Path) -> None:
    notes = soil_notes(soil_appraisal(tmp_path, inputs=RAW))
    told = "Raw manure: treatment tank, compost: 2 dressings, at least 120 days to the next picking: too short."
    assert told in notes
    assert any("turned at least 5 times" in note for note in notes)
    assert not any("composted" in note for note in soil_notes(soil_appraisal(tmp_path)))


def test_a_case_without_a_trial_has_no_nutrient_tables(demo: Appraisal) -> None:
    without = replace(demo, layout=replace(demo.layout, trial=None))
    assert nutrient_tables(without) == []
    assert soil_notes(without)


def test_the_page_has_the_group_after_the_trial_with_every_note(demo: Appraisal) -> None:
    page = appraisal_text(demo)
    assert max(map(len, page.splitlines())) <= WIDTH
    assert page.index("THE TRIAL: YIELD") < page.index("NUTRIENTS AND SALT") < page.index("A FULL YEAR OF THE CASE")
    plain = " ".join(page.split())
    for sentence in soil_notes(demo):
        assert " ".join(sentence.split()) in plain
    for table in soil_tables(demo):
        assert table.title.upper() in plain


def test_the_json_holds_the_same_numbers_with_null_for_a_gap(demo: Appraisal) -> None:
    data = appraisal_data(demo)
    tank = data["nutrients"]["treatments"]["tank"]
    assert tank["p2o5"]["available_low_kg_per_m2"] is None
    assert tank["p2o5"]["gap"] == "first-season share of compost unknown"
    assert tank["n"]["balance_low_kg_per_m2"] == tank["n"]["total_kg_per_m2"] - tank["n"]["removed_high_kg_per_m2"]
    assert {f"{system}/{season}" for system, ones in data["salt"]["seasons"].items() for season in ones} == set(
        data["seasons"]
    )
    assert data["salt"]["notes"]


def test_every_null_of_nutrients_and_salt_has_its_why(tmp_path: Path) -> None:
    """Gaps of every sort: a kind not said, a plot without rows, no prices, a salt row not stated, no dressing."""
    lines = "".join(line for line in INPUTS.splitlines(keepends=True) if ",H2," not in line)
    appraisal = soil_appraisal(
        tmp_path, inputs=lines.replace("yard_waste_compost", ""), book={**SALT, "rooting_depth_m": None}
    )
    why = appraisal_data(appraisal)["why"]
    assert why["nutrients/treatments/tank/n/available_low_kg_per_m2"] == "first-season share of compost unknown"
    assert "no inputs written down for H2" in why["nutrients/treatments/hand/n/total_kg_per_m2"]
    assert "no price of the nutrient" in why["nutrients/treatments/tank/k2o/replacing_cost_low_per_m2"]
    assert why["salt/seasons/tank/dry/leaching_share"] == "water comes from below: nothing drains"
    assert why["salt/seasons/hand/dry/rise_ds_m"] == "water comes from above: what it brings can drain"
    assert why["salt/seasons/tank/dry/rise_ds_m"].startswith("a row of the book that it needs")
    assert why["salt/seasons/hand/dry/dressing_kg_per_m2"].startswith("no weighed mineral fertiliser")
