"""The crossover in sentences, on the page, in the JSON and on charts. Rows of charts: invented for these tests."""

import json
import math
from typing import Any

import pytest

from folders import DEMO
from plain_case import COSTS, plain_case
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.case_crossover import CaseCrossover, crossover_of, main_pair
from plotworth.choose.crossover import break_even, break_even_area
from plotworth.choose.crossover_chart_rows import area_rows, grid_rows, switching_rows, tie_rows
from plotworth.choose.crossover_table import break_even_sentences, crossover_sentences
from plotworth.choose.input_names import input_name
from plotworth.choose.inputs import lay_out
from plotworth.choose.lines import OWN_WORTH
from plotworth.cli import main
from plotworth.report.crossover_exchange import crossover_json
from plotworth.report.crossover_page import crossover_text
from plotworth.show import crossover_captions as captions
from plotworth.show import crossover_charts as charts
from test_crossover import STEPPED


@pytest.fixture(scope="module")
def demo() -> Appraisal:
    return appraise(open_case(DEMO))


@pytest.fixture(scope="module")
def found(demo: Appraisal) -> CaseCrossover:
    return crossover_of(demo)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def said(layout, found) -> list[str]:
    return [plain(line) for line in break_even_sentences(layout, found)]


def test_one_none_and_several_turns_in_words(tmp_path) -> None:
    """34.6, 69.1 m2 and the steps: see test_crossover."""
    layout = lay_out(plain_case(tmp_path))
    one = break_even_area(layout, layout.values, "tank", "hand", 10.0, 1000.0)
    assert said(layout, one) == ["Hand is worth more than Tank below 34.6 m²; Tank is worth more above 34.6 m²."]
    none = break_even_area(layout, layout.values, "tank", "hand", 50.0, 1000.0)
    every = "Tank is worth more than Hand at every area from 50 m² to 1 000 m²; within it there is no tie."
    assert said(layout, none) == [every]
    same = break_even_area(layout, layout.values, "tank", "tank", 50.0, 1000.0)
    assert said(layout, same)[0].endswith("are worth the same everywhere from 50 m² to 1 000 m².")
    stepped = lay_out(plain_case(tmp_path, costs=STEPPED))
    several = said(stepped, break_even_area(stepped, stepped.values, "tank", "hand", 10.0, 75.0))
    assert several[0] == (
        "Hand is worth more than Tank below 34.6 m² and from 40 m² to 69.1 m²; "
        "Tank is worth more from 34.6 m² to 40 m² and above 69.1 m²."
    )
    assert several[1] == "At 40 m² what is bought in steps changes by one, which turns the order without a tie."


def test_a_system_by_itself_and_other_inputs_in_words(tmp_path) -> None:
    """Alone the tank pays above 12.3 m2; the extra kilogram above 0.173 a kilogram."""
    layout = lay_out(plain_case(tmp_path))
    own = break_even_area(layout, layout.values, "tank", OWN_WORTH, 5.0, 100.0)
    assert said(layout, own) == ["Tank by itself earns back what it costs above 12.3 m²."]
    dear = lay_out(plain_case(tmp_path, costs=("tank,,tank,capital,scheme,3,900,2,,", COSTS[1])))
    never = break_even_area(dear, dear.values, "tank", OWN_WORTH, 5.0, 100.0)
    assert said(dear, never) == ["Tank by itself does not earn back what it costs anywhere from 5 m² to 100 m²."]
    price = break_even(layout, layout.values, "market_price_per_kg/all/pepper", "tank", "hand")
    assert said(layout, price)[0].startswith("Market price, pepper: Hand is worth more than Tank below 0.173 XTS/kg;")


def test_a_system_that_loses_to_present_practice_is_said_to_before_it_is_held_against_the_baseline(demo, found) -> None:
    assert main_pair(demo.layout) == ("reservoir", "drip")
    first, second, *_ = (plain(line) for line in crossover_sentences(demo, found))
    assert first.startswith("Hand watering is worth more than Wick-fed tank at every area from 50 m² to 4 000 m²")
    assert (
        second
        == "Wick-fed tank is worth more than Well and drip below 369 m²; Well and drip is worth more above 369 m²."
    )


def test_names_tell_inputs_apart(demo) -> None:
    names = [input_name(demo.layout, at) for at in demo.layout.inputs]
    assert len(set(names)) == len(names)
    assert input_name(demo.layout, "cost/drip/borehole metres/unit_price") == "Borehole metres: price, Well and drip"


