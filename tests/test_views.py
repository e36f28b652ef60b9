"""The three views are sets of prices: they decompose into one another, and with nothing stated they are one.

Expected values are arithmetic written beside the test, or the composition's own parts added up another way.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from independent_cases import assume, copy_plain_demo, plain_demo
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.evaluate import evaluate, run_systems
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.views import CASH, ECONOMIC, FULL, VIEWS, in_view, see, three_views, three_wages
from plotworth.choose.views_table import NO_FACTORS, views_notes, views_table, wage_table
from plotworth.ground.arrays import Array, cell
from plotworth.money.measures import discount_factors
from small_case import FILES, changed, faults, write_case
from test_evaluate import drawn

many = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
FACTORS = {
    "economic_family_wage_factor": 0.6,
    "economic_hired_wage_factor": 0.9,
    "economic_price_factor": 1.15,
    "water_scarcity_value_per_m3": 0.2,
}
NEUTRAL = dict.fromkeys(FACTORS, cell(1.0)) | {"water_scarcity_value_per_m3": cell(0.0)}
PLAIN = {
    "assumptions.csv": FILES["assumptions.csv"].replace("trial,,,", "3,2,4,"),
    "plots.csv": None,
    "harvests.csv": None,
}


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(plain_demo()))


def npv(layout: Layout, values: Mapping[str, Array]) -> dict[str, float]:
    outcome = evaluate(layout.structure, values, expected_shocks(layout.structure, values))
    return {name: float(own["npv"][0, 0]) for name, own in outcome.systems.items()}


def with_line_factors(layout: Layout, factors: Mapping[str, float]) -> Layout:
    """Return the layout with economic factors on the cost lines of these items."""
    costs = tuple(replace(line, economic_factor=factors.get(line.item, 1.0)) for line in layout.case.costs)
    return replace(layout, case=replace(layout.case, costs=costs))


@many
@given(seed=st.integers(0, 10_000))
def test_with_all_factors_at_one_the_economic_view_is_the_full_one_to_the_last_digit(demo: Layout, seed: int) -> None:
    values = drawn(demo, seed) | NEUTRAL
    full, economic = (see(demo, in_view(demo, values, view), view) for view in (FULL, ECONOMIC))
    assert economic.is_as(full)
    assert in_view(demo, values, FULL) == values


@many
@given(seed=st.integers(0, 10_000))
def test_full_less_cash_is_what_is_eaten_less_what_the_family_works_and_has_lying_in_its_wages(
    demo: Layout, seed: int
) -> None:
    """NPV full - NPV cash = PV eaten value - PV family wages - s W (1 - v^T), W the steady wages of a full year."""
    values = drawn(demo, seed)
    shocks = expected_shocks(demo.structure, values)
    v = discount_factors(values["discount_rate"], demo.structure.horizon_years)
    full, cash = npv(demo, values), npv(demo, in_view(demo, values, CASH))
    for name, system in run_systems(demo.structure, values, shocks).items():
        harvest = [(weight * v[1:]).sum(axis=0) for weight in system.weights]
        eaten = sum(f * s.eaten_value for f, s in zip(harvest, system.seasons, strict=True))
        wage = values[system.plan.addresses["family_wage_per_hour"]]
        steady = sum(hours.family for hours in system.work.steady) * wage
        picking = sum(f * hours.family * wage for f, hours in zip(harvest, system.work.harvest, strict=True))
        lying = values[system.plan.addresses["working_capital_share"]] * steady * (1.0 - v[-1])
        expected = float((eaten - steady * v[1:].sum(axis=0) - picking - lying)[0, 0])
        assert_allclose(full[name] - cash[name], expected, rtol=1e-9, atol=1e-7)


@many
@given(seed=st.integers(0, 10_000))
def test_the_economic_view_is_the_sum_of_its_parts(demo: Layout, seed: int) -> None:
    """NPV is linear in every price, so that each factor alone adds up to all of them together."""
    values = drawn(demo, seed) | NEUTRAL
    lines = {"borehole metres": 0.8, "tank with lid": 1.1, "tap fee": 0.0}
    plain = npv(demo, values)
    parts = [(with_line_factors(demo, {item: factor}), values) for item, factor in lines.items()]
    parts += [(demo, {**values, name: cell(value)}) for name, value in FACTORS.items()]
    alone = [npv(one, in_view(one, own, ECONOMIC)) for one, own in parts]
    all_lines = with_line_factors(demo, lines)
    whole = npv(all_lines, in_view(all_lines, values | {n: cell(f) for n, f in FACTORS.items()}, ECONOMIC))
    for name in plain:
        added = sum(one[name] - plain[name] for one in alone)
        assert_allclose(whole[name] - plain[name], added, rtol=1e-9, atol=1e-7)


def test_a_view_holds_for_sites_and_draws_as_for_one_number(demo: Layout) -> None:
    values = drawn(demo, 3, (2, 3))
    for view in VIEWS:
        outcome = evaluate(
            demo.structure, in_view(demo, values, view), expected_shocks(demo.structure, in_view(demo, values, view))
        )
        one = {address: array[1:2, 2:3] if array.size > 1 else array for address, array in values.items()}
        single = npv(demo, in_view(demo, one, view))
        for name, figures in outcome.systems.items():
            assert_allclose(figures["npv"][1, 2], single[name], rtol=1e-12, atol=1e-9)


def test_a_line_of_factor_nothing_is_a_transfer_and_falls_out(tmp_path) -> None:
    """Seed at 0.1 on 100 m2 is 10 a year; over four years at 10 % that is 10 x 3.1698654 = 31.698654 less cost."""
    costs = FILES["costs.csv"].replace("source,grade", "source,grade,economic_factor").replace(
        "invented,D\n,,seed,seasonal,m2,1,0.1,,invented,D", "invented,D,\n,,seed,seasonal,m2,1,0.1,,invented,D,0"
    )  # fmt: skip
    appraisal = appraise(open_case(write_case(tmp_path, {**PLAIN, "costs.csv": costs})))
    seen = {one.view: one for one in three_views(appraisal.layout, appraisal.values)}
    gain = seen[ECONOMIC].figures["systems"]["hand"]["npv"] - seen[FULL].figures["systems"]["hand"]["npv"]
    assert_allclose(gain, 10 * (1 - 1.1**-4) / 0.1, rtol=1e-12)


def test_the_economic_view_by_hand(tmp_path) -> None:
    """Hand: 200 kg at 0.5 x 1.2 = 120 a year, 2 m3 drawn at 3 = 6, seed 10: 104 a year, four years at 5 %.

    Annuity factor (1 - 1.05^-4)/0.05 = 3.5459505. Water: 20 l on each of 100 m2.
    """
    book = PLAIN["assumptions.csv"] + (
        "water_applied_l_per_m2,hand,,,20,,,l/m2,invented,,D\n"
        "economic_price_factor,hand,,,1.2,,,1,invented,,D\n"
        "water_scarcity_value_per_m3,,,,3,,,XTS/m3,invented,,D\n"
        "economic_discount_rate,,,,0.05,,,share/year,invented,,D\n"
    )
    appraisal = appraise(open_case(write_case(tmp_path, {**PLAIN, "assumptions.csv": book})))
    seen = {one.view: one for one in three_views(appraisal.layout, appraisal.values)}
    assert_allclose(seen[ECONOMIC].figures["systems"]["hand"]["npv"], 104 * 3.5459505, rtol=1e-7)
    assert_allclose(seen[FULL].figures["systems"]["hand"]["npv"], 90 * (1 - 1.1**-4) / 0.1, rtol=1e-12)
    # the tank has no row of its own, so that its price stays: 300 x 0.5 - 10 less 30 in year 0 and 2
    tank = 140 * 3.5459505 - 30 - 30 / 1.05**2
    assert_allclose(seen[ECONOMIC].figures["systems"]["tank"]["npv"], tank, rtol=1e-7)


def test_hours_of_a_cost_line_follow_the_economic_wage(demo: Layout) -> None:
    """Mending paths, 8 hired hours a year, stands in every system: half the wage saves half its cost and no more."""
    line = next(one for one in demo.case.costs if one.item == "mending paths and drains")
    idle = {at: cell(0.0) for at in demo.inputs if at.startswith("labour/") and "/hours" in at}
    values = {**demo.values, **idle, f"{line.address}/quantity": cell(8.0)}
    values |= {
        at: cell(0.0) for at in demo.inputs if at.startswith("carrying_h_per_m3") or at == "working_capital_share"
    }
    structure = replace(demo.structure, computed=())
    layout = replace(demo, structure=structure)
    economic = npv(layout, in_view(layout, {**values, "economic_hired_wage_factor": cell(0.5)}, ECONOMIC))
    years = float(discount_factors(values["discount_rate"], 10)[1:].sum())
    for name, full in npv(layout, values).items():
        assert_allclose(economic[name] - full, 8 * 0.35 * 0.5 * years, rtol=1e-9)


def test_wage_views_run_from_nothing_over_the_off_season_to_the_full_wage(tmp_path) -> None:
    case = copy_plain_demo(tmp_path)
    assume(case, "off_season_wage_share", "0.4", "share")
    layout = lay_out(open_case(case))
    zero, off, full = three_wages(layout, layout.values)
    for name in full.figures["systems"]:
        worth = [one.figures["systems"][name]["npv"] for one in (zero, off, full)]
        assert_allclose(worth[1], worth[0] + 0.4 * (worth[2] - worth[0]), rtol=1e-12)
    assert full.figures["systems"]["hand"]["npv"] == npv(layout, layout.values)["hand"]


def test_without_a_stated_share_there_are_two_wage_views(demo: Layout) -> None:
    assert [one.view for one in three_wages(demo, demo.values)] == ["zero", "full"]


def test_the_demo_says_which_view_changes_the_order() -> None:
    """The cash view's order: NPVs -121, -2479 and -4065 by this library before the sentence was written."""
    notes = views_notes(appraise(open_case(plain_demo())))
    assert any("the cash view has Hand watering, Wick-fed tank, Well and drip." in note for note in notes)
    assert NO_FACTORS in notes
    assert any(note.startswith("No system brings a day of family work more than its wage") for note in notes)


