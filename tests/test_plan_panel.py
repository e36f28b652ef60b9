"""The panel on planning in process, without a browser: what it starts from, what follows a dial, what it refuses."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from independent_cases import DEMO, copy_demo
from plotworth.case.folder import open_case
from plotworth.choose.plan_controls import NO_SOURCE, plan_start
from plotworth.choose.plan_map import EXAMPLE
from plotworth.field.design import Design, Factor
from plotworth.field.power import comparisons, detectable_difference
from plotworth.planning import freeze_plan
from plotworth.show.panels.dial_panel import UNEXPECTED
from plotworth.show.panels.plan import PlanPanel, plan_panel
from small_case import write_case
from trial_plans import SPLIT_OUTLINE, plan

EMPTY_PLOTS = "plot,treatment,crop,net_area_m2\n"
WATER = Factor("water", ("tank", "drip", "hand"))


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def panel_of(case: Path) -> PlanPanel:
    panel = plan_panel(case)
    assert isinstance(panel, PlanPanel)
    assert UNEXPECTED not in panel.status.value
    return panel


def frozen_case(folder: Path) -> Path:
    """A small case without plots into which a plan was frozen."""
    case = write_case(folder / "frozen", {"plots.csv": EMPTY_PLOTS, "harvests.csv": None})
    freeze_plan(case, plan())
    return case


@pytest.fixture
def demo() -> Iterator[PlanPanel]:
    panel = panel_of(DEMO)
    yield panel
    panel.charts().close()


@pytest.fixture
def general(tmp_path: Path) -> Iterator[PlanPanel]:
    """A panel without a case, set to three treatments in four blocks."""
    panel = panel_of(tmp_path / "none")
    panel.factors[0].value = "water = tank, drip, hand"
    yield panel
    panel.charts().close()


def test_without_a_case_it_starts_from_general_values_that_say_so_and_tells_what_is_to_be_mended(
    general: PlanPanel,
) -> None:
    assert general.dials["plot_cv"].value == 15.0
    assert general.dials["plot_cv"].control.input.source == NO_SOURCE
    assert "The case cannot be read yet" in general.head.value
    assert "there is no such folder" in general.head.value
    assert general.achieved == ()


def test_the_card_is_that_of_the_design_and_follows_a_dial(general: PlanPanel) -> None:
    """As the field floor's rooms give it: one comparison of two of three treatments."""
    for blocks in (4, 9):
        general.set("blocks", blocks)
        (one,) = comparisons(Design("blocks", (WATER,), blocks), plot_cv=0.15)
        least = f"{100 * detectable_difference(one):.2g} %"
        assert f"{blocks} blocks show a difference between two treatments from {least} on" in plain(general.head.value)
        assert least in plain(general.card.value)
        assert least in plain(general.charts().titles[0])
    assert "Computed with Blocks 9" in general.status.value


def test_small_trials_are_warned_of(general: PlanPanel) -> None:
    """Three treatments in three blocks: (3 - 1)(3 - 1) = 4 degrees of freedom, under 12; 3 blocks, under 4."""
    general.set("blocks", 3)
    assert "Warning: 3 blocks are fewer than 4" in general.card.value
    assert "Warning: 4 degrees of freedom for the error of plots are fewer than 12" in general.card.value
    general.set("blocks", 7)
    assert "Warning" not in general.card.value


def test_another_design_offers_its_own_differences_and_needs_a_second_factor(general: PlanPanel) -> None:
    assert general.comparison.options == ("two treatments",)
    assert general.factors[1].disabled
    general.kind.value = "split"
    assert len(general.comparison.options) == 4
    assert not general.factors[1].disabled
    general.comparison.value = "two levels of water"
    assert "between two levels of water from" in general.head.value
    general.kind.value = "factorial"
    assert general.comparison.value == "two levels of water"
    general.factors[1].value = ""
    assert "needs two levels or more" in general.status.value
    assert general.charts().stale
    general.kind.value = "blocks"
    assert not general.charts().stale


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("tank", "needs two levels or more"),
        ("tank, tank", "has a level twice"),
        ("water system = tank, drip", "is no name of a factor"),
        (", ".join(f"t{number}" for number in range(61)), "61 treatments are more than 60"),
    ],
)
def test_treatments_that_make_no_trial_leave_the_last_result_with_a_sentence(
    general: PlanPanel, text: str, words: str
) -> None:
    said = general.head.value
    general.factors[0].value = text
    assert words in general.status.value
    assert general.head.value == said
    assert "pw-stale-text" in general.card._dom_classes


