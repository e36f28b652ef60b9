"""The one composition: its invariants, on the demo's structure with every value moved at random."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy_financial as npf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from plotworth.case.folder import open_case
from plotworth.choose.evaluate import broadcast_shape, evaluate, flows_by_year, run_systems
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.structure import AREA, Structure
from plotworth.ground.arrays import Array
from plotworth.ground.glossary import GLOSSARY
from plotworth.ground.outcome import Outcome

DEMO = Path(__file__).parent.parent / "data_demo"
MONEY = [name for name, term in GLOSSARY.items() if term.is_outcome and term.unit.startswith("money")]
RATIOS = ("irr", "mirr", "benefit_cost_ratio", "simple_payback_years", "discounted_payback_years")
many = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


def drawn(layout: Layout, seed: int, shape: tuple[int, int] = (1, 1)) -> dict[str, Array]:
    """Return the demo's values, each multiplied by its own random factor and kept within its bounds."""
    random = np.random.default_rng(seed)
    values = {}
    for address, one in layout.inputs.items():
        moved = one.value * random.uniform(0.6, 1.4, shape)
        values[address] = np.clip(moved, one.lowest, min(one.highest, 0.95) if one.unit.startswith("share") else None)
    return values


def run(structure: Structure, values: Mapping[str, Array]) -> Outcome:
    return evaluate(structure, values, expected_shocks(structure, values))


def without_fixed_costs(structure: Structure) -> Structure:
    """Return the structure with the lines and hours alone that grow with the area."""
    return replace(
        structure,
        systems=tuple(
            replace(
                plan,
                costs=tuple(c for c in plan.costs if c.basis not in ("scheme", "hour")),
                labour=tuple(row for row in plan.labour if row.is_per_m2),
            )
            for plan in structure.systems
        ),
    )


def money_addresses(layout: Layout) -> list[str]:
    currency = "XTS"
    return [a for a, one in layout.inputs.items() if currency in one.unit]


@many
@given(st.integers(0, 10_000))
def test_a_system_set_against_itself_differs_by_nothing(demo: Layout, seed: int) -> None:
    plan = demo.structure.system("drip")
    twin = replace(demo.structure, systems=(plan, replace(plan, id="twin")), today="twin", baseline="drip")
    values = drawn(demo, seed)
    shocks = expected_shocks(twin, values)
    outcome = evaluate(twin, values, shocks)
    assert outcome.against_baseline["twin"]["npv"] == 0
    assert outcome.against_baseline["twin"]["investment"] == 0
    assert outcome.against_baseline["twin"]["less_water_share"] == 0
    assert np.isnan(outcome.against_baseline["twin"]["irr"])


@many
@given(st.integers(0, 10_000))
def test_swapping_two_systems_flips_npv_and_annual_value_and_leaves_the_rate(demo: Layout, seed: int) -> None:
    values = drawn(demo, seed)
    swapped = replace(demo.structure, today="drip", baseline="hand")
    one = run(demo.structure, values).against_today["drip"]
    other = run(swapped, values).against_today["hand"]
    assert_allclose(one["npv"], -other["npv"], rtol=1e-9)
    assert_allclose(one["equivalent_annual_value"], -other["equivalent_annual_value"], rtol=1e-9)
    assert_allclose(one["irr"], other["irr"], rtol=1e-7, equal_nan=True)


@many
@given(st.integers(0, 10_000), st.floats(0.2, 20))
def test_with_lines_by_area_alone_npv_grows_with_the_area(demo: Layout, seed: int, factor: float) -> None:
    structure, values = without_fixed_costs(demo.structure), drawn(demo, seed)
    larger = {**values, AREA: values[AREA] * factor}
    for system in ("reservoir", "drip", "hand"):
        once, more = run(structure, values).systems[system]["npv"], run(structure, larger).systems[system]["npv"]
        assert_allclose(more, factor * once, rtol=1e-9)


@many
@given(st.integers(0, 10_000))
def test_at_rate_zero_npv_is_the_plain_sum_of_the_flows(demo: Layout, seed: int) -> None:
    values = drawn(demo, seed) | {"discount_rate": np.zeros((1, 1))}
    outcome = run(demo.structure, values)
    flows = flows_by_year(demo.structure, values, expected_shocks(demo.structure, values))
    for system, flow in flows.items():
        assert_allclose(outcome.systems[system]["npv"], flow.sum(axis=0), rtol=1e-9, atol=1e-8)


