"""Risk as rows, tables, page, JSON, charts and command: each says what the draws say."""

import json
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from folders import DEMO, run
from plotworth.case.folder import open_case
from plotworth.choose.distribution import Chance
from plotworth.choose.inputs import lay_out
from plotworth.choose.risk import risk, risk_by_area
from plotworth.choose.risk_rows import (
    area_chance_rows,
    area_ladder_m2,
    difference_draws,
    difference_rows,
    new_system,
    percentile_rows,
    settling_rows,
    year_rows,
)
from plotworth.choose.risk_table import chance_text, risk_notes, risk_sentences, risk_tables
from plotworth.report.risk_exchange import risk_data
from plotworth.report.risk_page import risk_text
from plotworth.show import risk_captions as captions
from plotworth.show import risk_charts as charts
from risk_cases import TYPED, laid_out

DRAWS = 2000


@pytest.fixture(scope="module")
def demo():
    return lay_out(open_case(DEMO))


@pytest.fixture(scope="module")
def found(demo):
    return risk(demo, demo.values, draws=DRAWS, seed=6)


@pytest.fixture(scope="module")
def by_area(demo):
    return risk_by_area(demo, demo.values, [100.0, 400.0, 1600.0], draws=DRAWS, seed=6)


@pytest.fixture(scope="module")
def unknown(tmp_path_factory):
    book = TYPED["assumptions.csv"].replace("hand,pepper,,0.5,0.25,1,", "hand,pepper,,unknown,,,", 1)
    layout = laid_out(tmp_path_factory.mktemp("unknown"), {**TYPED, "assumptions.csv": book})
    return risk(layout, layout.values, draws=100)


def test_bars_hold_every_draw_and_part_at_zero(found) -> None:
    rows, draws = difference_rows(found, "reservoir"), difference_draws(found, "reservoir", "baseline")
    assert_allclose(sum(row["share"] for row in rows), 1, rtol=1e-12)
    better = sum(row["share"] for row in rows if row["is_gain"])
    assert_allclose(better, np.count_nonzero(draws >= 0) / DRAWS, rtol=1e-12)
    assert any(abs(row["low"]) < 1e-9 for row in rows)


def test_rows_of_area_leave_the_reference_out_and_keep_the_chance_in_its_band(by_area) -> None:
    rows = area_chance_rows(by_area)
    assert {row["system"] for row in rows} == {"reservoir", "hand"}
    assert all(row["low"] - 1e-12 <= row["chance"] <= row["high"] + 1e-12 for row in rows)  # rounding at 0 and 1


def test_the_ladder_of_areas_holds_the_case_and_both_sides_of_steps(demo) -> None:
    areas = area_ladder_m2(demo, demo.values)
    # hand tools of the demo are bought again above every 500 m2
    assert {400.0, 500.0} <= set(areas)
    assert any(500 < area < 500.01 for area in areas)


def test_settling_ends_at_the_figures_of_the_case(found) -> None:
    rows = settling_rows(found, "reservoir")
    against = found.systems["reservoir"].against["baseline"]
    assert rows[-1]["draws"] == DRAWS
    assert_allclose(rows[-1]["chance"], against.chance_better.share, rtol=1e-12)
    assert_allclose(rows[-1]["mean"], against.difference.mean, rtol=1e-9)


def test_tables_sentences_and_notes_say_the_same(found, by_area) -> None:
    tables = {table.title: table for table in risk_tables(found, by_area)}
    against = tables["NPV less that of Well and drip (the baseline)"]
    assert against.systems == ("Wick-fed tank", "Hand watering")
    chance = chance_text(found.systems["reservoir"].against["baseline"].chance_better)
    assert next(row for row in against.rows if row.label == "chance of being better").cells[0] == chance
    assert len(next(t for name, t in tables.items() if name.endswith("Well and drip by area")).rows) == 3
    assert any(line.startswith("Wick-fed tank is worth less than Hand watering") for line in risk_sentences(found))
    notes = "\n".join(risk_notes(found))
    assert "with seed 6" in notes
    assert "drawn once a case" in notes
    assert "anew in every year" in notes
    assert "the mean mass of a fruit is held" in notes