def test_two_factors_of_one_name_and_crossed_ends_of_the_cv_are_refused(general: PlanPanel) -> None:
    general.kind.value = "split"
    general.factors[1].value = "water = much, little"
    assert "Both factors are called water" in general.status.value
    general.factors[1].value = "salt = much, little"
    general.set("cv_low", 40.0)
    assert "exchange them" in general.status.value


def test_a_cv_outside_its_own_ends_is_warned_of(general: PlanPanel) -> None:
    general.set("plot_cv", 30.0)
    assert "The CV expected, 30 %, lies outside its own ends, 10 % at best and 25 % at worst" in plain(
        general.card.value
    )


def test_half_a_block_cannot_be(general: PlanPanel) -> None:
    general.set("blocks", 4.5)
    assert "Blocks: 4.5 is no whole number." in general.status.value


def test_larger_plots_vary_less_by_smiths_b_and_b_of_nought_leaves_them_alike(general: PlanPanel) -> None:
    """Plots of 2 x 32 = 64 plants in place of 16, b = 0.5: CV 15 x 4^-0.25 = 10.607 %."""
    general.set("plants_per_row", 32)
    assert "11 %, by b = 0.5 from 15 % for plots of 16" in plain(general.card.value)
    assert general.outline.plot_cv == pytest.approx(0.15 * 4**-0.25, rel=1e-12)
    general.set("smith_index", 0.0)
    assert general.outline.plot_cv == 0.15


def test_the_button_takes_choosers_and_dials_back_to_the_start(general: PlanPanel) -> None:
    said = general.head.value
    general.factors[0].value = "water = tank, drip, hand"
    general.set("gain", 30.0)
    general.kind.value = "split"
    general.back_to_start(None)
    assert general.kind.value == "blocks"
    assert general.factors[0].value == general.start.factor_texts[0]
    assert general.dials["gain"].value == 15.0
    assert general.head.value != said
    assert "two treatments" in general.head.value


def test_the_demo_starts_from_its_trial_and_says_where_each_number_is_from(demo: PlanPanel) -> None:
    """Seven blocks of three water systems with and without fungus, 16 plants on 4.8 m2: as make_demo.py writes them."""
    assert demo.kind.value == "split"
    assert [box.value.split(" = ")[0] for box in demo.factors] == ["water", "inoculation"]
    values = {name: demo.dials[name].value for name in ("blocks", "rows", "plants_per_row", "gain")}
    assert values == {"blocks": 7.0, "rows": 2.0, "plants_per_row": 8.0, "gain": 15.0}
    assert demo.dials["spacing_in_row_m"].value == 0.5  # 4.8 m2 / 16 / 0.6 m
    assert demo.dials["gain"].control.input.source == "case.toml"
    assert "Invented data" in demo.head.value


def test_the_cv_between_single_fruit_is_that_within_treatment_and_day() -> None:
    case = open_case(DEMO)
    masses = case.table("fruit_masses").merge(case.table("plots")[["plot", "treatment", "crop"]], on="plot")
    masses = masses[(masses["crop"] == "sweet pepper") & (masses["fruits"] == 1)]
    deviations = masses["total_mass_g"] - masses.groupby(["treatment", "date"])["total_mass_g"].transform("mean")
    groups = masses.groupby(["treatment", "date"]).ngroups
    cv = ((deviations**2).sum() / (len(masses) - groups)) ** 0.5 / masses["total_mass_g"].mean()
    value, source = plan_start(case).known["fruit_cv"]
    assert value == pytest.approx(100 * cv, rel=5e-3)  # written to three figures
    assert source.startswith(f"{len(masses)} fruit weighed singly")


