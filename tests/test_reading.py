"""What `plotworth check` says was read: tables and dates, the trial with its intervals, what to know."""

import re
from pathlib import Path

import pytest

from folders import DEMO
from plotworth.case.folder import open_case
from plotworth.choose.inputs import lay_out
from plotworth.ground.amounts import interval_text
from plotworth.report.page import WIDTH
from plotworth.report.reading import reading_text
from small_case import FILES, write_case


@pytest.fixture(scope="module")
def text() -> str:
    case = open_case(DEMO)
    return reading_text(case, lay_out(case))


def small_text(folder: Path, old: str = "", new: str = "") -> str:
    book = FILES["assumptions.csv"].replace("trial,,,", "3,2,4,").replace(old, new, 1)
    case = open_case(write_case(folder, {"assumptions.csv": book, "plots.csv": None, "harvests.csv": None}))
    return reading_text(case, lay_out(case))


def test_it_keeps_to_the_width_and_marks_invented_data(text: str) -> None:
    assert max(map(len, text.splitlines())) <= WIDTH
    assert text.splitlines()[0].endswith("INVENTED DATA")


@pytest.mark.parametrize("table", sorted(path.stem for path in DEMO.glob("*.csv")))
def test_every_table_is_told_with_as_many_rows_as_its_file_has(text: str, table: str) -> None:
    rows = len((DEMO / f"{table}.csv").read_text(encoding="utf-8").splitlines()) - 1
    assert re.search(rf"^{table}: {rows} (rows|lines)", text, re.MULTILINE)


def test_tables_with_dates_say_their_first_and_last_day(text: str) -> None:
    assert "harvests: 328 rows, 2026-04-09 to 2026-06-18" in text


def test_each_treatment_has_its_yield_with_the_interval_over_its_plots(text: str) -> None:
    case = open_case(DEMO)
    trial = lay_out(case).trial
    assert trial is not None
    for name, row in trial.treatments.iterrows():
        ends = row["yield_low_kg_per_m2"], row["yield_high_kg_per_m2"]
        expected = interval_text(row["yield_kg_per_m2"], *ends, "kg/m²")
        assert f"  {name}: {expected}, {row['plots']:g} plots; counted kilograms " in text


def test_counted_kilograms_are_told_above_or_below_the_weighed(text: str) -> None:
    assert "counted kilograms 1.3\u00a0% below the weighed" in text
    assert "counted kilograms 1.4\u00a0% above the weighed" in text


def test_a_missing_plot_and_a_missing_table_are_told_with_what_they_mean(text: str) -> None:
    joined = text.replace("\n  ", " ")
    assert "plot P26 has no picking: missing, not zero (eaten by goats" in joined
    assert "- no prices by month: a year has one price" in joined


def test_without_a_trial_nothing_is_said_of_treatments_but_that_there_is_none(tmp_path: Path) -> None:
    text = small_text(tmp_path)
    assert "Marketable yield of the trial" not in text
    assert "no trial: nothing is said about plots" in text


def test_what_the_book_leaves_out_or_calls_unknown_is_told(tmp_path: Path) -> None:
    joined = small_text(tmp_path, ",0.5,0.25,1,", ",unknown,,,").replace("\n  ", " ")
    assert "unknown, so left as a gap: market_price_per_kg/all/pepper." in joined
    assert "delivery_share (taken as 1)" in joined
