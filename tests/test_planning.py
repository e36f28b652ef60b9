"""A plan drawn from its outline, told as text, and frozen into a case folder without overwriting anything."""

from dataclasses import replace
from pathlib import Path

import pytest

from plotworth.case.folder import open_case
from plotworth.case.plan import PlannedFactor, plan_faults
from plotworth.choose.trial_outline import plan_design, plan_size
from plotworth.ground.errors import CaseError, FaultsError
from plotworth.planning import (
    drawn_plan,
    freeze_plan,
    frozen_summary,
    plan_facts,
    plan_layout,
    plan_summary,
)
from small_case import FILES, write_case
from trial_plans import OUTLINE, SPLIT_OUTLINE, plan

EMPTY_PLOTS = "plot,treatment,crop,net_area_m2\n"
DEVIATIONS = "date,plot,who,what,why,exclude\n"


# --- outlines -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"question": " "}, "question"),
        ({"smallest_gain_share": 15.0}, "smallest_gain_share"),
        ({"contrast": ("tank", "wick")}, "contrast"),
        ({"contrast": ("tank", "tank")}, "contrast"),
        ({"contrast_of": "soil"}, "contrast_of"),
        ({"design": "split"}, "factors"),
        ({"factors": (PlannedFactor("water", ("tank",)),)}, "factors"),
        ({"factors": (PlannedFactor("water", ("tank", "drip", "tank")),)}, "factors"),
        ({"factors": (PlannedFactor("a b", ("tank", "drip")),)}, "factors"),
        ({"blocks": 1}, "blocks"),
        ({"seed": -1}, "seed"),
        ({"columns": 2}, "columns"),
        ({"spacing_in_row_m": 0.0}, "spacing_in_row_m"),
    ],
)
def test_an_outline_that_makes_no_trial_is_refused(change: dict[str, object], name: str) -> None:
    with pytest.raises(FaultsError) as caught:
        drawn_plan(replace(OUTLINE, **change))
    assert name in {fault.name for fault in caught.value.faults}


def test_a_percentage_given_for_a_share_is_told_as_a_share() -> None:
    with pytest.raises(FaultsError, match=r"write 0\.15 if 15 % is meant"):
        drawn_plan(replace(OUTLINE, smallest_gain_share=15.0))


def test_in_a_split_plot_the_contrast_says_whether_it_is_of_a_factor_or_of_treatments() -> None:
    assert plan(SPLIT_OUTLINE).contrast_of == "water"
    assert plan(replace(SPLIT_OUTLINE, contrast_of="treatment", contrast=("tank+fungus", "tank"))).plots
    with pytest.raises(FaultsError, match="two of the treatments"):
        plan(replace(SPLIT_OUTLINE, contrast_of="treatment", contrast=("tank+fungus", "none")))


def test_what_is_drawn_is_what_the_field_floor_draws() -> None:
    drawn = plan(SPLIT_OUTLINE)
    layout = plan_layout(drawn)
    assert plan_design(drawn).error_freedom == (6, 9)
    assert [(p.plot, p.treatment, p.row) for p in drawn.plots] == [(p.name, p.treatment, p.row) for p in layout.plots]
    assert (drawn.columns, drawn.redraws) == (6, layout.redraws)
    assert plan_size(drawn).plants == 12
    assert plan_faults(drawn) == []


def test_the_summary_shows_map_sizes_and_power_and_refuses_plots_that_were_not_drawn() -> None:
    drawn = plan()
    text = plan_summary(drawn).replace("\u00a0", " ")
    assert all(plot.plot in text for plot in drawn.plots)
    assert "Net plot, harvested and recorded: 2 x 6 = 12 plants on 3.6 m²" in text
    assert "Two treatments: 36 % or more shows" in text
    swapped = replace(drawn, plots=(drawn.plots[1], drawn.plots[0], *drawn.plots[2:]))
    with pytest.raises(FaultsError, match="the seed draws other plots than the plan lists"):
        plan_summary(swapped)


def test_facts_say_so_where_there_are_no_guards_or_no_cv() -> None:
    text = " ".join(plan_facts(plan(replace(OUTLINE, guard_rows=0, guard_plants=0, expected_cv=None))))
    assert "No guard plants" in text
    assert "not known: no CV between plots was given" in text


# --- frozen into a folder -------------------------------------------------------------------------


def unplanted(folder: Path) -> Path:
    """The small case before its trial: no plots, no pickings."""
    return write_case(folder, {"plots.csv": EMPTY_PLOTS, "harvests.csv": None})


def test_freezing_writes_plan_plots_deviations_and_sheets_that_open_as_a_case(tmp_path: Path) -> None:
    folder = unplanted(tmp_path)
    told = freeze_plan(folder, plan(SPLIT_OUTLINE))
    case = open_case(folder)
    assert case.plan == plan(SPLIT_OUTLINE)
    assert list(case.table("plots")["plot"]) == [plot.plot for plot in case.plan.plots]
    assert set(case.table("plots")["net_area_m2"]) == {3.6}  # 12 plants x 0.5 x 0.6 m
    assert (folder / "deviations.csv").read_text(encoding="utf-8") == DEVIATIONS
    assert (folder / "record_sheets" / "record_sheets.html").exists()
    assert told[0].startswith("plan.toml: frozen on 2026-01-10")
    assert "hash" in frozen_summary(folder)


@pytest.mark.parametrize(
    ("files", "told"),
    [
        ({"plan.toml": plan().text()}, "a frozen plan is not overwritten"),
        ({"plots.csv": FILES["plots.csv"]}, "plots.csv: lists plots already"),
        ({"record_sheets/mine.txt": "x"}, "holds record sheets already"),
    ],
)
def test_nothing_is_overwritten(tmp_path: Path, files: dict[str, str], told: str) -> None:
    folder = unplanted(tmp_path)
    for name, text in files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    with pytest.raises(CaseError, match=told):
        freeze_plan(folder, plan())
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_folder_without_a_case_gets_no_plan(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="make a case first"):
        freeze_plan(tmp_path, plan())
    with pytest.raises(CaseError, match="make one with"):
        frozen_summary(write_case(tmp_path / "case"))
