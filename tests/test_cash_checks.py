"""The checks of cash by month are green on the demo and on random values, and red on each of six seeded faults."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cash_cases import GRANT, LABOUR, LOAN, WAGES, moved, with_tables
from folders import DEMO, run
from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.cash_checks import CHECKS, cash_checks
from plotworth.choose.cash_months import HIRED, SALES, CashMonths, cash_by_month
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.loan_flows import INTEREST, PRINCIPAL

YEARS, CLOSES, REPAID, HOURS = (sentence for sentence, _ in CHECKS)


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_the_checks_hold_on_random_values(demo: Layout, seed: int) -> None:
    assert [check.sentence for check in cash_checks(cash_by_month(demo, moved(demo, seed))) if not check.holds] == []


def test_they_hold_where_a_number_is_unknown(tmp_path: Path) -> None:
    layout = lay_out(plain_case(tmp_path, book={"market_price_per_kg/all/pepper": "unknown"}))
    assert all(check.holds for check in cash_checks(cash_by_month(layout, layout.values)))


def scaled(one: CashMonths, kind: str) -> CashMonths:
    """Return cash with the amounts of one kind a thousandth too large."""
    return replace(
        one,
        flows={name: part * (1.001 if name == kind else 1.0) for name, part in one.flows.items()},
        financing={name: part * (1.001 if name == kind else 1.0) for name, part in one.financing.items()},
    )


def without_a_task(one: CashMonths) -> CashMonths:
    return replace(one, tasks=one.tasks[1:])


def short_of_months(one: CashMonths) -> CashMonths:
    """Return cash in which the sales of the last year are lost."""
    sales = np.concatenate([one.flows[SALES][:-12], 0.0 * one.flows[SALES][-12:]])
    return replace(one, flows={**one.flows, SALES: sales})


@pytest.mark.parametrize(
    ("spoil", "expected"),
    [
        (lambda one: scaled(one, SALES), YEARS),
        (lambda one: scaled(one, HIRED), YEARS),
        (short_of_months, YEARS),
        (lambda one: scaled(one, PRINCIPAL), REPAID),
        (lambda one: scaled(one, INTEREST), REPAID),
        (without_a_task, HOURS),
    ],
)
def test_a_seeded_fault_turns_its_check_red(
    tmp_path: Path, spoil: Callable[[CashMonths], CashMonths], expected: str
) -> None:
    layout = lay_out(plain_case(tmp_path, book=WAGES, labour=LABOUR, settings=with_tables(LOAN + GRANT)))
    cash = cash_by_month(layout, layout.values)
    spoiled = replace(cash, systems={**cash.systems, "tank": spoil(cash.systems["tank"])})
    assert [check.sentence for check in cash_checks(spoiled) if not check.holds] == [expected]


def test_check_refuses_a_grant_above_the_investment(tmp_path: Path) -> None:
    plain_case(tmp_path / "case", settings=with_tables(GRANT.replace("share_of_investment = 0.5", "amount = 31")))
    ran = run("check", str(tmp_path / "case"))
    assert ran.code == 1
    assert "the grants of tank are more than its investment" in ran.err
    assert "Check: the months of cash come to the years of the appraisal: holds." in run("cash", str(DEMO)).out
