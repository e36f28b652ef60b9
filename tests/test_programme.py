"""A programme: the curve of adoption, drop-outs, what is paid out and what comes of it, with the arithmetic beside."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from independent_cases import plain_demo
from plotworth.case.folder import open_case
from plotworth.case.programme import Programme
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.evaluate import flows_by_year
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.programme import adopted_share, joining, programme_years, staying_share
from plotworth.choose.programme_table import adoption_rows, programme_notes, programme_tables
from small_case import FILES, faults, write_case

PLAIN = {
    "assumptions.csv": FILES["assumptions.csv"].replace("trial,,,", "3,2,4,")
    + "water_applied_l_per_m2,tank,,,20,,,l/m2,invented,,D\nwater_applied_l_per_m2,hand,,,50,,,l/m2,invented,,D\n",
    "plots.csv": None,
    "harvests.csv": None,
}
TEXT = """\
[programme]
system = "tank"
households = 1000
years = 3
adoption_ceiling_share = 0.5
midpoint_year = 2.0
years_from_10_to_90_percent = 2.0
"""
COSTS = """\
drop_out_share_per_year = 0.1
cost_per_household = 20.0
fixed_cost_per_year = 700.0
follow_up_years = 2
follow_up_cost_per_household_year = 5.0
grant_per_household = 12.0
"""
CURVE = Programme("tank", 1000, 8, 0.6, 5.0, 6.0)
reals = st.floats(0.5, 30.0)


@pytest.fixture(scope="module")
def demo_layout() -> Layout:
    return lay_out(open_case(plain_demo()))


def with_programme(folder: Path, text: str = TEXT + COSTS, **files: str) -> Appraisal:
    return appraise(open_case(write_case(folder, {**PLAIN, "case.toml": FILES["case.toml"] + text, **files})))


def test_the_curve_is_half_at_its_midpoint_and_a_tenth_and_nine_tenths_its_years_apart() -> None:
    shares = adopted_share(CURVE, np.array([2.0, 5.0, 8.0]))
    assert_allclose(shares / 0.6, [0.1, 0.5, 0.9], rtol=1e-12)


@settings(max_examples=100, deadline=None)
@given(midpoint=st.floats(-10, 40), speed=reals, ceiling=st.floats(0, 1), years=st.integers(1, 40))
def test_joiners_are_never_negative_and_add_up_to_the_curve(
    midpoint: float, speed: float, ceiling: float, years: int
) -> None:
    programme = replace(
        CURVE,
        midpoint_year=midpoint,
        years_from_10_to_90_percent=speed,
        adoption_ceiling_share=ceiling,
        years=years,
    )
    joined = joining(programme)
    assert (joined >= 0).all()
    assert_allclose(joined.sum(), 1000 * adopted_share(programme, np.array(float(years))), rtol=1e-12, atol=1e-9)
    assert joined.sum() <= 1000 * ceiling * (1 + 1e-12)


def test_those_who_stay_fall_by_a_tenth_a_year_after_their_first() -> None:
    assert_allclose(staying_share(replace(CURVE, drop_out_share_per_year=0.1), 3), [1, 1, 0.9, 0.81])


def test_a_programme_by_hand(tmp_path: Path) -> None:
    """Curve: k = 2 ln 9 / 2 = ln 9, so by year 1, 2, 3: 500/(1 + 9), 500/2, 500/(1 + 1/9): 50, 250, 450 households.

    Tank less hand: 300 against 200 kg at 0.5, 50 a year; 30 in year 0 and again in year 2: -30, 50, 20, 50, 50. With
    those who stay, 1, 1, 0.9, 0.81, 0.729: -30, 50, 18, 40.5, 36.45. Water: 3 m3 a year less; 100 kg more.
    """
    years = programme_years(*_laid(with_programme(tmp_path)))
    assert years is not None
    assert_allclose(years.joining, [50, 200, 200, 0, 0, 0, 0], atol=1e-9)
    own = np.array([-30, 50, 18, 40.5, 36.45])
    flows = [50 * own[0], 50 * own[1] + 200 * own[0], 50 * own[2] + 200 * own[1] + 200 * own[0]]
    assert_allclose(years.household_flows[:3], flows, rtol=1e-12)
    assert_allclose(years.taking_part[:4], [0, 50, 45 + 200, 40.5 + 180 + 200], rtol=1e-12)
    # joining 20 each; 700 at the end of years 1 to 3; follow-up 5 in own year 1, 5 x 0.9 = 4.5 in own year 2
    costs = [1000, 4000 + 700 + 250, 4000 + 700 + 225 + 1000, 700 + 900 + 1000, 900, 0, 0]
    assert_allclose(years.costs, costs, rtol=1e-12, atol=1e-9)
    assert_allclose(years.paid_out - years.costs, [600, 2400, 2400, 0, 0, 0, 0], rtol=1e-12, atol=1e-9)
    assert_allclose(years.less_water_m3, 3 * years.taking_part, rtol=1e-12)
    assert_allclose(years.more_kg, 100 * years.taking_part, rtol=1e-12)
    assert_allclose(years.households, 450)
    assert_allclose(years.paid_out_per_household, (sum(costs) + 5400) / 450, rtol=1e-12)


def _laid(appraisal: Appraisal):
    return appraisal.layout, appraisal.values


def test_kilograms_more_follow_the_years_of_learning(tmp_path: Path) -> None:
    """The tank brings half in its first year: 150 kg against 200, then 300 against 200 for those who stay, 0.9."""
    book = f"{PLAIN['assumptions.csv']}first_year_share,tank,,,0.5,,,share,invented,,D\n"
    years = programme_years(*_laid(with_programme(tmp_path, **{"assumptions.csv": book})))
    assert years is not None
    assert_allclose(years.more_kg[:3], [0, 50 * -50, 50 * 90 + 200 * -50], rtol=1e-12, atol=1e-9)


def test_the_npv_is_that_of_one_household_times_the_discounted_joiners_less_costs(tmp_path: Path) -> None:
    """Another route: one household's own worth, discounted to when each cohort joins; rate 10 %."""
    years = programme_years(*_laid(with_programme(tmp_path)))
    assert years is not None
    v = 1.1 ** -np.arange(7)
    one = float(np.array([-30, 50, 18, 40.5, 36.45]) @ v[:5])
    assert_allclose(years.npv, one * (np.array([50, 200, 200]) @ v[:3]) - years.costs @ v, rtol=1e-12)
    assert_allclose(years.paid_out_per_m3, (years.paid_out @ v) / (3 * years.taking_part @ v), rtol=1e-12)
    assert_allclose(years.paid_out_per_t, (years.paid_out @ v) / (0.1 * years.taking_part @ v), rtol=1e-12)


