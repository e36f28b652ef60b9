"""The frozen plan: written and read back, a hash that shows any change, plots held against it, deviations."""

import datetime
import tomllib
from dataclasses import fields, replace
from pathlib import Path

import pytest

from plotworth.case.folder import open_case
from plotworth.case.plan import Plan, PlannedFactor, read_plan
from plotworth.case.toml_file import toml_value
from plotworth.report.record_forms import plot_rows, plots_header
from small_case import faults, write_case
from trial_plans import OUTLINE, SPLIT_OUTLINE, plan


def as_csv(of: Plan, *, planted_on: str = "2026-02-01") -> str:
    """The plots.csv that a plan gives, planted."""
    rows = plot_rows(of, plants=12, net_area_m2=3.6)
    header = plots_header(of)
    lines = [",".join({**row, "planted_on": planted_on}.get(name, "") for name in header) for row in rows]
    return "\n".join([",".join(header), *lines, ""])


def planned(of: Plan | None = None, **files: str) -> dict[str, str | bytes | None]:
    """The files of the small case with a plan of its trial, no pickings yet."""
    of = of or plan()
    more = {f"{name}.csv": text for name, text in files.items()}
    return {"plan.toml": of.text(), "plots.csv": as_csv(of), "harvests.csv": None, **more}


# --- written and read -----------------------------------------------------------------------------


@pytest.mark.parametrize("outline", [OUTLINE, SPLIT_OUTLINE, replace(OUTLINE, expected_cv=None, site="Nowhere")])
def test_a_plan_written_is_the_plan_read(tmp_path: Path, outline: Plan) -> None:
    written = plan(outline)
    (tmp_path / "plan.toml").write_text(written.text(), encoding="utf-8")
    assert read_plan(tmp_path) == written


def test_a_case_carries_its_plan_and_one_without_a_plan_carries_none(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path / "a", planned()))
    assert case.plan == plan()
    assert case.notices[0] == f"plan.toml: frozen on 2026-01-10, hash {plan().sha256[:12]} holds."
    assert open_case(write_case(tmp_path / "b")).plan is None


def test_any_text_survives_the_way_through_toml() -> None:
    for text in ('said "yes"', "back\\slash", "two\nlines", "tab\t", "é ü 水", "\x7f\x01", "# no comment", ""):
        assert tomllib.loads(f"a = {toml_value(text)}") == {"a": text}
    day = datetime.date(2026, 3, 9)
    mixed = [True, False, 0, -3, 0.1, 1e-9, 1e300, day, ["x"], {"b": [1.5], "c": "d"}]
    assert tomllib.loads(f"a = {toml_value(mixed)}") == {"a": mixed}


def test_the_hash_covers_every_value_and_nothing_else() -> None:
    first = plan()
    others = [replace(first, **{field.name: value}) for field in fields(Plan) for value in [OTHER_VALUES[field.name]]]
    assert len({first.sha256, *(other.sha256 for other in others)}) == len(others) + 1
    text = first.text()
    spaced = "# another comment\n\n" + text.replace(" = ", "   =  ")
    assert tomllib.loads(spaced) == tomllib.loads(text)


OTHER_VALUES = {
    "question": "Another?",
    "outcome": "npv",
    "contrast_of": "water",
    "contrast": ("drip", "tank"),
    "smallest_gain_share": 0.21,
    "design": "split",
    "factors": (PlannedFactor("water", ("tank", "drip")),),
    "blocks": 5,
    "seed": 12,
    "redraws": 3,
    "redraw_rule": "another",
    "columns": 1,
    "gradient_from": "south",
    "crop": "tomato",
    "rows": 3,
    "plants_per_row": 7,
    "spacing_in_row_m": 0.4,
    "spacing_between_rows_m": 0.7,
    "guard_rows": 0,
    "guard_plants": 0,
    "analysis": "another",
    "frozen_on": datetime.date(2026, 1, 11),
    "plots": (),
    "expected_cv": None,
    "site": "Elsewhere",
    "trial_year": "2026",
}


