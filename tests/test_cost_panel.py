"""The panel on money in process, without a browser: what it says first, what a dial moves and what it leaves alone."""

import re

import pytest

from independent_cases import copy_demo, rewrite
from plotworth.case.folder import open_case
from plotworth.choose.cost_controls import cost_controls, line_worths
from plotworth.choose.cost_sentences import grant_sentence
from plotworth.choose.inputs import lay_out
from plotworth.choose.views import CASH, ECONOMIC, FULL
from plotworth.ground.amounts import share_text
from plotworth.show.cost_charts import day_data, day_title, financed_rows, financed_title
from plotworth.show.panels.cost import CostPanel, cost_panel

GRANT = "grant/reservoir/water committee/share"
LOAN_SHARE = "loan/drip/savings circle/amount_share"
WAGE, HOURS = "family_wage_per_hour", "hours_at_hand_per_month"
WORTH_CHARTS = ("views", "day", "size")
CASH_CHARTS = ("balance", "financed", "calendar")


@pytest.fixture
def case(tmp_path):
    return copy_demo(tmp_path)


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    return panel_of(copy_demo(tmp_path_factory.mktemp("demo")))


@pytest.fixture
def panel(opened):
    """The panel of the demo as it opens: dials, choosers and trail back where they start."""
    opened.back_to_start(None)
    opened.trail.selected_index, opened.trail.page.value = None, ""
    opened.system.value, opened.view.value = "reservoir", FULL
    return opened


def panel_of(case):
    panel = cost_panel(case)
    assert isinstance(panel, CostPanel), panel.value
    return panel


def test_it_opens_with_the_order_by_view_the_worst_months_and_the_grants(panel):
    head = panel.head.value
    assert "By NPV the full view has the order Hand watering, Well and drip, Wick-fed tank" in head
    assert "the cash view has Hand watering, Wick-fed tank, Well and drip" in head
    assert head.count("worst month:") == 3
    assert head.count("(cash view)") == 3


def test_every_chart_has_a_title_and_a_spoken_text(panel):
    charts = panel.charts()
    assert len(charts.specs) == len(charts.titles) == len(charts.texts) == 7
    assert all(charts.titles)
    assert all(len(text) > 40 for text in charts.texts)


def test_the_dials_are_the_dearest_lines_then_loans_grants_wage_and_hours(panel):
    first = [dial.address for dial in panel.first]
    assert first[0] == "cost/drip/borehole metres/unit_price"
    assert {GRANT, LOAN_SHARE, "loan/drip/savings circle/rate_per_year", WAGE, HOURS} <= set(first)
    more = {dial.address for dial in panel.more}
    assert {"hired_wage_per_hour", "off_season_wage_share", "working_capital_share"} <= more
    assert {"households_sharing", "other_use_share", "physical_contingency_share"} <= more
    assert not more & set(first)


def test_the_worth_of_a_line_is_what_it_costs_over_the_horizon_discounted(case):
    """Borehole: 45 m at 55 once in 10 years. Pump: 1100 in years 0 and 8. Upkeep: 60 a year for 10 years, 12 %."""
    worths = line_worths(lay_out(open_case(case)))
    assert worths["cost/drip/borehole metres"] == pytest.approx(45 * 55, rel=1e-12)
    assert worths["cost/drip/pump with solar panels"] == pytest.approx(1100 * (1 + 1.12**-8), rel=1e-12)
    assert worths["cost/drip/pump upkeep"] == pytest.approx(60 * (1 - 1.12**-10) / 0.12, rel=1e-12)


def test_a_grant_moves_the_balance_after_it_and_no_worth(panel):
    before = {name: panel.charts().data[name] for name in (*WORTH_CHARTS, *CASH_CHARTS)}
    npv = panel.appraisal.systems["reservoir"]["npv"]
    panel.set(GRANT, 0.5)
    data = panel.charts().data
    assert all(data[name] == before[name] for name in (*WORTH_CHARTS, "balance", "calendar"))
    assert data["financed"] != before["financed"]
    assert panel.appraisal.systems["reservoir"]["npv"] == npv
    assert "Computed with Grant of water committee" in panel.status.value


def test_a_grant_of_half_the_investment_lifts_every_closing_balance_by_that_half(panel):
    panel.set(GRANT, 0.5)
    rows = panel.charts().data["financed"]
    half = panel.appraisal.systems["reservoir"]["investment"] / 2
    lines = {name: [row["closing"] for row in rows if row["system"] == name] for name in ("before", "after")}
    gaps = [after - before for before, after in zip(lines["before"], lines["after"], strict=True)]
    assert gaps == pytest.approx([half] * len(gaps), rel=1e-9)


def test_the_grant_said_to_break_even_does_so(case):
    """Set as a grant of the drip beside its loan, the NPV of the cash view after financing comes to nothing."""
    text = (case / "case.toml").read_text(encoding="utf-8")
    moved = text.replace('system = "reservoir"\nlabel = "water', 'system = "drip"\nlabel = "water')
    (case / "case.toml").write_text(moved, encoding="utf-8")
    panel = panel_of(case)
    share = float(panel.summaries["drip"].break_even_grant_share[0, 0])
    assert share_text(share) in grant_sentence(panel.cash.systems["drip"], panel.summaries["drip"])
    panel.set("grant/drip/water committee/share", share)
    assert panel.summaries["drip"].npv_cash_after[0, 0] == pytest.approx(0.0, abs=1e-6)  # money of a sum of thousands


