"""Why the answer moved: parts by hand, by the plain definition, their symmetry and their sum. Moves invented."""

import json
import math
from collections.abc import Mapping
from itertools import pairwise, permutations
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from folders import DEMO, demo_copy, run
from independent_cases import copy_demo
from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.case.scenarios import Scenario, save_scenario
from plotworth.choose.bridge import (
    GROUP,
    INPUT,
    MOST_BARS,
    MOST_EXACT,
    Bridge,
    bridge,
    bridge_rows,
    npv_paths,
    scenario_values,
    usual_grouping,
)
from plotworth.choose.computed import with_computed
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.simulated import with_simulated
from plotworth.ground.arrays import Array, cell
from plotworth.ground.errors import FaultsError
from test_simulated import APPLIED, PEPPER, compute

PRICE, TANK_YIELD = "market_price_per_kg/all/pepper", "yield_kg_per_m2/tank/pepper"
TANK, HAND = "systems/tank/npv", "systems/hand/npv"
FOUR_YEARS = (1 - 1.1**-4) / 0.1  # present value of 1 a year at 10 %
Values = Mapping[str, Array]
MOVES = {
    "market_price_per_kg/all/sweet pepper": 1.2,
    "carry_distance_m": 100.0,
    "area_m2": 800.0,
    "discount_rate": 0.08,
    "static_level_m/drip": 60.0,
}


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


def moved(layout: Layout, values: Mapping[str, float]) -> Values:
    return scenario_values(layout, Scenario("s", "s", values))


def many(layout: Layout, count: int) -> dict[str, float]:
    """Return so many inputs, each moved a tenth of the way to its high end."""
    able = [
        one for one in layout.inputs.values() if one.high is not None and one.origin == "typed" and one.value < one.high
    ]
    return {one.address: one.value + (one.high - one.value) / 10 for one in able[:count]}


def sums_to_the_whole(found: Bridge) -> None:
    for path, before in found.before.items():
        parts = math.fsum(part.amounts[path] for part in found.parts)
        size = max(abs(before), abs(found.after[path]), 1.0)
        assert abs(parts - (found.after[path] - before)) <= 1e-9 * size, path


def test_two_inputs_that_multiply_share_what_they_do_together(tmp_path: Path) -> None:
    layout = lay_out(plain_case(tmp_path))
    found = bridge(layout, layout.values, moved(layout, {PRICE: 0.6, TANK_YIELD: 4.0}))
    parts = {part.moved[0].address: part.amounts for part in found.parts}
    # 100 m2 x price x yield a year: a step of 0.1 at the mean yield of 3.5, a step of 1 at the mean price of 0.55
    assert_allclose(parts[PRICE][TANK], 0.1 * 3.5 * 100 * FOUR_YEARS, rtol=1e-9)
    assert_allclose(parts[TANK_YIELD][TANK], 1.0 * 0.55 * 100 * FOUR_YEARS, rtol=1e-9)
    # by hand nothing but the price moves: 2 kg/m2
    assert_allclose(parts[PRICE][HAND], 0.1 * 2.0 * 100 * FOUR_YEARS, rtol=1e-9)
    assert parts[TANK_YIELD][HAND] == 0.0
    assert [part.label for part in found.parts] == ["Yield per m²", "Market price"] or found.parts[0].amounts[
        TANK
    ] > 170


def by_definition(layout: Layout, moves: Mapping[str, float], path: str) -> dict[str, float]:
    """Return the mean over all orders of what each input does when it moves, one call of the composition a step."""

    def worth(names: frozenset[str]) -> float:
        put = {**layout.values, **{at: cell(moves[at]) for at in names}}
        values = with_computed(layout.structure.computed, with_simulated(layout, put))
        return float(evaluate(layout.structure, values, expected_shocks(layout.structure, values)).at(path)[0, 0])

    known = {frozenset(c for k, c in enumerate(moves) if n >> k & 1): 0.0 for n in range(2 ** len(moves))}
    known = {names: worth(names) for names in known}
    orders = list(permutations(moves))
    steps = dict.fromkeys(moves, 0.0)
    for order in orders:
        for place, at in enumerate(order):
            steps[at] += known[frozenset(order[: place + 1])] - known[frozenset(order[:place])]
    return {at: step / len(orders) for at, step in steps.items()}