def test_the_hash_of_a_plan_stays_what_it_was_when_this_was_written() -> None:
    # Origin: this library at its first release; plans frozen then must hold ever after.
    assert plan().sha256 == "e090befc778264b1712804733e6d72aca75bb3fe6bb3b8d8ae276844933bc348"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("smallest_gain_share = 0.2", "smallest_gain_share = 0.1"),
        ('contrast = ["tank", "drip"]', 'contrast = ["tank", "hand"]'),
        ("frozen_on = 2026-01-10", "frozen_on = 2025-12-01"),
        ('plot = "P01", block = "B1"', 'plot = "P01", block = "B2"'),
        ("expected_cv = 0.15", "expected_cv = 0.1"),
        ('site = ""', 'site = "Nowhere"'),
    ],
)
def test_a_changed_plan_breaks_its_hash(tmp_path: Path, old: str, new: str) -> None:
    text = plan().text()
    assert old in text
    (found,) = faults(tmp_path, {**planned(), "plan.toml": text.replace(old, new, 1)})
    assert "the hash does not fit what the plan says: it was changed after it was frozen" in found
    assert "write what was done otherwise into deviations.csv" in found


def test_a_plan_may_be_commented_and_spaced(tmp_path: Path) -> None:
    text = "# seen by the adviser\n" + plan().text().replace("\nblocks", "\n\n# four\nblocks")
    assert open_case(write_case(tmp_path, {**planned(), "plan.toml": text})).plan == plan()


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("seed = 11", "sed = 11", "line 14, sed: found '11'; a plan knows no such key; did you mean seed."),
        ("blocks = 4", 'blocks = "four"', "line 13, blocks: found 'four'; of another kind; write a whole number."),
        ("seed = 11", "", "seed: the key is missing; put the file back as `plotworth plan` wrote it"),
        ('["tank", "drip"]', "[1, 2]", "found '[1, 2]'; of another kind; write a list"),
        ("blocks = 4", "blocks = 1", "blocks: found '1'; must lie between 2 and 200"),
        ('outcome = "yield_kg_per_m2"', 'outcome = "yield"', "the glossary has no such outcome"),
        ('design = "blocks"', 'design = "block"', "found 'block'; no such design; did you mean blocks."),
        ("share = 0.2", "share = nan", "smallest_gain_share: found 'nan'; must lie between 0.001 and 3"),
        ("blocks = 4", "blocks = = 4", "not TOML that can be read"),
    ],
)
def test_a_broken_plan_is_refused_with_line_and_remedy(tmp_path: Path, old: str, new: str, told: str) -> None:
    text = plan().text()
    assert old in text
    found = faults(tmp_path, {**planned(), "plan.toml": text.replace(old, new, 1)})
    assert any(told in line for line in found), found
    assert all(line.startswith("plan.toml") for line in found)


def test_faults_of_plan_and_tables_are_told_together(tmp_path: Path) -> None:
    files = {**planned(), "plan.toml": "seed = 1\n", "costs.csv": "system;item\n"}
    found = faults(tmp_path, files)
    assert {line.split(" ")[0].rstrip(":,") for line in found} == {"plan.toml", "costs.csv"}


# --- held against the plots -----------------------------------------------------------------------


def test_a_plot_with_another_block_or_treatment_is_named_with_what_the_plan_has(tmp_path: Path) -> None:
    first = plan().plots[0]
    other = next(name for name in plan().treatments if name != first.treatment)
    text = as_csv(plan()).replace(f"P01,B1,{first.treatment}", f"P01,B2,{other}")
    found = faults(tmp_path, planned(plots=text))
    assert found == [
        "plots.csv line 2, block: found 'B2'; the frozen plan has B1 for plot P01; "
        "write B1, or say in deviations.csv what was done to the plot and why.",
        f"plots.csv line 2, treatment: found '{other}'; the frozen plan has {first.treatment} for plot P01; "
        f"write {first.treatment}, or say in deviations.csv what was done to the plot and why.",
    ]


