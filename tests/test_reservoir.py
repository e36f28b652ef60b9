"""The daily balance: which limit binds, the order of a day, closed forms, a balance that closes."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.supply.lid import Lid
from plotworth.supply.reservoir import Reservoir, Soil, days_from_the_soil, days_to_empty, litres_per_plant, simulate
from plotworth.supply.reservoir_trace import add_up, reservoir_gap_l, short_of_water, soil_gap_mm
from plotworth.supply.soil_water import follow_root_zone
from plotworth.supply.visits import Round, Visits, keep_visits, plan_visits
from plotworth.supply.wick import Wick, lift_m, resting_depletion_mm, steady_wick, wick_flow_l_per_day
from reservoir_units import FUNNEL_LID, GENEROUS_WICK, LEVEL_WICK, SOIL, TANK, TIGHT_LID, run

CLOSES = 1e-9  # l and mm beside amounts up to 1000: a dozen additions of doubles


def test_a_plant_in_mid_season_at_three_a_m2_and_five_mm_a_day_takes_1_7_litres() -> None:
    assert_allclose(litres_per_plant(5.0, 3.0), 1.7, atol=0.05, rtol=0)  # 5 / 3, printed with one decimal
    totals = add_up(run(TANK, SOIL, np.full(3, 5.0)))
    assert_allclose(totals.uptake_l_per_plant_day, 5.0 / 3.0)


def test_the_demand_binds_where_wick_and_tank_have_plenty() -> None:
    trace = run(TANK, SOIL, [4.0, 0.5, 6.0])
    assert_allclose(trace.uptake_mm, [4.0, 0.5, 6.0])
    assert_allclose(trace.wick_l, [8.0, 1.0, 12.0])
    assert_allclose(trace.depletion_mm, 0.0, atol=1e-12)


def test_the_wick_binds_where_it_lifts_less_than_the_crop_would_use() -> None:
    slow = replace(TANK, capacity_l=1000.0, start_l=1000.0, wick=steady_wick(6.0))  # 3 mm a day on 2 m2
    trace = run(slow, SOIL, np.full(120, 5.0))
    assert_allclose(trace.wick_l, 6.0)
    assert_allclose(trace.uptake_mm[:11], 5.0)  # the soil adds 2 mm a day: 20 mm readily available
    assert_allclose(trace.uptake_mm[-1], 3.0, atol=1e-3)  # the soil's part dies away by a factor 0.8 a day
    totals = add_up(trace)
    assert totals.short_days_with_water == totals.short_days == 120 - totals.buffer_days
    assert_allclose(totals.must_come_from_soil_l, 120 * 2.0 * 2.0)
    assert_allclose(totals.from_soil_l, totals.uptake_l - totals.wick_l)


def test_the_soil_binds_once_the_tank_is_empty() -> None:
    empty = replace(TANK, start_l=0.0)
    trace = run(empty, SOIL, np.full(30, 5.0))
    assert_allclose(trace.wick_l, 0.0)
    assert_allclose(trace.depletion_mm[:5], [5, 10, 15, 20, 25])
    assert_allclose(trace.uptake_mm[5], 5.0 * (40 - 25) / 20)  # eq 84 of FAO-56: Ks = (TAW - Dr) / ((1 - p) TAW)
    totals = add_up(trace)
    assert totals.uptake_l < 2 * 40.0
    assert_allclose(totals.uptake_l, 2 * 40.0, rtol=0.01)
    assert totals.empty_days == 30
    assert totals.short_days_with_water == 0


def test_a_bed_without_a_soil_store_lives_on_the_wick_alone() -> None:
    trace = run(replace(TANK, wick=steady_wick(6.0)), replace(SOIL, available_mm=0.0), np.full(12, 5.0))
    assert_allclose(trace.uptake_mm, [3.0] * 10 + [0.0] * 2, atol=1e-12)


def test_without_visits_the_days_of_buffer_are_those_worked_out_by_hand() -> None:
    # 60 l at 2 m2 x 5 mm = 10 l a day: 6 days; then 20 mm readily available: 4 days; the fifth morning finds it just
    # used up, which FAO-56 does not yet call stress: 6 + 4 + 1 = 11 days without stress
    trace = run(TANK, SOIL, np.full(30, 5.0))
    assert add_up(trace).buffer_days == 11
    assert_array_equal(np.flatnonzero(short_of_water(trace)), np.arange(11, 30))
    assert_allclose(days_to_empty(60.0, 10.0, 0.0) + days_from_the_soil(20.0, 5.0), 10.0)


def test_buffer_is_all_the_days_where_the_crop_is_never_short() -> None:
    assert add_up(run(TANK, SOIL, np.full(5, 5.0))).buffer_days == 5


def test_a_missed_visit_costs_the_crop_water() -> None:
    weekly = plan_visits([Round("anna", first_day=6, every_days=7, brought_l=0.0, filled_share=1.0)], 28)
    thin = replace(SOIL, available_mm=10.0)
    kept = np.ones((1, 28, 2))
    kept[0, 13, 1] = 0.0
    tank, missed = replace(TANK, capacity_l=80.0, start_l=80.0), keep_visits(weekly, kept)
    totals = add_up(run(tank, thin, np.full(28, 5.0), visits=missed))
    # filled on day 6, 80 l last through day 13; the soil's 5 + 5 mm days 14 and 15; the next visit is on day 20
    assert_array_equal(totals.short_days, [0, 4])
    assert_array_equal(totals.refills, [4, 3])
    assert totals.carried_l[0] > totals.carried_l[1]


def test_cans_that_do_not_fit_are_carried_and_spilled() -> None:
    cans = plan_visits([Round("ben", first_day=1, every_days=5, brought_l=40.0, filled_share=0.0)], 2)
    trace = run(TANK, SOIL, np.full(2, 5.0), visits=cans)
    assert_allclose(trace.carried_l, [0, 40])
    assert_allclose(trace.spilled_l, [0, 30])
    assert_allclose(trace.storage_l, [50, 50])
    assert_allclose(add_up(trace).applied_l_per_m2, (60 + 40 - 30 - 50) / 2)


def test_zero_demand_uses_nothing_and_has_no_share_of_demand_met() -> None:
    trace = run(TANK, SOIL, np.zeros(4))
    assert_allclose(trace.storage_l, 60.0)
    totals = add_up(trace)
    assert np.isnan(totals.uptake_share)
    assert totals.short_days == 0
    assert totals.uptake_l == 0


def test_a_full_tank_overflows_by_all_that_the_lid_catches() -> None:
    trace = run(replace(TANK, lid=FUNNEL_LID), SOIL, np.zeros(1), rain_mm=np.full(1, 20.0))
    # lid 0.5 m2 x 0.8 and open surface 0.025 m2: 0.425 m2 x 20 mm; the bed's 2 m2 get the rest and drain it
    assert_allclose(trace.caught_l, 8.5)
    assert_allclose(trace.overflow_l, 8.5)
    assert_allclose(trace.drained_mm, 20 - 8.5 / 2)
    assert_allclose(trace.storage_l, 60.0)


def test_under_a_cover_rain_reaches_neither_tank_nor_soil() -> None:
    covered = replace(TANK, start_l=0.0, lid=replace(FUNNEL_LID, rain_reaching_share=0.0))
    trace = run(covered, replace(SOIL, start_depletion_mm=10.0), np.zeros(1), rain_mm=np.full(1, 20.0))
    assert_allclose(trace.caught_l, 0.0)
    assert_allclose(trace.depletion_mm, 10.0)


def test_rain_in_the_soil_is_used_before_the_wick_lifts() -> None:
    trace = run(TANK, SOIL, np.full(2, 5.0), rain_mm=np.array([3.0, 9.0]))
    assert_allclose(trace.wick_l, [4.0, 0.0])
    assert_allclose(trace.drained_mm, [0.0, 4.0])


def test_an_open_tank_evaporates_until_it_is_empty() -> None:
    opened = replace(TANK, start_l=3.0, lid=replace(TIGHT_LID, lidded_share=0.0))
    trace = run(opened, SOIL, np.zeros(3), open_water_mm=np.full(3, 5.0))
    assert_allclose(trace.evaporated_l, [1.25, 1.25, 0.5])
    lidded = run(replace(opened, lid=TIGHT_LID), SOIL, np.zeros(3), open_water_mm=np.full(3, 5.0))
    assert_allclose(lidded.evaporated_l, 0.0)


def test_the_wick_refills_a_dry_soil_no_further_than_where_suction_equals_lift() -> None:
    tank = replace(TANK, capacity_l=1e4, start_l=1e4, wick=replace(LEVEL_WICK, lift_full_m=0.3, lift_empty_m=0.3))
    trace = run(tank, replace(SOIL, start_depletion_mm=30.0), np.zeros(200))
    assert_allclose(trace.depletion_mm[-1], 2.0, atol=1e-6)  # (0.3 - 0.2) / 2 m of 40 mm; nears it by 1/3 a day
    assert (trace.depletion_mm >= 2.0 - CLOSES).all()


@pytest.mark.parametrize("flow_l_per_day", [4.0, 7.0, 1000.0])
@pytest.mark.parametrize("evaporation_l", [0.0, 1.5])
def test_days_to_empty_in_closed_form_are_those_of_the_simulation(flow_l_per_day: float, evaporation_l: float) -> None:
    tank = replace(TANK, wick=steady_wick(flow_l_per_day), lid=replace(TIGHT_LID, lidded_share=0.0, surface_m2=1.0))
    trace = run(tank, SOIL, np.full(40, 5.0), open_water_mm=np.full(40, evaporation_l))
    found = days_to_empty(60.0, min(flow_l_per_day, 10.0) + evaporation_l, 0.0)
    first_empty = 1 + int(np.argmax(trace.storage_l <= CLOSES))
    assert first_empty == np.ceil(found - CLOSES)


def test_closed_forms_never_end_without_outflow_or_demand() -> None:
    assert_array_equal(days_to_empty([60.0, 60.0], [5.0, 2.0], [2.0, 2.0]), [20.0, np.inf])
    assert_array_equal(days_from_the_soil(20.0, [5.0, 0.0]), [4.0, np.inf])


def test_without_a_wick_the_soil_is_that_of_the_soil_water_room() -> None:
    random = np.random.default_rng(3)
    demand, rain = (
        random.uniform(0, 8, (200, 3, 4)),
        random.uniform(0, 12, (200, 3, 1)) * (random.random((200, 1, 1)) < 0.3),
    )
    trace = run(replace(TANK, start_l=0.0), SOIL, demand, rain_mm=rain)
    other = follow_root_zone(demand, rain, total_mm=40.0, tabulated_share=0.5, start_depletion_mm=0.0)
    assert_allclose(trace.uptake_mm, other.evapotranspiration_mm, atol=CLOSES)
    assert_allclose(trace.depletion_mm, other.depletion_mm, atol=CLOSES)
    assert_allclose(trace.drained_mm, other.drained_mm, atol=CLOSES)


@pytest.mark.parametrize("dry_mm", [8.0, 20.0, 38.5])
@pytest.mark.parametrize("start_l", [60.0, 25.0])
def test_the_flow_inside_the_balance_is_that_of_the_wick_room(dry_mm: float, start_l: float) -> None:
    tank, soil = replace(TANK, wick=LEVEL_WICK, start_l=start_l), replace(SOIL, start_depletion_mm=dry_mm)
    lifted = run(tank, soil, np.full(1, 4.0)).wick_l
    noon_mm = min(dry_mm + 2.0, 40.0)  # half of the 4 mm are gone; at the two drier ones the wick's limit holds
    expected = wick_flow_l_per_day(LEVEL_WICK, start_l, 60.0, noon_mm, 40.0)
    assert_allclose(lifted, expected)
    assert 0 < expected < 2 * (dry_mm + 4 - resting_depletion_mm(LEVEL_WICK, lift_m(LEVEL_WICK, start_l, 60.0), 40.0))


def test_a_wick_that_cannot_lift_so_high_strands_the_water_below() -> None:
    tank = replace(TANK, wick=replace(LEVEL_WICK, limit_m=0.3))
    trace = run(tank, SOIL, np.full(200, 5.0))
    assert_allclose(trace.storage_l[-1], 30.0, atol=1e-3)  # lift 0.3 m at half of 60 l, neared by 1/7.5 a day
    totals = add_up(trace)
    assert totals.empty_days == 0
    assert totals.short_days_with_water == totals.short_days > 0


def test_dew_on_the_lid_ends_up_in_the_tank() -> None:
    trace = run(replace(TANK, start_l=0.0, lid=FUNNEL_LID), SOIL, np.zeros(3), dew_l_per_m2=[0.2, 0.8, 5.0])
    assert_allclose(trace.storage_l, [0.1, 0.5, 0.9])


@pytest.mark.parametrize("inner", [(), (1,), (3, 4), (2, 3, 4)])
def test_any_axes_behind_the_day_give_what_each_case_gives_alone(inner: tuple[int, ...]) -> None:
    random = np.random.default_rng(4)
    capacity, flow = random.uniform(20, 60, inner), random.uniform(2, 20, inner)
    tank = replace(TANK, capacity_l=capacity, start_l=0.5 * capacity, wick=steady_wick(flow), lid=FUNNEL_LID)
    demand, rain = random.uniform(0, 7, 25), random.uniform(0, 20, 25) * (random.random(25) < 0.2)
    visits = plan_visits([Round("anna", first_day=3, every_days=6, brought_l=5.0, filled_share=0.5)], 25)
    trace = run(tank, SOIL, demand, rain_mm=rain, visits=visits, open_water_mm=np.full(25, 4.0))
    assert trace.storage_l.shape == trace.demand_mm.shape == (25, *inner)
    for place in np.ndindex(*inner):
        alone = replace(tank, capacity_l=capacity[place], start_l=0.5 * capacity[place], wick=steady_wick(flow[place]))
        single = run(alone, SOIL, demand, rain_mm=rain, visits=visits, open_water_mm=np.full(25, 4.0))
        assert_allclose(trace.storage_l[(slice(None), *place)], single.storage_l, rtol=1e-12)
        assert_allclose(trace.uptake_mm[(slice(None), *place)], single.uptake_mm, rtol=1e-12)


def wild_unit(random: np.random.Generator, draws: int) -> tuple[Reservoir, Soil]:
    """Units from a can to a cistern, some without lid, wick or soil store."""

    def between(low: float, high: float) -> np.ndarray:
        return random.uniform(low, high, draws) * (random.random(draws) < 0.9)

    capacity, ground, taw = random.uniform(1, 1000, draws), random.uniform(0.2, 20, draws), between(1, 150)
    wet, lift = between(0, 2), between(0, 0.5)
    wick = Wick(
        10 ** random.uniform(-2, 4, draws), wet, wet + between(0, 20), between(0, 3), lift, lift + between(0, 1)
    )
    shares = [random.random(draws) for _ in range(5)]
    lid = Lid(0.5 * ground * shares[0], shares[1], 0.5 * ground, shares[2], shares[3], shares[4], between(1, 1))
    start, dry = capacity * between(0, 1), taw * between(0, 1)
    return Reservoir(capacity, ground, 3.0, start, wick, lid), Soil(taw, random.uniform(0.2, 0.6, draws), dry)


@settings(max_examples=50, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), days=st.integers(1, 40))
def test_reservoir_and_soil_close_on_500_cases_each(seed: int, days: int) -> None:
    random, draws = np.random.default_rng(seed), 500  # 50 x 500: 25,000 cases
    tank, soil = wild_unit(random, draws)
    demand = random.uniform(0, 12, (days, draws)) * (random.random((days, draws)) < 0.9)
    rain = random.exponential(20, (days, draws)) * (random.random((days, draws)) < 0.2)
    comes = random.random((2, days, draws)) < 0.1
    visits = Visits(("anna", "ben"), comes * random.uniform(0, 50, comes.shape), comes * random.random(comes.shape))
    dew, open_water = random.uniform(0, 2, (days, draws)), random.uniform(0, 9, (days, draws))
    trace = simulate(tank, soil, demand, rain, visits, dew_l_per_m2=dew, open_water_mm=open_water)
    assert_allclose(reservoir_gap_l(trace), 0.0, atol=CLOSES)
    assert_allclose(soil_gap_mm(trace), 0.0, atol=CLOSES)
    totals = add_up(trace)
    brought = totals.start_l + totals.carried_l - totals.spilled_l + totals.caught_l - totals.overflow_l
    assert_allclose(brought, totals.left_over_l + totals.evaporated_l + totals.wick_l, rtol=1e-9)
    assert (trace.storage_l >= 0).all()
    assert (trace.storage_l <= trace.capacity_l).all()
    assert (trace.depletion_mm >= 0).all()
    assert (trace.depletion_mm <= soil.available_mm + CLOSES).all()
    assert (trace.uptake_mm <= trace.demand_mm).all()
    flows = (trace.wick_l, trace.uptake_mm, trace.drained_mm, trace.evaporated_l, trace.overflow_l, trace.spilled_l)
    assert all((flow >= 0).all() for flow in flows)
    assert (trace.soil_rain_mm >= -CLOSES).all()


@given(more=st.floats(0.0, 40.0), seed=st.integers(0, 1000))
def test_a_larger_start_never_leaves_the_crop_less(more: float, seed: int) -> None:
    demand = np.random.default_rng(seed).uniform(0, 8, 20)
    less = run(replace(TANK, start_l=20.0, wick=GENEROUS_WICK), SOIL, demand)
    assert run(replace(TANK, start_l=20.0 + more), SOIL, demand).uptake_mm.sum() >= less.uptake_mm.sum() - CLOSES
