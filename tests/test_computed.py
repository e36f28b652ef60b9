"""Values worked out from other rows: the formulas by hand, dials on their inputs, and what is missing for them."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from independent_cases import assume, copy_demo, lifted_and_carried
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise, appraise_layout
from plotworth.choose.assumed import SIMULATED_NAMES
from plotworth.choose.computed import FORMULAS, with_computed
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.simulated import WORDS
from plotworth.ground.arrays import cell
from plotworth.ground.errors import FaultsError
from plotworth.ground.glossary import GLOSSARY

DEMO = Path(__file__).parent.parent / "data_demo"


def test_every_formula_is_of_a_quantity_that_may_be_computed_and_stands_on_known_ones() -> None:
    assert {*FORMULAS, *SIMULATED_NAMES} == {term.name for term in GLOSSARY.values() if "computed" in term.words}
    assert set(SIMULATED_NAMES) == set(WORDS)
    for name, formula in FORMULAS.items():
        assert all(GLOSSARY[needed].is_assumption for needed in formula.inputs), name
        assert formula.words, name


def test_carrying_hours_by_hand_and_by_the_check_value_of_the_trade() -> None:
    """20 L a trip at 4 km/h with 5 minutes: 100 m gives 150 L/h, 500 m 60 L/h. Common practice, no source."""
    at = {"carry_load_l": cell(20), "carry_pace_km_per_h": cell(4), "carry_fill_pour_min": cell(5)}
    compute = FORMULAS["carrying_h_per_m3"].compute
    assert_allclose(1000 / compute({**at, "carry_distance_m": cell(100)}), 150, rtol=1e-12)
    assert_allclose(1000 / compute({**at, "carry_distance_m": cell(500)}), 60, rtol=1e-12)


def test_the_demo_s_carrying_is_worked_out_for_each_system_that_carries() -> None:
    """By hand: (2 x 0.25 km / 4 km/h + 5/60 h) / 0.02 m3 = 10.41666... h/m3; the pump's row says 0."""
    inputs = lay_out(open_case(DEMO)).inputs
    for system in ("reservoir", "hand"):
        one = inputs[f"carrying_h_per_m3/{system}"]
        assert one.origin == "computed"
        assert_allclose(one.value, (0.5 / 4 + 5 / 60) / 0.02, rtol=1e-12)
    assert inputs["carrying_h_per_m3/drip"].value == 0


def test_a_dial_on_an_input_moves_the_answer() -> None:
    case = open_case(DEMO)
    layout = lay_out(case)
    nearer = appraise_layout(case, layout, {**layout.values, "carry_distance_m": cell(100.0)})
    book = appraise(case)
    assert nearer.systems["hand"]["npv"] > book.systems["hand"]["npv"]
    assert nearer.systems["drip"]["npv"] == book.systems["drip"]["npv"]
    assert_allclose(nearer.values["carrying_h_per_m3/hand"], 1000 / 150, rtol=1e-12)


def test_draws_of_an_input_broadcast_through_the_formula() -> None:
    layout = lay_out(open_case(DEMO))
    values = {**layout.values, "carry_distance_m": np.array([[100.0, 250.0, 500.0]])}
    npv = evaluate(layout.structure, values, expected_shocks(layout.structure, values)).systems["hand"]["npv"]
    assert npv.shape == (1, 3)
    assert npv[0, 0] > npv[0, 1] > npv[0, 2]


def test_energy_is_paid_for_each_cubic_metre_lifted(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    lifted_and_carried(case)
    figures = appraise(open_case(case)).systems["drip"]
    assert_allclose(figures["energy_cost"], 0.21 * figures["energy_kwh"], rtol=1e-12)
    assert figures["energy_kwh"] > 0.1 * figures["water_m3"]


def test_another_well_is_dug_where_the_planted_ground_passes_what_one_serves(tmp_path: Path) -> None:
    """By hand: (1.9 x 6 - 1.2) m3 over 7.1 L per m2 serves 1437 m2; 2600 m2, 0.7 of it planted, need two wells."""
    case = copy_demo(tmp_path)
    lifted_and_carried(case)
    opened = open_case(case)
    layout = lay_out(opened)
    assert appraise(opened).systems["drip"]["wells"] == 2
    one = {**layout.values, "area_m2": cell(2050.0)}
    assert appraise_layout(opened, layout, one).systems["drip"]["wells"] == 1


def test_an_input_that_is_missing_is_asked_for_by_name(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    book = case / "assumptions.csv"
    kept = [row for row in book.read_text(encoding="utf-8").splitlines() if not row.startswith("carry_load_l")]
    book.write_text("\n".join(kept) + "\n", encoding="utf-8")
    with pytest.raises(FaultsError, match="write a row carry_load_l in l: litres carried at a time"):
        lay_out(open_case(case))


def test_the_price_of_energy_is_asked_for_where_a_pump_takes_some(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    assume(case, "pump_energy_kwh_per_m3", "0.3", "kWh/m3", system="hand")
    with pytest.raises(FaultsError, match="energy_price_per_kwh"):
        lay_out(open_case(case))


def test_values_without_anything_computed_are_returned_as_they_are() -> None:
    values = {"a": cell(1.0)}
    assert with_computed((), values) is values
