"""A case appraised: gaps with reasons, rates of return, intervals of less water. All cases are invented."""

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.appraise import INTERVAL, PARTS, Appraisal, appraise, appraise_layout, units
from plotworth.choose.inputs import lay_out
from plotworth.field.block_model import NO_ERROR_LEFT
from plotworth.ground.arrays import cell
from plotworth.ground.errors import FaultsError
from trial_case import WATER, trial_case

DEMO = Path(__file__).parent.parent / "data_demo"
Book = Mapping[str, float | str | None]
T_1 = 12.7062047362  # Student's t at 95 %, one degree of freedom
VARIANCE = 40**2 / 8  # of a mean of water drawn: tank less hand differs by 40 l/m2 between the blocks (test_measured)
G = T_1**2 * VARIANCE / 200**2
DRAWN_RATIO_ENDS = [(0.6 + sign * T_1 / 200 * math.sqrt(VARIANCE * (1 + 0.6**2 - G))) / (1 - G) for sign in (-1, 1)]
"""Fieller's interval of 120 l/m2 over 200, independent means of equal variance: their blocks are fixed."""


def gaps(appraisal: Appraisal) -> set[str]:
    return {
        f"{part}/{system}/{name}"
        for part in PARTS
        for system, figures in appraisal.part(part).items()
        for name, value in figures.items()
        if math.isnan(value)
    }


def interval(appraisal: Appraisal) -> tuple[float, float, str]:
    low, high = (appraisal.against_baseline["tank"][name] for name in INTERVAL)
    return low, high, appraisal.why.get("against_baseline/tank/less_water_share_low", "")


def test_every_gap_of_the_demo_has_its_reason() -> None:
    appraisal = appraise(open_case(DEMO))
    saved = {f"against_baseline/{system}/irr" for system in ("reservoir", "hand")}
    assert set(appraisal.why) == gaps(appraisal) | saved
    assert all(check.holds for check in appraisal.checks)


@pytest.mark.parametrize("horizon", [1, 2, 60])
@pytest.mark.parametrize("book", [{}, {"discount_rate": 0.0}, {"yield_kg_per_m2/tank/pepper": 0.0}])
def test_every_gap_has_its_reason_over_short_and_long_horizons(tmp_path: Path, horizon: int, book: Book) -> None:
    case = plain_case(tmp_path, book=book, settings={"horizon_years = 4": f"horizon_years = {horizon}"})
    appraisal = appraise(case)
    assert gaps(appraisal) == set(appraisal.why)
    assert all(check.holds for check in appraisal.checks)


def test_figures_are_plain_numbers_and_flows_run_from_year_0_to_the_horizon(tmp_path: Path) -> None:
    appraisal = appraise(plain_case(tmp_path))
    assert type(appraisal.systems["tank"]["npv"]) is float
    assert_allclose(appraisal.flows["tank"], [-30, 140, 110, 140, 140])
    assert appraisal.part("against_today") is appraisal.against_today


def test_the_reference_is_not_set_against_itself(tmp_path: Path) -> None:
    appraisal = appraise(plain_case(tmp_path))
    assert list(appraisal.systems) == ["tank", "hand"]
    assert list(appraisal.against_baseline) == list(appraisal.against_today) == ["tank"]


def test_a_single_rate_of_return_stands_alone_and_several_are_all_listed(tmp_path: Path) -> None:
    """By hand: -100, 230, -132 has the rates 10 % and 20 %; a stream without change of sign has none."""
    one = appraise(plain_case(tmp_path / "one"))
    assert one.irr_roots["systems/tank"] == (one.systems["tank"]["irr"],)
    assert one.irr_roots["systems/hand"] == ()
    lines = ("tank,,tank,capital,scheme,1,100,2,,", "tank,,rent,yearly,scheme,1,132,,,")
    book = {"yield_kg_per_m2/tank/pepper": 7.24, "second_year_share/tank": 0.0}
    years = {"horizon_years = 4": "horizon_years = 2"}
    two = appraise(plain_case(tmp_path / "two", book=book, costs=lines, settings=years))
    assert_allclose(two.irr_roots["systems/tank"], [0.1, 0.2], rtol=1e-7)
    assert math.isnan(two.systems["tank"]["irr"])


def test_an_unknown_assumption_is_named_with_its_line_where_it_counts(tmp_path: Path) -> None:
    """The commission of the tank: its money waits for it; its water and beds and the hand's money do not."""
    why = appraise(plain_case(tmp_path, book={"commission_share/tank": "unknown"})).why
    sentence = "unknown: commission (assumptions.csv line 6)"
    waiting = {path for path, told in why.items() if told == sentence}
    assert {path.split("/")[1] for path in waiting} == {"tank"}
    names = {path.split("/")[2] for path in waiting if path.startswith("systems")}
    assert names == {
        *("farm_gate_price_per_kg", "sales", "eaten_value", "gross_margin_per_m2", "present_value_benefits", "npv"),
        "gross_margin_per_100",
        *("irr", "mirr", "benefit_cost_ratio", "simple_payback_years", "discounted_payback_years"),
        *("equivalent_annual_value", "cost_per_kg"),
    }
    assert not [told for path, told in why.items() if path not in waiting and "unknown" in told]


def test_an_unknown_rate_takes_nothing_from_what_is_not_discounted(tmp_path: Path) -> None:
    appraisal = appraise(plain_case(tmp_path, book={"discount_rate": "unknown"}))
    assert_allclose(appraisal.systems["tank"]["simple_payback_years"], 30 / 140)
    assert appraisal.why["systems/hand/irr"] == "no rate makes the flows come to nothing"
    assert appraisal.why["systems/tank/discounted_payback_years"].startswith("unknown: discount rate")
    assert math.isfinite(appraisal.systems["tank"]["irr"])


