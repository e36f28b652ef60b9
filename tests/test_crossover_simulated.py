"""Ties along rows that daily simulations stand on: a run for every point, whole days as such, the sentence for it."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from independent_cases import copy_demo
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise_layout
from plotworth.choose.break_even_grid import break_even_grid
from plotworth.choose.crossover import break_even
from plotworth.choose.crossover_table import break_even_sentences
from plotworth.choose.inputs import lay_out
from plotworth.choose.joint_change import joint_change
from plotworth.choose.layout import Layout
from plotworth.choose.lines import moves_simulated
from plotworth.ground.arrays import cell
from test_simulated import APPLIED, PEPPER, compute


@pytest.fixture(scope="module")
def layout(tmp_path_factory) -> Layout:
    case = copy_demo(tmp_path_factory.mktemp("watered"))
    compute(case, APPLIED, system="drip", crop=PEPPER)
    compute(case, APPLIED, system="reservoir", crop=PEPPER)
    return lay_out(open_case(case))


def gain(layout: Layout, moved: dict[str, float]) -> float:
    values = {**layout.values, **{at: cell(number) for at, number in moved.items()}}
    worth = appraise_layout(layout.case, layout, values).systems
    return worth["reservoir"]["npv"] - worth["drip"]["npv"]


def test_a_row_of_the_simulation_is_followed_by_runs_of_its_own(layout: Layout) -> None:
    """What the gain is at both ends of the range and at a turn comes from the appraisal itself."""
    address = "wick_flow_l_per_day/reservoir"
    assert moves_simulated(layout, address)
    assert not moves_simulated(layout, "carry_distance_m")
    found = break_even(layout, layout.values, address, "reservoir", "drip", 1.0, 12.0)
    assert not found.is_certain
    ends = [np.sign(gain(layout, {address: end})) for end in (1.0, 12.0)]
    assert [found.parts[0][2], found.parts[-1][2]] == ends
    for crossing in found.crossings:
        sides = [np.sign(gain(layout, {address: crossing.at * part})) for part in (0.999, 1.001)]
        assert sides == [-crossing.ahead_above, crossing.ahead_above]
    assert "grid of daily simulations" in break_even_sentences(layout, found)[-1]


def test_whole_days_are_followed_day_by_day(layout: Layout) -> None:
    address = "refill_interval_days/reservoir"
    found = break_even(layout, layout.values, address, "reservoir", "drip", 1.0, 9.0)
    told = [np.sign(gain(layout, {address: day})) for day in np.arange(1.0, 10.0)]
    turns = [day for day, before, own in zip(range(2, 10), told, told[1:], strict=False) if before != own]
    assert [crossing.at for crossing in found.crossings] == turns
    assert found.ahead_at_low == told[0]


def test_a_simulated_value_itself_can_be_moved(layout: Layout) -> None:
    """The water of the tank by hand of the composition: a typed value in its place."""
    address = f"{APPLIED}/reservoir/{PEPPER}/warm dry"
    found = break_even(layout, layout.values, address, "reservoir", "drip")
    assert found.is_certain
    assert len(found.crossings) == 1
    assert found.crossings[0].left_over < 1e-9


def test_each_cell_of_a_grid_takes_a_run_of_its_own(layout: Layout) -> None:
    first, second = "carry_distance_m", "wick_flow_l_per_day/reservoir"
    grid = break_even_grid(
        layout, layout.values, first, second, "reservoir", "drip", first_values=(100.0, 400.0), second_values=(3.0, 8.0)
    )
    for row in grid.rows():
        told = gain(layout, {first: row["first"], second: row["second"]})
        assert_allclose(row["difference"], told, rtol=1e-9)


def test_the_least_joint_change_names_what_it_leaves_out(layout: Layout) -> None:
    found = joint_change(layout, layout.values, "reservoir", "drip")
    assert "wick_flow_l_per_day/reservoir" in found.left_out
    assert "wick_flow_l_per_day/reservoir" not in {row.input.address for row in found.rows}