def test_with_everybody_at_once_and_no_cost_a_programme_is_the_case_many_times(tmp_path: Path) -> None:
    """A midpoint long before the start: all join in year 1, so the NPV is households x the case's gain on today."""
    text = TEXT.replace("midpoint_year = 2.0", "midpoint_year = -50.0").replace("share = 0.5", "share = 1.0")
    appraisal = with_programme(tmp_path, text)
    years = programme_years(*_laid(appraisal))
    assert years is not None
    assert_allclose(years.npv, 1000 * appraisal.against_today["tank"]["npv"], rtol=1e-9)


def test_money_is_taken_in_the_economic_view_and_grants_cost_the_economy_nothing(tmp_path: Path) -> None:
    rate = "economic_discount_rate,,,,0.03,,,share/year,invented,,D\n"
    book = f"{PLAIN['assumptions.csv']}{rate}"
    appraisal = with_programme(tmp_path, **{"assumptions.csv": book})
    years = programme_years(*_laid(appraisal))
    assert years is not None
    assert_allclose(years.factors[1], 1 / 1.03, rtol=1e-12)
    without = with_programme(
        tmp_path / "b", (TEXT + COSTS).replace("household = 12.0", "household = 0.0"), **{"assumptions.csv": book}
    )
    other = programme_years(*_laid(without))
    assert other is not None
    assert_allclose(years.npv, other.npv, rtol=1e-12)
    assert years.paid_out.sum() > other.paid_out.sum()


def test_a_system_that_takes_more_water_has_no_sum_per_m3_and_says_so(tmp_path: Path) -> None:
    appraisal = with_programme(
        tmp_path, **{"assumptions.csv": PLAIN["assumptions.csv"].replace(",20,,,l/m2", ",80,,,l/m2")}
    )
    years = programme_years(*_laid(appraisal))
    assert years is not None
    assert math.isnan(years.paid_out_per_m3)
    assert any("no less water is drawn" in note for note in programme_notes(appraisal))


