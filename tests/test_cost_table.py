"""The cost table adds up to the appraisal, line by line and area by area."""

import math
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from plain_case import plain_case
from plotworth.case.folder import Case, open_case
from plotworth.choose.appraise import appraise, appraise_layout
from plotworth.choose.cost_table import LABOUR_LINE, CostRow, cost_table, costs_by_area
from plotworth.choose.inputs import lay_out
from plotworth.ground.arrays import cell

DEMO = Path(__file__).parent.parent / "data_demo"
WAGES = {"family_wage_per_hour": 0.3, "hired_wage_per_hour": 0.4}
EVERY_BASIS = (
    "tank,,tank,capital,scheme,3,10,2,40,",
    ",,fence,capital,m2,0.2,1.2,8,,",
    "tank,,levelling,capital,hour,30,,3,,0.5",
    ",,stakes,seasonal,plant,1.1,0.05,,,",
    "tank,,cleaning,yearly,unit,1,0.3,,,",
    ",,fee,seasonal,m3,1,0.2,,,",
    ",,bags,yearly,kg_sold,1,0.02,,,",
    ",,mending,yearly,hour,8,,,,",
    "tank,wet,guarding,seasonal,hour,5,,,,",
)


def every_basis(folder: Path) -> Case:
    """Return a case with lines on every basis, two seasons under the tank and a labour plan."""
    book = {
        **WAGES,
        "yield_kg_per_m2/tank/bean": 1.0,
        "market_price_per_kg/all/bean": 0.8,
        "plants_per_m2": 4.0,
        "m2_per_unit": 2.5,
        "water_applied_l_per_m2": 300.0,
        "carrying_h_per_m3/tank": 10.0,
        "planted_share": 0.7,
    }
    seasons = ("tank,dry,pepper,2,5,1", "tank,wet,bean,8,3,0.5", "hand,dry,pepper,2,5,1")
    labour = (",,weeding,,0.1,,0.5,no", ",dry,picking,,0.2,,0.8,yes")
    return plain_case(folder, book=book, seasons=seasons, costs=EVERY_BASIS, labour=labour)


def rows(case: Case, system: str) -> list[CostRow]:
    layout = lay_out(case)
    return [row for row in cost_table(case, layout, layout.values) if row.system == system]


@pytest.mark.parametrize("which", ["demo", "every basis"])
def test_lines_sum_to_investment_and_running_cost(tmp_path: Path, which: str) -> None:
    case = open_case(DEMO) if which == "demo" else every_basis(tmp_path)
    appraisal = appraise(case)
    for system in case.settings.systems:
        lines = rows(case, system.label)
        capital = sum(row.amount for row in lines if row.group == "capital")
        running = sum(row.amount for row in lines if row.group != "capital")
        assert_allclose(capital, appraisal.systems[system.id]["investment"], rtol=1e-12)
        assert_allclose(running, appraisal.systems[system.id]["running_cost"], rtol=1e-12)


def test_an_amount_is_number_times_price(tmp_path: Path) -> None:
    for row in rows(every_basis(tmp_path), "Tank"):
        assert_allclose(row.number * row.unit_price, row.amount, rtol=1e-12)


@pytest.mark.parametrize(
    ("item", "number"),
    [
        ("tank", 9),  # 100 m2 at 40 m2 each are three steps of 3
        ("levelling", 30),
        ("stakes", 1.1 * 4 * (70 + 35)),  # both seasons' plants
        ("cleaning", 28),  # 70 m2 at 2.5 m2 each
        ("fee", 0.3 * (70 + 35)),
        ("bags", 3 * 70 + 1 * 35),
        ("mending", 8),
        ("guarding", 5),
    ],
)
def test_numbers_of_running_lines_are_those_of_a_full_year(tmp_path: Path, item: str, number: float) -> None:
    """Worked by hand on 70 planted m2 of pepper and 35 of bean."""
    (row,) = (row for row in rows(every_basis(tmp_path), "Tank") if row.item == item)
    assert_allclose(row.number, number)


def test_labour_and_carrying_are_the_last_line_without_the_hours_of_cost_lines(tmp_path: Path) -> None:
    """By hand: weeding 7 + 3.5 h, picking 14 h, carrying 10 h for each of 21 + 10.5 m3."""
    last = rows(every_basis(tmp_path), "Tank")[-1]
    assert last.item == LABOUR_LINE
    assert_allclose(last.number, 10.5 + 14 + 315)
    assert_allclose(last.amount, (5.25 + 11.2 + 315) * 0.3 + (5.25 + 2.8) * 0.4)


def test_without_hours_the_labour_line_is_nothing_and_has_no_wage(tmp_path: Path) -> None:
    last = rows(plain_case(tmp_path), "Tank")[-1]
    assert (last.number, last.amount) == (0, 0)
    assert math.isnan(last.unit_price)


def test_the_ladder_of_areas_equals_single_appraisals(tmp_path: Path) -> None:
    case = every_basis(tmp_path)
    layout = lay_out(case)
    areas = [10.0, 40.0, 40.01, 100.0, 1000.0]
    ladder = costs_by_area(layout, layout.values, areas)
    assert [(row.system, row.area_m2) for row in ladder] == [(s, a) for s in ("Tank", "Hand") for a in areas]
    for row in ladder:
        single = appraise_layout(case, layout, {**layout.values, "area_m2": cell(row.area_m2)})
        figures = single.systems[row.system.lower()]
        for name in ("investment", "working_capital", "running_cost", "npv"):
            assert_allclose(getattr(row, name), figures[name], rtol=1e-12, err_msg=f"{row.area_m2} {name}")


def test_just_above_a_step_of_area_another_is_bought(tmp_path: Path) -> None:
    """By hand: 3 tanks of 10 more at 40.01 m2 than at 40 m2; the fence grows by a four-thousandth."""
    layout = lay_out(every_basis(tmp_path))
    at, above = costs_by_area(layout, layout.values, [40.0, 40.01])[:2]
    assert_allclose(above.investment - at.investment, 30 + 0.01 * 0.2 * 1.2)
