"""The trial panel in process, without a browser: what it shows, what a choice changes, what it cannot tell."""

import dataclasses

import pytest

from independent_cases import copy_demo, rewrite
from plain_case import plain_case
from plotworth.choose.trial_outcomes import APPLIED, YIELD
from plotworth.choose.trial_view import NO_TRIAL
from plotworth.show.panels.trial import TrialPanel, trial_panel
from trial_case import HARVESTS, PLOTS, WATER, trial_case

DEMO_CHARTS = 7  # by plot, ratios by treatment, ratios by outcome, two factors, pickings, fruit, water


@pytest.fixture
def case(tmp_path):
    return copy_demo(tmp_path)


def panel_of(case):
    panel = trial_panel(case)
    assert isinstance(panel, TrialPanel), panel.value
    return panel


def text_of(panel):
    return panel.head.value + panel.status.value + panel.tables.value


def small(tmp_path, **files):
    return panel_of(
        trial_case(tmp_path, files={name.replace("_csv", ".csv"): text for name, text in files.items()}).path
    )


def test_it_opens_on_the_yield_against_the_baseline_with_its_charts(case):
    panel = panel_of(case)
    assert (panel.chosen.outcome, panel.chosen.reference, panel.chosen.compared) == (YIELD, "drip", "tank")
    charts = panel.charts()
    assert len(charts.specs) == len(charts.titles) == len(charts.texts) == DEMO_CHARTS
    assert charts.titles[0].startswith("Marketable yield, mean over blocks")
    assert charts.titles[1].startswith("Wick-fed tank: ")


def test_what_may_be_said_and_what_not_stands_above_every_figure(case):
    panel = panel_of(case)
    assert "Design: split plot, as told by case.toml." in panel.head.value
    assert "No difference shown between Wick-fed tank and Well and drip" in panel.head.value
    assert "P26 has no picking and is missing, not zero." in panel.head.value
    assert "Wick-fed tank yields more than Well and drip. Not to be said:" in panel.head.value
    panel.chooser.reference.value = "hand"
    assert "Wick-fed tank yields more than Hand watering: by" in panel.head.value


def test_packages_are_told_from_parts(case):
    """Tank with fungus against hand without: water and inoculation differ together."""
    panel = panel_of(case)
    panel.chooser.reference.value, panel.chooser.compared.value = "hand", "tank+fungus"
    assert "package is compared against package" in panel.head.value


def test_another_outcome_shows_its_own_figures_and_unit(case):
    panel = panel_of(case)
    before = panel.tables.value
    panel.chooser.outcome.value = APPLIED
    assert panel.charts().titles[0].startswith("Water applied")
    assert "L/m²" in panel.tables.value
    panel.chooser.outcome.value = YIELD
    assert panel.tables.value == before


def test_another_reference_turns_the_ratios(case):
    panel = panel_of(case)
    panel.chooser.reference.value = "hand"
    assert "that of Hand watering" in panel.charts().titles[1]
    assert "less Hand watering" in panel.tables.value


def test_a_treatment_never_stands_against_itself(case):
    panel = panel_of(case)
    panel.chooser.reference.value = "tank"
    assert (panel.chosen.reference, panel.chosen.compared) == ("tank", "drip")
    panel.chooser.compared.value = "tank"
    assert (panel.chosen.reference, panel.chosen.compared) == ("drip", "tank")


def test_a_plot_is_left_out_only_with_a_reason_and_both_results_are_shown(case):
    panel = panel_of(case)
    panel.chooser.leave_out.click()
    assert "Choose a plot first." in panel.chooser.said.value
    panel.chooser.plot.value = "P10"
    panel.chooser.leave_out.click()
    assert "cannot be left out without a reason" in panel.chooser.said.value
    assert "both ways" not in panel.tables.value
    panel.chooser.reason.value = "flooded"
    panel.chooser.leave_out.click()
    assert "both ways" in panel.tables.value
    assert "P10 is left out on the right: flooded" in panel.tables.value
    assert "Shown also without P10 (flooded)." in panel.status.value
    assert [dot["plot"] for dot in panel.charts().data["paired"] if dot["left_out"]] == ["P10"]
    panel.chooser.take_back.click()
    assert "both ways" not in panel.tables.value


