"""`plotworth plan` and `plotworth new --xlsx` as a user meets them."""

import datetime
from pathlib import Path

import pytest

from folders import Ran, bytes_of, run
from plotworth.case.plan import PlannedFactor, read_plan
from plotworth.plan_options import ANALYSES

NEEDED = {
    "--design": "blocks",
    "--factor": "water=tank, drip,hand",
    "--blocks": "4",
    "--seed": "20260110",
    "--contrast": "tank,drip",
    "--smallest-gain": "0.2",
    "--crop": "sweet pepper",
    "--plot": "2x8",
    "--spacing": "0.5x0.6",
    "--question": "Does the tank yield as much as drip?",
}


@pytest.fixture
def case(tmp_path: Path) -> Path:
    run("new", str(tmp_path / "mine"))
    return tmp_path / "mine"


def plan(case: Path, *more: str, without: str = "", **changed: str) -> Ran:
    options = {**NEEDED, **{f"--{name}": value for name, value in changed.items()}}
    pairs = (part for name, value in options.items() if name != without for part in (name, value))
    return run("plan", str(case), *pairs, *more)


def test_a_plan_is_drawn_frozen_and_told(case: Path) -> None:
    ran = plan(case, "--cv", "0.15", "--gradient-from", "door", "--frozen-on", "2026-01-10")
    assert (ran.code, ran.err) == (0, "")
    frozen = read_plan(case)
    assert frozen is not None
    assert frozen.factors == (PlannedFactor("water", ("tank", "drip", "hand")),)
    assert (frozen.seed, frozen.blocks, frozen.contrast, frozen.contrast_of) == (
        20260110,
        4,
        ("tank", "drip"),
        "treatment",
    )
    assert (frozen.guard_rows, frozen.guard_plants, frozen.analysis) == (1, 1, ANALYSES["blocks"])
    assert frozen.frozen_on == datetime.date(2026, 1, 10)
    assert ran.out.startswith("door\nB1  P01")
    assert "36\u00a0% or more shows" in ran.out
    assert f"plan.toml: frozen on 2026-01-10, hash {frozen.sha256[:12]}." in ran.out
    assert "record_sheets/record_sheets.html: sheets to print" in ran.out


def test_without_a_date_a_plan_is_frozen_today(case: Path) -> None:
    before = datetime.date.today()
    plan(case)
    frozen = read_plan(case)
    assert frozen is not None
    assert before <= frozen.frozen_on <= datetime.date.today()


def test_a_frozen_plan_is_shown_again_and_checked(case: Path) -> None:
    plan(case, "--cv", "0.15")
    ran = run("plan", str(case))
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Does the tank yield as much as drip?\nFrozen on ")
    assert "seed 20260110 draws it again" in ran.out
    text = (case / "plan.toml").read_text(encoding="utf-8")
    (case / "plan.toml").write_text(text.replace("0.2 ", "0.1 ", 1), encoding="utf-8")
    ran = run("plan", str(case))
    assert ran.code == 1
    assert "it was changed after it was frozen" in ran.err


def test_a_frozen_plan_is_never_overwritten(case: Path) -> None:
    plan(case)
    before = bytes_of(case)
    ran = plan(case, seed="1")
    assert (ran.code, ran.out) == (1, "")
    assert "a frozen plan is not overwritten" in ran.err
    assert bytes_of(case) == before


def test_a_preview_says_sizes_and_power_shows_no_layout_and_writes_nothing(case: Path) -> None:
    before = bytes_of(case)
    ran = plan(case, "--cv", "0.15", "--preview")
    assert (ran.code, ran.err) == (0, "")
    assert "Net plot, harvested and recorded" in ran.out
    assert "or more shows" in ran.out
    assert "P01" not in ran.out
    assert bytes_of(case) == before