def test_page_and_json_tell_the_same(demo, found) -> None:
    data = json.loads(crossover_json(demo, found))
    page = " ".join(crossover_text(demo, found).split())
    assert " ".join(data["sentences"][1].split()) in page
    assert data["areas"][1]["crossings"][0]["at"] == found.areas[1].crossings[0].at
    assert len(data["switching_values"]) == len(found.switching)
    assert all(len(line) <= 100 for line in crossover_text(demo, found).splitlines())
    assert data["grid"]["first"] != data["grid"]["second"]


def test_the_command_prints_page_or_json_and_refuses_an_unknown_system(capsys) -> None:
    assert main(["crossover", str(DEMO), "--json", "--system", "drip", "--reference", "hand"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert (data["system"], data["reference"]) == ("drip", "hand")
    assert main(["crossover", str(DEMO), "--system", "well"]) == 1
    assert "no system 'well'" in capsys.readouterr().err


def test_a_case_of_two_systems_has_a_crossover_too(tmp_path) -> None:
    appraisal = appraise(plain_case(tmp_path))
    found = crossover_of(appraisal)
    assert (found.system, found.reference) == ("tank", "hand")
    assert "no assumption of the case has a range" in " ".join(crossover_sentences(appraisal, found))
    assert "least joint change".upper() not in crossover_text(appraisal, found)


def made(demo: Appraisal, found: CaseCrossover) -> list[tuple[Any, charts.Datasets]]:
    layout, values = demo.layout, demo.values
    rows, ties = area_rows(layout, values, low_m2=50.0, high_m2=4000.0), tie_rows(layout, values, found.areas)
    bars = switching_rows(layout, found.switching)
    assert found.grid is not None
    cells = grid_rows(found.grid)
    sides = [list(dict.fromkeys(str(row[key]) for row in cells)) for key in ("first", "second")]
    return [
        (charts.area_chart(["reservoir", "drip", "hand"], currency="XTS"), charts.area_data(rows, ties, 400.0)),
        (charts.grid_chart("Way", "Depth", firsts=sides[0], seconds=sides[1]), charts.grid_data(cells)),
        (charts.switching_chart([row["name"] for row in bars]), charts.switching_data(bars)),
    ]


def named(spec: dict[str, Any]) -> set[str]:
    inner = [named(layer) for layer in spec.get("layer", [])]
    return set().union(*inner, [spec["data"]["name"]] if "name" in spec.get("data", {}) else [])


def test_each_chart_draws_its_data_and_its_tables_have_their_columns(demo, found) -> None:
    for chart, data in made(demo, found):
        spec = chart.to_dict()
        assert named(spec) == set(data)
        assert spec["width"] == "container"
        for table in spec["usermeta"]["plotworth"]["tables"]:
            assert {key for key, _ in table["columns"]} <= set(data[table["name"]][0])


def test_a_tie_on_the_chart_lies_on_both_lines_and_switching_bars_are_shares_of_the_value(demo, found) -> None:
    (tie, *_) = tie_rows(demo.layout, demo.values, found.areas)
    assert (tie["below"], tie["above"]) == ("Wick-fed tank", "Well and drip")
    bars = switching_rows(demo.layout, found.switching)
    distance = next(row for row in bars if row["name"] == "Distance to the source")
    assert math.isclose(distance["low_share"], 100 / 250)  # low of the demo's row over its value
    assert math.isclose(distance["tie_share"] * 250, distance["tie"])


TIES = [{"area_m2": 40.0 * k, "text": f"{40 * k} m²", "above": "Drip", "below": "Tank"} for k in range(1, 6)]
CELLS = [
    {"first": "1", "second": str(k), "difference": d, "ahead": math.copysign(1.0, d)} for k, d in enumerate((5.0, -2.0))
]


def test_titles_say_what_turns_where() -> None:
    assert captions.area_title(TIES[:1]) == "Drip overtakes Tank at 40 m²"
    assert captions.area_title([]) == "No two systems change places at any area shown"
    assert captions.area_title(TIES) == "Systems change places at 5 areas, as steps of capacity fall in"
    assert captions.grid_title(CELLS, "Tank", "Drip").startswith("Tank is worth more in 1 of 2 cells")
    assert captions.grid_title(CELLS[1:], "Tank", "Drip") == "Drip is worth more in every cell"
    assert captions.grid_title([{"ahead": math.nan}], "Tank", "Drip") == "Which is worth more is not known"
    assert "from XTS −2" in plain(captions.grid_text(CELLS, "Tank", "Drip", "XTS"))
    rows = [{"name": "Price", "words": "2 in place of 1", "is_believed": False}]
    assert captions.switching_title(rows) == "No assumption turns the order within its believed range; nearest: Price"
    assert captions.switching_title([{**rows[0], "is_believed": True}]) == "Price could turn the order by itself"
    assert captions.switching_text([]).endswith("no assumption by itself turns the order.")
    assert "nothing is drawn" in captions.area_text([], [], "XTS")