def test_differences_are_judged_together_where_that_is_quick_and_by_a_button_where_not(case, tmp_path):
    panel = panel_of(case)
    assert panel.judge.layout.display != "none"
    assert "not judged yet" in panel.tables.value
    quick = small(tmp_path / "quick")
    assert quick.judge.layout.display == "none"
    assert "all pairs" in quick.tables.value


def test_a_case_without_a_trial_says_so_and_shows_no_chart(tmp_path):
    panel = panel_of(plain_case(tmp_path).path)
    assert NO_TRIAL in panel.head.value
    assert panel.charts().specs == []
    assert panel.tables.value == ""


def test_a_trial_without_blocks_is_compared_and_its_plots_are_not_joined(tmp_path):
    panel = small(tmp_path, plots_csv=PLOTS.replace(",B1,", ",,").replace(",B2,", ",,"))
    assert "completely randomised" in panel.head.value
    assert {dot["block"] for dot in panel.charts().data["paired"]} == {""}
    assert "that of Hand" in panel.charts().titles[1]


def test_one_plot_a_treatment_shows_means_and_says_why_there_is_no_interval(tmp_path):
    lines = [line for line in PLOTS.splitlines(keepends=True) if not line.startswith(("T2", "H2"))]
    picked = [line for line in HARVESTS.splitlines(keepends=True) if "T2" not in line and "H2" not in line]
    poured = [line for line in WATER.splitlines(keepends=True) if "T2" not in line and "H2" not in line]
    files = {"plots_csv": "".join(lines), "harvests_csv": "".join(picked), "water_csv": "".join(poured)}
    panel = small(tmp_path, **files)
    assert "This is a demonstration of Tank and Hand, not a trial" in panel.head.value
    assert "no finite interval" in panel.charts().texts[0]
    assert "no degrees of freedom are left for the error" in panel.tables.value.casefold()


def test_a_trial_that_yields_nothing_says_so(tmp_path):
    nothing = HARVESTS.replace(",12,3", ",0,0").replace(",20,5", ",0,0").replace(",8,", ",0,").replace(",16,", ",0,")
    panel = small(tmp_path, harvests_csv=nothing)
    assert "do not differ at all" in panel.tables.value
    assert "Marketable yield: not known" in panel.charts().texts[1]


def test_seasons_and_sites_are_chosen_and_stand_side_by_side(case):
    twice = lambda rows: [*rows, *({**row, "plot": f"Q{row['plot'][1:]}", "site": "Other"} for row in rows)]  # noqa: E731
    rewrite(case, "plots", twice)
    rewrite(case, "harvests", lambda rows: [*rows, *({**row, "plot": f"Q{row['plot'][1:]}"} for row in rows)])
    panel = panel_of(case)
    assert [name for name, _ in panel.chooser.key.options] == [
        "sweet pepper, Sarvane, 2026",
        "sweet pepper, Other, 2026",
    ]
    assert "fewer than 5 stand for no others" in panel.tables.value
    panel.chooser.key.value = ("sweet pepper", "Other", "2026")
    assert {dot["plot"][0] for dot in panel.charts().data["paired"]} == {"Q"}
    assert "yield per m³" not in [name for name, _ in panel.chooser.outcome.options]


def test_a_label_cannot_break_the_page(case):
    text = (case / "case.toml").read_text(encoding="utf-8")
    (case / "case.toml").write_text(text.replace('"Wick-fed tank"', '"<b>Tank</b>"'), encoding="utf-8")
    assert "<b>Tank</b>" not in text_of(panel_of(case))


def test_faults_of_a_case_come_as_sentences(case):
    rewrite(case, "assumptions", lambda rows: [row for row in rows if row["name"] != "market_price_per_kg"])
    assert "market_price_per_kg" in trial_panel(case).value


def test_no_dial_and_no_button_to_reset_one(case):
    panel = panel_of(case)
    assert panel.dials == {}
    assert panel.reset.layout.display == "none"
    assert dataclasses.asdict(panel.chosen)["left_out"] == ()