def test_a_harvested_trial_shows_what_it_could_detect_after_all_beside_the_plan(demo: PlanPanel) -> None:
    """A split plot of 3 x 2 in 7 blocks: (7 - 1)(3 - 1) = 12 and 3 (7 - 1)(2 - 1) = 18 degrees of freedom."""
    (one,) = demo.achieved
    assert one.design.error_freedom == (12, 18)
    assert (one.plots, one.plots_planted) == (41, 42)
    text = plain(demo.tables.value)
    assert "Power card, as achieved: sweet pepper" in text
    assert "1 of 42 plots without a yield" in text
    before = one.card(0.15).rows[0]
    assert f"{100 * before.detectable:.2g} % ({100 * before.detectable_low:.2g} % to" in text


def test_the_map_of_a_trial_that_is_not_frozen_is_an_example_and_no_draw_of_any_seed(demo: PlanPanel) -> None:
    assert demo.charts().titles[3].startswith(EXAMPLE)
    assert "nobody chooses a seed by the map" in demo.tables.value
    rows = demo.charts().data["map"]
    first = [row["letter"] for row in rows if row["block"] == "B1"]
    second = [row["letter"] for row in rows if row["block"] == "B2"]
    assert first == list("ABCDEF")
    assert second == list("CDEFAB")  # moved on by a whole plot of two


def test_a_frozen_plan_shows_its_own_map_with_hash_date_and_deviations(tmp_path: Path) -> None:
    case = frozen_case(tmp_path)
    panel = panel_of(case)
    drawn = plan()
    assert panel.charts().titles[3].startswith(f"Frozen on 2026-01-10, hash {drawn.sha256[:12]}")
    assert {row["plot"]: row["treatment"] for row in panel.charts().data["map"]} == {
        plot.plot: plot.treatment for plot in drawn.plots
    }
    assert "No deviation from the plan is noted." in panel.tables.value
    panel.set("blocks", 8)
    assert len(panel.charts().data["map"]) == len(drawn.plots)
    assert "not what was frozen" in panel.tables.value
    assert panel.dials["gain"].control.input.source == "the frozen plan"
    assert panel.side.value == "north, uphill"


def test_a_deviation_marks_its_plot_on_the_frozen_map(tmp_path: Path) -> None:
    case = frozen_case(tmp_path)
    (case / "deviations.csv").write_text(
        "date,plot,who,what,why,exclude\n2026-03-01,P02,Ana,replanted,hail,no\n", encoding="utf-8"
    )
    panel = panel_of(case)
    assert [row["plot"] for row in panel.charts().data["map"] if row["text"].endswith("*")] == ["P02"]
    assert "2026-03-01, plot P02: replanted (hail)" in panel.tables.value


def test_words_of_the_case_are_shown_as_written_and_never_run(tmp_path: Path) -> None:
    panel = panel_of(tmp_path / "none")
    panel.kind.value = "split"
    panel.factors[0].value = "water = <b>tank</b>, drip"
    panel.comparison.value = panel.comparison.options[0]
    assert "<b>tank" not in panel.head.value + panel.card.value + panel.tables.value


def test_a_case_with_faults_still_lets_one_plan(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    (case / "assumptions.csv").unlink()
    panel = panel_of(case)
    assert "assumptions.csv" in panel.head.value
    assert len(panel.charts().specs) == 4
    shutil.rmtree(case)


def test_a_plan_that_asks_about_a_factor_opens_on_that_difference(tmp_path: Path) -> None:
    case = frozen_case(tmp_path)
    assert plan_start(open_case(case)).comparison == ""
    split = replace(open_case(case), plan=plan(SPLIT_OUTLINE))
    start = plan_start(split)
    assert (start.kind, start.comparison) == ("split", "two levels of water")
