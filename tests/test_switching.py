"""Switching values and the least joint change: closed forms of small cases, and what must hold of the demo."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from folders import DEMO
from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise_layout
from plotworth.choose.inputs import lay_out
from plotworth.choose.joint_change import NOT_REACHED, joint_change
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH
from plotworth.choose.switching import SwitchingValue, switching_values
from plotworth.ground.arrays import cell

ANNUITY = (1 - 1.1**-4) / 0.1
TANKS = 30.0 * (1 + 1.1**-2)


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


def ranged(folder, **ranges: tuple[float, float]) -> Layout:
    """Return the plain case with ranges of its inputs, by the start of their address."""
    layout = lay_out(plain_case(folder))
    inputs = dict(layout.inputs)
    for start, (low, high) in ranges.items():
        for at in (one for one in layout.inputs if one.startswith(start.replace("_of_", "/"))):
            inputs[at] = replace(inputs[at], low=low, high=high)
    return replace(layout, inputs=inputs)


def by_address(rows: list[SwitchingValue]) -> dict[str, SwitchingValue]:
    return {row.input.address: row for row in rows}


def test_price_yield_and_price_of_the_tank_switch_where_arithmetic_says(tmp_path) -> None:
    """The tank gains p x 100 annuity less TANKS at 10 a piece: p* = TANKS / (100 annuity), u* = 10 x 0.5 / p*."""
    layout = ranged(tmp_path, market_price=(0.1, 1.0))
    rows = by_address(switching_values(layout, layout.values, "tank", "hand"))
    price = TANKS / (100 * ANNUITY)
    assert_allclose(rows["market_price_per_kg/all/pepper"].at, price, rtol=1e-12)
    assert_allclose(rows["market_price_per_kg/all/pepper"].change_share, price / 0.5 - 1, rtol=1e-12)
    assert rows["market_price_per_kg/all/pepper"].is_believed is True
    assert_allclose(rows["market_price_per_kg/all/pepper"].way_share, (0.5 - price) / (0.5 - 0.1), rtol=1e-12)
    assert_allclose(rows["cost/tank/tank/unit_price"].at, 10 * 0.5 / price, rtol=1e-12)
    assert rows["cost/tank/tank/unit_price"].is_believed is None


def test_what_both_systems_pay_alike_is_no_assumption_of_their_difference(tmp_path) -> None:
    layout = lay_out(plain_case(tmp_path))
    rows = by_address(switching_values(layout, layout.values, "tank", "hand"))
    assert not {at for at in rows if at.startswith("cost/all/seed")}
    alone = by_address(switching_values(layout, layout.values, "tank", OWN_WORTH))
    assert "cost/all/seed/unit_price" in alone
    price = (TANKS / (100 * ANNUITY) + 0.1) / 3.0  # 3 p a m2 less seed at 0.1 pays the tanks
    assert_allclose(alone["market_price_per_kg/all/pepper"].at, price, rtol=1e-12)


def test_what_cannot_turn_the_order_has_no_switching_value_and_stands_last(tmp_path) -> None:
    """At 10 % the tank is ahead by 103.7 and at any rate up to 100 %: 0.5 a m2 then is worth 46.9, the tanks 37.5."""
    layout = lay_out(plain_case(tmp_path))
    rows = switching_values(layout, layout.values, "tank", "hand")
    assert math.isnan(by_address(rows)["discount_rate"].at)
    without = [math.isnan(row.at) for row in rows]
    assert without == sorted(without)


def test_the_nearest_within_the_believed_range_stands_first(demo: Layout) -> None:
    rows = switching_values(demo, demo.values, "reservoir", "drip")
    believed = [row.is_believed is True for row in rows]
    assert believed == sorted(believed, reverse=True)
    ways = [row.way_share for row in rows if row.is_believed]
    assert ways == sorted(ways)
    assert len(ways) > 3


def test_every_switching_value_of_the_demo_is_a_tie_of_the_appraisal(demo: Layout) -> None:
    rows = switching_values(demo, demo.values, "reservoir", "drip")
    typed = {item.address for item in demo.structure.computed}
    told = [row for row in rows if not math.isnan(row.at) and row.input.address not in typed and not row.is_step]
    for row in told[::4]:
        worth = appraise_layout(demo.case, demo, {**demo.values, row.input.address: cell(row.at)}).systems
        assert_allclose(worth["reservoir"]["npv"], worth["drip"]["npv"], rtol=1e-9)


def test_of_two_straight_rows_the_nearest_tie_is_the_foot_of_the_perpendicular(tmp_path) -> None:
    """Gain 0.5 x 100 annuity - TANKS u / 10 with u the price of a tank, less p per ... in widths w = high - low.

    Rows: yield of the tank (slope 50 annuity a kg/m2, width 2), price of a tank (slope -TANKS / 10, width 40).
    """
    layout = ranged(tmp_path, yield_kg_per_m2_of_tank=(1.5, 3.5), cost_of_tank_of_tank_of_unit_price=(5.0, 45.0))
    slopes = {"cost": -TANKS / 10 * 40.0, "yield": 50 * ANNUITY * 2.0}
    gain = 50 * ANNUITY - TANKS
    found = joint_change(layout, layout.values, "tank", "hand")
    own = {row.input.address.split("/")[0].split("_")[0]: row.width_share for row in found.rows}
    squares = sum(slope**2 for slope in slopes.values())
    assert_allclose([own[k] for k in slopes], [-gain * slope / squares for slope in slopes.values()], rtol=1e-7)
    assert_allclose(found.distance, gain / np.sqrt(squares), rtol=1e-9)


def test_few_rows_moved_together_tie_where_arithmetic_says(tmp_path) -> None:
    """The yield goes down to 2.5 or the tank up to 20 at the ends: gain - t (25 annuity + TANKS) = 0."""
    layout = ranged(tmp_path, yield_kg_per_m2_of_tank=(2.5, 3.5), cost_of_tank_of_tank_of_unit_price=(5.0, 20.0))
    together = joint_change(layout, layout.values, "tank", "hand").together
    assert together is not None
    assert_allclose(together.way_share, (50 * ANNUITY - TANKS) / (25 * ANNUITY + TANKS), rtol=1e-9)
    assert {row.input.address for row in together.rows} == {"yield_kg_per_m2/tank/pepper", "cost/tank/tank/unit_price"}


def test_ranges_too_narrow_to_turn_the_order_say_so(tmp_path) -> None:
    layout = ranged(tmp_path, yield_kg_per_m2_of_tank=(2.9, 3.1))
    found = joint_change(layout, layout.values, "tank", "hand")
    assert (found.rows, found.why, found.ahead) == ((), NOT_REACHED, 1)
    assert "no assumption" in joint_change(lay_out(plain_case(tmp_path)), layout.values, "tank", "hand").why
    assert "same already" in joint_change(layout, layout.values, "tank", "tank").why


def test_the_least_joint_change_of_the_demo_is_a_tie_of_the_appraisal_and_no_shorter_one_is_found(demo) -> None:
    found = joint_change(demo, demo.values, "reservoir", "drip")
    moved = {**demo.values, **{row.input.address: cell(row.moved_to) for row in found.rows}}
    worth = appraise_layout(demo.case, demo, moved).systems
    assert_allclose(worth["reservoir"]["npv"], worth["drip"]["npv"], rtol=1e-9)
    assert all(row.low <= row.moved_to <= row.high for row in found.rows)
    assert all(row.input.nature != "choice" for row in found.rows)
    chance = np.random.default_rng(20261125)
    ahead = [_gain(demo, found.rows, chance.normal(size=len(found.rows)), found.distance * 0.98) for _ in range(40)]
    assert max(ahead) < 0.0  # the drip stays ahead everywhere nearer than the tie


def _gain(layout: Layout, rows, way, distance: float) -> float:
    """Return NPV of the tank less that of drip, so far from the case in a drawn direction, within the ranges."""
    z = way / np.sqrt(way @ way) * distance
    at = {
        row.input.address: cell(float(np.clip(row.value + part * (row.high - row.low), row.low, row.high)))
        for row, part in zip(rows, z, strict=True)
    }
    worth = appraise_layout(layout.case, layout, {**layout.values, **at}).systems
    return worth["reservoir"]["npv"] - worth["drip"]["npv"]
