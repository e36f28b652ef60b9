"""What the months come to: by hand on the plain case, and by putting the answers back in."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from cash_cases import GRANT, LOAN, changed_to, moved, with_tables
from folders import DEMO
from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.cash_months import cash_by_month
from plotworth.choose.cash_summary import CashSummary, balance, cash_summaries, lean_months
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.views import CASH, in_view
from plotworth.ground.arrays import Array

POOR = {"market_price_per_kg/all/pepper": 0.08}
"""24 of sales less 10 of seed a year are worth 44 at 10 %, the tanks 30 + 30 / 1.21 = 55."""
few = settings(max_examples=15, deadline=None)


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


def of_tank(layout: Layout, values: Mapping[str, Array]) -> CashSummary:
    return cash_summaries(cash_by_month(layout, values))["tank"]


def number(array: Array) -> float:
    return float(array.flat[0])


def test_the_deepest_month_and_the_months_below_zero_are_those_worked_by_hand(tmp_path: Path) -> None:
    # balances -30, -40, -40, -10, 50, ...: lowest first in month 1; months 0 to 3 close below zero
    layout = lay_out(plain_case(tmp_path))
    one = of_tank(layout, layout.values)
    assert (number(one.before.deepest), number(one.before.deepest_month)) == (-40, 1)
    assert (number(one.before.below_zero_months), number(one.before.below_zero_shown)) == (4, 4)
    assert number(one.first_year_need) == 10  # the seed, before sales


def test_a_balance_that_never_falls_below_zero_has_no_deepest_point() -> None:
    found = balance(np.array([0.0, 5.0, -5.0, 1.0])[:, None, None])
    assert (number(found.deepest), number(found.below_zero_months)) == (0.0, 0.0)


def test_rounding_is_no_month_below_zero() -> None:
    found = balance(np.array([-0.3, 0.1, 0.2, -3e-17])[:, None, None])
    assert number(found.below_zero_months) == 2  # -0.3 and -0.2; then 0.1 + 0.2 - 0.3 is 0 but for rounding


def test_lean_months_are_the_three_lowest_of_a_normal_year_the_earlier_of_equals_first(tmp_path: Path) -> None:
    # February -10; March and July to January 0, of which March and July come first
    layout = lay_out(plain_case(tmp_path))
    assert [number(place) for place in of_tank(layout, layout.values).lean] == [1, 2, 6]
    assert np.isnan(lean_months(np.full((12, 1, 1), np.nan))).all()


def test_worth_in_cash_is_that_of_the_composition_and_the_headline_stays(demo: Layout) -> None:
    values = moved(demo, 3)
    summaries = cash_summaries(cash_by_month(demo, values))
    shocks = expected_shocks(demo.structure, values)
    full = evaluate(demo.structure, values, shocks).systems
    in_cash = evaluate(demo.structure, in_view(demo, values, CASH), shocks).systems
    for name, one in summaries.items():
        assert_allclose(one.npv_full, full[name]["npv"], rtol=1e-11)
        assert_allclose(one.npv_cash, in_cash[name]["npv"], rtol=1e-11)


def test_the_demo_keeps_its_worth_with_its_loan_and_grant() -> None:
    # -5023.04, -4563.48 and -3327.47: the demo's NPVs before it had any financing
    npvs = {name: figures["npv"] for name, figures in appraise(open_case(DEMO)).systems.items()}
    assert_allclose([npvs[name] for name in ("reservoir", "drip", "hand")], [-5023.04, -4563.48, -3327.47], atol=0.005)


def test_the_grant_that_breaks_even_leaves_nothing_gained_and_nothing_lost(tmp_path: Path) -> None:
    layout = lay_out(plain_case(tmp_path, book=POOR, settings=with_tables(LOAN + GRANT)))
    share = number(of_tank(layout, layout.values).break_even_grant_share)
    granted = of_tank(layout, changed_to(layout.values, "grant/tank/fund/share", share))
    assert 0 < share < 1
    assert_allclose(number(granted.npv_cash_after), 0, atol=1e-12)


def test_a_grant_that_cannot_break_even_is_none(tmp_path: Path) -> None:
    layout = lay_out(plain_case(tmp_path, book={"market_price_per_kg/all/pepper": 0.0}))
    assert np.isnan(of_tank(layout, layout.values).break_even_grant_share).all()


def test_a_loan_at_the_discount_rate_is_worth_nothing(tmp_path: Path) -> None:
    # nominal rate 12 ((1.1)^(1/12) - 1), which compounds to the plain case's 10 % a year; no rise of prices
    rate = 12 * (1.1 ** (1 / 12) - 1)
    layout = lay_out(plain_case(tmp_path, settings=with_tables(LOAN.replace("0.12", repr(rate)))))
    one = of_tank(layout, layout.values)
    assert_allclose(one.npv_cash_after, one.npv_cash, rtol=1e-12)


def test_the_smallest_and_the_largest_loan_leave_a_month_at_nothing_and_none_below(tmp_path: Path) -> None:
    # three years to repay: after a year some 110 has come in, so that a larger loan runs dry later only
    text = LOAN.replace("amount_share_of_investment = 1.0", "amount = 60").replace("years = 1", "years = 3")
    layout = lay_out(plain_case(tmp_path, settings=with_tables(text)))
    one = of_tank(layout, layout.values)
    for bound, step in ((number(one.smallest_loan), -1.0), (number(one.largest_loan), 1.0)):
        at = "loan/tank/bank/amount"
        lent = cash_by_month(layout, changed_to(layout.values, at, bound)).systems["tank"]
        assert_allclose(lent.closing(with_financing=True).min(), 0.0, atol=1e-9)
        beyond = cash_by_month(layout, changed_to(layout.values, at, bound + step)).systems["tank"]
        assert beyond.closing(with_financing=True).min() < -1e-3


def test_where_no_loan_fits_there_is_no_largest(tmp_path: Path) -> None:
    layout = lay_out(plain_case(tmp_path, book={"market_price_per_kg/all/pepper": 0.0}, settings=with_tables(LOAN)))
    one = of_tank(layout, layout.values)
    assert np.isnan(one.largest_loan).all()
    assert np.isnan(one.smallest_loan).all()


@few
@given(seed=st.integers(0, 10**6))
def test_financing_adds_to_the_end_what_it_adds_by_month(demo: Layout, seed: int) -> None:
    for one in cash_by_month(demo, moved(demo, seed)).systems.values():
        difference = one.closing(with_financing=True)[-1] - one.closing(with_financing=False)[-1]
        scale = np.abs(one.after).sum() * 1e-12  # of all money moved
        assert_allclose(difference, sum(part.sum(axis=0) for part in one.financing.values()), rtol=0, atol=scale)


def test_an_unknown_price_leaves_no_figure(tmp_path: Path) -> None:
    layout = lay_out(plain_case(tmp_path, book={"market_price_per_kg/all/pepper": "unknown"}))
    one = of_tank(layout, layout.values)
    assert np.isnan([number(x) for x in (one.before.deepest, one.before.below_zero_months, one.npv_cash)]).all()