def test_tables_hold_a_row_for_each_measure_and_view() -> None:
    appraisal = appraise(open_case(plain_demo()))
    table, wages = views_table(appraisal), wage_table(appraisal)
    assert [row.label for row in table.rows][:3] == ["NPV: cash", "NPV: full", "NPV: economic"]
    assert len(table.rows) == 18
    assert wages.rows[-1].cells == ("2.4", "2.4", "2.4")  # 0.3 an hour over 8 hours
    assert all(len(row.cells) == len(table.systems) for row in (*table.rows, *wages.rows))


def test_a_gain_that_is_a_loss_in_another_view_is_told(tmp_path) -> None:
    """The tank costs 30 twice for 50 more a year; carrying 200 h at 1 makes it lose in the full view alone."""
    plan = "system,season,task,month,hours_per_m2,hours,family_share,harvest\ntank,dry,filling,3,,200,1,no\n"
    book = PLAIN["assumptions.csv"] + (
        "family_wage_per_hour,,,,1,,,XTS/hour,invented,,D\nhired_wage_per_hour,,,,1,,,XTS/hour,invented,,D\n"
    )
    files = {**PLAIN, "assumptions.csv": book, "labour_plan.csv": plan}
    notes = views_notes(appraise(open_case(write_case(tmp_path, files))))
    assert any(note.startswith("Tank gains against present practice in one view and not in another") for note in notes)
    text = changed("case.toml", 'today = "hand"', 'today = "tank"')
    assert not any(
        "Tank gains" in note for note in views_notes(appraise(open_case(write_case(tmp_path, files | text))))
    )


