"""Hours by task and month: by hand on the plain case, and against the composition's hours on random values."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from cash_cases import LABOUR, WAGES, moved
from folders import DEMO
from plain_case import plain_case
from plotworth.case.folder import Case, open_case
from plotworth.choose.cash_months import CaseCash, cash_by_month
from plotworth.choose.cash_rows import labour_rows, task_rows
from plotworth.choose.cash_table import labour_notes, task_table
from plotworth.choose.inputs import lay_out
from plotworth.choose.labour_months import hours_of
from plotworth.choose.labour_peak import labour_peak
from plotworth.choose.layout import Layout


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


def cash_of(case: Case) -> CaseCash:
    layout = lay_out(case)
    return cash_by_month(layout, layout.values)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_tasks_and_months_come_to_the_hours_of_the_composition(demo: Layout, seed: int) -> None:
    for one in cash_by_month(demo, moved(demo, seed)).systems.values():
        family, hired = hours_of(one.tasks)
        assert_allclose(family.sum(axis=0), one.months.year.family_hours, rtol=1e-12)
        assert_allclose(hired.sum(axis=0), one.months.year.hired_hours, rtol=1e-12)


def test_hours_fall_into_their_month_and_without_one_evenly_over_the_season(tmp_path: Path) -> None:
    # planting 100 m2 x 0.1 h, 0.8 family, in February; picking 10 and 30 h, half; meetings 5 h over five months
    rows = {
        row["task"]: row for row in task_rows(cash_of(plain_case(tmp_path, book=WAGES, labour=LABOUR)).systems["tank"])
    }
    assert_allclose(rows["planting"]["family"][:3], [8, 0, 0])
    assert_allclose(rows["planting"]["hired"][:3], [2, 0, 0])
    assert_allclose(rows["picking"]["family"][:5], [0, 0, 5, 15, 0])
    assert_allclose(rows["meetings"]["family"][:6], [1, 1, 1, 1, 1, 0])


def test_carrying_follows_the_water(tmp_path: Path) -> None:
    book = {**WAGES, "water_applied_l_per_m2": 100.0, "carrying_h_per_m3": 2.0, "carrying_family_share": 0.75}
    (row,) = task_rows(cash_of(plain_case(tmp_path, book=book)).systems["tank"])
    assert row["task"] == "carrying water"
    assert_allclose(row["family"][:6], [10 * 2 * 0.75 / 5] * 5 + [0])  # 10 m3 over five months, no weather


def test_what_is_short_of_the_hours_at_hand_is_hired_at_its_wage(tmp_path: Path) -> None:
    # family hours from February: 9, 1, 6, 16, 1; of 8 at hand 1 and 8 are short: 9 h x 0.3
    cash = cash_of(plain_case(tmp_path, book={**WAGES, "hours_at_hand_per_month": 8.0}, labour=LABOUR))
    peak = labour_peak(cash.systems["tank"], cash.values)
    assert_allclose(peak.short[[1, 2, 3, 4, 5], 0, 0], [1, 0, 0, 8, 0])
    assert float(peak.peak_month[0, 0]) == 5
    assert_allclose(peak.hire_cost, 9 * 0.3)
    (told,) = [note for note in labour_notes(cash) if note.startswith("Tank")]
    assert "most family work falls in May, 16 hours, of 8 at hand: over the year 9 hours are short" in told


def test_hours_at_hand_that_nobody_stated_are_said_to_be_missing(tmp_path: Path) -> None:
    cash = cash_of(plain_case(tmp_path, book=WAGES, labour=LABOUR))
    assert np.isnan(labour_peak(cash.systems["tank"], cash.values).short).all()
    assert any("states no hours_at_hand_per_month" in note for note in labour_notes(cash))
    assert not any(row["short"] > 0 for row in labour_rows(cash))


def test_enough_hours_at_hand_are_told(tmp_path: Path) -> None:
    cash = cash_of(plain_case(tmp_path, book={**WAGES, "hours_at_hand_per_month": 20.0}, labour=LABOUR))
    assert "Tank: most family work falls in May, 16 hours, of 20 at hand." in list(labour_notes(cash))


def test_the_table_of_tasks_has_a_column_for_each_month_from_the_first(tmp_path: Path) -> None:
    table = task_table(cash_of(plain_case(tmp_path, book=WAGES, labour=LABOUR)).systems["tank"])
    assert table.systems[:2] == ("Feb", "Mar")
    assert [row.label for row in table.rows] == ["planting", "picking", "meetings"]
    assert table.rows[1].cells[:4] == ("0", "0", "10", "30")
