"""Financing: grants by hand, loans by month and year, deflation, and streams before and after."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.money.financing import (
    break_even_grant_share,
    debt_by_month,
    financed,
    grant_amount,
    grant_by_month,
    last_month,
    loan_by_month,
    loan_by_year,
    present_value_of_months,
    years_of_months,
)
from plotworth.money.loan import (
    ANNUITY,
    EFFECTIVE,
    EQUAL_PRINCIPAL,
    FLAT,
    GRACE_KINDS,
    INTEREST_PAID,
    REPAYMENTS,
    LoanTerms,
    loan_schedule,
    rate_per_period,
)
from plotworth.money.measures import discount_factors, present_value
from plotworth.money.prices import nominal_rate

amounts = st.floats(10.0, 1e6)
rates = st.floats(0.0, 1.0)
all_terms = st.builds(
    lambda repayment, repaying, per_year, grace_periods, grace: LoanTerms(
        repayment, repaying + grace_periods, per_year, grace_periods, grace
    ),
    st.sampled_from(REPAYMENTS),
    st.integers(1, 8),
    st.sampled_from([1, 2, 4, 12]),
    st.integers(0, 3),
    st.sampled_from(GRACE_KINDS),
)
HORIZON_YEARS = 12  # holds the longest of them: 11 years and a late start

# --- grants


def test_a_grant_is_a_share_or_a_sum_and_never_more_than_the_investment() -> None:
    assert_allclose(grant_amount(1000.0, share=0.4), 400.0, rtol=1e-12)
    assert_allclose(grant_amount(1000.0, lump_sum=250.0), 250.0, rtol=1e-12)
    assert_allclose(grant_amount(1000.0, share=0.4, lump_sum=250.0), 650.0, rtol=1e-12)
    assert_array_equal(grant_amount([1000.0, 100.0, np.nan], lump_sum=250.0), [250.0, 100.0, np.nan])
    assert grant_amount(1000.0) == 0.0


def test_the_grant_share_that_leaves_no_loss_by_hand() -> None:
    found = break_even_grant_share([-250.0, 30.0, -1200.0, -1000.0, np.nan], 1000.0)
    assert_array_equal(found, [0.25, 0.0, np.nan, 1.0, np.nan])
    assert_array_equal(break_even_grant_share([-1.0, 0.0, 5.0], [0.0, 0.0, np.nan]), [np.nan, 0.0, np.nan])


@given(st.floats(-1.0, 0.0), st.floats(1.0, 1e6))
def test_with_that_grant_the_net_present_value_is_zero(part: float, investment: float) -> None:
    loss = part * investment
    share = break_even_grant_share(loss, investment)
    assert_allclose(loss + grant_amount(investment, share=share), 0.0, atol=1e-12 * investment)


def test_a_grant_that_comes_late_is_deflated_at_its_month() -> None:
    flows = grant_by_month(np.array([[121.0]]), 24, month=24, inflation=0.1)
    assert flows.shape == (25, 1, 1)
    assert_allclose(flows[24], 100.0, rtol=1e-12)  # 121 / 1.1 ** 2
    assert np.count_nonzero(flows) == 1
    with pytest.raises(ValueError, match="the grant's month is 0 to 24, found 25"):
        grant_by_month(100.0, 24, month=25)


# --- loans by month and year


def test_a_quarterly_loan_stands_in_its_months_and_years() -> None:
    # 1200 in four quarters, 10 % a quarter on what is owed: 300 + 120, 90, 60, 30; received in month 2
    terms = LoanTerms(EQUAL_PRINCIPAL, 4, 4)
    loan = loan_schedule(terms, 1200.0, 0.1)
    months = loan_by_month(loan, terms, 24, received_month=2)
    assert last_month(terms, 2) == 14
    expected = np.zeros(25)
    expected[[2, 5, 8, 11, 14]] = [1200.0, -420.0, -390.0, -360.0, -330.0]
    assert_allclose(months, expected, rtol=1e-12, atol=1e-12)
    assert_allclose(loan_by_year(loan, terms, 2, received_month=2), [0.0, 30.0, -330.0], rtol=1e-12, atol=1e-12)
    owed = debt_by_month(loan, terms, 24, received_month=2)
    assert_allclose(owed[[1, 2, 4, 5, 8, 11, 13, 14]], [0, 1200, 1200, 900, 600, 300, 300, 0], rtol=1e-12)


def test_a_window_may_end_before_the_loan_but_a_horizon_may_not() -> None:
    terms = LoanTerms(ANNUITY, 60, 12)
    loan = loan_schedule(terms, 1000.0, 0.01)
    window = loan_by_month(loan, terms, 36)
    assert_array_equal(window, loan_by_month(loan, terms, 60)[:37])
    assert_allclose(debt_by_month(loan, terms, 36)[36], loan.closing[35], rtol=1e-12)
    with pytest.raises(ValueError, match="the loan ends in month 60, after the horizon of 4 years"):
        loan_by_year(loan, terms, 4)
    assert loan_by_year(loan, terms, 5).shape == (6,)


def test_years_are_twelve_months_and_month_nought_is_year_nought() -> None:
    assert_array_equal(years_of_months(np.arange(25.0)), [0.0, 78.0, 222.0])  # 1 + ... + 12, 13 + ... + 24
    with pytest.raises(ValueError, match="30 months are not whole years"):
        years_of_months(np.zeros(31))


@settings(deadline=None)
@given(all_terms, amounts, st.floats(0.0, 0.2), rates, st.integers(0, 12))
def test_months_of_a_loan_add_up_to_its_years(
    terms: LoanTerms, amount: float, rate: float, inflation: float, start: int
) -> None:
    loan = loan_schedule(terms, np.full((2, 1), amount), np.full((1, 3), rate))
    months = loan_by_month(loan, terms, 12 * HORIZON_YEARS, received_month=start, inflation=inflation)
    years = loan_by_year(loan, terms, HORIZON_YEARS, received_month=start, inflation=inflation)
    assert months.shape == (145, 2, 3)
    assert_allclose(years.sum(axis=0), months.sum(axis=0), rtol=1e-9, atol=1e-9 * amount)
    for year in range(1, HORIZON_YEARS + 1):
        assert_allclose(years[year], months[12 * year - 11 : 12 * year + 1].sum(axis=0), rtol=1e-12, atol=1e-9)


@settings(deadline=None)
@given(all_terms.filter(lambda terms: terms.repayment != FLAT), amounts, rates, rates, st.integers(0, 12))
def test_a_loan_at_the_case_rate_is_worth_nothing_to_a_month(
    terms: LoanTerms, amount: float, real: float, inflation: float, start: int
) -> None:
    """Borrowing at the nominal twin of the real rate of the case neither gains nor loses."""
    stated = nominal_rate(real, inflation)
    period_rate = rate_per_period(stated, terms.periods_per_year, convention=EFFECTIVE)
    loan = loan_schedule(terms, amount, period_rate)
    months = loan_by_month(loan, terms, 12 * HORIZON_YEARS, received_month=start, inflation=inflation)
    assert_allclose(present_value_of_months(months, real), 0.0, atol=1e-10 * float(loan.opening.max()))


def test_a_dear_yearly_loan_costs_money_and_a_cheap_one_brings_some() -> None:
    # 1000 for a year at a case rate of 10 %: 1000 - 1200/1.1 = -90.909..., 1000 - 1000/1.1 = 90.909...
    terms = LoanTerms(ANNUITY, 1, 1)
    loan = loan_schedule(terms, np.full((1, 2), 1000.0), np.array([[0.2, 0.0]]))
    worth = present_value(loan_by_year(loan, terms, 1), discount_factors(0.1, 1))
    assert_allclose(worth, [[-1000 / 11, 1000 / 11]], rtol=1e-12)


def test_inflation_makes_a_nominal_loan_cheaper() -> None:
    # 1000, interest alone paid in year 1, in years 2: 1100 - 100/1.25 - 1100/1.25**2 deflated = 1000 - 80 - 704
    terms = LoanTerms(ANNUITY, 2, 1, 1, INTEREST_PAID)
    loan = loan_schedule(terms, 1000.0, 0.1)
    assert_allclose(loan_by_year(loan, terms, 2, inflation=0.25), [1000.0, -80.0, -704.0], rtol=1e-12)


# --- before and after


def test_a_stream_after_financing_is_before_and_financing() -> None:
    before = np.array([-1000.0, 500.0, 800.0]).reshape(3, 1, 1)
    terms = LoanTerms(EQUAL_PRINCIPAL, 2, 1)
    loan = loan_by_year(loan_schedule(terms, np.full((1, 2), 600.0), np.array([[0.0, 0.1]])), terms, 2)
    grant = np.array([100.0, 0.0, 0.0]).reshape(3, 1, 1)
    found = financed(before, loan, grant)
    assert_allclose(found.financing[:, 0], [[700.0, 700.0], [-300.0, -360.0], [-300.0, -330.0]], rtol=1e-12)
    assert_allclose(found.after[:, 0], [[-300.0, -300.0], [200.0, 140.0], [500.0, 470.0]], rtol=1e-12)
    assert found.before.shape == found.after.shape == (3, 1, 2)


def test_one_stream_meets_loans_of_many_draws() -> None:
    loan = np.array([100.0, -110.0]).reshape(2, 1, 1) * np.ones((1, 1, 3))
    found = financed([-100.0, 150.0], loan)
    assert_allclose(found.after, np.array([0.0, 40.0]).reshape(2, 1, 1) * np.ones((1, 1, 3)), rtol=1e-12)


def test_without_financing_nothing_changes() -> None:
    before = np.array([-1000.0, 500.0]).reshape(2, 1, 1)
    found = financed(before)
    assert_array_equal(found.after, before)
    assert_array_equal(found.financing, 0.0)


@given(st.lists(st.integers(0, 10_000), min_size=25, max_size=25), st.floats(0.001, 1.0))
def test_receipts_by_month_are_worth_at_least_what_they_are_at_year_ends(flows: list[int], rate: float) -> None:
    by_year = present_value(years_of_months(flows), discount_factors(rate, 2))
    assert present_value_of_months(flows, rate) >= by_year * (1 - 1e-12)