def test_a_wage_moves_worth_and_no_month_of_cash(panel):
    before = {name: panel.charts().data[name] for name in (*WORTH_CHARTS, *CASH_CHARTS)}
    panel.set(WAGE, 0.1)
    data = panel.charts().data
    assert all(data[name] != before[name] for name in WORTH_CHARTS)
    assert all(data[name] == before[name] for name in CASH_CHARTS)


def test_hours_at_hand_move_the_calendar_of_work_alone(panel):
    before = dict(panel.charts().data)
    panel.set(HOURS, 300.0)
    moved = {name for name, rows in panel.charts().data.items() if rows != before[name]}
    assert moved
    assert all(name.startswith("labour") for name in moved)
    assert "within the 300 at hand" in panel.charts().titles[3]


def test_another_system_is_shown_in_the_charts_and_tables_by_month(panel):
    balance = panel.charts().data["balance"]
    panel.system.value = "drip"
    assert panel.charts().titles[1].startswith("Well and drip")
    assert panel.charts().titles[3].startswith("Well and drip")
    assert "Cash by month: Well and drip" in panel.tables.value
    assert panel.charts().data["balance"] == balance


def test_the_system_without_loan_or_grant_has_one_line(panel):
    panel.system.value = "hand"
    assert {row["label"] for row in panel.charts().data["financed"]} == {"no loan or grant"}


@pytest.mark.parametrize("view", [CASH, ECONOMIC])
def test_another_view_moves_sizes_margins_and_trail_and_leaves_the_views_beside_each_other(panel, view):
    before = dict(panel.charts().data)
    panel.view.value = view
    assert panel.charts().data["views"] == before["views"]
    assert panel.charts().data["size"] != before["size"]
    assert f"Gross margins and worth ({view} view)" in panel.tables.value
    own = next(row for row in before["views"] if row["view"] == view and row["system"] == "drip")
    assert panel.seen.systems["drip"]["npv"] == own["npv"]


def test_the_trail_leads_from_a_figure_to_formula_line_grade_and_rows(panel):
    assert panel.trail.page.value == ""
    panel.trail.selected_index = 0
    page = panel.trail.page.value
    for words in ("Net present value: -5023.04 XTS", "Formula:", "Worked:", "assumptions.csv line 2", "grade D"):
        assert words in page
    assert re.search(r"harvests\.csv lines \d[^;]* \(\d+ rows\): plots of treatment tank", page)


def test_the_trail_follows_another_outcome_and_a_dial(panel):
    panel.trail.selected_index = 0
    panel.trail.stream.value = "systems/drip"
    panel.trail.name.value = "investment"
    page = panel.trail.page.value
    assert panel.trail.path == "systems/drip/investment"
    assert "borehole metres" in page.casefold()
    panel.set("cost/drip/borehole metres/unit_price", 60.0)
    assert panel.trail.page.value != page


def test_who_works_is_a_plain_record_and_where_nobody_is_named_it_says_where_to_write_it(case):
    assert "women" in panel_of(case).tables.value
    rewrite(case, "labour_plan", lambda rows: [{**row, "who": ""} for row in rows])
    assert "No row of the labour plan" in panel_of(case).tables.value


def test_a_grant_and_another_above_the_investment_are_refused_with_a_sentence(panel):
    title = panel.charts().titles[1]
    panel.set(GRANT, 1.2)
    assert "cannot be" in panel.status.value
    assert panel.charts().stale
    assert panel.charts().titles[1] == title


def test_a_case_without_financing_has_no_dials_of_it(case):
    text = (case / "case.toml").read_text(encoding="utf-8")
    (case / "case.toml").write_text(text[: text.index("# Invented financing")], encoding="utf-8")
    addresses = [one.input.address for one in cost_controls(lay_out(open_case(case)))]
    assert not any(address.startswith(("loan/", "grant/")) for address in addresses)
    assert panel_of(case).head.value.count("no loan or grant is stated") == 3


def test_faults_of_a_case_come_as_sentences(case):
    rewrite(case, "assumptions", lambda rows: [row for row in rows if row["name"] != "market_price_per_kg"])
    assert "market_price_per_kg" in cost_panel(case).value


def test_the_title_of_two_lines_names_the_deepest_month_of_each():
    """Invented: a grant of 50 at the start lifts -100, -120 to -50, -70; the deepest of both is month 1."""
    before = [{"closing": -100.0, "month": 0}, {"closing": -120.0, "month": 1}]
    after = [{"closing": -50.0, "month": 0}, {"closing": -70.0, "month": 1}]
    title = financed_title("Tank", financed_rows(before, after), "XTS")
    assert "before financing XTS\u00a0−120 in month 1" in title
    assert "after financing XTS\u00a0−70 in month 1" in title


def test_a_day_of_work_is_set_against_its_wage_and_the_words_stand_where_there_is_room():
    """Invented: days of 4 and 1 against a wage of 2.4, the wage right of the middle of 0 to 4; NaN: nobody works."""
    rows = [
        {"system": "a", "label": "A", "per_day": 4.0, "wage": 2.4},
        {"system": "b", "label": "B", "per_day": 1.0, "wage": 2.4},
        {"system": "c", "label": "C", "per_day": float("nan"), "wage": 2.4},
    ]
    assert day_title(rows, "XTS").startswith("A brings a day of family work more than its wage of XTS")
    data = day_data(rows)
    assert data["day_wage"][0]["side"] == "left"
    assert data["day"][2]["text"] == "C: no family work, or not known"
