"""The page of text that `plotworth appraise` prints: its width, its mark, its dashes, its words."""

import re
from pathlib import Path

import pytest

from folders import DEMO
from plotworth.case.folder import Case, open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.figure_table import DASH, DIFFERENCES, GROUPS
from plotworth.ground.amounts import MINUS, figures_text
from plotworth.ground.cautions import DECISION_SUPPORT
from plotworth.ground.glossary import GLOSSARY
from plotworth.report.page import INVENTED, NAME_WIDTH, UNIT_WIDTH, WIDTH, appraisal_text, wrapped
from small_case import FILES, changed, write_case

PLAIN = {
    "assumptions.csv": FILES["assumptions.csv"].replace("trial,,,", "3,2,4,"),
    "plots.csv": None,
    "harvests.csv": None,
}
LONG_LABELS = {"small": "Tank", "long": "A lidded tank dug in beside the bed, filled by hand and feeding wicks"}


@pytest.fixture(scope="module")
def demo() -> Appraisal:
    return appraise(open_case(DEMO))


@pytest.fixture(scope="module")
def page(demo: Appraisal) -> str:
    return appraisal_text(demo)


def small(folder: Path, files: dict[str, str | None] | None = None) -> Case:
    return open_case(write_case(folder, {**PLAIN, **(files or {})}))


def many_systems(folder: Path, count: int) -> Case:
    """The small case with further systems, each with a label of its own."""
    names = [f"tank{number}" for number in range(count)]
    blocks = "".join(f'[[systems]]\nid = "{n}"\nlabel = "Tank of kind {n[4:]}"\n' for n in names)
    seasons = "".join(f"{n},dry,pepper,2,5,1\n" for n in names)
    book = "".join(f"yield_kg_per_m2,{n},pepper,,2,1,3,kg/m2,invented,,D\n" for n in names)
    extra = {"case.toml": blocks, "seasons.csv": seasons, "assumptions.csv": book}
    base = {**FILES, **PLAIN}
    return small(folder, {file: f"{base[file]}{text}" for file, text in extra.items()})


def plain(line: str) -> str:
    return line.replace("\u202f", " ").replace("\u00a0", " ")


def test_no_line_is_wider_than_the_page(page: str) -> None:
    assert max(map(len, page.splitlines())) <= WIDTH == 100


@pytest.mark.parametrize("count", [3, 12])
def test_many_systems_are_shown_in_blocks_that_keep_to_the_width(tmp_path: Path, count: int) -> None:
    text = appraisal_text(appraise(many_systems(tmp_path, count)))
    assert max(map(len, text.splitlines())) <= WIDTH
    for number in range(count):
        assert re.search(rf"\s{{2}}Tank of kind {number}(\s{{2}}|\n)", text)
    rows = [line for line in text.splitlines() if line.startswith("Net present value")]
    cells = sum(len(line[NAME_WIDTH + UNIT_WIDTH :].split("  ")) > 0 for line in rows)
    assert cells >= 3 * (1 if count == 3 else 2)


def test_long_labels_titles_and_questions_keep_to_the_width(tmp_path: Path) -> None:
    settings = (
        FILES["case.toml"].replace('"Tank"', f'"{LONG_LABELS["long"] * 2}"').replace("A small case", "word " * 40)
    )
    text = appraisal_text(appraise(small(tmp_path, {"case.toml": settings})))
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "..." in text


def test_invented_data_are_marked_in_the_first_line_and_real_data_are_not(page: str, tmp_path: Path) -> None:
    assert page.splitlines()[0].endswith(INVENTED)
    real = changed("case.toml", "invented = true", "invented = false")
    assert "INVENTED" not in appraisal_text(appraise(small(tmp_path, {**real})))


def test_every_row_is_named_as_in_the_glossary_and_shows_its_figure(demo: Appraisal, page: str) -> None:
    for name in (name for names in GROUPS.values() for name in names):
        term = GLOSSARY[name]
        figures = [values[name] for values in demo.systems.values()]
        cells = [DASH if f != f else figures_text(100 * f if term.unit.startswith("share") else f) for f in figures]
        rows = [line for line in page.splitlines() if line.startswith(term.label.ljust(NAME_WIDTH))]
        assert any(re.split(r" {2,}", row[NAME_WIDTH + UNIT_WIDTH :].strip()) == cells for row in rows), name


def test_the_opening_says_area_horizon_money_rate_and_what_each_system_is_worth(page: str) -> None:
    opening = plain(page.split("\n\n")[0] + page.split("\n\n")[1])
    assert "400 m², 10 years, XTS at 2026 prices." in opening
    assert "Real discount rate 12 % a year." in opening
    for label in ("Wick-fed tank", "Well and drip", "Hand watering"):
        assert f"- {label}" in opening
    assert MINUS in opening


def has_dash(line: str) -> bool:
    return bool(re.search(rf" {DASH}(\s|$)", line[NAME_WIDTH:]))


def unexplained(text: str) -> list[str]:
    """Return the labels of rows with a dash that the reasons below do not name."""
    tables, told = text.split(f"WHY A {DASH}")
    reasons = told.replace("\n  ", " ")
    labels = {GLOSSARY[name].label for name in (*DIFFERENCES, *(n for names in GROUPS.values() for n in names))}
    dashed = {line[:NAME_WIDTH].strip() for line in tables.splitlines() if has_dash(line)}
    return sorted(label for label in dashed & labels if f"{label} of " not in reasons)


def test_every_dash_is_explained(page: str) -> None:
    assert any(map(has_dash, page.splitlines()))
    assert unexplained(page) == []


@pytest.mark.parametrize(
    ("old", "new"), [(",0.5,0.25,1,", ",unknown,,,"), ("0.1,0.05,0.2", "unknown,,"), ("2,1,3", "0,,")]
)
def test_every_dash_of_an_unknown_or_of_nothing_harvested_is_explained(tmp_path: Path, old: str, new: str) -> None:
    book = f"{PLAIN['assumptions.csv']}".replace(old, new)
    text = appraisal_text(appraise(small(tmp_path, {"assumptions.csv": book})))
    assert unexplained(text) == []
    assert "nan" not in re.findall(r"\w+", text.lower())


def test_the_page_ends_with_its_checks_and_the_caution(page: str) -> None:
    *_, checks, caution = page.split("\n\n")
    assert all(line.endswith(": holds.") for line in checks.splitlines())
    assert caution.replace("\n  ", " ") == DECISION_SUPPORT


def test_a_unit_is_not_parted_from_its_number() -> None:
    sentence = "word " * 19 + "1\u202f234\u00a0kg/m²"
    assert "1\u202f234\u00a0kg/m²" in wrapped(sentence)[-1]
