"""What the trial measured as tables: the cells are the trial's own figures, gaps are dashes with a reason."""

from dataclasses import replace
from pathlib import Path

import pytest

from plotworth import Appraisal, appraise, open_case
from plotworth.choose.area_table import AREA_STEPS, area_tables
from plotworth.choose.figure_table import DASH, FigureTable, flow_table
from plotworth.choose.trial_table import STANDING, trial_notes, trial_tables
from plotworth.ground.amounts import figures_text

DEMO = Path(__file__).parent.parent / "data_demo"


@pytest.fixture(scope="module")
def demo() -> Appraisal:
    return appraise(open_case(DEMO))


def cell(table: FigureTable, label: str, system: str) -> str:
    row = next(row for row in table.rows if row.label == label)
    return row.cells[table.systems.index(system)]


def test_systems_come_first_under_their_labels_and_other_treatments_after(demo: Appraisal) -> None:
    labels = ("Wick-fed tank", "Well and drip", "Hand watering", "drip+fungus", "hand+fungus", "tank+fungus")
    assert [table.systems for table in trial_tables(demo)] == [labels] * 3


def test_yield_stands_counted_with_its_error_beside_what_was_weighed(demo: Appraisal) -> None:
    table, trial = trial_tables(demo)[0], demo.layout.trial
    assert trial is not None
    for name, label in (("yield_kg_per_m2", "Marketable yield, per planted m²"), ("fruit_mass_g", "Mean fruit mass")):
        assert cell(table, label, "Well and drip") == figures_text(float(trial.treatments[name].astype(float)["drip"]))
    assert cell(table, "Missing plots", "Hand watering") == "1"
    assert cell(table, "Weighed, where every picking was", "Well and drip") == DASH


def test_fruit_on_the_plants_is_a_row_of_its_own_and_not_in_the_yield(demo: Appraisal) -> None:
    table = trial_tables(demo)[0]
    assert float(cell(table, STANDING, "Wick-fed tank")) > 0


def test_the_ledger_closes_from_fills_to_what_was_applied(demo: Appraisal) -> None:
    trial = demo.layout.trial
    assert trial is not None
    water = trial.water.astype(float, errors="ignore")
    drawn = water["first_fill_l_per_m2"] + water["refill_l_per_m2"] + water["irrigation_l_per_m2"]
    applied = drawn - water["left_over_l_per_m2"] - water["leak_l_per_m2"]
    assert list(applied.round(9)) == list(water["applied_l_per_m2"].round(9))


def test_a_productivity_by_evapotranspiration_is_a_dash_with_its_reason_where_drainage_was_not_measured(
    demo: Appraisal,
) -> None:
    ratios = trial_tables(demo)[2]
    assert set(ratios.rows[2].cells) == {DASH}
    assert "In the trial, drainage not measured." in trial_notes(demo)


def test_a_case_without_a_trial_has_no_trial_tables(demo: Appraisal) -> None:
    without = replace(demo, layout=replace(demo.layout, trial=None))
    assert trial_tables(without) == []
    assert trial_notes(without) == []


def test_flows_by_year_are_those_of_the_appraisal(demo: Appraisal) -> None:
    table = flow_table(demo)
    assert len(table.rows) == demo.case.settings.horizon_years + 1
    assert cell(table, "Year 0", "Well and drip") == figures_text(float(demo.flows["drip"][0]))


def test_sums_by_area_hold_the_case_s_own_area_among_their_multiples(demo: Appraisal) -> None:
    investment, running, npv = area_tables(demo)
    assert len(npv.rows) == len(AREA_STEPS)
    own = AREA_STEPS.index(1.0)
    for table, name in ((investment, "investment"), (running, "running_cost"), (npv, "npv")):
        column = table.systems.index("Wick-fed tank")
        assert table.rows[own].cells[column] == figures_text(demo.systems["reservoir"][name])