def test_split_plots_and_factorials_take_two_factors(tmp_path: Path) -> None:
    for design in ("split", "factorial"):
        run("new", str(tmp_path / design))
        ran = plan(tmp_path / design, "--factor", "inoculation=fungus,none", design=design, contrast="water:tank,drip")
        assert (ran.code, ran.err) == (0, "")
        frozen = read_plan(tmp_path / design)
        assert frozen is not None
        assert (frozen.design, len(frozen.plots), frozen.contrast_of) == (design, 24, "water")
        header = (tmp_path / design / "plots.csv").read_text(encoding="utf-8").splitlines()[0]
        assert ",factor_water,factor_inoculation," in header


@pytest.mark.parametrize("option", [name for name in NEEDED if name != "--design"])
def test_an_option_that_is_missing_is_named_with_an_example(case: Path, option: str) -> None:
    ran = plan(case, without=option)
    assert (ran.code, ran.out) == (1, "")
    assert f"also needs {option}. For example: --design blocks" in ran.err


def test_the_question_of_the_case_serves_where_none_is_given(case: Path) -> None:
    (case / "case.toml").write_text(
        (Path(__file__).parent.parent / "data_demo" / "case.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    plan(case, without="--question")
    frozen = read_plan(case)
    assert frozen is not None
    assert frozen.question.startswith("Should a household of the Sarvane growers' group")
    page = (case / "record_sheets" / "record_sheets.html").read_text(encoding="utf-8")
    assert "INVENTED DATA" in page


@pytest.mark.parametrize(
    ("option", "value", "told"),
    [
        ("factor", "tank,drip", "write NAME=A,B,... such as water=tank,drip,hand"),
        ("contrast", "tank", "write two names, such as tank,drip"),
        ("plot", "2", "write two whole numbers, such as 2x8"),
        ("spacing", "50cm", "write two lengths in metres, such as 0.5x0.6"),
        ("frozen-on", "10.1.2026", "write year-month-day, such as 2026-01-10"),
        ("design", "latin", "invalid choice"),
    ],
)
def test_a_word_that_cannot_be_read_ends_with_exit_code_2(case: Path, option: str, value: str, told: str) -> None:
    ran = plan(case, **{option: value})
    assert ran.code == 2
    assert told in ran.err


@pytest.mark.parametrize(
    ("option", "value", "told"),
    [
        ("smallest-gain", "15", "write 0.15 if 15 % is meant"),
        ("blocks", "1", "must lie between 2 and 200"),
        ("contrast", "tank,wick", "write two of tank, drip, hand"),
        ("columns", "2", "write 1 or 3"),
        ("design", "split", "has 2 factors"),
        ("outcome", "yield", "the glossary has no such outcome"),
    ],
)
def test_a_plan_that_makes_no_trial_is_refused_and_nothing_written(
    case: Path, option: str, value: str, told: str
) -> None:
    before = bytes_of(case)
    ran = plan(case, **{option: value})
    assert (ran.code, ran.out) == (1, "")
    assert told in ran.err
    assert bytes_of(case) == before


def test_a_folder_that_is_no_case_gets_no_plan(tmp_path: Path) -> None:
    assert "make a case first with `plotworth new FOLDER`" in plan(tmp_path).err
    assert "has no plan.toml; make one with" in run("plan", str(tmp_path)).err


def test_new_xlsx_writes_settings_notes_and_one_workbook(tmp_path: Path) -> None:
    ran = run("new", str(tmp_path / "mine"), "--xlsx")
    assert (ran.code, ran.err) == (0, "")
    assert sorted(bytes_of(tmp_path / "mine")) == ["READ ME.txt", "case.toml", "tables.xlsx"]
    assert run("new", str(tmp_path / "mine"), "--xlsx").code == 1
    checked = run("check", str(tmp_path / "mine"))
    assert "tables.xlsx[seasons]: the table has no rows" in checked.err


def test_a_plan_in_a_workbook_case_writes_no_csv_tables(tmp_path: Path) -> None:
    run("new", str(tmp_path / "mine"), "--xlsx")
    ran = plan(tmp_path / "mine")
    assert "tables.xlsx: 12 plots in the sheet plots" in ran.out
    assert not list((tmp_path / "mine").glob("*.csv"))
    assert plan(tmp_path / "mine", seed="2").code == 1
