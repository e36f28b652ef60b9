"""Why an outcome has no value: one true sentence for each gap. All cases are invented."""

import math
from collections.abc import Mapping
from pathlib import Path

import pytest

from plain_case import plain_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.input import Input
from plotworth.choose.inputs import lay_out
from plotworth.choose.reasons import unknown_sentence

Book = Mapping[str, float | str | None]
OTHER_CROP = ("tank,dry,pepper,2,5,1", "hand,dry,bean,2,5,1")
NO_PEPPER: Book = {
    "yield_kg_per_m2/hand/pepper": None,
    "yield_kg_per_m2/hand/bean": 1.0,
    "market_price_per_kg/all/bean": 0.5,
    "water_applied_l_per_m2": 100.0,
}
NO_TANK = (",,seed,seasonal,m2,1,0.1,,,",)
NOTHING_PAID = ("tank,,tank,capital,scheme,3,10,2,,",)
UNREPAID = "the added-up flow does not stay above zero within the horizon"


def why(folder: Path, **options: object) -> Mapping[str, str]:
    return appraised(folder, **options).why


def appraised(folder: Path, **options: object) -> Appraisal:
    return appraise(plain_case(folder, **options))  # type: ignore[arg-type]


def test_without_water_there_are_no_ratios_of_water(tmp_path: Path) -> None:
    told = why(tmp_path)
    assert told["systems/tank/irrigation_productivity_kg_per_m3"] == "no water was applied"
    assert told["against_today/tank/less_water_share"] == "no water is drawn by the system it is set against"


def test_without_a_harvest_there_is_no_cost_of_a_kilogram(tmp_path: Path) -> None:
    told = why(tmp_path, book={"yield_kg_per_m2/tank/pepper": 0.0})
    for name in ("water_l_per_kg", "cost_per_kg"):
        assert told[f"systems/tank/{name}"] == "no pepper that is worth anything is harvested"
    assert told["systems/tank/simple_payback_years"] == UNREPAID
    assert told["systems/tank/irr"] == "no rate makes the flows come to nothing"


def test_a_system_that_does_not_grow_the_main_crop_says_so(tmp_path: Path) -> None:
    settings = {'baseline = "hand"': 'baseline = "hand"\nmain_crop = "pepper"'}
    told = why(tmp_path, book=NO_PEPPER, seasons=OTHER_CROP, settings=settings)
    for name in ("yield_kg_per_m2", "sold_kg", "farm_gate_price_per_kg", "cost_per_kg"):
        assert told[f"systems/hand/{name}"] == "the system does not grow pepper"


@pytest.mark.parametrize("name", ["yield_kg_per_m2", "sold_kg", "less_water_share", "less_water_share_low"])
def test_a_reference_that_does_not_grow_the_main_crop_says_so(tmp_path: Path, name: str) -> None:
    settings = {'baseline = "hand"': 'baseline = "hand"\nmain_crop = "pepper"'}
    told = why(tmp_path, book=NO_PEPPER, seasons=OTHER_CROP, settings=settings)
    assert told[f"against_baseline/tank/{name}"] == "the system it is set against does not grow pepper"


def test_where_nothing_is_paid_there_is_no_ratio(tmp_path: Path) -> None:
    told = why(tmp_path, costs=NOTHING_PAID)
    assert told["systems/hand/benefit_cost_ratio"] == "nothing is paid, so a ratio says nothing"
    assert told["systems/hand/mirr"].startswith("the flows have one sign only")
    assert told["systems/hand/discounted_payback_years"] == (
        "needs no more money first, so there is nothing to pay back"
    )


def test_where_costs_are_no_higher_than_those_of_the_reference_there_is_no_ratio(tmp_path: Path) -> None:
    told = why(tmp_path, costs=NO_TANK)
    assert told["against_today/tank/benefit_cost_ratio"] == (
        "its costs are not above those it is set against, so a ratio says nothing"
    )


def test_repaid_but_not_at_the_discount_rate_is_told_of_the_discounted_payback_alone(tmp_path: Path) -> None:
    """By hand: 260 paid, 70 a year gained over four years: 280 in all, 222 discounted."""
    lines = ("tank,,tank,capital,scheme,1,260,4,,", *NO_TANK)
    told = why(tmp_path, book={"yield_kg_per_m2/tank/pepper": 1.6}, costs=lines)
    assert "systems/tank/simple_payback_years" not in told
    assert told["systems/tank/discounted_payback_years"] == UNREPAID.replace("flow", "discounted flow")


def test_several_rates_of_return_are_counted(tmp_path: Path) -> None:
    """By hand: 100 paid, 362 - 132 = 230 in year 1, no harvest and 132 paid in year 2: rates of 10 % and 20 %."""
    lines = ("tank,,tank,capital,scheme,1,100,2,,", "tank,,rent,yearly,scheme,1,132,,,")
    book = {"yield_kg_per_m2/tank/pepper": 7.24, "second_year_share/tank": 0.0}
    appraisal = appraised(tmp_path, book=book, costs=lines, settings={"horizon_years = 4": "horizon_years = 2"})
    assert appraisal.flows["tank"] == pytest.approx([-100, 230, -132])
    assert appraisal.irr_roots["systems/tank"] == pytest.approx((0.1, 0.2))
    assert appraisal.why["systems/tank/irr"] == (
        "2 rates make the flows come to nothing (see irr_roots), so none of them is the return"
    )


def test_every_gap_has_a_sentence_and_every_sentence_a_gap_or_a_rate_of_money_saved(tmp_path: Path) -> None:
    appraisal = appraised(tmp_path, book={"commission_share/tank": "unknown"})
    gaps = {
        f"{part}/{system}/{name}"
        for part in ("systems", "against_baseline", "against_today")
        for system, figures in appraisal.part(part).items()
        for name, value in figures.items()
        if math.isnan(value)
    }
    assert set(appraisal.why) == gaps
    assert all(appraisal.why.values())


def test_unknown_assumptions_are_named_with_their_lines(tmp_path: Path) -> None:
    book: Book = {"commission_share": "unknown", "cull_share/tank": "unknown"}
    inputs: Mapping[str, Input] = lay_out(plain_case(tmp_path, book=book)).inputs
    assert unknown_sentence([inputs["commission_share"], inputs["cull_share/tank"]]) == (
        "unknown: commission (assumptions.csv line 6), culls (assumptions.csv line 7)"
    )
