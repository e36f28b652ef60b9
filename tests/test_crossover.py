"""Where two systems tie: closed forms of small cases, brute force over steps, and what must hold of any case.

The small case of `plain_case`: the tank grows 1 kg/m2 more than the hand, worth 0.5 each year of four at 10 %, and
costs 30 in years 0 and 2. Worth of a square metre more: 0.5 x annuity; of the tanks: 30 x (1 + 1.1^-2).
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

import independent
from folders import DEMO
from independent_cases import copy_demo
from plain_case import COSTS, plain_case
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise_layout
from plotworth.choose.break_even_grid import break_even_grid
from plotworth.choose.crossover import BreakEven, break_even, break_even_area, search_range
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH
from plotworth.choose.scale_ladder import size_rows
from plotworth.ground.arrays import cell
from plotworth.ground.errors import PlotworthError
from test_evaluate import drawn

many = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
ANNUITY = (1 - 1.1**-4) / 0.1
TANKS = 30.0 * (1 + 1.1**-2)
STEPPED = ("tank,,tank,capital,scheme,3,10,2,40,", COSTS[1])


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


def at(found: BreakEven) -> list[float]:
    return [one.at for one in found.crossings]


def area(layout: Layout, low: float, high: float, reference: str = "hand") -> BreakEven:
    return break_even_area(layout, layout.values, "tank", reference, low, high)


def test_with_lines_by_the_square_metre_and_one_for_the_scheme_the_area_is_fixed_over_gain(tmp_path) -> None:
    """A* = 30 (1 + 1.1^-2) / (0.5 annuity) = 34.6 m2; the hand is ahead below it."""
    found = area(lay_out(plain_case(tmp_path)), 10.0, 1000.0)
    assert_allclose(at(found), [TANKS / (0.5 * ANNUITY)], rtol=1e-12)
    assert found.ahead_at_low == -1
    assert [(ahead, low) for low, _, ahead in found.parts] == [(-1, 10.0), (1, at(found)[0])]
    assert found.crossings[0].left_over < 1e-12


def test_a_step_in_every_interval_gives_a_tie_and_a_turn_at_the_step_each_time(tmp_path) -> None:
    """Tanks for each 40 m2: n steps tie at n x 34.57 m2, below 40 n, where another is bought and the hand is ahead."""
    found = area(lay_out(plain_case(tmp_path, costs=STEPPED)), 10.0, 205.0)
    tie = TANKS / (0.5 * ANNUITY)
    assert_allclose(at(found), [x for n in range(1, 6) for x in (n * tie, n * 40.0)], rtol=1e-8)  # slack of a step
    assert [one.is_step for one in found.crossings] == [False, True] * 5


def test_brute_force_on_a_fine_grid_sees_the_same_turns(tmp_path) -> None:
    layout = lay_out(plain_case(tmp_path, costs=STEPPED))
    found = area(layout, 10.0, 400.0)
    areas = np.linspace(10.0, 400.0, 20_001)
    gain = [row.npv for row in size_rows(layout, layout.values, areas.tolist()) if row.system == "tank"]
    hand = [row.npv for row in size_rows(layout, layout.values, areas.tolist()) if row.system == "hand"]
    ahead = np.sign(np.array(gain) - hand)
    turns = areas[1:][np.diff(ahead) != 0]
    assert len(turns) == len(at(found))
    assert_allclose(at(found), turns, atol=390.0 / 20_000 + 1e-6)  # a step of the grid, and the slack of a step


def test_wells_that_turn_with_their_yield_are_edges_and_no_false_roots(tmp_path) -> None:
    """A well at 50 serves so many planted m2; 100 m2 need ceil(100 / served). The tank gains 158.5 - 54.8 = 103.7 less
    50 x wells: ahead with two wells (served from 50 up), behind with three: a turn at 50 m2 a well, no tie."""
    costs = (*COSTS, "tank,,borehole,capital,well,1,50,4,,")
    layout = lay_out(plain_case(tmp_path, costs=costs, book={"area_per_well_m2/tank": 60.0}))
    found = break_even(layout, layout.values, "area_per_well_m2/tank", "tank", "hand", 10.0, 200.0)
    assert_allclose(at(found), [50.0], rtol=1e-8)  # slack of a step
    assert found.crossings[0].is_step
    assert found.crossings[0].ahead_above == 1


def test_price_yield_and_rate_tie_where_arithmetic_says(tmp_path) -> None:
    """At 100 m2 the extra kilogram pays TANKS at TANKS / (100 annuity); the yield by as much over 0.5 a kilogram."""
    layout = lay_out(plain_case(tmp_path))
    price = break_even(layout, layout.values, "market_price_per_kg/all/pepper", "tank", "hand")
    assert_allclose(at(price), [TANKS / (100 * ANNUITY)], rtol=1e-12)
    grown = break_even(layout, layout.values, "yield_kg_per_m2/tank/pepper", "tank", "hand")
    assert_allclose(at(grown), [2.0 + TANKS / (50 * ANNUITY)], rtol=1e-12)
    dear = lay_out(plain_case(tmp_path, costs=("tank,,tank,capital,scheme,3,28,2,,", COSTS[1])))
    rate = break_even(dear, dear.values, "discount_rate", "tank", "hand")
    flows = [-84.0, 50.0, 50.0 - 84.0, 50.0, 50.0]
    (root,) = at(rate)
    assert_allclose(sum(flow / (1 + root) ** t for t, flow in enumerate(flows)), 0.0, atol=1e-9)


def test_a_case_without_a_crossing_says_so_and_a_system_ties_with_itself(tmp_path) -> None:
    layout = lay_out(plain_case(tmp_path))
    assert area(layout, 50.0, 1000.0).crossings == ()
    assert area(layout, 50.0, 1000.0).ahead_at_low == 1
    same = area(layout, 50.0, 1000.0, reference="tank")
    assert (same.ahead_at_low, same.crossings) == (0, ())


def test_a_price_that_volume_brings_to_nothing_is_followed_through_its_kink(tmp_path) -> None:
    """Tank: price 0.5 x max(1 - 0.9 x 3 A / 1000, 0), 0 from 370 m2 on; hand the same with 2 kg, 0 from 556 m2 on.
    Per year 1.5 A (1 - .0027 A) - 1.0 A (1 - .0018 A) = 0.5 A - 0.00225 A^2, less TANKS / annuity = 17.28."""
    layout = lay_out(plain_case(tmp_path, book={"price_fall_share_per_t": 0.9}))
    found = area(layout, 10.0, 1000.0)
    roots = np.roots([-0.00225, 0.5, -TANKS / ANNUITY])
    assert_allclose(at(found), sorted(roots), rtol=1e-9)
    assert [ahead for *_, ahead in found.parts] == [-1, 1, -1]


@many
@given(seed=st.integers(0, 10_000))
def test_swapping_two_systems_gives_the_same_areas_and_each_is_a_tie_of_the_appraisal(demo, seed: int) -> None:
    values = drawn(demo, seed)
    one = break_even_area(demo, values, "reservoir", "drip", 20.0, 6000.0)
    other = break_even_area(demo, values, "drip", "reservoir", 20.0, 6000.0)
    assert at(one) == at(other)
    assert [c.ahead_above for c in one.crossings] == [-c.ahead_above for c in other.crossings]
    for crossing in (c for c in one.crossings if not c.is_step):
        told = appraise_layout(demo.case, demo, {**values, "area_m2": cell(crossing.at)})
        tank, drip = (told.systems[name] for name in ("reservoir", "drip"))
        gross = sum(s["present_value_benefits"] + s["present_value_costs"] for s in (tank, drip))
        assert abs(tank["npv"] - drip["npv"]) <= 1e-9 * gross


@pytest.mark.parametrize(
    "address",
    ["carry_distance_m", "carrying_h_per_m3/reservoir", "cost/drip/borehole metres/unit_price", "discount_rate"],
)
def test_a_break_even_of_the_demo_is_a_tie_of_the_appraisal_with_that_value(demo, address: str) -> None:
    (crossing,) = break_even(demo, demo.values, address, "reservoir", "drip").crossings
    layout = demo
    if address.startswith("carrying"):
        others = tuple(one for one in demo.structure.computed if one.address != address)
        layout = replace(demo, structure=replace(demo.structure, computed=others))
    told = appraise_layout(demo.case, layout, {**demo.values, address: cell(crossing.at)})
    assert_allclose(told.systems["reservoir"]["npv"], told.systems["drip"]["npv"], rtol=1e-9)


@pytest.mark.parametrize(("system", "reference"), [("reservoir", "drip"), ("drip", "hand")])
def test_the_second_appraisal_in_plain_python_gives_both_the_same_worth_there(
    demo, tmp_path, system, reference
) -> None:
    (crossing,) = break_even_area(demo, demo.values, system, reference).crossings
    folder = copy_demo(tmp_path)
    text = (folder / "case.toml").read_text(encoding="utf-8")
    (folder / "case.toml").write_text(text.replace("area_m2 = 400", f"area_m2 = {crossing.at!r}"), encoding="utf-8")
    told = independent.appraise(folder)["systems"]
    assert_allclose(told[system]["npv"], told[reference]["npv"], rtol=1e-9)
    assert 300.0 < crossing.at < 600.0


def test_each_system_can_be_held_against_nothing(tmp_path) -> None:
    """Alone the tank earns (1.5 - 0.1) A a year: 100 x 1.4 annuity is more than TANKS; at 12.3 m2 both are the same."""
    found = area(lay_out(plain_case(tmp_path)), 5.0, 100.0, reference=OWN_WORTH)
    assert_allclose(at(found), [TANKS / (1.4 * ANNUITY)], rtol=1e-12)


def test_a_grid_holds_what_the_appraisal_says_in_each_cell(demo) -> None:
    first, second = "market_price_per_kg/all/sweet pepper", "carry_distance_m"
    grid = break_even_grid(demo, demo.values, first, second, "reservoir", "drip")
    assert float(demo.values[first][0, 0]) in grid.first_values
    for row in grid.rows()[::10]:
        moved = {**demo.values, first: cell(row["first"]), second: cell(row["second"])}
        told = appraise_layout(demo.case, demo, moved).systems
        assert_allclose(row["difference"], told["reservoir"]["npv"] - told["drip"]["npv"], rtol=1e-9)
        assert row["ahead"] == np.sign(row["difference"])


def test_what_cannot_be_followed_is_refused_in_words(demo) -> None:
    values = demo.values
    with pytest.raises(PlotworthError, match="no value at 'rain'"):
        break_even(demo, values, "rain", "reservoir", "drip")
    with pytest.raises(PlotworthError, match="no system 'well'"):
        break_even_area(demo, values, "well", "drip")
    with pytest.raises(PlotworthError, match="has no width"):
        break_even_area(demo, values, "reservoir", "drip", 400.0, 400.0)
    with pytest.raises(PlotworthError, match="possible is 0 to 1 share"):
        break_even(demo, values, "commission_share", "reservoir", "drip", 0.0, 2.0)
    with pytest.raises(PlotworthError, match="given twice"):
        break_even_grid(demo, values, "area_m2", "area_m2", "reservoir", "drip")


def test_a_range_with_too_many_steps_and_an_unknown_value_say_why(tmp_path) -> None:
    layout = lay_out(plain_case(tmp_path, costs=STEPPED))
    wide = area(layout, 10.0, 100_000.0)  # 2500 steps of 40 m2
    assert wide.ahead_at_low is None
    assert "more than 1000 steps" in wide.why
    unknown = {**layout.values, "discount_rate": cell(np.nan)}
    assert "unknown" in break_even_area(layout, unknown, "tank", "hand", 10.0, 100.0).why


def test_an_input_is_followed_from_nothing_or_an_eighth_to_ten_times_within_what_is_possible(demo) -> None:
    assert search_range(demo.inputs["area_m2"]) == (50.0, 4000.0)
    assert search_range(demo.inputs["discount_rate"]) == (0.0, 1.0)
    assert search_range(demo.inputs["carry_distance_m"]) == (0.0, 2500.0)
    assert search_range(demo.inputs["price_fall_share_per_t"]) == (0.0, 1.0)