@many
@given(st.integers(0, 10_000))
def test_npv_agrees_with_the_library_for_finance(demo: Layout, seed: int) -> None:
    """A second route: flows year by year through numpy_financial.npv, whose first flow stands undiscounted."""
    values = drawn(demo, seed)
    outcome = run(demo.structure, values)
    rate = float(values["discount_rate"][0, 0])
    for system, flow in flows_by_year(demo.structure, values, expected_shocks(demo.structure, values)).items():
        assert_allclose(outcome.systems[system]["npv"][0, 0], npf.npv(rate, flow[:, 0, 0]), rtol=1e-9, atol=1e-8)


@many
@given(st.integers(0, 10_000), st.floats(1e-3, 1e3))
def test_all_money_times_c_gives_all_sums_times_c_and_the_same_ratios(demo: Layout, seed: int, factor: float) -> None:
    values = drawn(demo, seed)
    scaled = values | {a: values[a] * factor for a in money_addresses(demo)}
    one, other = run(demo.structure, values), run(demo.structure, scaled)
    for name in MONEY:
        assert_allclose(other.systems["drip"][name], one.systems["drip"][name] * factor, rtol=1e-9, atol=1e-9 * factor)
    for name in RATIOS:
        assert_allclose(other.systems["drip"][name], one.systems["drip"][name], rtol=1e-6, equal_nan=True)


@many
@given(st.integers(0, 10_000))
def test_at_the_rate_of_return_the_npv_is_nothing(demo: Layout, seed: int) -> None:
    values = drawn(demo, seed)
    shocks = expected_shocks(demo.structure, values)
    flows = flows_by_year(demo.structure, values, shocks)
    flow = (flows["reservoir"] - flows["drip"])[:, 0, 0]
    rate = run(demo.structure, values).against_baseline["reservoir"]["irr"][0, 0]
    if np.isfinite(rate):
        gross = npf.npv(rate, np.abs(flow))
        assert abs(npf.npv(rate, flow)) <= 1e-8 * gross


@many
@given(st.integers(0, 10_000))
def test_at_the_price_that_breaks_even_npv_is_nothing(demo: Layout, seed: int) -> None:
    """NPV is a straight line in the price of the main crop, so two points give the price at which it is 0."""
    values = drawn(demo, seed)
    address = "market_price_per_kg/all/sweet pepper"
    base = run(demo.structure, values).systems["drip"]["npv"]
    slope = run(demo.structure, values | {address: values[address] + 1.0}).systems["drip"]["npv"] - base
    even = run(demo.structure, values | {address: values[address] - base / slope})
    assert_allclose(even.systems["drip"]["npv"], 0.0, atol=1e-7 * abs(float(base[0, 0])) + 1e-7)


@many
@given(st.integers(0, 10_000))
def test_kilograms_are_kilograms_per_m2_times_m2_and_the_chain_conserves(demo: Layout, seed: int) -> None:
    values = drawn(demo, seed)
    for system, year in run_systems(demo.structure, values, expected_shocks(demo.structure, values)).items():
        for plan, season in zip(demo.structure.system(system).seasons, year.seasons, strict=True):
            shares = ("trial_to_farm_share", "water_limited_share", "salt_limited_share")
            farm = np.prod([values[plan.addresses[name]] for name in shares], axis=0)
            assert_allclose(season.chain.marketable, season.yield_kg_per_m2 * farm * season.planted_m2, rtol=1e-12)
            parts = season.chain.culled + season.chain.lost + season.chain.eaten + season.chain.sold
            assert_allclose(parts, season.chain.picked, rtol=1e-12)


def test_capital_recovery_summed_and_discounted_gives_back_the_npv(demo: Layout) -> None:
    outcome = run(demo.structure, demo.values)
    rate, years = float(demo.values["discount_rate"][0, 0]), demo.structure.horizon_years
    for system in outcome.systems.values():
        even = np.full(years, system["equivalent_annual_value"][0, 0])
        assert_allclose(npf.npv(rate, np.r_[0.0, even]), system["npv"][0, 0], rtol=1e-9)


