"""The tornado: ends of each row's own distribution, one call of the composition, switching marks, order of dials."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from folders import DEMO, demo_copy
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise_layout
from plotworth.choose.inputs import lay_out
from plotworth.choose.lines import OWN_WORTH, worked_out
from plotworth.choose.row_ends import row_ends
from plotworth.choose.tornado import by_influence, move_each, tornado, with_switching
from plotworth.choose.trial_draws import trial_figures
from plotworth.ground.arrays import cell
from plotworth.ground.errors import PlotworthError
from risk_cases import TYPED, laid_out
from test_simulated import APPLIED, PEPPER, compute

PRICE, HAND_PRICE = "market_price_per_kg/tank/pepper", "market_price_per_kg/hand/pepper"
SAME = 1e-9


@pytest.fixture(scope="module")
def demo():
    return lay_out(open_case(DEMO))


@pytest.fixture(scope="module")
def moved_demo(demo):
    return move_each(demo, demo.values)


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return laid_out(tmp_path_factory.mktemp("small"))


def ends_of(layout, address):
    found = row_ends(layout, worked_out(layout, layout.values))
    return next(one for one in found if one.address == address)


def alone(layout, address, value):
    """Return the appraisal with one row moved: a second way, one case at a time."""
    return appraise_layout(layout.case, layout, {**layout.values, address: cell(value)})


def test_a_peaked_row_goes_from_p10_to_p90_of_its_triangle(small) -> None:
    one = ends_of(small, PRICE)
    triangle = stats.triang((0.6 - 0.25) / 0.75, 0.25, 0.75)  # the book's 0.25, 0.6, 1
    assert_allclose([one.low, one.high], triangle.ppf([0.1, 0.9]), rtol=SAME)
    assert one.kind == "yearly" or one.kind == small.inputs[PRICE].nature


def test_an_even_row_goes_from_a_tenth_to_nine_tenths_of_its_range(small) -> None:
    one = ends_of(small, HAND_PRICE)
    assert_allclose([one.low, one.high], [0.25 + 0.075, 1 - 0.075], rtol=SAME)


def test_a_row_of_the_trial_goes_by_its_t_distribution(demo) -> None:
    """Litres applied by plot: mean and error of the block model, its own degrees of freedom by Satterthwaite."""
    address = "water_applied_l_per_m2/reservoir/sweet pepper"
    told = demo.trial.means["water_applied_l_per_m2"]["tank"]
    one = ends_of(demo, address)
    t = stats.t(told.degrees_of_freedom, told.mean, told.standard_error)
    assert_allclose([one.low, one.high], t.ppf([0.1, 0.9]), rtol=SAME)
    assert one.kind == "trial"
    assert trial_figures(demo)


def test_fruits_move_by_the_share_that_the_yield_moves_by_and_their_mass_stays(demo) -> None:
    told = demo.trial.means["yield_kg_per_m2"]["tank"]
    one = ends_of(demo, "fruits_per_m2/reservoir/sweet pepper")
    shares = stats.t(told.degrees_of_freedom, 0, told.standard_error).ppf([0.1, 0.9]) / told.mean
    fruits = demo.values["fruits_per_m2/reservoir/sweet pepper"][0, 0]
    assert_allclose([one.low, one.high], fruits * (1 + shares), rtol=SAME)
    held = {one.address for one in row_ends(demo, worked_out(demo, demo.values))}
    assert "fruit_mass_g/reservoir/sweet pepper" not in held


def test_the_base_is_the_appraisal_and_every_end_is_a_case_appraised_alone(demo, moved_demo) -> None:
    appraisal = appraise_layout(demo.case, demo, demo.values)
    for system, npv in moved_demo.npv.items():
        assert_allclose(npv[0], appraisal.systems[system]["npv"], rtol=1e-12)
    found = tornado(moved_demo, "reservoir", "drip")
    for bar in [*found.bars[:6], *found.bars[-3:], *found.choices]:
        for value, told in ((bar.low, bar.at_low), (bar.high, bar.at_high)):
            expected = alone(demo, bar.input.address, value).against_baseline["reservoir"]["npv"]
            assert_allclose(told, expected, rtol=SAME, atol=1e-7, err_msg=bar.input.address)  # of some thousands


def test_bars_come_by_swing_choices_apart_and_rows_that_move_nothing_not_at_all(moved_demo) -> None:
    found = tornado(moved_demo, "reservoir", "drip")
    swings = [bar.swing for bar in found.bars]
    assert swings == sorted(swings, reverse=True)
    assert swings[-1] > 0
    assert {bar.input.address for bar in found.choices} == {"discount_rate", "family_wage_per_hour"}
    others = {"discount_rate", "cost/hand/tap fee/unit_price", "cost/all/hand tools/unit_price"}  # the last cancels out
    assert not {bar.input.address for bar in found.bars} & others
    own = tornado(moved_demo, "hand", OWN_WORTH)
    assert "cost/hand/tap fee/unit_price" in {bar.input.address for bar in own.bars}
    assert not any("drip" in bar.input.address for bar in own.bars)


def test_a_bar_that_crosses_zero_has_its_switching_value_where_the_two_tie(demo, moved_demo) -> None:
    found = with_switching(tornado(moved_demo, "reservoir", "drip"), moved_demo)
    crossing = [bar for bar in (*found.bars, *found.choices) if bar.crosses_zero]
    assert crossing
    for bar in crossing:
        assert bar.low <= bar.switching <= bar.high
        tied = alone(demo, bar.input.address, bar.switching).against_baseline["reservoir"]["npv"]
        assert abs(tied) < 1e-6  # of some thousands of money on either side
    assert all(np.isnan(bar.switching) for bar in found.bars if not bar.crosses_zero)


def test_swing_counts_the_case_itself_where_both_ends_lie_on_one_side(moved_demo) -> None:
    bar = replace(tornado(moved_demo, "reservoir", "drip").bars[0], at_low=5.0, at_high=3.0, base=-1.0)
    assert bar.swing == 6.0
    assert bar.crosses_zero
    assert not replace(bar, base=1.0).crosses_zero


def test_a_dial_moves_the_top_of_the_triangle_and_so_the_ends(small) -> None:
    dialled = {**small.values, PRICE: cell(0.9)}
    found = next(one for one in move_each(small, dialled).ends if one.address == PRICE)
    assert_allclose([found.low, found.high], stats.triang(0.65 / 0.75, 0.25, 0.75).ppf([0.1, 0.9]), rtol=SAME)


def test_rows_under_a_daily_simulation_are_followed_anew_at_their_ends(tmp_path) -> None:
    case = demo_copy(tmp_path)
    compute(case, APPLIED, system="hand", crop=PEPPER)
    layout = lay_out(open_case(case))
    moved = move_each(layout, layout.values)
    row = next(one for one in moved.ends if one.address == "wetted_share/hand")
    bar = next(bar for bar in tornado(moved, "hand", OWN_WORTH).bars if bar.input.address == row.address)
    expected = alone(layout, row.address, row.high).systems["hand"]["npv"]
    assert_allclose(bar.at_high, expected, rtol=SAME)
    assert bar.at_high != bar.base
    interval = next(one for one in moved.ends if one.address == "watering_interval_days/hand")
    assert (interval.low, interval.high, interval.kind) == (1.0, 4.0, "choice")  # the book's range of a choice


def test_dials_come_in_the_order_of_what_moves_the_decision(demo, moved_demo) -> None:
    order = by_influence(demo)
    swings = {}
    for system in ("reservoir", "hand"):
        found = tornado(moved_demo, system, "drip")
        for bar in (*found.bars, *found.choices):
            swings[bar.input.address] = max(swings.get(bar.input.address, 0.0), bar.swing)
    assert order == sorted(swings, key=lambda at: -swings[at])
    assert len(order) == len(set(order))


def test_a_system_that_the_case_has_not_is_refused(moved_demo) -> None:
    with pytest.raises(PlotworthError, match="no system 'well'"):
        tornado(moved_demo, "well", "drip")


def test_without_ranges_there_are_no_bars(tmp_path: Path) -> None:
    book = "\n".join(
        ",".join([*cells[:5], "", "", *cells[7:]]) if row else line
        for row, line in enumerate(TYPED["assumptions.csv"].splitlines())
        for cells in [line.split(",")]
    )
    costs = TYPED["costs.csv"].replace(",3,2,5,", ",3,,,").replace(",1,0.5,2,", ",1,,,")
    layout = laid_out(tmp_path, {**TYPED, "assumptions.csv": f"{book}\n", "costs.csv": costs})
    found = tornado(move_each(layout, layout.values), "tank", OWN_WORTH)
    assert (found.bars, found.choices) == ((), ())
    assert by_influence(layout) == []
