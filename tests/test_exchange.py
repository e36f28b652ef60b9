"""The JSON of an appraisal: the numbers as computed, strict, in ASCII, with a reason for each null."""

import json
import math
from pathlib import Path

import pytest

from folders import DEMO
from plotworth.case.folder import open_case
from plotworth.choose.appraise import PARTS, Appraisal, appraise
from plotworth.report.exchange import appraisal_data, appraisal_json
from small_case import FILES, write_case


@pytest.fixture(scope="module")
def demo() -> Appraisal:
    return appraise(open_case(DEMO))


def test_the_numbers_are_those_computed_to_the_last_digit(demo: Appraisal) -> None:
    data = json.loads(appraisal_json(demo))
    for part in PARTS:
        for system, figures in demo.part(part).items():
            for name, value in figures.items():
                assert data[part][system][name] == (None if math.isnan(value) else value)
    for system, flows in demo.flows.items():
        assert data["flows"][system] == [float(flow) for flow in flows]


def test_a_null_stands_only_where_a_reason_does(demo: Appraisal) -> None:
    data = appraisal_data(demo)
    for part in PARTS:
        for system, figures in data[part].items():
            for name, value in figures.items():
                assert value is not None or data["why"][f"{part}/{system}/{name}"]


def test_the_text_is_ascii_and_gives_back_what_was_written(demo: Appraisal) -> None:
    text = appraisal_json(demo)
    assert text.isascii()
    assert json.loads(text) == json.loads(json.dumps(appraisal_data(demo)))
    assert "m²" in json.loads(text)["case"]["headline"]


def test_all_rates_of_return_stand_beside_the_one(demo: Appraisal) -> None:
    data = appraisal_data(demo)
    for part in PARTS:
        for system, figures in data[part].items():
            roots = figures["irr_roots"]
            assert (figures["irr"] in roots) if len(roots) == 1 else figures["irr"] is None, (part, system)


def test_a_season_without_water_or_harvest_says_why_its_ratios_are_null(tmp_path: Path) -> None:
    book = FILES["assumptions.csv"].replace("trial,,,", "0,,,")
    files = {"assumptions.csv": book, "plots.csv": None, "harvests.csv": None}
    why = appraisal_data(appraise(open_case(write_case(tmp_path, files))))["why"]
    assert why["seasons/tank/dry/irrigation_productivity_kg_per_m3"] == "no water was applied"
    assert why["seasons/tank/dry/water_l_per_kg"] == "no pepper is harvested"
    assert "seasons/hand/dry/water_l_per_kg" not in why


def test_flows_that_rest_on_an_unknown_are_null_for_the_reason_of_their_npv(tmp_path: Path) -> None:
    book = FILES["assumptions.csv"].replace("trial,,,", "3,,,").replace(",0.5,0.25,1,", ",unknown,,,")
    files = {"assumptions.csv": book, "plots.csv": None, "harvests.csv": None}
    data = json.loads(appraisal_json(appraise(open_case(write_case(tmp_path, files)))))
    assert data["flows"]["tank"][0] == -30  # three tanks at 10 are paid before any price matters
    assert data["flows"]["tank"][1:] == [None] * 4
    assert data["why"]["flows/tank"] == "unknown: market price (assumptions.csv line 5)"