@pytest.mark.parametrize("block", [1, 7, 64, 8192])
def test_the_width_of_a_block_does_not_matter(demo: Layout, block: int) -> None:
    values = drawn(demo, 3, (1, 150))
    shocks = expected_shocks(demo.structure, values)
    whole, cut = evaluate(demo.structure, values, shocks), evaluate(demo.structure, values, shocks, block=block)
    for part in ("systems", "against_baseline", "against_today"):
        for system, figures in getattr(whole, part).items():
            for name, array in figures.items():
                # A difference is held to 1e-12 of the sums that cancel in it; a ratio of two differences to 1e-9.
                sums = [np.abs(figures[name]) for figures in whole.systems.values() if name in figures]
                size = np.zeros(1) if part == "systems" or not sums else np.sum(np.broadcast_arrays(*sums), axis=0)
                slack = 1e-12 * np.nan_to_num(size)
                rtol = 1e-9 if part != "systems" and name in RATIOS else 1e-12
                gap = np.abs(getattr(cut, part)[system][name] - array)
                same = (gap <= slack + rtol * np.abs(array)) | np.isnan(gap) & np.isnan(array)
                assert np.all(same), f"{part} {system} {name}"


def test_draws_and_sites_agree_with_single_calls(demo: Layout) -> None:
    values = drawn(demo, 5, (3, 4))
    outcome = run(demo.structure, values)
    for site in range(3):
        for draw in range(4):
            alone = run(demo.structure, {a: v[site : site + 1, draw : draw + 1] for a, v in values.items()})
            for name, array in outcome.against_today["reservoir"].items():
                shown = np.broadcast_to(array, (3, 4))[site, draw]
                assert_allclose(shown, alone.against_today["reservoir"][name][0, 0], rtol=1e-12, err_msg=name)


def test_the_order_of_sites_does_not_matter(demo: Layout) -> None:
    values = drawn(demo, 7, (5, 1))
    turned = {a: v[::-1] for a, v in values.items()}
    npv = run(demo.structure, values).systems["drip"]["npv"]
    assert_allclose(run(demo.structure, turned).systems["drip"]["npv"][::-1], npv, rtol=1e-12)


def test_one_varying_value_among_single_ones_broadcasts(demo: Layout) -> None:
    values = dict(demo.values) | {"discount_rate": np.linspace(0.0, 0.3, 7)[None]}
    npv = run(demo.structure, values).systems["drip"]["npv"]
    assert npv.shape == (1, 7)
    assert broadcast_shape(values, expected_shocks(demo.structure, values)) == (1, 7)


def test_a_failed_season_loses_benefit_and_harvest_costs_and_nothing_else(demo: Layout) -> None:
    """Failing the pepper of year 3 moves the flow of year 3 by that season's margin, and no other year."""
    values = demo.values
    shocks = expected_shocks(demo.structure, values)
    weights = np.repeat(shocks["drip", "warm dry"], demo.structure.horizon_years, axis=0)
    failed = weights.copy()
    failed[2] = 0.0
    before = flows_by_year(demo.structure, values, shocks | {("drip", "warm dry"): weights})["drip"]
    after = flows_by_year(demo.structure, values, shocks | {("drip", "warm dry"): failed})["drip"]
    year = run_systems(demo.structure, values, shocks)["drip"]
    margin = (year.amounts.benefit[0] - year.amounts.harvest_cost[0]) * year.weights[0][2]
    expected = np.zeros_like(before)
    expected[3] = -margin
    assert_allclose(after - before, expected, atol=1e-9)


def test_evaluation_leaves_its_inputs_as_they_were_and_repeats_itself(demo: Layout) -> None:
    values = drawn(demo, 11)
    kept = {address: array.copy() for address, array in values.items()}
    first, second = run(demo.structure, values), run(demo.structure, values)
    assert all(np.array_equal(values[a], kept[a], equal_nan=True) for a in kept)
    assert_allclose(first.systems["drip"]["npv"], second.systems["drip"]["npv"], rtol=0)


def test_an_unknown_assumption_leaves_a_gap_where_it_counts_and_nowhere_else(demo: Layout) -> None:
    values = dict(demo.values) | {"commission_share": np.full((1, 1), np.nan)}
    system = run(demo.structure, values).systems["drip"]
    assert np.isnan(system["npv"])
    assert np.isfinite(system["water_l_per_m2"])
    assert np.isfinite(system["investment"])


def test_every_outcome_of_the_glossary_is_returned_and_no_other(demo: Layout) -> None:
    outcome = run(demo.structure, demo.values)
    listed = {name for name, term in GLOSSARY.items() if term.is_outcome}
    told_elsewhere = {"irr_roots", "less_water_share", "less_water_share_low", "less_water_share_high"}
    assert set(outcome.systems["drip"]) == listed - told_elsewhere
    assert set(outcome.against_baseline["hand"]) <= listed
