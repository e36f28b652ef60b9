"""Draws of a case: margins, correlations, the trial's joint errors, seeds and slices, closed ranges."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from plotworth.case.folder import open_case
from plotworth.choose.drawn_rows import DrawnRow
from plotworth.choose.draws import BLOCK, draw_block, draw_plan
from plotworth.choose.evaluate import evaluate
from plotworth.choose.events import NO_EVENTS, Events
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.present_worth import net_present_values
from plotworth.choose.trial_draws import covariance, draw_errors, trial_figures
from plotworth.field.block_model import joint_means
from risk_cases import CORRELATIONS, DRY_HOLES, TYPED, laid_out

DEMO = Path(__file__).parent.parent / "data_demo"
DRAWS = 8192
LEAST_P = 0.001
"""A Kolmogorov-Smirnov test of a right margin falls below this once in a thousand seeds; the seed is fixed."""
CLOSED = 1e-12


@pytest.fixture(scope="module")
def demo():
    return lay_out(open_case(DEMO))


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return laid_out(tmp_path_factory.mktemp("small"))


def row_of(plan, address) -> DrawnRow:
    return next(row for row in plan.rows if row.address == address)


def standard(row: DrawnRow):
    """Return scipy's distribution of a row: a second way to the same margin."""
    width = row.high - row.low
    if row.spread == "even":
        return stats.uniform(row.low, width)
    return stats.triang((row.value - row.low) / width, row.low, width)


@pytest.mark.parametrize("quasi_random", [False, True])
def test_rows_drawn_once_a_case_have_their_stated_margin(demo, quasi_random) -> None:
    plan = draw_plan(demo, demo.values, seed=3, events=NO_EVENTS, quasi_random=quasi_random)
    drawn = draw_block(plan, 0, DRAWS).values
    for row in plan.of_nature("constant"):
        found = drawn[row.address][0]
        assert stats.kstest(found, standard(row).cdf).pvalue > LEAST_P, row.address
        # six standard errors of a mean of 8192 draws
        assert abs(found.mean() - standard(row).mean()) < 6 * standard(row).std() / np.sqrt(DRAWS)
        assert found.min() >= row.low
        assert found.max() <= row.high


def test_rows_drawn_once_a_year_have_their_stated_margin_in_a_year(small) -> None:
    plan = draw_plan(small, small.values, seed=3, events=NO_EVENTS)
    drawn = draw_block(plan, 0, DRAWS).year_values
    assert {row.address for row in plan.of_nature("yearly")} >= {"yield_kg_per_m2/hand/pepper"}
    for row in plan.of_nature("yearly"):
        assert stats.kstest(drawn[row.address][0], standard(row).cdf).pvalue > LEAST_P, row.address


def test_a_measured_range_is_normal_with_95_percent_inside() -> None:
    row = DrawnRow("fruit_mass_g/tank", 80.0, 100.0, 120.0, 0.01, 1e5, "measured", "constant")
    assert_allclose(row.at(np.array([0.025, 0.5, 0.975])), [80, 100, 120], rtol=1e-12)


def test_choices_and_fixed_rows_are_never_drawn(demo) -> None:
    drawn = set(draw_plan(demo, demo.values, seed=0, events=Events()).addresses)
    assert not drawn & {"discount_rate", "family_wage_per_hour", "area_m2", "trial_to_farm_share/all/zucchini"}
    assert all(demo.inputs[address].nature != "choice" for address in drawn)


def test_a_dial_outside_its_range_widens_it_and_takes_the_top(small) -> None:
    values = {**small.values, "planted_share": np.full((1, 1), 0.9)}
    row = row_of(draw_plan(small, values, seed=0, events=NO_EVENTS), "planted_share")
    assert (row.low, row.value, row.high) == (0.6, 0.9, 0.9)


def test_rank_correlations_are_reached_once_a_case_and_within_a_year(tmp_path) -> None:
    layout = laid_out(tmp_path, TYPED, **{"correlations.csv": CORRELATIONS})
    plan = draw_plan(layout, layout.values, seed=5, events=NO_EVENTS)
    drawn = draw_block(plan, 0, DRAWS)
    once = stats.spearmanr(drawn.values["planted_share"][0], drawn.values["commission_share"][0]).statistic
    pair = ("yield_kg_per_m2/tank/pepper", "market_price_per_kg/tank/pepper")
    yearly = stats.spearmanr(*(drawn.year_values[address][0] for address in pair)).statistic
    # standard error of a rank correlation of 8192 draws: about 0.01
    assert_allclose([once, yearly], [0.6, -0.5], atol=0.03)
    for address in ("planted_share", "commission_share", *pair):
        at = drawn.values if address in ("planted_share", "commission_share") else drawn.year_values
        assert stats.kstest(at[address][0], standard(row_of(plan, address)).cdf).pvalue > LEAST_P, address


def test_draws_of_the_trial_have_the_covariance_of_its_block_model(demo) -> None:
    figure = next(one for one in trial_figures(demo) if one.addresses[0].startswith("fruits"))
    model = next(iter(demo.trial.models["yield_kg_per_m2"].values()))
    joint = joint_means(model)
    systems = [address.split("/")[1] for address in figure.addresses]
    places = [joint.labels.index(f"{ {'reservoir': 'tank'}.get(one, one) } | none") for one in systems]
    assert_allclose(covariance(figure), joint.covariance[np.ix_(places, places)], rtol=1e-9, atol=1e-12)
    errors = draw_errors(figure, np.random.default_rng(1), 200_000)
    # a mean square drawn as s2 f / chi-square(f) has the mean s2 f / (f - 2)
    wanted = sum(
        s.mean_square * s.degrees_of_freedom / (s.degrees_of_freedom - 2) * s.loading
        for strata in figure.trials
        for s in strata
    )
    assert_allclose(np.cov(errors), wanted, rtol=0.03, atol=0.03 * np.abs(wanted).max())