def test_two_unknowns_are_named_together_only_where_both_count(tmp_path: Path) -> None:
    book: Book = {"commission_share/tank": "unknown", "water_applied_l_per_m2": "unknown"}
    why = appraise(plain_case(tmp_path, book=book)).why
    assert why["systems/hand/water_l_per_m2"] == "unknown: water applied (assumptions.csv line 7)"
    assert why["systems/tank/sales"] == "unknown: commission (assumptions.csv line 6)"
    lines = ("tank,,tank,capital,scheme,3,10,2,,", ",,fee,seasonal,m3,1,0.1,,,")
    both = appraise(plain_case(tmp_path / "fee", book=book, costs=lines)).why
    assert both["systems/tank/npv"] == (
        "unknown: commission (assumptions.csv line 6), water applied (assumptions.csv line 7)"
    )
    assert both["systems/hand/npv"] == "unknown: water applied (assumptions.csv line 7)"


def test_a_gap_in_what_is_not_asked_for_does_no_harm(tmp_path: Path) -> None:
    appraisal = appraise(plain_case(tmp_path, book={"evapotranspiration_l_per_m2": "unknown"}))
    assert not [told for told in appraisal.why.values() if "unknown" in told]


def test_the_interval_of_less_water_comes_from_the_plots(tmp_path: Path) -> None:
    """By hand: 120 of 200 l/m2 drawn."""
    low, high, reason = interval(appraise(trial_case(tmp_path)))
    assert_allclose([1 - high, 1 - low], DRAWN_RATIO_ENDS)
    assert reason == ""


def test_a_delivery_share_that_was_typed_stretches_the_interval_with_the_share(tmp_path: Path) -> None:
    """By hand: applied 110 and 200 l/m2 at a delivery of 0.5 and 1: 220 drawn against 200, 1.1 / 0.6 as much."""
    appraisal = appraise(trial_case(tmp_path, book={"delivery_share": 1.0, "delivery_share/tank": 0.5}))
    assert_allclose(appraisal.against_baseline["tank"]["less_water_share"], -0.1)
    low, high, _ = interval(appraisal)
    assert_allclose([1 - high, 1 - low], [end * 1.1 / 0.6 for end in DRAWN_RATIO_ENDS])


@pytest.mark.parametrize(
    ("water", "reason"),
    [
        (WATER.replace(",b\n", ",a\n"), "no finite interval: one meter serves several plots"),
        ("".join(x for x in WATER.splitlines(keepends=True) if "T2" not in x), NO_ERROR_LEFT),
        (WATER.replace("H1,irrigation,800", "H1,irrigation,3200"), "no finite interval"),
    ],
)
def test_an_interval_that_cannot_be_given_says_why(tmp_path: Path, water: str, reason: str) -> None:
    """The last: plots of 800 and 200 l/m2 leave even the sign of the reference's mean open."""
    low, high, told = interval(appraise(trial_case(tmp_path, files={"water.csv": water})))
    assert math.isnan(low)
    assert math.isnan(high)
    assert told.startswith(reason)


def test_without_measured_water_on_both_sides_there_is_no_interval(tmp_path: Path) -> None:
    appraisal = appraise(trial_case(tmp_path, book={"water_applied_l_per_m2/hand": 300.0}))
    assert interval(appraisal)[2] == "no interval: the water of one of the two was not measured by the trial"
    assert math.isfinite(appraisal.against_baseline["tank"]["less_water_share"])


def test_an_interval_of_an_unknown_share_waits_for_the_unknown_too(tmp_path: Path) -> None:
    low, _, reason = interval(appraise(trial_case(tmp_path, book={"delivery_share/tank": "unknown"})))
    assert math.isnan(low)
    assert reason.startswith("unknown: delivery")


@pytest.mark.parametrize("dry", ["T", "H"])
def test_plots_that_drew_no_water_give_no_interval_and_no_crash(tmp_path: Path, dry: str) -> None:
    lines = [
        ",".join([*line.split(",")[:3], "0", line.split(",")[4]]) if f",{dry}" in line else line
        for line in WATER.splitlines(keepends=True)
    ]
    appraisal = appraise(trial_case(tmp_path, files={"water.csv": "".join(lines)}, book={"delivery_share": 1.0}))
    assert np.isnan(interval(appraisal)[:2]).all()
    assert gaps(appraisal) <= set(appraisal.why)


def test_an_appraisal_with_other_values_is_that_of_a_book_with_them(tmp_path: Path) -> None:
    case = plain_case(tmp_path / "one")
    layout = lay_out(case)
    moved = appraise_layout(case, layout, {**layout.values, "discount_rate": cell(0.2), "area_m2": cell(50.0)})
    written = appraise(
        plain_case(tmp_path / "two", book={"discount_rate": 0.2}, settings={"area_m2 = 100.0": "area_m2 = 50.0"})
    )
    assert moved.systems["tank"] == pytest.approx(written.systems["tank"], nan_ok=True)
    assert moved.headline == written.headline


def test_what_is_missing_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FaultsError, match="discount_rate: the assumption is missing"):
        appraise(plain_case(tmp_path, book={"discount_rate": None}))


def test_units_are_in_the_currency_of_the_case() -> None:
    unit = units("XTS")
    assert (unit["npv"], unit["cost_per_kg"], unit["water_l_per_kg"]) == ("XTS", "XTS/kg", "l/kg")
    assert "discount_rate" not in unit