def test_tables_and_rows_follow_the_years(tmp_path: Path) -> None:
    """Paid out in year 0: 50 households at 20 + 12; in the last year with any, year 4: follow-up 200 x 4.5 = 900."""
    appraisal = with_programme(tmp_path)
    sums, by_year = programme_tables(appraisal)
    assert sums.rows[0].cells == ("450",)
    assert [row.label for row in by_year.rows] == [f"Year {t}" for t in range(5)]
    assert by_year.rows[0].cells[2].replace("\u202f", " ") == "1 600"
    rows = adoption_rows(appraisal)
    assert [round(row["joined"]) for row in rows[:5]] == [0, 50, 250, 450, 450]
    assert len(rows) == 3 + 4
    assert any("does not earn back" in note or "earns back" in note for note in programme_notes(appraisal))


def test_a_case_without_a_programme_has_none(tmp_path: Path) -> None:
    appraisal = with_programme(tmp_path, "")
    assert programme_years(*_laid(appraisal)) is None
    assert (programme_tables(appraisal), programme_notes(appraisal), adoption_rows(appraisal)) == ([], [], [])


def test_an_unknown_price_is_said_and_shown_as_a_dash(tmp_path: Path) -> None:
    book = PLAIN["assumptions.csv"].replace(",0.5,0.25,1,", ",unknown,,,")
    appraisal = with_programme(tmp_path, **{"assumptions.csv": book})
    assert "cannot be said" in programme_notes(appraisal)[0]
    assert programme_tables(appraisal)[0].rows[1].cells == ("–",)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('system = "tank"', 'system = "tonk"', "found 'tonk'; the case has no such system; write one of tank, hand."),
        (
            'system = "tank"',
            'system = "hand"',
            "found 'hand'; a programme brings a system that is not present practice already; "
            "name another system, or set today to present practice.",
        ),
        ("share = 0.5", "share = 50", "found '50'; must lie between 0 and 1; correct the number or its unit."),
        ("households = 1000", "households = 10.5", "found '10.5'; of another kind; write a whole number."),
        ("years = 3\n", "", "the setting is missing; write years = a whole number."),
        ("midpoint_year", "midpoint_years", "found '2.0'; no such setting; did you mean midpoint_year."),
    ],
)
def test_a_programme_that_cannot_be_meant_is_refused(tmp_path: Path, old: str, new: str, expected: str) -> None:
    assert old in TEXT
    text = FILES["case.toml"] + TEXT.replace(old, new)
    found = faults(tmp_path, {**PLAIN, "case.toml": text})
    assert any(fault.endswith(expected) and fault.startswith("case.toml line") for fault in found), found


def test_years_of_follow_up_and_their_cost_stand_together(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, {**PLAIN, "case.toml": FILES["case.toml"] + TEXT + "follow_up_years = 2\n"})
    assert "follow_up_years and follow_up_cost_per_household_year stand together; write both, or neither." in fault


@settings(max_examples=40, deadline=None)
@given(
    years=st.integers(1, 25),
    midpoint=st.floats(-5, 20),
    speed=reals,
    drop_out=st.floats(0, 0.9),
    money=st.lists(st.floats(0, 500), min_size=3, max_size=3),
)
def test_whatever_is_stated_the_npv_is_one_household_s_worth_times_the_discounted_joiners(
    demo_layout: Layout, years: int, midpoint: float, speed: float, drop_out: float, money: list[float]
) -> None:
    """NPV = (sum_j staying_j flow_j v^j) x (sum_c joining_c v^(c-1)) - PV costs; nobody is lost between cohorts."""
    programme = Programme("drip", 400, years, 0.7, midpoint, speed, drop_out, money[0], money[1], 2, money[2])
    layout = replace(
        demo_layout,
        case=replace(demo_layout.case, settings=replace(demo_layout.case.settings, programme=programme)),
    )
    found = programme_years(layout, layout.values)
    assert found is not None
    streams = flows_by_year(layout.structure, layout.values, expected_shocks(layout.structure, layout.values))
    flow = (streams["drip"] - streams["hand"])[:, 0, 0]
    horizon = len(flow) - 1
    v = 1.12 ** -np.arange(years + horizon)
    staying = staying_share(programme, horizon)
    joined = joining(programme)
    one, cohorts = float((flow * staying) @ v[: horizon + 1]), float(joined @ v[:years])
    training = money[0] * cohorts + money[1] * v[1 : years + 1].sum()
    followed = money[2] * float((staying[1:3] * v[1:3]).sum()) * cohorts
    assert_allclose(found.npv, one * cohorts - training - followed, rtol=1e-9, atol=1e-6)
    assert_allclose(found.taking_part.sum(), joined.sum() * staying[1:].sum(), rtol=1e-9)
