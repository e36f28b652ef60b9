"""What systems are worth: NPV, levelised cost, and the rules for a system that needs less money first; by hand."""

import math
from collections.abc import Mapping
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from plain_case import plain_case
from plotworth.choose.appraise import Appraisal, appraise

ANNUITY_4 = (1 - 1.1**-4) / 0.1  # of four payments at 10 %
TWO_CROPS = ("tank,dry,pepper,2,5,1", "tank,wet,bean,8,3,1", "hand,dry,pepper,2,5,1")
BEAN: Mapping[str, float | str | None] = {"yield_kg_per_m2/tank/bean": 1.0, "market_price_per_kg/all/bean": 0.5}
DEAR_BASELINE = (
    ",,seed,seasonal,m2,1,0.1,,,",
    "hand,,well,capital,scheme,1,90,9,,",
    "tank,,tank,capital,scheme,3,10,2,,",
)


def appraised(folder: Path, **options: object) -> Appraisal:
    return appraise(plain_case(folder, **options))  # type: ignore[arg-type]


def test_npv_of_the_plain_case_by_hand(tmp_path: Path) -> None:
    """Tank: 150 - 10 a year, 30 in year 0 and again in year 2; hand: 100 - 10 a year."""
    appraisal = appraised(tmp_path)
    assert_allclose(appraisal.systems["tank"]["npv"], 140 * ANNUITY_4 - 30 - 30 / 1.21)
    assert_allclose(appraisal.systems["hand"]["npv"], 90 * ANNUITY_4)
    assert_allclose(appraisal.against_today["tank"]["npv"], 50 * ANNUITY_4 - 30 - 30 / 1.21)


def test_measures_of_the_plain_case_by_hand(tmp_path: Path) -> None:
    tank = appraised(tmp_path).systems["tank"]
    costs = 10 * ANNUITY_4 + 30 + 30 / 1.21
    assert_allclose(tank["present_value_costs"], costs)
    assert_allclose(tank["benefit_cost_ratio"], 150 * ANNUITY_4 / costs)
    assert_allclose(tank["equivalent_annual_value"], tank["npv"] / ANNUITY_4)
    assert_allclose(tank["simple_payback_years"], 30 / 140)
    assert_allclose(tank["discounted_payback_years"], 30 / (140 / 1.1))
    assert_allclose(tank["cost_per_kg"], costs / (300 * ANNUITY_4))


def test_at_a_discount_rate_of_zero_money_is_added_up(tmp_path: Path) -> None:
    tank = appraised(tmp_path, book={"discount_rate": 0.0}).systems["tank"]
    assert_allclose([tank["npv"], tank["equivalent_annual_value"]], [500, 125])
    assert_allclose(tank["simple_payback_years"], tank["discounted_payback_years"])
    assert_allclose(tank["cost_per_kg"], 100 / 1200)


def test_over_a_single_year_all_of_it_counts(tmp_path: Path) -> None:
    """By hand: 30 paid; half a harvest, 75 less 10 for seed; half the life of the tank is left."""
    lines = ("tank,,tank,capital,scheme,3,10,2,,1", ",,seed,seasonal,m2,1,0.1,,,")
    book = {"first_year_share": 0.5, "second_year_share": 0.1}
    appraisal = appraised(tmp_path, book=book, costs=lines, settings={"horizon_years = 4": "horizon_years = 1"})
    assert_allclose(appraisal.flows["tank"], [-30, 65 + 15])
    assert_allclose(appraisal.systems["tank"]["npv"], 80 / 1.1 - 30)


def test_over_two_years_both_may_be_years_of_learning(tmp_path: Path) -> None:
    book = {"first_year_share": 0.5, "second_year_share": 0.8}
    flows = appraised(tmp_path, book=book, settings={"horizon_years = 4": "horizon_years = 2"}).flows
    assert_allclose(flows["hand"], [0, 40, 70])


@pytest.mark.parametrize(
    ("life", "flows"),
    [
        (4, [-30, 140, 140, 140, 140]),  # life equal to the horizon: nothing bought again, nothing left
        (3, [-30, 140, 140, 110, 140 + 20]),  # two of the last three years are left
        (10, [-30, 140, 140, 140, 140 + 18]),  # six of ten years are left
    ],
)
def test_unequal_lives_leave_their_unexpired_share(tmp_path: Path, life: int, flows: list[float]) -> None:
    lines = (f"tank,,tank,capital,scheme,3,10,{life},,1", ",,seed,seasonal,m2,1,0.1,,,")
    assert_allclose(appraised(tmp_path, costs=lines).flows["tank"], flows)


def test_working_capital_is_lent_from_year_0_to_the_last(tmp_path: Path) -> None:
    """By hand: half of 10 for seed."""
    appraisal = appraised(tmp_path, book={"working_capital_share": 0.5})
    assert_allclose(appraisal.flows["hand"], [-5, 90, 90, 90, 95])
    assert_allclose(appraisal.systems["hand"]["npv"], 90 * ANNUITY_4 - 5 + 5 / 1.1**4)


