"""Charts take rows and name them; words are made from the same rows. All rows: invented for these tests."""

import itertools
import json
from typing import Any

import pytest

from plotworth.show import captions, charts, theme

SYSTEMS = {"hand": "Watering by hand", "drip": "Pump and drip lines", "wick": "Wick reservoirs with lids"}


def cash_rows() -> list[dict[str, Any]]:
    lines = {"hand": [-400, -100, 200], "drip": [-9000, -5000, -1000], "wick": [-5200, -1000, 3000]}
    back = {"hand": 2, "wick": 2}
    return [
        {"system": system, "label": SYSTEMS[system], "year": year, "cumulative": cash, "deepest": year == 0,
         "payback": back.get(system) == year}
        for system, line in lines.items() for year, cash in enumerate(line)
    ]  # fmt: skip


PLOTS = [
    {"treatment": "drip", "label": "Drip", "block": "B1", "kg_per_m2": 6.0},
    {"treatment": "drip", "label": "Drip", "block": "B2", "kg_per_m2": float("nan")},
    {"treatment": "wick", "label": "Wick", "block": "B1", "kg_per_m2": 5.5},
]
MEANS = [
    {"treatment": "drip", "label": "Drip", "mean": 6.0, "low": float("nan"), "high": float("nan")},
    {"treatment": "wick", "label": "Wick", "mean": 5.523, "low": 5.1, "high": 6.2},
]
WATER = [
    {"system": "drip", "label": "Drip", "part": "reached the bed", "litres": 410.0},
    {"system": "drip", "label": "Drip", "part": "lost on the way", "litres": 45.0},
    {"system": "wick", "label": "Wick", "part": "reached the bed", "litres": 190.0},
    {"system": "wick", "label": "Wick", "part": "lost on the way", "litres": 4.0},
]
FLOW = [{"year": 0, "flow": 3800.0}, {"year": 1, "flow": -500.0}, {"year": 2, "flow": 900.0}]
MADE = [
    (charts.cumulative_cash_chart(SYSTEMS, currency="XTS"), charts.cumulative_cash_data(cash_rows())),
    (charts.yearly_flow_chart("Wick", "Drip", currency="XTS"), charts.yearly_flow_data(FLOW)),
    (charts.plot_yield_chart(["drip", "wick"]), charts.plot_yield_data(PLOTS, MEANS)),
    (charts.water_chart(["drip", "wick"], ["reached the bed", "lost on the way"]), charts.water_data(WATER)),
]


def named(spec: dict[str, Any]) -> set[str]:
    inner = [named(part) for part in spec.get("layer", [])]
    return set().union(*inner, [spec["data"]["name"]] if "name" in spec.get("data", {}) else [])


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_draws_exactly_the_data_sets_laid_out_for_it(chart: Any, data: charts.Datasets) -> None:
    spec = chart.to_dict()
    assert named(spec) - set(spec.get("datasets", {})) == set(data)


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_the_table_of_a_chart_names_columns_that_its_rows_have(chart: Any, data: charts.Datasets) -> None:
    for table in chart.to_dict()["usermeta"]["plotworth"]["tables"]:
        assert {key for key, _ in table["columns"]} <= set(data[table["name"]][0])


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_fills_its_place_at_a_fixed_height_and_has_one_axis_each_way(chart: Any, data: charts.Datasets) -> None:
    spec = chart.to_dict()
    assert data
    assert spec["width"] == "container"
    assert isinstance(spec["height"], int)
    assert "resolve" not in spec


def test_a_system_has_its_colour_dash_and_shape_by_its_place() -> None:
    ids = [f"s{number}" for number in range(12)]
    marks = [(theme.place(ids, s, theme.COLOURS), theme.place(ids, s, theme.DASHES)) for s in ids]
    assert len(set(marks)) == len(ids)
    assert theme.colour_scale(ids[:2]).to_dict()["range"] == ["#0072B2", "#D55E00"]


def test_money_axes_carry_the_currency() -> None:
    assert all("[XTS]" in json.dumps(chart.to_dict()["layer"]) for chart, _ in MADE[:2])


def test_labels_are_moved_apart_in_the_order_of_their_values() -> None:
    placed = charts.spread([10.0, 10.5, 3.0, 10.2], [2.0, 2.0, 2.0, 2.0])
    assert sorted(range(4), key=placed.__getitem__) == [2, 0, 3, 1]
    assert min(b - a for a, b in itertools.pairwise(sorted(placed))) >= 2.0 - 1e-12
    assert charts.spread([], []) == []


def test_the_end_of_a_line_says_whether_the_money_came_back() -> None:
    texts = {row["system"]: row["text"] for row in MADE[0][1]["cash_ends"]}
    assert texts == {
        "hand": "Watering by hand\nrepaid year 2",
        "drip": "Pump and drip\nlines\n−1\u202f000, not repaid",
        "wick": "Wick reservoirs\nwith lids\nrepaid year 2",
    }


def test_the_words_of_the_cash_chart_name_ends_depths_and_payback() -> None:
    title = captions.cumulative_cash_title(cash_rows(), "XTS").replace("\u202f", " ").replace("\u00a0", " ")
    assert "year 2: Wick reservoirs with lids, XTS 3 000" in title
    assert "deepest: Pump and drip lines, XTS −9 000" in title
    text = captions.cumulative_cash_text(cash_rows(), "XTS")
    assert "Pump and drip lines: lowest in year 0" in text
    assert "not repaid" in text
    assert text.count("repaid in year 2") == 2


def test_the_words_of_the_yield_chart_count_measured_plots_only() -> None:
    text = captions.plot_yield_text(PLOTS, MEANS)
    assert "Drip: 1 plot from 6 to 6" in text
    assert "no finite interval" in text
    assert captions.plot_yield_title(MEANS) == "Mean yield: Drip 6\u00a0kg/m² and Wick 5.5\u00a0kg/m²"


def test_the_words_of_the_other_charts_hold_every_number() -> None:
    assert captions.water_title(WATER, "L/m²") == "Least water: Wick, 194\u00a0L/m²; most: Drip, 455\u00a0L/m²"
    assert captions.water_text(WATER, "L/m²").count("L/m²") == 4
    assert captions.yearly_flow_title(FLOW, "Wick", "Drip", "XTS").endswith("in 1 of 2 years")
    assert captions.yearly_flow_text(FLOW, "Wick", "Drip", "XTS").count("XTS") == 3