def test_the_parts_are_the_mean_over_all_orders_and_add_up(demo: Layout) -> None:
    found = bridge(demo, demo.values, moved(demo, MOVES))
    for path in npv_paths(demo):
        expected = by_definition(demo, MOVES, path)
        got = {part.moved[0].address: part.amounts[path] for part in found.parts}
        # sums of differences of worths of some thousands
        assert_allclose([got[at] for at in MOVES], [expected[at] for at in MOVES], rtol=1e-9, atol=1e-8)
    sums_to_the_whole(found)
    assert found.orders == 0
    assert all(error == 0 for part in found.parts for error in part.errors.values())


def test_going_back_turns_every_sign(demo: Layout) -> None:
    there, after = demo.values, moved(demo, MOVES)
    forth, back = bridge(demo, there, after), bridge(demo, after, there)
    ahead = {part.label: part.amounts for part in forth.parts}
    for part in back.parts:
        for path, amount in part.amounts.items():
            assert_allclose(amount, -ahead[part.label][path], rtol=1e-9, atol=1e-8)  # as above


def test_the_order_in_which_changes_are_written_does_not_matter(demo: Layout) -> None:
    one = bridge(demo, demo.values, moved(demo, MOVES))
    two = bridge(demo, demo.values, moved(demo, dict(reversed(MOVES.items()))))
    assert one == two


def test_inputs_that_do_the_same_get_the_same(tmp_path: Path) -> None:
    book = {"trial_to_farm_share": 0.8, "water_limited_share/all/pepper": 0.8}
    layout = lay_out(plain_case(tmp_path, book=book))
    found = bridge(layout, layout.values, moved(layout, {**dict.fromkeys(book, 0.9), PRICE: 0.7}))
    parts = {part.moved[0].address: part.amounts[TANK] for part in found.parts}
    assert_allclose(*(parts[at] for at in book), rtol=1e-9)


def test_orders_drawn_by_lot_come_near_all_orders_and_add_up_as_exactly(
    demo: Layout, monkeypatch: pytest.MonkeyPatch
) -> None:
    after = moved(demo, MOVES)
    exact = {part.label: part for part in bridge(demo, demo.values, after).parts}
    monkeypatch.setattr("plotworth.choose.bridge.MOST_EXACT", 2)
    sampled = bridge(demo, demo.values, after, by=INPUT, pairs=200, seed=7)
    sums_to_the_whole(sampled)
    assert sampled.orders == 400
    for part in sampled.parts:
        for path, amount in part.amounts.items():
            # four standard errors, and a slack for parts without any error
            assert abs(amount - exact[part.label].amounts[path]) <= 4 * part.errors[path] + 1e-8
    assert bridge(demo, demo.values, after, by=INPUT, pairs=200, seed=7) == sampled


def test_more_inputs_than_can_be_told_apart_go_by_group_or_by_lot(demo: Layout) -> None:
    moves = many(demo, 20)
    after = moved(demo, moves)
    grouped = bridge(demo, demo.values, after)
    assert grouped.by == GROUP == usual_grouping(grouped.moved)
    assert len(grouped.moved) == len(moves) == 20 > MOST_EXACT
    assert grouped.orders == 0
    drawn = bridge(demo, demo.values, after, by=INPUT, pairs=64)
    assert len(drawn.parts) == 20
    assert drawn.orders == 128
    for found in (grouped, drawn):
        sums_to_the_whole(found)


