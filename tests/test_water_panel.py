"""The water panel in process, without a browser: what it shows of a season, what a dial moves, what it cannot tell."""

import pytest

from independent_cases import assume, copy_demo, rewrite
from plotworth.choose.water_table import COUNTED
from plotworth.ground.glossary import GLOSSARY
from plotworth.show.panels.water import WaterPanel, water_panel
from test_watering import leave_out

APPLIED = "water_applied_l_per_m2"
INTERVAL = "refill_interval_days/reservoir"


@pytest.fixture
def case(tmp_path):
    return copy_demo(tmp_path)


def panel_of(case):
    panel = water_panel(case)
    assert isinstance(panel, WaterPanel), panel.value
    return panel


def test_it_opens_on_the_first_season_with_a_chart_for_each_system_and_what_brings_the_water(case):
    panel = panel_of(case)
    titles = panel.charts().titles
    assert panel.season.value == "warm dry"
    assert [title.split(":")[0] for title in titles[:3]] == ["Wick-fed tank", "Well and drip", "Hand watering"]
    assert any("filled 19 times" in title for title in titles)
    assert len(panel.charts().specs) == len(titles) == len(panel.charts().texts) == 9
    assert {name for name in panel.charts().data if name.startswith("requirement_drip")}


def test_another_season_shows_its_crop_and_its_own_figures(case):
    panel = panel_of(case)
    before = panel.tables.value
    panel.season.value = "late rains"
    assert "zucchini in late rains" in panel.tables.value
    assert panel.tables.value != before
    panel.season.value = "warm dry"
    assert panel.tables.value == before


def test_a_dial_on_the_tank_moves_its_charts_and_nothing_of_the_drip(case):
    panel = panel_of(case)
    drip, tank = panel.charts().data["requirement_drip"], panel.charts().titles[0]
    panel.set(INTERVAL, 14.0)
    assert panel.charts().titles[0] != tank
    assert panel.charts().data["requirement_drip"] == drip
    assert "Computed with Refill interval: Wick-fed tank 14" in panel.status.value


def test_a_dial_that_cannot_be_leaves_the_last_result_with_a_sentence(case):
    panel = panel_of(case)
    title = panel.charts().titles[0]
    panel.set(INTERVAL, 0.0)
    assert "cannot be" in panel.status.value
    assert panel.charts().stale
    assert panel.charts().titles[0] == title


def test_a_season_that_the_weather_no_longer_covers_says_so_and_keeps_the_others(case):
    panel = panel_of(case)
    panel.set("growing_days/all/sweet pepper", 200.0)
    assert "weather.csv" in panel.tables.value
    assert "does not reach over the season" in panel.tables.value
    panel.season.value = "late rains"
    assert "zucchini in late rains" in panel.tables.value


def test_a_system_without_its_rows_is_named_and_the_others_are_shown(case):
    leave_out(case, "tank_l_per_unit")
    panel = panel_of(case)
    assert "tank_l_per_unit" in panel.tables.value
    assert [title.split(":")[0] for title in panel.charts().titles[:2]] == ["Well and drip", "Hand watering"]


def test_it_says_what_the_appraisal_counts_and_where_it_has_that_from(case):
    panel = panel_of(case)
    assert "the appraisal counts 455" in panel.tables.value
    assert COUNTED["trial"] in panel.tables.value
    keep = lambda row: not (row["name"] == APPLIED and row["system"] == "drip" and row["crop"] == "sweet pepper")  # noqa: E731
    rewrite(case, "assumptions", lambda rows: [row for row in rows if keep(row)])
    assume(case, APPLIED, "computed", GLOSSARY[APPLIED].unit, system="drip", crop="sweet pepper")
    assert COUNTED["computed"] in panel_of(case).tables.value


def test_dials_that_matter_less_are_folded_away_and_act_all_the_same(case):
    panel = panel_of(case)
    assert "lid_m2_per_unit/reservoir" in panel.dials
    before = panel.charts().data["ledger_reservoir"]
    panel.set("lid_m2_per_unit/reservoir", 0.8)
    assert panel.charts().data["ledger_reservoir"] != before


def test_days_move_by_whole_days(case):
    assert panel_of(case).dials[INTERVAL].slider.step == 1


def test_faults_of_a_case_come_as_sentences(case):
    rewrite(case, "assumptions", lambda rows: [row for row in rows if row["name"] != "market_price_per_kg"])
    assert "market_price_per_kg" in water_panel(case).value


def test_nutrients_salt_and_questions_stand_below(case):
    text = panel_of(case).tables.value
    for words in ("Nutrients and salt", "Flags on the figures of the book", "Salt that comes with the water"):
        assert words in text
