"""Risk of a case: chances and percentiles by a second way, years put into one call, events, convergence."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from independent_cases import assume, copy_demo, rewrite
from plotworth.case.folder import open_case
from plotworth.choose.distribution import (
    Chance,
    chance_above_zero,
    chance_below_zero,
    distribution,
    running_means,
)
from plotworth.choose.draws import draw_block, draw_plan
from plotworth.choose.evaluate import run_systems
from plotworth.choose.events import NO_EVENTS, Events
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.present_worth import net_present_values
from plotworth.choose.risk import risk, risk_by_area
from plotworth.choose.yearly import with_yields
from plotworth.ground.errors import PlotworthError
from risk_cases import DRY_HOLES, TYPED, laid_out

DEMO = Path(__file__).parent.parent / "data_demo"


@pytest.fixture(scope="module")
def demo():
    return lay_out(open_case(DEMO))


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return laid_out(tmp_path_factory.mktemp("small"))


def watch_years(monkeypatch) -> dict:
    """Keep the years and harvest weights of the block drawn next, as they are before they are put into one call."""
    seen = {}

    def watched(structure, weights, years):
        seen.update(years={address: row.copy() for address, row in years.items()}, harvest=weights)
        return with_yields(structure, weights, years)

    monkeypatch.setattr("plotworth.choose.draws.with_yields", watched)
    return seen


def summed_years(layout, values, years, harvest) -> dict:
    """Return NPV by id, one year after another: every year grown with its own rows, nothing levelled."""
    rate, horizon = float(layout.values["discount_rate"].item()), layout.structure.horizon_years
    worth = {plan.id: 0.0 for plan in layout.structure.systems}
    for year in range(1, horizon + 1):
        own = {**values, **{address: row[year - 1 : year] for address, row in years.items()}}
        grown = run_systems(layout.structure, own, expected_shocks(layout.structure, own))
        for name, system in grown.items():
            worth[name] = worth[name] + margin_of(system, own, harvest, year) / (1 + rate) ** year
    for name, system in run_systems(layout.structure, values, expected_shocks(layout.structure, values)).items():
        amounts = system.amounts
        for life, amount in amounts.capital.items():
            worth[name] = worth[name] - amount * sum((1 + rate) ** -y for y in range(0, horizon, life))
        back = (amounts.residual + amounts.working_capital) * (1 + rate) ** -horizon
        worth[name] = worth[name] + back - amounts.working_capital
    return worth


def margin_of(system, own, harvest, year):
    margin = -system.amounts.steady
    for k, season in enumerate(system.plan.seasons):
        learning = {1: "first_year_share", 2: "second_year_share"}.get(year)
        weight = harvest[system.plan.id, season.season][year - 1] * (
            own[season.addresses[learning]] if learning else 1.0
        )
        margin = margin + weight * (system.amounts.benefit[k] - system.amounts.harvest_cost[k])
    return margin


def test_years_put_into_one_call_are_worth_the_years_one_by_one(small, monkeypatch) -> None:
    """Yields, prices and litres that differ every year, failed seasons, packing by the kilogram: to the last digit."""
    seen = watch_years(monkeypatch)
    drawn = draw_block(draw_plan(small, small.values, seed=4, events=Events()), 0, 40)
    assert set(seen["years"]) >= {"yield_kg_per_m2/tank/pepper", "market_price_per_kg/hand/pepper"}
    worth = net_present_values(small.structure, drawn.values, drawn.shocks)
    wanted = summed_years(small, drawn.values, seen["years"], seen["harvest"])
    for system, npv in worth.items():
        assert_allclose(npv, wanted[system], rtol=1e-9, atol=1e-9)


def test_rows_that_several_systems_read_come_near_the_years_one_by_one(demo, monkeypatch) -> None:
    """The demo's price and loss rows serve three systems of unlike harvests: one level for all is near, not exact."""
    seen = watch_years(monkeypatch)
    drawn = draw_block(draw_plan(demo, demo.values, seed=4, events=Events()), 0, 2000)
    worth = net_present_values(demo.structure, drawn.values, drawn.shocks)
    wanted = summed_years(demo, drawn.values, seen["years"], seen["harvest"])
    for system, npv in worth.items():
        assert_allclose(npv.mean(), wanted[system].mean(), rtol=0.001)  # measured: 0.00005
        assert_allclose(npv.std(), wanted[system].std(), rtol=0.005)  # measured: 0.0006
    better = [np.mean(one["reservoir"] > one["drip"]) for one in (worth, wanted)]
    assert_allclose(*better, atol=0.005)  # measured: the same