def test_a_factor_s_level_is_held_against_the_plan_too(tmp_path: Path) -> None:
    of = plan(SPLIT_OUTLINE)
    level = of.plots[0].levels[1]
    rows = as_csv(of).splitlines()
    cells = rows[1].split(",")
    cells[4] = "fungus" if level == "none" else "none"
    text = "\n".join([rows[0], ",".join(cells), *rows[2:], ""])
    (found,) = faults(tmp_path, planned(of, plots=text))
    assert f"plots.csv line 2, factor_inoculation: found '{cells[4]}'; the frozen plan has {level}" in found


def test_a_plot_missing_or_added_is_a_fault(tmp_path: Path) -> None:
    rows = as_csv(plan()).splitlines()
    added = rows[1].replace("P01", "extra")
    found = faults(tmp_path, planned(plots="\n".join([rows[0], *rows[2:], added, ""])))
    assert [line.split(";")[0] for line in found] == [
        "plots.csv line 13, plot: found 'extra'",
        "plots.csv, plot: found 'P01'",
    ]
    assert "a lost plot keeps its row and gets one in deviations.csv" in found[1]


DEVIATIONS = "date,plot,who,what,why,exclude\n"


def test_what_deviations_explain_is_no_fault_and_is_told(tmp_path: Path) -> None:
    first = plan().plots[0]
    other = next(name for name in plan().treatments if name != first.treatment)
    text = as_csv(plan()).replace(f"P01,B1,{first.treatment}", f"P01,B1,{other}")
    noted = DEVIATIONS + "2026-02-01,P01,A,planted otherwise,signs swapped,yes\n2026-01-05,,A,began late,rain,no\n"
    case = open_case(write_case(tmp_path, planned(plots=text, deviations=noted)))
    assert "deviations.csv: 2 deviations noted; left out of the comparison: P01." in case.notices
    assert list(case.table("deviations")["exclude"]) == ["yes", "no"]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("2026-03-01,P99,A,lost,goats,yes", "line 2, plot: found 'P99'; the case has no such plot; did you mean P09"),
        ("2026-03-01,,A,lost,goats,yes", "line 2, plot: nothing is named to leave out; name the plot, or write no."),
        ("2026-03-01,P01,A,lost,goats,", "line 2, exclude: must not be blank"),
        ("2026-03-01,P01,A,lost,,no", "line 2, why: must not be blank"),
        ("2027-03-01,P01,A,lost,goats,no", "the date lies after 2026-09-30"),
    ],
)
def test_a_faulty_deviation_is_refused(tmp_path: Path, row: str, told: str) -> None:
    (found,) = faults(tmp_path, planned(deviations=DEVIATIONS + row + "\n"))
    assert told in found


def test_a_plan_frozen_after_planting_is_said_to_be_none_made_beforehand(tmp_path: Path) -> None:
    files = planned(plots=as_csv(plan(), planted_on="2026-01-09"))
    notice = open_case(write_case(tmp_path, files)).notices[0]
    assert notice.endswith("that is after the planting on 2026-01-09: no plan made beforehand.")


def test_a_plan_from_after_the_case_is_judged_is_refused(tmp_path: Path) -> None:
    (found,) = faults(tmp_path, planned(replace(plan(), frozen_on=datetime.date(2026, 10, 1))))
    assert "the plan was frozen after 2026-09-30" in found


def test_plots_of_other_years_are_not_the_plan_s_matter(tmp_path: Path) -> None:
    of = plan(replace(OUTLINE, trial_year="2026"))
    header = plots_header(of)
    old = {"plot": "old", "treatment": "tank", "crop": "pepper", "net_area_m2": "4", "trial_year": "2025"}
    text = as_csv(of) + ",".join(old.get(name, "") for name in header) + "\n"
    assert open_case(write_case(tmp_path, planned(of, plots=text))).plan == of