def test_one_stratum_gives_the_t_distribution(tmp_path) -> None:
    plots = [f"P{k},,tank,pepper,2026-02-01,4,12" for k in range(1, 5)]
    picked = [f"2026-04-01,P{k},,{kg},12" for k, kg in zip(range(1, 5), (11.0, 14.0, 12.5, 13.1), strict=True)]
    files = {
        "plots.csv": "\n".join(["plot,block,treatment,crop,planted_on,net_area_m2,plants", *plots, ""]),
        "harvests.csv": "\n".join(["date,plot,marketable_fruits,marketable_kg,plants_alive", *picked, ""]),
    }
    layout = laid_out(tmp_path, files)
    (figure,) = [one for one in trial_figures(layout) if one.addresses == ("yield_kg_per_m2/tank/pepper",)]
    errors = draw_errors(figure, np.random.default_rng(1), DRAWS)[0]
    mean = layout.trial.means["yield_kg_per_m2"]["tank"]
    t = stats.t(mean.degrees_of_freedom, scale=mean.standard_error)
    assert stats.kstest(errors, t.cdf).pvalue > LEAST_P


def test_fruits_times_mass_stay_the_yield_that_was_drawn(demo) -> None:
    plan = draw_plan(demo, demo.values, seed=1, events=NO_EVENTS)
    drawn = draw_block(plan, 0, DRAWS).values
    fruits, mass = (f"{name}/reservoir/sweet pepper" for name in ("fruits_per_m2", "fruit_mass_g"))
    assert mass not in plan.addresses
    yields = drawn[fruits] * drawn[mass] / 1000
    mean = demo.trial.means["yield_kg_per_m2"]["tank"]
    assert_allclose(np.median(yields), mean.mean, rtol=0.01)
    low, high = np.percentile(yields, (2.5, 97.5))
    # Satterthwaite's interval is an approximation of the mix of two strata, and 8192 draws have their own error
    assert_allclose((low, high), (mean.low, mean.high), rtol=0.02)


def test_the_same_seed_gives_the_same_numbers_and_another_seed_others(demo) -> None:
    one, same, other = (
        draw_block(draw_plan(demo, demo.values, seed=seed, events=Events()), 1, 64) for seed in (7, 7, 8)
    )
    for address in one.values:
        assert_array_equal(one.values[address], same.values[address])
    assert not np.array_equal(one.values["planted_share"], other.values["planted_share"])
    for key in one.shocks:
        assert_array_equal(one.shocks[key], same.shocks[key])


@pytest.mark.parametrize("quasi_random", [False, True])
def test_the_first_draws_of_a_block_are_those_of_a_shorter_one(demo, quasi_random) -> None:
    plan = draw_plan(demo, demo.values, seed=7, events=Events(), quasi_random=quasi_random)
    whole, part = draw_block(plan, 0, BLOCK), draw_block(plan, 0, 300)
    for address, array in part.values.items():
        assert_allclose(array, whole.values[address][:, :300], rtol=1e-12)
    for key, array in part.shocks.items():
        assert_allclose(array, whole.shocks[key][..., :300], rtol=1e-12)


@pytest.mark.parametrize("files", [{}, TYPED, DRY_HOLES])
def test_closed_ranges_without_events_give_the_single_case(tmp_path, files) -> None:
    check_closed(laid_out(tmp_path, files))


def test_closed_ranges_without_events_give_the_demo(demo) -> None:
    check_closed(demo)


def check_closed(layout) -> None:
    shocks = expected_shocks(layout.structure, layout.values)
    single = evaluate(layout.structure, layout.values, shocks)
    drawn = draw_block(draw_plan(layout, layout.values, seed=1, events=NO_EVENTS, only=()), 0, 5)
    many = evaluate(layout.structure, drawn.values, drawn.shocks)
    worth = net_present_values(layout.structure, drawn.values, drawn.shocks)
    for system, figures in single.systems.items():
        for name, value in figures.items():
            wide = np.broadcast_to(many.systems[system][name], (1, 5))
            assert_allclose(wide, np.broadcast_to(value, (1, 5)), rtol=CLOSED, equal_nan=True)
        assert_allclose(worth[system], figures["npv"], rtol=CLOSED, equal_nan=True)


def test_ranges_closed_at_their_value_but_drawn_all_the_same_give_the_single_case(small) -> None:
    """Every row drawn from a range of no width: the years, levels and weights do the work and change nothing."""
    from dataclasses import replace

    plan = draw_plan(small, small.values, seed=1, events=NO_EVENTS)
    rows = tuple(replace(row, low=row.value, high=row.value, spread="even") for row in plan.rows)
    drawn = draw_block(replace(plan, rows=rows), 0, 6)
    worth = net_present_values(small.structure, drawn.values, drawn.shocks)
    single = evaluate(small.structure, small.values, expected_shocks(small.structure, small.values))
    for system, npv in worth.items():
        assert_allclose(npv, np.broadcast_to(single.systems[system]["npv"], (1, 6)), rtol=CLOSED)


def test_present_values_alone_are_those_of_the_composition(demo) -> None:
    drawn = draw_block(draw_plan(demo, demo.values, seed=2, events=Events()), 0, 50)
    whole = evaluate(demo.structure, drawn.values, drawn.shocks)
    for system, npv in net_present_values(demo.structure, drawn.values, drawn.shocks).items():
        assert_allclose(npv, whole.systems[system]["npv"], rtol=CLOSED)