def test_ten_different_years_spread_less_than_one_unknown_value(small) -> None:
    plan = draw_plan(small, small.values, seed=4, events=NO_EVENTS, only={"market_price_per_kg/hand/pepper"})
    once = replace(plan, rows=tuple(replace(row, nature="constant") for row in plan.rows))
    spread = []
    for one in (plan, once):
        drawn = draw_block(one, 0, 8192)
        spread.append(float(net_present_values(small.structure, drawn.values, drawn.shocks)["hand"].std()))
    # 4 years, discount factors v^t and 0.8 of a harvest in the first, NPV affine in price: the standard deviation of
    # the weighted mean is sqrt(sum a^2) / sum a of that of one value, a = (0.8 v, v^2, v^3, v^4), v = 1 / 1.1
    a = np.array([0.8, 1, 1, 1]) * 1.1 ** -np.arange(1, 5)
    assert_allclose(spread[0] / spread[1], np.sqrt((a**2).sum()) / a.sum(), rtol=0.03)


def test_failed_seasons_come_as_often_as_stated_and_to_all_alike(small) -> None:
    drawn = draw_block(draw_plan(small, small.values, seed=2, events=Events(dry_holes=False)), 0, 8192)
    tank, hand = (drawn.shocks[name, "dry"] for name in ("tank", "hand"))
    harvest = {name: drawn.year_shocks[name, "dry"] for name in ("tank", "hand")}
    assert set(np.unique(harvest["hand"])) == {0.0, 1.0}
    # chance of hand is uniform from 0.2 to 0.3, so 0.25; standard error of a share of 8192: 0.005
    assert_allclose(1 - harvest["hand"].mean(), 0.25, atol=0.02)
    # tank's chance, 0.2 at most, is always below hand's: where the tank fails the hand does
    assert (harvest["hand"] <= harvest["tank"]).all()
    assert tank.shape == hand.shape == (4, 1, 8192)


def test_dry_holes_are_drawn_with_the_mean_that_the_single_case_expects(tmp_path) -> None:
    layout = laid_out(tmp_path, DRY_HOLES)
    plan = draw_plan(layout, layout.values, seed=2, events=Events(failed_seasons=False), only=())
    chance = draw_block(plan, 0, 8192).values["dry_hole_chance/tank"]
    holes = chance / (1 - chance)
    assert_allclose(holes, np.round(holes), atol=1e-9)
    # p / (1 - p) at p = 0.3; standard deviation sqrt(p) / (1 - p) = 0.78, standard error 0.009
    assert_allclose(holes.mean(), 0.3 / 0.7, atol=0.04)


def test_chances_and_percentiles_are_those_of_the_draws_kept(demo) -> None:
    found = risk(demo, demo.values, draws=3000, seed=5)
    tank, drip = found.npv["reservoir"], found.npv["drip"]
    one = found.systems["reservoir"]
    assert tank.shape == (3000,)
    assert one.against["baseline"].chance_better.share == np.count_nonzero(tank > drip) / 3000
    assert one.chance_of_loss.share == np.count_nonzero(tank < 0) / 3000
    assert_allclose(one.npv.p10, np.sort(tank)[299] + 0.9 * np.diff(np.sort(tank))[299], rtol=1e-9)
    assert_allclose(sum(each.chance_of_best.share for each in found.systems.values()), 1, rtol=1e-12)
    assert set(found.systems["drip"].against) == {"today"}
    assert found.systems["drip"].years.beats_baseline != found.systems["drip"].years.beats_baseline


def test_the_same_seed_gives_the_same_risk_and_more_draws_begin_with_the_fewer(demo) -> None:
    few, same, many = (risk(demo, demo.values, draws=draws, seed=5) for draws in (500, 500, 9000))
    for system, draws in few.npv.items():
        assert_array_equal(draws, same.npv[system])
        assert_allclose(draws, many.npv[system][:500], rtol=1e-12)