def test_an_unknown_leaves_the_order_unsaid(tmp_path) -> None:
    book = PLAIN["assumptions.csv"].replace(",0.5,0.25,1,", ",unknown,,,")
    notes = views_notes(appraise(open_case(write_case(tmp_path, {**PLAIN, "assumptions.csv": book}))))
    assert any("cannot be said" in note for note in notes)
    assert not any("nan" in note for note in notes)


def test_sums_of_views_stay_finite_where_those_of_the_full_view_are(demo: Layout) -> None:
    for seen in three_views(demo, demo.values):
        assert all(np.isfinite(own["npv"]) for own in seen.figures["systems"].values())


def test_a_line_counted_in_hours_has_no_factor_of_its_own(tmp_path) -> None:
    costs = FILES["costs.csv"].replace("source,grade", "economic_factor,source,grade")
    costs = costs.replace("2,invented", "2,,invented").replace("0.1,,invented", "0.1,,,invented")
    hours = ",,mending,yearly,hour,3,,,0.5,invented,D\n"
    (fault,) = faults(tmp_path, {"costs.csv": costs + hours})
    assert fault == (
        "costs.csv line 4, mending: found '0.5'; hours follow economic_hired_wage_factor of the book; "
        "leave economic_factor blank."
    )


def test_a_wage_that_brings_more_than_itself_is_told(tmp_path) -> None:
    """Hand: 200 kg at 0.5 less seed 10 is 90 a year for 40 family hours, 5 days of 8: 18 a day, above 8 x 1."""
    plan = "system,season,task,month,hours_per_m2,hours,family_share,harvest\nhand,dry,watering,3,,40,1,no\n"
    book = PLAIN["assumptions.csv"] + (
        "family_wage_per_hour,,,,1,,,XTS/hour,invented,,D\nhired_wage_per_hour,,,,1,,,XTS/hour,invented,,D\n"
    )
    appraisal = appraise(open_case(write_case(tmp_path, {**PLAIN, "assumptions.csv": book, "labour_plan.csv": plan})))
    (zero, full) = three_wages(appraisal.layout, appraisal.values)
    for seen in (zero, full):
        assert_allclose(seen.figures["systems"]["hand"]["return_per_family_day"], 18.0, rtol=1e-12)
    assert "Hand brings a day of family work more than its wage of XTS\u00a08." in views_notes(appraisal)
