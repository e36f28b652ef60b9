"""Figures as tables to read. Cells are the plain case's figures, worked by hand, in three figures."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.figure_table import (
    DASH,
    DIFFERENCES,
    GROUPS,
    FigureTable,
    figure_tables,
    flow_table,
    other_crops,
    reasons,
)
from plotworth.ground.glossary import GLOSSARY

DEMO = Path(__file__).parent.parent / "data_demo"
Book = Mapping[str, float | str | None]


@pytest.fixture
def plain(tmp_path: Path) -> Appraisal:
    return appraise(plain_case(tmp_path, book={"eaten_share": 0.25}))


def row(table: FigureTable, label: str) -> tuple[str, tuple[str, ...]]:
    (found,) = (one for one in table.rows if one.label == label)
    return found.unit, found.cells


def test_there_is_a_table_for_each_group_and_for_each_reference_line(plain: Appraisal) -> None:
    assert [table.title for table in figure_tables(plain)] == [
        "pepper, per planted m2 and season",
        "pepper, kilograms in a full year",
        "a full year of the case",
        "gross margin of a full year",
        "over the horizon",
        "against baseline: less Hand",
        "against today: less Hand",
    ]


def test_systems_alone_have_a_column_each_and_differences_leave_the_reference_out(plain: Appraisal) -> None:
    tables = figure_tables(plain)
    assert [table.systems for table in tables] == [("Tank", "Hand")] * 5 + [("Tank",)] * 2
    assert all(len(one.cells) == len(table.systems) for table in tables for one in table.rows)


def test_a_cell_is_its_figure_in_three_figures_with_the_unit_in_words(plain: Appraisal) -> None:
    """By hand: 225 of 300 kg sold; NPV 389 and 285; yields of 3 and 2 kg/m2."""
    per_m2, kilograms, _, margin, horizon, *_ = figure_tables(plain)
    assert row(per_m2, "Yield") == ("kg/m²", ("3", "2"))
    assert row(kilograms, "Sold") == ("kg", ("225", "150"))
    assert row(margin, "Gross margin") == ("XTS/m²", ("1.4", "0.9"))
    assert row(horizon, "Net present value") == ("XTS", ("389", "285"))
    assert row(horizon, "Benefit-cost ratio") == ("", ("5.5", "10"))


def test_rates_and_shares_are_shown_in_per_cent(plain: Appraisal) -> None:
    """By hand: an MIRR of 1.126 a year is 113 %."""
    assert row(figure_tables(plain)[4], "Modified rate of return") == ("% a year", ("113", DASH))


def test_a_gap_is_a_dash(plain: Appraisal) -> None:
    assert row(figure_tables(plain)[4], "Simple payback")[1] == ("0.214", DASH)
    assert row(figure_tables(plain)[0], "Kilograms per m3 applied")[1] == (DASH, DASH)


def test_the_flows_by_year_are_those_of_the_appraisal(plain: Appraisal) -> None:
    table = flow_table(plain)
    assert [one.label for one in table.rows] == [f"Year {year}" for year in range(5)]
    assert table.rows[0].cells == ("−30", "0")
    assert table.rows[2].cells == ("110", "90")


def test_every_name_in_the_tables_is_an_outcome_of_the_glossary() -> None:
    names = [name for group in GROUPS.values() for name in group] + list(DIFFERENCES)
    assert all(GLOSSARY[name].is_outcome for name in names)


def test_no_sentence_of_another_crop_without_one(plain: Appraisal) -> None:
    assert list(other_crops(plain)) == []


def test_another_crop_is_told_apart_in_a_sentence(tmp_path: Path) -> None:
    seasons = ("tank,dry,pepper,2,5,1", "tank,wet,bean,8,3,1", "hand,dry,pepper,2,5,1")
    book: Book = {"yield_kg_per_m2/tank/bean": 1.0, "market_price_per_kg/all/bean": 0.5}
    (sentence,) = other_crops(appraise(plain_case(tmp_path, book=book, seasons=seasons)))
    assert sentence.startswith("bean in wet, Tank: yield 1 kg/m²")
    assert "sold 100 kg" in sentence


def test_each_reason_is_told_once_with_the_places_it_holds_for(plain: Appraisal) -> None:
    told = reasons(plain)
    assert "No water was applied: Kilograms per m3 applied of Tank; Kilograms per m3 applied of Hand." in told
    assert len({line.split(":")[0] for line in told}) == len(told)


def test_every_dash_of_the_demo_has_a_reason_below() -> None:
    appraisal = appraise(open_case(DEMO))
    told = " ".join(reasons(appraisal))
    for table in figure_tables(appraisal):
        for one in table.rows:
            for label, text in zip(table.systems, one.cells, strict=True):
                assert text != DASH or f"{one.label} of {label}" in told