def test_the_area_of_the_case_has_the_chances_of_the_case(demo) -> None:
    whole = risk(demo, demo.values, draws=1000, seed=3)
    rows = risk_by_area(demo, demo.values, [200.0, 400.0], draws=1000, seed=3)
    for row in (row for row in rows if row.area_m2 == 400.0):
        own = whole.systems[row.system]
        assert row.chance_of_best == own.chance_of_best
        assert_allclose(row.npv.p50, own.npv.p50, rtol=1e-12)


def test_progress_is_told_block_by_block(small) -> None:
    told = []
    risk(small, small.values, draws=9000, seed=0, report=lambda done, all_: told.append((done, all_)))
    assert told == [(8192, 9000), (9000, 9000)]


@pytest.mark.parametrize(("draws", "seed"), [(1, 1), (20_000_000, 1), (100, -1)])
def test_draws_and_seed_out_of_bounds_are_refused(small, draws, seed) -> None:
    with pytest.raises(PlotworthError, match="take"):
        risk(small, small.values, draws=draws, seed=seed)


def test_an_unknown_assumption_leaves_no_chance(tmp_path) -> None:
    book = TYPED["assumptions.csv"].replace("hand,pepper,,0.5,0.25,1,", "hand,pepper,,unknown,,,", 1)
    layout = laid_out(tmp_path, {**TYPED, "assumptions.csv": book})
    found = risk(layout, layout.values, draws=100)
    assert math.isnan(found.systems["hand"].chance_of_loss.share)
    assert math.isnan(found.systems["tank"].chance_of_best.share)
    assert not math.isnan(found.systems["tank"].chance_of_loss.share)


def test_simulated_values_are_held_and_said_to_be(tmp_path) -> None:
    folder = copy_demo(tmp_path)
    rewrite(folder, "assumptions", lambda rows: [r for r in rows if not applied_by_the_tank(r)])
    assume(folder, "water_applied_l_per_m2", "computed", "l/m2", system="reservoir", crop="sweet pepper")
    layout = lay_out(open_case(folder))
    found = risk(layout, layout.values, draws=20)
    assert any("held at their own value" in note for note in found.notes)
    (item,) = layout.structure.simulated
    assert item.address not in draw_plan(layout, layout.values, seed=0, events=NO_EVENTS).addresses


def applied_by_the_tank(row) -> bool:
    return (row["name"], row["system"], row["crop"]) == ("water_applied_l_per_m2", "reservoir", "sweet pepper")


def test_quasi_random_points_come_nearer_with_the_same_draws(small) -> None:
    events, exact = NO_EVENTS, {}
    constants = {row.address for row in draw_plan(small, small.values, seed=0, events=events).of_nature("constant")}
    errors = {}
    for quasi_random in (True, False):
        means = []
        for seed in range(16):
            plan = draw_plan(small, small.values, seed=seed, events=events, quasi_random=quasi_random, only=constants)
            drawn = draw_block(plan, 0, 512)
            means.append(net_present_values(small.structure, drawn.values, drawn.shocks)["tank"].mean())
        exact.setdefault("mean", np.mean(means))
        errors[quasi_random] = np.sqrt(np.mean((np.array(means) - exact["mean"]) ** 2))
    assert errors[True] < errors[False] / 10


def test_errors_of_means_and_chances() -> None:
    draws = np.array([-1.0, 1.0, 2.0, 6.0])
    found = distribution(draws)
    # mean 2; squares about it 9 + 1 + 0 + 16 = 26, over 3; standard error its root over 2
    assert_allclose(
        (found.mean, found.standard_deviation, found.standard_error), (2, (26 / 3) ** 0.5, (26 / 12) ** 0.5)
    )
    assert chance_below_zero(draws) == Chance(0.25, math.sqrt(0.25 * 0.75 / 4), 4)
    assert chance_above_zero(draws).share == 0.75
    # 0.25 x 0.75 / 0.0001 = 1875
    assert chance_below_zero(draws).draws_needed == 1875
    assert Chance(0.0, 0.0, 4).draws_needed == 100
    means, errors = running_means(draws, np.array([2.0, 4.0]))
    # of -1 and 1: mean 0, variance 2, standard error 1
    assert_allclose((means, errors), ([0, 2], [1, (26 / 12) ** 0.5]))