def test_what_a_daily_simulation_gives_moves_with_the_inputs_it_stands_on(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    compute(case, APPLIED, system="drip", crop=PEPPER)
    layout = lay_out(open_case(case))
    moves = {"wetted_share/drip": 0.4, "market_price_per_kg/all/sweet pepper": 1.2, "delivery_share/drip": 0.8}
    found = bridge(layout, layout.values, moved(layout, moves))
    path = "systems/drip/water_m3"
    water = bridge(layout, layout.values, moved(layout, moves), paths=[path])
    assert {one.address for one in found.moved} == set(moves)
    sums_to_the_whole(found)
    expected = by_definition(layout, moves, path)
    got = {part.moved[0].address: part.amounts[path] for part in water.parts}
    assert_allclose([got[at] for at in moves], [expected[at] for at in moves], rtol=1e-9, atol=1e-9)
    assert got["wetted_share/drip"] != 0
    assert water.units == {path: "m3"}


def test_an_unknown_value_leaves_a_gap_and_no_bars(tmp_path: Path) -> None:
    layout = lay_out(plain_case(tmp_path, book={PRICE: "unknown"}))
    found = bridge(layout, layout.values, moved(layout, {PRICE: 0.6}))
    assert math.isnan(found.before[TANK])
    assert math.isnan(found.parts[0].amounts[TANK])
    assert bridge_rows(found, TANK, names=("a", "b")) == []


def test_nothing_moved_is_no_part(demo: Layout) -> None:
    found = bridge(demo, demo.values, demo.values)
    assert found.parts == ()
    assert found.before == found.after


def test_two_inputs_of_one_name_are_told_apart(demo: Layout) -> None:
    prices = {f"market_price_per_kg/all/{crop}": 0.7 for crop in ("sweet pepper", "zucchini")}
    found = bridge(demo, demo.values, moved(demo, prices))
    assert {part.label for part in found.parts} == {"Market price, sweet pepper", "Market price, zucchini"}


def test_a_waterfall_goes_from_before_to_after_without_a_gap(demo: Layout) -> None:
    found = bridge(demo, demo.values, moved(demo, many(demo, 20)), by=INPUT, pairs=32)
    path = npv_paths(demo)[0]
    rows = bridge_rows(found, path, names=("The book", "Then"))
    assert len(rows) <= MOST_BARS + 2
    assert [rows[0]["kind"], rows[-2]["kind"], rows[-1]["kind"]] == ["before", "rest", "after"]
    bars = rows[1:-1]
    assert bars[0]["start"] == found.before[path]
    assert all(one["end"] == two["start"] for one, two in pairwise(bars))
    assert_allclose(float(str(bars[-1]["end"])), found.after[path], rtol=1e-9)
    assert all(np.isclose(float(str(b["end"])) - float(str(b["start"])), float(str(b["amount"]))) for b in bars)


def test_a_scenario_that_the_case_does_not_allow_is_refused(demo: Layout) -> None:
    with pytest.raises(FaultsError, match="did you mean discount_rate"):
        moved(demo, {"discont_rate": 0.1})


def test_the_command_explains_from_the_book_and_from_one_scenario_to_another(tmp_path: Path) -> None:
    case = demo_copy(tmp_path)
    save_scenario(case, Scenario("near", "A near tap", MOVES))
    save_scenario(case, Scenario("dear", "Dear pepper", {"market_price_per_kg/all/sweet pepper": 1.2}))
    text = run("explain", str(case), "near")
    assert (text.code, text.err) == (0, "")
    assert "from the book to A near tap" in text.out
    assert all(len(line) <= 100 for line in text.out.splitlines())
    data = json.loads(run("explain", str(case), "dear", "near", "--json").out)
    assert (data["from"], data["to"], len(data["parts"])) == ("Dear pepper", "A near tap", 4)
    for path, ends in data["outcomes"].items():
        parts = sum(part["amounts"][path] for part in data["parts"])
        assert_allclose(parts, ends["after"] - ends["before"], rtol=1e-9, atol=1e-8)
    assert run("explain", str(case), "near", "near").out.count("Nothing moves") == 1


@pytest.mark.parametrize(
    ("names", "said"), [(["neer"], "did you mean near?"), (["near", "near", "near"], "3 are named")]
)
def test_the_command_refuses_what_it_cannot_explain(tmp_path: Path, names: list[str], said: str) -> None:
    case = demo_copy(tmp_path)
    save_scenario(case, Scenario("near", "A near tap", MOVES))
    ran = run("explain", str(case), *names)
    assert (ran.code, ran.out) == (1, "")
    assert said in ran.err
