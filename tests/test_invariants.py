"""Invariants of the whole that no other file holds for random values; the rest stand beside what they are about.

Set against itself, swapped, by area, rate 0, all money times c, the rate of return, the break-even price, the
kilograms: `test_evaluate`. Annual values: `test_measures`. Loans: `test_loan`. Daily ledgers: `test_reservoir`,
`test_soil_water`. Months and years: `test_cash_months`. Views: `test_views`. All values here are invented.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from field_tables import plot, reading, records, water
from plotworth.choose.cash_months import cash_by_month
from plotworth.choose.draws import draw_block, draw_plan
from plotworth.choose.evaluate import evaluate, flows_by_year, run_systems
from plotworth.choose.events import NO_EVENTS
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.tornado import move_each
from plotworth.choose.views import CASH, ECONOMIC, FULL, in_view
from plotworth.field.water import KINDS, plot_ledger
from plotworth.ground.arrays import cell
from plotworth.money.measures import equivalent_annual_value
from risk_cases import TYPED, laid_out
from test_evaluate import drawn

few = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
PARTS = ("systems", "against_baseline", "against_today")
SAME = 1e-12
ROUNDING = 1e-8
"""Of sums of some hundreds: what is left where a difference of two cancels."""
FACTORS = "".join(
    f"{name},,,,{value},,,{unit},invented,,D\n"
    for name, value, unit in (
        ("economic_family_wage_factor", 0.6, "1"),
        ("economic_hired_wage_factor", 0.8, "1"),
        ("economic_price_factor", 1.2, "1"),
        ("water_scarcity_value_per_m3", 0.3, "XTS/m3"),
        ("economic_discount_rate", 0.06, "share/year"),
        ("family_wage_per_hour", 0.3, "XTS/hour"),
        ("hired_wage_per_hour", 0.5, "XTS/hour"),
        ("eaten_share", 0.2, "share"),
        ("working_capital_share", 0.3, "share"),
    )
)
LABOUR = """\
system,season,task,month,hours_per_m2,hours,family_share,harvest
,,weeding,3,0.1,,0.7,no
,,picking,5,0.2,,0.6,yes
"""
seeds = st.integers(0, 10_000)
litres = st.lists(st.tuples(st.sampled_from(KINDS), st.floats(0, 1e4)), min_size=1, max_size=30)


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return laid_out(tmp_path_factory.mktemp("small"))


@pytest.fixture(scope="module")
def seen(tmp_path_factory):
    """Return a small case with wages, food eaten at home, working capital and prices to the economy."""
    files = {"assumptions.csv": TYPED["assumptions.csv"] + FACTORS, "labour_plan.csv": LABOUR}
    return laid_out(tmp_path_factory.mktemp("seen"), TYPED, **files)


def run(structure, values, **options):
    return evaluate(structure, values, expected_shocks(structure, values), **options)


def assert_same(one, other, shape, order=slice(None)):
    """Hold every outcome of one run against another, whose sites stand in another order."""
    for part in PARTS:
        for system, figures in getattr(one, part).items():
            for name, array in figures.items():
                here = np.broadcast_to(array, shape)[order]
                again = np.broadcast_to(getattr(other, part)[system][name], shape)
                sums = [abs(own[name]).max() for own in one.systems.values() if name in own]
                slack = 0.0 if part == "systems" else SAME * np.nan_to_num(sum(sums)) + SAME
                rtol = 1e-9 if name in ("irr", "mirr", "benefit_cost_ratio") or "payback" in name else SAME
                assert_allclose(again, here, rtol=rtol, atol=slack, err_msg=f"{part} {system} {name}")


@few
@given(seed=seeds, width=st.integers(1, 60))
def test_the_width_of_a_block_does_not_matter(small, seed, width) -> None:
    values = drawn(small, seed, (1, 50))
    assert_same(run(small.structure, values), run(small.structure, values, block=width), (1, 50))


@few
@given(seed=seeds)
def test_the_order_of_sites_does_not_matter(small, seed) -> None:
    values, order = drawn(small, seed, (7, 1)), np.random.default_rng(seed).permutation(7)
    mixed = {at: array[order] for at, array in values.items()}
    whole = run(small.structure, values)
    assert_same(whole, run(small.structure, mixed), (7, 1), order)


@few
@given(seed=seeds)
def test_the_base_of_a_tornado_is_the_case_itself(small, seed) -> None:
    values = drawn(small, seed)
    npv = move_each(small, values).npv
    for system, figures in run(small.structure, values).systems.items():
        assert_allclose(npv[system][0], figures["npv"][0, 0], rtol=SAME)


@few
@given(seed=seeds, draws=st.integers(1, 20))
def test_with_every_range_closed_and_events_off_each_draw_is_the_single_case(small, seed, draws) -> None:
    values = drawn(small, seed)
    plan = draw_plan(small, values, seed=seed, events=NO_EVENTS)
    rows = tuple(replace(row, low=row.value, high=row.value, spread="even") for row in plan.rows)
    block = draw_block(replace(plan, rows=rows), 0, draws)
    many, single = evaluate(small.structure, block.values, block.shocks), run(small.structure, values)
    for system, figures in single.systems.items():
        npv = np.broadcast_to(many.systems[system]["npv"], (1, draws))
        assert_allclose(npv, np.full((1, draws), figures["npv"]), rtol=1e-11, atol=ROUNDING)


@few
@given(investment=st.floats(1, 1e6), rate=st.floats(0, 1), years=st.integers(1, 60))
def test_capital_recovery_summed_and_discounted_gives_back_the_investment(investment, rate, years) -> None:
    """A second route: the same sum in every year, each discounted alone and added up exactly."""
    even = float(equivalent_annual_value(investment, rate, years))
    assert_allclose(math.fsum(even / (1 + rate) ** year for year in range(1, years + 1)), investment, rtol=1e-11)


@few
@given(events=litres, mm=st.lists(st.floats(0, 300), max_size=5))
def test_a_water_ledger_closes_or_shows_that_what_left_is_unknown(events, mm) -> None:
    """In = applied + rain + lid catch + what the soil gave; out = used + drained + run off; NaN where not measured."""
    rows = [water("a", kind, amount) for kind, amount in events]
    readings = [reading("a", value, day + 1) for day, value in enumerate(mm)]
    found = plot_ledger(records("plots", plot("a")), records("water", *rows), records("soil_water", *readings)).iloc[0]
    measured = any(kind in ("drainage", "runoff") for kind, _ in events)
    assert found["drainage_measured"] == measured
    assert found["soil_store_measured"] == (len(mm) > 1)
    assert math.isnan(found["evapotranspiration_l"]) != measured
    poured = sum(amount for kind, amount in events if kind in ("first_fill", "refill", "irrigation"))
    unused = sum(amount for kind, amount in events if kind in ("left_over", "leak"))
    from_above = sum(amount for kind, amount in events if kind in ("rain", "lid_catch"))
    from_soil = (mm[0] - mm[-1]) * found["net_area_m2"] if len(mm) > 1 else 0.0
    size = sum(amount for _, amount in events) + 300 * found["net_area_m2"]
    taken_in = poured - unused + from_above + from_soil
    assert_allclose(found["inflow_l"], taken_in, rtol=0, atol=SAME * size + SAME)
    if measured:
        gone = sum(amount for kind, amount in events if kind in ("drainage", "runoff"))
        assert_allclose(found["evapotranspiration_l"] + gone, taken_in, rtol=0, atol=SAME * size + SAME)


@few
@given(seed=seeds)
def test_years_of_the_views_differ_by_their_prices_alone(seen, seed) -> None:
    """Year by year, in kilograms, hours and m3 of the full view: what each view pays and receives otherwise."""
    values = drawn(seen, seed)
    structure, shocks = seen.structure, expected_shocks(seen.structure, values)
    flows = {view: flows_by_year(structure, in_view(seen, values, view), shocks) for view in (CASH, FULL, ECONOMIC)}
    economic = {n: float(values[n].flat[0]) for n in ("economic_price_factor", "water_scarcity_value_per_m3")}
    for name, year in run_systems(structure, values, shocks).items():
        family, hired = values["family_wage_per_hour"], values["hired_wage_per_hour"]
        less_family = family * (1 - values["economic_family_wage_factor"])
        less_hired = hired * (1 - values["economic_hired_wage_factor"])
        lent = values[year.plan.addresses["working_capital_share"]]
        to_cash, to_economy = np.zeros_like(flows[FULL][name]), np.zeros_like(flows[FULL][name])
        for weight, season, steady, harvest in zip(
            year.weights, year.seasons, year.work.steady, year.work.harvest, strict=True
        ):
            to_cash[1:] += (steady.family + weight * harvest.family) * family - weight * season.eaten_value
            to_cash[0] += lent * steady.family * family
            to_cash[-1] -= lent * steady.family * family
            kept = steady.family * less_family + steady.hired * less_hired
            kept = kept - season.water_m3 * economic["water_scarcity_value_per_m3"]
            picked = harvest.family * less_family + harvest.hired * less_hired
            to_economy[1:] += kept + weight * (picked + (economic["economic_price_factor"] - 1) * season.benefit)
            to_economy[0] += lent * kept
            to_economy[-1] -= lent * kept
        assert_allclose(flows[CASH][name] - flows[FULL][name], to_cash, rtol=1e-9, atol=ROUNDING)
        assert_allclose(flows[ECONOMIC][name] - flows[FULL][name], to_economy, rtol=1e-9, atol=ROUNDING)


@few
@given(seed=seeds)
def test_months_come_to_the_years_of_cash_for_sites_and_draws_too(seen, seed) -> None:
    """Sum of twelve months = the year of the cash view, its working capital laid aside."""
    values = drawn(seen, seed, (2, 3))
    cash = cash_by_month(seen, values)
    shocks = expected_shocks(seen.structure, cash.values)
    put = in_view(seen, cash.values, CASH)
    years = flows_by_year(seen.structure, put, shocks)
    for name, one in cash.systems.items():
        lent = run_systems(seen.structure, put, shocks)[name].amounts.working_capital
        expected = years[name].copy()
        expected[0] += lent
        expected[-1] -= lent
        months = np.broadcast_to(one.before, (len(one.before), *expected.shape[1:]))
        whole = months[1:].reshape(-1, 12, *expected.shape[1:]).sum(axis=1)
        assert_allclose(months[0], expected[0], rtol=1e-9, atol=ROUNDING)
        assert_allclose(whole, expected[1:], rtol=1e-9, atol=ROUNDING)


def test_a_wage_of_nothing_leaves_the_cash_view_where_it_was(seen) -> None:
    values = {**seen.values, "family_wage_per_hour": cell(0.0), "eaten_share": cell(0.0)}
    shocks = expected_shocks(seen.structure, values)
    full, cash = (flows_by_year(seen.structure, in_view(seen, values, view), shocks) for view in (FULL, CASH))
    for name, flows in full.items():
        assert_allclose(cash[name], flows, rtol=SAME)
