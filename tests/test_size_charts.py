"""The charts of size, views and programme take rows and name them; words are made from the same rows.

All rows: invented for these tests.
"""

from typing import Any

import pytest

from plotworth.show import size_captions as captions
from plotworth.show import size_charts as charts

NAN = float("nan")


def size(system: str, area: float, npv: float, *, best: bool = False, step: bool = False) -> dict[str, Any]:
    return {"system": system, "label": system.capitalize(), "area_m2": area, "households": 1.0, "npv": npv,
            "npv_per_household": npv, "is_best": best, "is_step": step}  # fmt: skip


SIZES = [
    size("drip", 10.0, -900.0),
    size("drip", 100.0, 50.0, best=True),
    size("drip", 100.001, -50.0, step=True, best=True),
    size("hand", 10.0, -20.0, best=True),
    size("hand", 100.0, -200.0),
    size("hand", 100.001, -201.0, step=True),
]
VIEWS = [
    {"view": view, "system": system, "label": system.capitalize(), "npv": npv}
    for view, sums in (("cash", (-5.0, 40.0)), ("full", (10.0, -30.0)))
    for system, npv in zip(("drip", "hand"), sums, strict=True)
]
ADOPTION = [
    {"year": 0, "joined": 0.0, "taking_part": 0.0, "paid_out": 100.0},
    {"year": 1, "joined": 30.0, "taking_part": 30.0, "paid_out": 250.0},
    {"year": 2, "joined": 50.4, "taking_part": 47.0, "paid_out": 50.0},
    {"year": 3, "joined": 50.4, "taking_part": 18.2, "paid_out": 0.0},
]
MADE = [
    (charts.size_chart(["drip", "hand"], currency="XTS"), charts.size_data(SIZES, 100.0)),
    (charts.views_chart(["drip", "hand"], ["cash", "full"], currency="XTS"), charts.views_data(VIEWS)),
    (charts.adoption_chart(currency="XTS"), charts.adoption_data(ADOPTION)),
]


def named(spec: dict[str, Any]) -> set[str]:
    inner = [named(layer) for layer in spec.get("layer", [])]
    return set().union(*inner, [spec["data"]["name"]] if "name" in spec.get("data", {}) else [])


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_draws_exactly_the_data_sets_laid_out_for_it(chart: Any, data: charts.Datasets) -> None:
    assert named(chart.to_dict()) == set(data) - {"adoption"}  # its years are there for the table


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_the_table_of_a_chart_names_columns_that_its_rows_have(chart: Any, data: charts.Datasets) -> None:
    for table in chart.to_dict()["usermeta"]["plotworth"]["tables"]:
        assert {key for key, _ in table["columns"]} <= set(data[table["name"]][0])


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_fills_its_place_and_its_axes_carry_units(chart: Any, data: charts.Datasets) -> None:
    spec = chart.to_dict()
    assert spec["width"] == "container"
    titles = str(spec)
    assert data
    assert any(unit in titles for unit in ("[XTS]", "Households"))


def test_steps_are_marked_where_the_fall_can_be_seen_and_the_own_area_is_named() -> None:
    """Drip falls by 100 of a reach of 950, hand by 1: under a hundredth."""
    data = charts.size_data(SIZES, 100.0)
    assert [row["system"] for row in data["size_steps"]] == ["drip"]
    assert plain(data["size_own"][0]["text"]).replace("\n", " ") == "one household: 100 m²"
    assert data["size_own"][0]["side"] == "left"  # 100 is the largest of the sizes from 10 to 100.001
    assert charts.size_data(SIZES, 12.0)["size_own"][0]["side"] == "right"


def test_a_size_without_a_number_is_left_out_and_a_view_without_one_written() -> None:
    data = charts.size_data([size("drip", 10.0, NAN)], 100.0)
    assert (data["size"], data["size_ends"]) == ([], [])
    (row,) = charts.views_data([{"view": "full", "system": "drip", "label": "Drip", "npv": NAN}])["views"]
    assert row["text"] == "Drip: not known"


def test_the_title_of_sizes_says_where_the_best_changes() -> None:
    title = plain(captions.size_title(SIZES))
    assert title == "Hand is worth most at small sizes, Drip above 100 m²"
    only = [size("hand", area, -5.0, best=True) for area in (1.0, 10.0)]
    assert captions.size_title(only) == "Hand loses least at every size shown"
    many = [size(("drip", "hand")[k % 2], 10.0 + k, 1.0, best=True) for k in range(6)]
    assert "changes 5 times with size" in captions.size_title(many)
    assert "not known" in captions.size_title([size("drip", 10.0, NAN)])


def test_the_title_of_views_says_whether_the_view_decides() -> None:
    assert captions.views_title(VIEWS) == (
        "Which system does best depends on the view: Hand in the cash view and Drip in the full view"
    )
    same = [{**row, "npv": {"drip": 3.0, "hand": 1.0}[row["system"]]} for row in VIEWS]
    assert captions.views_title(same) == "Drip is worth most in every view"
    third = [{**row, "system": "tank", "label": "Tank", "npv": {"cash": 2.0, "full": 0.5}[row["view"]]} for row in same]
    assert captions.views_title([*same, *third[::2]]).endswith("; the order of the others changes")
    assert "not known" in captions.views_title([{**VIEWS[0], "npv": NAN}])


def test_what_is_spoken_names_every_system_and_sum() -> None:
    spoken = plain(captions.size_text(SIZES, "XTS"))
    assert "from 10 m² to 100 m²" in spoken
    assert "Drip from XTS −900 to XTS −50" in spoken
    assert plain(captions.views_text(VIEWS, "XTS")).endswith("In the full view: Drip XTS 10, Hand XTS −30.")
    assert "nothing is drawn" in captions.size_text([size("drip", 10.0, NAN)], "XTS")


def test_adoption_is_told_in_households_and_money() -> None:
    """100 + 250 + 50 paid out; half of 50.4 have joined by year 1, when 30 have."""
    assert captions.adoption_title(ADOPTION) == "50 households join; at most 47 take part, in year 2"
    spoken = plain(captions.adoption_text(ADOPTION, "XTS"))
    assert "by the end of year 1" in spoken
    assert "XTS 400, most in year 1" in spoken
    assert charts.adoption_data(ADOPTION)["adoption_ends"][1]["text"] == "taking part\n18"
