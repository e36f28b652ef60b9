"""A season of a system in a full year, worked by hand."""

import pytest
from numpy.testing import assert_allclose

from plotworth.choose.season import EATEN_COUNTED, SeasonYear, grow
from plotworth.choose.structure import SeasonPlan
from plotworth.ground.arrays import cell

NUMBERS = {
    "planted_share": 0.8,
    "plants_per_m2": 3.0,
    "yield_kg_per_m2": 5.0,
    "trial_to_farm_share": 0.9,
    "water_limited_share": 1.0,
    "salt_limited_share": 1.0,
    "cull_share": 0.1,
    "postharvest_loss_share": 0.2,
    "eaten_share": 0.25,
    "market_price_per_kg": 2.0,
    "price_factor": 1.0,
    "second_grade_share": 0.0,
    "second_grade_price_share": 1.0,
    "price_fall_share_per_t": 0.0,
    "packing_cost_per_kg": 0.0,
    "commission_share": 0.1,
    "transport_cost_per_kg": 0.3,
    "water_applied_l_per_m2": 360.0,
    "delivery_share": 0.9,
    "carrying_h_per_m3": 10.0,
}


def grown(share_of_area: float = 0.5, without: str = "", **numbers: float) -> SeasonYear:
    """Return the season on 200 m2, of which 160 are planted and half of these are this crop's: 80 m2."""
    values = {name: cell(value) for name, value in {**NUMBERS, **numbers}.items() if name != without}
    plan = SeasonPlan("dry", "pepper", 2, 5, share_of_area, {name: name for name in values}, {})
    return grow(plan, {**values, "area_m2": cell(200.0)})


def test_ground_plants_and_kilograms_by_hand() -> None:
    """80 m2 at 4.5 kg/m2 on the farm: 360 kg marketable of 400 picked; 72 lost, a quarter of 288 eaten."""
    year = grown()
    assert_allclose([year.planted_m2, year.plants], cell(80.0) * [[[1]], [[3]]])
    chain = year.chain
    amounts = [chain.picked, chain.marketable, chain.lost, chain.eaten, chain.sold]
    assert_allclose([a.item() for a in amounts], [400, 360, 72, 72, 216])


def test_money_by_hand() -> None:
    """At the farm gate 2 x 0.9 - 0.3 = 1.5; 216 kg are sold and 72 eaten."""
    year = grown()
    money = [year.farm_gate_price_per_kg, year.sales, year.eaten_value, year.benefit]
    assert_allclose([m.item() for m in money], [1.5, 324, 108, 432])


def test_water_by_hand() -> None:
    """360 l/m2 applied are 400 drawn: 32 m3 on 80 m2, carried in 320 hours."""
    year = grown()
    assert_allclose([year.water_l_per_m2.item(), year.water_m3.item(), year.carrying_h.item()], [400, 32, 320])
    assert year.water_applied_l_per_m2 == 360


def test_fruits_times_mass_are_a_yield() -> None:
    """By hand: 40 fruits of 125 g are 5 kg."""
    assert_allclose(grown(without="yield_kg_per_m2", fruits_per_m2=40, fruit_mass_g=125).yield_kg_per_m2, 5.0)


def test_the_yield_shown_is_the_trials_and_the_kilograms_are_the_farms() -> None:
    year = grown(trial_to_farm_share=0.5)
    assert year.yield_kg_per_m2 == 5
    assert_allclose(year.chain.marketable, 200)


def test_what_it_costs_to_bring_to_market_can_be_more_than_it_brings() -> None:
    """By hand: 0.2 x 0.9 - 0.3 = -0.12 a kilogram."""
    assert_allclose(grown(market_price_per_kg=0.2).sales, -0.12 * 216)


@pytest.mark.parametrize(
    "name", ["yield_kg_per_m2", "trial_to_farm_share", "water_limited_share", "salt_limited_share"]
)
def test_no_yield_is_no_kilograms_and_water_all_the_same(name: str) -> None:
    year = grown(**{name: 0.0})
    assert year.chain.picked == year.benefit == 0
    assert_allclose(year.water_m3, 32)


def test_no_water_is_nothing_drawn_and_nothing_carried() -> None:
    year = grown(water_applied_l_per_m2=0.0)
    assert year.water_l_per_m2 == year.water_m3 == year.carrying_h == 0


def test_two_halves_of_the_ground_are_the_whole() -> None:
    half, whole = grown(0.5), grown(1.0)
    assert_allclose(2 * half.chain.sold, whole.chain.sold)
    assert_allclose(2 * half.water_m3, whole.water_m3)
    assert_allclose(half.water_l_per_m2, whole.water_l_per_m2)


def test_grade_month_volume_and_packing_make_the_price() -> None:
    """By hand: 2 x 1.2 x (1 - 0.25 x 0.4) x (1 - 0.1 x 0.216) = 2.113344; x 0.9 - 0.3 - 0.05 = 1.5520096."""
    year = grown(
        price_factor=1.2,
        second_grade_share=0.25,
        second_grade_price_share=0.6,
        price_fall_share_per_t=0.1,
        packing_cost_per_kg=0.05,
    )
    assert_allclose(year.farm_gate_price_per_kg, 1.5520096, rtol=1e-12)


def test_a_price_falls_to_nothing_and_not_below() -> None:
    """216 kg sold at a fall of ten times the price a tonne: 1 - 10 x 0.216 is below 0."""
    assert_allclose(grown(price_fall_share_per_t=10.0).farm_gate_price_per_kg, -0.3)


def test_the_cash_view_leaves_out_what_is_eaten() -> None:
    values = {name: cell(value) for name, value in NUMBERS.items()}
    plan = SeasonPlan("dry", "pepper", 2, 5, 0.5, {name: name for name in values}, {})
    cash = grow(plan, {**values, "area_m2": cell(200.0), EATEN_COUNTED: cell(0.0)})
    assert_allclose(cash.benefit, cash.sales)
    assert cash.eaten_value > 0


def test_the_economic_view_multiplies_the_farm_gate_price() -> None:
    values = {name: cell(value) for name, value in NUMBERS.items()}
    plan = SeasonPlan("dry", "pepper", 2, 5, 0.5, {name: name for name in values}, {})
    economic = grow(plan, {**values, "area_m2": cell(200.0), plan.value_factor: cell(1.2)})
    assert_allclose(economic.farm_gate_price_per_kg, 1.5 * 1.2)