def test_the_modified_rate_is_financed_at_the_discount_rate_until_another_is_stated(tmp_path: Path) -> None:
    """By hand, tank less hand: -30, 50, 20, 50, 50; no later shortfall, so only reinvestment matters."""
    future = 50 * 1.1**3 + 20 * 1.1**2 + 50 * 1.1 + 50
    assert_allclose(appraised(tmp_path / "one").against_today["tank"]["mirr"], (future / 30) ** (1 / 4) - 1)
    stated = appraised(tmp_path / "two", book={"reinvestment_rate": 0.0, "finance_rate": 0.5})
    assert_allclose(stated.against_today["tank"]["mirr"], (170 / 30) ** (1 / 4) - 1)


def test_levelised_cost_of_one_of_two_crops_bears_its_share_by_revenue(tmp_path: Path) -> None:
    """By hand: pepper brings 150 a year and bean 50, so pepper bears three quarters of tank and permit.

    Its own: seed 10 and stakes 4 a year. 300 kg a year.
    """
    lines = (
        "tank,,tank,capital,scheme,3,10,2,,",
        "tank,,permit,yearly,scheme,1,8,,,",
        ",,seed,seasonal,m2,1,0.1,,,",
        ",dry,stakes,seasonal,m2,1,0.04,,,",
    )
    tank = appraised(tmp_path, book=BEAN, seasons=TWO_CROPS, costs=lines).systems["tank"]
    shared = 30 + 30 / 1.21 + 8 * ANNUITY_4
    assert_allclose(tank["cost_per_kg"], (14 * ANNUITY_4 + 0.75 * shared) / (300 * ANNUITY_4))


def test_levelised_cost_takes_off_what_comes_back_and_counts_kilograms_when_they_come(tmp_path: Path) -> None:
    """By hand: life 5 leaves a fifth of 30; working capital of 5 comes back; half a harvest in year 1; all is eaten."""
    lines = ("tank,,tank,capital,scheme,3,10,5,,1", ",,seed,seasonal,m2,1,0.1,,,")
    book = {"working_capital_share": 0.5, "first_year_share": 0.5, "eaten_share": 1.0}
    tank = appraised(tmp_path, book=book, costs=lines).systems["tank"]
    kilograms = 300 * (ANNUITY_4 - 0.5 / 1.1)
    assert_allclose(tank["cost_per_kg"], (35 + 10 * ANNUITY_4 - 11 / 1.1**4) / kilograms)


def test_sold_at_its_levelised_cost_a_system_of_one_crop_is_worth_nothing(tmp_path: Path) -> None:
    cost = appraised(tmp_path / "one").systems["tank"]["cost_per_kg"]
    even = appraised(tmp_path / "two", book={"market_price_per_kg/all/pepper": cost})
    assert_allclose(even.systems["tank"]["npv"], 0, atol=1e-9)


def test_a_cheaper_start_has_no_payback_no_ratio_and_a_rate_of_money_saved(
    tmp_path: Path,
) -> None:
    """By hand, tank less well: 60 saved in year 0, 25 less a year from a smaller harvest, a tank in year 2."""
    book = {"yield_kg_per_m2/tank/pepper": 1.5}
    appraisal = appraised(tmp_path, book=book, costs=DEAR_BASELINE)
    against = appraisal.against_baseline["tank"]
    assert_allclose(appraisal.flows["tank"] - appraisal.flows["hand"], [60, -25, -55, -25, -25])
    for name in ("simple_payback_years", "discounted_payback_years", "benefit_cost_ratio"):
        assert math.isnan(against[name])
        assert appraisal.why[f"against_baseline/tank/{name}"] == (
            "needs less money first than Hand, so there is nothing to pay back"
        )
    rate = against["irr"]
    assert_allclose(sum(f / (1 + rate) ** t for t, f in enumerate([60, -25, -55, -25, -25])), 0, atol=1e-9)
    assert appraisal.why["against_baseline/tank/irr"] == (
        "needs less money first than Hand: this rate is the yearly cost of the money saved, not a return"
    )


def test_npv_decides_where_less_money_is_needed_first(tmp_path: Path) -> None:
    """By hand: the money saved costs more than 10 % a year, so saving it is a loss."""
    appraisal = appraised(tmp_path, book={"yield_kg_per_m2/tank/pepper": 1.5}, costs=DEAR_BASELINE)
    against = appraisal.against_baseline["tank"]
    assert against["irr"] > 0.1
    assert_allclose(against["npv"], 60 - 25 * ANNUITY_4 - 30 / 1.21)
    assert against["npv"] < 0


def test_alone_a_system_that_needs_no_money_first_may_have_a_ratio(tmp_path: Path) -> None:
    """The rule of less money first speaks of differences; by hand 100 a year over 10 a year."""
    assert_allclose(appraised(tmp_path).systems["hand"]["benefit_cost_ratio"], 10)