@pytest.mark.parametrize(
    ("share", "text"), [(0.0, "under 1"), (0.004, "under 1"), (0.384, "38"), (0.997, "over 99"), (float("nan"), "–")]
)
def test_chances_are_written_in_whole_points(share, text) -> None:
    assert chance_text(Chance(share, 0.01, 100)).startswith(text)


def test_an_unknown_assumption_is_said_and_drawn_nowhere(unknown) -> None:
    assert difference_rows(unknown, "tank") == []
    assert settling_rows(unknown, "tank") == []
    assert any("an assumption is unknown" in line for line in risk_sentences(unknown))
    assert captions.spread_title([], "Tank", "Hand") == captions.UNKNOWN
    assert risk_data(unknown)["systems"]["hand"]["npv"]["mean"] is None
    json.dumps(risk_data(unknown), allow_nan=False)
    assert "–" in risk_text(unknown)


def test_charts_take_the_rows_and_name_their_data(found, by_area) -> None:
    ids = ["reservoir", "drip", "hand"]
    rows, marks = difference_rows(found, "reservoir"), percentile_rows(found, "reservoir")
    areas, years, settling = area_chance_rows(by_area), year_rows(found), settling_rows(found, "reservoir")
    made = [
        (charts.spread_chart(currency="XTS"), charts.spread_data(rows, marks)),
        (charts.area_chance_chart(ids), charts.area_chance_data(areas, 400.0)),
        (charts.years_chart(years, ids), charts.years_data(years)),
        (charts.settling_chart(), charts.settling_data(settling)),
    ]
    for chart, data in made:
        told = json.dumps(chart.to_dict())
        assert all(f'"name": "{name}"' in told for name in data)
        json.dumps(data, allow_nan=False)


def test_captions_say_the_chances(found, by_area) -> None:
    rows, marks = difference_rows(found, "reservoir"), percentile_rows(found, "reservoir")
    title = captions.spread_title(rows, "Wick-fed tank", "Well and drip")
    assert chance_text(found.systems["reservoir"].against["baseline"].chance_better) in title
    assert "once a case" in captions.spread_text(rows, marks, "Wick-fed tank", "Well and drip", "XTS")
    areas = area_chance_rows(by_area)
    assert "Wick-fed tank is likely to be better below about 400" in captions.area_chance_title(areas, "drip")
    assert "Well and drip" in captions.years_title(year_rows(found))
    assert "years out of ten" in captions.years_text(year_rows(found))
    assert captions.settling_title(settling_rows(found, "reservoir")).endswith("%")
    assert "draws are added" in captions.settling_text(settling_rows(found, "reservoir"))


def test_the_new_system_is_the_one_that_is_no_reference(found, unknown) -> None:
    assert new_system(found) == "reservoir"
    assert new_system(unknown) == "tank"


def test_the_command_prints_page_and_json_and_the_same_seed_the_same_bytes() -> None:
    page = run("risk", str(DEMO), "--draws", "500", "--seed", "3")
    assert (page.code, page.err) == (0, "")
    assert "500 draws with seed 3" in page.out
    assert "INVENTED DATA" in page.out
    one, same = (run("risk", str(DEMO), "--draws", "500", "--seed", "3", "--json") for _ in range(2))
    assert one.out == same.out
    data = json.loads(one.out)
    assert (data["draws"], data["seed"]) == (500, 3)
    assert data["systems"]["drip"]["years_out_of_ten"]["beats_baseline"] is None


def test_the_command_refuses_too_few_draws_and_takes_events_off() -> None:
    refused = run("risk", str(DEMO), "--draws", "1")
    assert refused.code == 1
    assert "take 2 to" in refused.err
    off = json.loads(run("risk", str(DEMO), "--draws", "50", "--no-events", "--json").out)
    assert off["events"] == {"failed_seasons": False, "dry_holes": False}


def test_ctrl_c_ends_the_command_with_nothing_printed(monkeypatch) -> None:
    def stopped(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("plotworth.choose.risk.risk", stopped)
    ran = run("risk", str(DEMO))
    assert (ran.code, ran.out) == (130, "")


def test_importing_the_rooms_of_risk_loads_no_scipy() -> None:
    import subprocess
    import sys

    code = "import plotworth.choose.risk, plotworth.choose.risk_table, sys; print('scipy' in sys.modules)"
    lib = str(Path(__file__).parent.parent / "lib")
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env={"PYTHONPATH": lib}
    )
    assert ran.stdout.strip() == "False"
