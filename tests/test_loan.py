"""Loans: spreadsheet results, published schedules, a second library, and what holds for every loan."""

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy_financial
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.money.loan import (
    ANNUITY,
    EFFECTIVE,
    EQUAL_PRINCIPAL,
    FLAT,
    GRACE_KINDS,
    INTEREST_CAPITALISED,
    INTEREST_PAID,
    NOMINAL,
    REPAYMENTS,
    LoanTerms,
    Schedule,
    effective_rate_per_year,
    level_payment,
    loan_schedule,
    rate_per_period,
    true_rate_per_period,
)
from plotworth.money.measures import discount_factors, present_value

PUBLISHED = Path(__file__).parent / "published" / "money_loans.csv"
OF_THE_LOAN = 1e-11  # of the sum borrowed: a hundred steps of adding in numbers of sixteen digits
MONTHLY = 12

Row = dict[str, str]

amounts = st.floats(10.0, 1e6)
rates = st.just(0.0) | st.floats(1e-9, 0.3)
all_terms = st.builds(
    lambda repayment, repaying, grace_periods, grace: LoanTerms(
        repayment, repaying + grace_periods, MONTHLY, grace_periods, grace
    ),
    st.sampled_from(REPAYMENTS),
    st.integers(1, 60),
    st.integers(0, 12),
    st.sampled_from(GRACE_KINDS),
)


# --- published values and spreadsheet results


def published_rows() -> list[Row]:
    with PUBLISHED.open(encoding="utf-8", newline="") as table:
        return list(csv.DictReader(table))


def in_arrears(row: Row, repayment: str = ANNUITY) -> Schedule:
    terms = LoanTerms(repayment, int(row["periods"]), MONTHLY)
    return loan_schedule(terms, float(row["amount"]), float(row["rate"]))


def in_advance(row: Row) -> tuple[float, Schedule]:
    """Payments at period starts: the first is at once all principal, the rest is a loan of what is left."""
    amount, rate, periods = float(row["amount"]), float(row["rate"]), int(row["periods"])
    payment = float(level_payment(amount, rate, periods)) / (1 + rate)
    return payment, loan_schedule(LoanTerms(ANNUITY, periods - 1, MONTHLY), amount - payment, rate)


def payments_of(row: Row) -> dict[str, np.ndarray]:
    if row["in_advance"] == "0":
        schedule = in_arrears(row)
        return {"payment": schedule.payment, "interest": schedule.interest, "principal": schedule.principal}
    first, rest = in_advance(row)
    return {
        "payment": np.append(first, rest.payment),
        "interest": np.append(0.0, rest.interest),
        "principal": np.append(first, rest.principal),
    }


def added_up(row: Row) -> float:
    return -payments_of(row)[row["measure"]][int(row["first"]) - 1 : int(row["last"])].sum()


def balance(row: Row) -> float:
    passed = int(row["last"])
    if row["in_advance"] == "0":
        return -in_arrears(row).closing[passed - 1]
    return -in_advance(row)[1].closing[passed - 2] * (1 + float(row["rate"]))


def true_rate(row: Row) -> float:
    return float(true_rate_per_period(in_arrears(row) if row["in_advance"] == "0" else in_advance(row)[1]))


def saving(row: Row) -> float:
    amount, rate = float(row["amount"]), float(row["rate"])
    return -(float(level_payment(amount, rate, int(row["periods"]))) - amount * rate)


def nominal_of_effective(row: Row) -> float:
    parts = int(row["periods"])
    return parts * float(rate_per_period(float(row["rate"]), parts, convention=EFFECTIVE))


def effective_of_nominal(row: Row) -> float:
    parts = int(row["periods"])
    return float(effective_rate_per_year(rate_per_period(float(row["rate"]), parts, convention=NOMINAL), parts))


WAYS: dict[str, Callable[[Row], float]] = {
    "payment": added_up,
    "interest": added_up,
    "principal": added_up,
    "balance": balance,
    "true_rate": true_rate,
    "sinking_fund": saving,
    "nominal_rate": nominal_of_effective,
    "effective_rate": effective_of_nominal,
    "flat_payment": lambda row: -in_arrears(row, FLAT).payment[0],
    "flat_true_nominal_rate": lambda row: MONTHLY * float(true_rate_per_period(in_arrears(row, FLAT))),
}


@pytest.mark.published
@pytest.mark.parametrize("row", published_rows(), ids=lambda row: row["name"])
def test_published_loans(row: Row) -> None:
    expected = float(row["value"])
    slack = 0.5 * 10.0 ** -int(row["decimals"]) if row["decimals"] else 0.0
    assert_allclose(WAYS[row["measure"]](row), expected, rtol=1e-9, atol=slack)


# --- what holds for every loan


@settings(deadline=None)
@given(all_terms, amounts, rates)
def test_a_loan_ends_at_zero_and_repays_what_was_borrowed(terms: LoanTerms, amount: float, rate: float) -> None:
    loan = loan_schedule(terms, amount, rate)
    debt = loan.opening.max()
    assert loan.closing[-1] == 0.0
    assert_allclose(loan.principal.sum(), amount, atol=OF_THE_LOAN * debt)
    assert_allclose(loan.payment, loan.interest + loan.principal, rtol=1e-15)
    assert_allclose(loan.closing, loan.opening - loan.principal, atol=OF_THE_LOAN * debt)
    assert_array_equal(loan.opening[1:], loan.closing[:-1])
    assert loan.opening[0] == amount


@settings(deadline=None)
@given(all_terms, amounts, rates)
def test_balances_follow_by_adding_interest_and_taking_payments(terms: LoanTerms, amount: float, rate: float) -> None:
    """The second way: the running subtraction that the closed forms stand in for."""
    loan = loan_schedule(terms, amount, rate)
    owed = amount
    for k in range(terms.periods):
        interest = rate * (amount if terms.repayment == FLAT else owed)
        assert_allclose(loan.interest[k], interest, rtol=1e-9, atol=OF_THE_LOAN * float(loan.opening.max()))
        owed = float(loan.closing[k])
    assert_allclose(
        loan.opening + loan.interest - loan.payment, loan.closing, atol=OF_THE_LOAN * float(loan.opening.max())
    )


@settings(deadline=None)
@given(all_terms.filter(lambda terms: terms.repayment != FLAT), amounts, rates)
def test_payments_at_the_loans_own_rate_are_worth_what_was_borrowed(
    terms: LoanTerms, amount: float, rate: float
) -> None:
    loan = loan_schedule(terms, amount, rate)
    flows = np.concatenate([[0.0], loan.payment])
    assert_allclose(present_value(flows, discount_factors(rate, terms.periods)), amount, rtol=1e-9)


@settings(deadline=None)
@given(st.integers(1, 120), amounts, rates)
def test_the_payments_of_an_annuity_are_equal(periods: int, amount: float, rate: float) -> None:
    loan = loan_schedule(LoanTerms(ANNUITY, periods, MONTHLY), amount, rate)
    assert_allclose(loan.payment, loan.payment[0], rtol=1e-9)
    assert_allclose(present_value(np.append(0.0, loan.payment), discount_factors(rate, periods)), amount, rtol=1e-9)


@settings(deadline=None)
@given(st.integers(1, 120), amounts, rates)
def test_the_interest_of_equal_principal_adds_up_by_its_formula(periods: int, amount: float, rate: float) -> None:
    loan = loan_schedule(LoanTerms(EQUAL_PRINCIPAL, periods, MONTHLY), amount, rate)
    assert_allclose(loan.principal, amount / periods, rtol=1e-9)
    # A i (n + (n - 1) + ... + 1) / n = A i (n + 1) / 2
    assert_allclose(loan.interest.sum(), amount * rate * (periods + 1) / 2, rtol=1e-9)


@settings(deadline=None)
@given(st.sampled_from([ANNUITY, EQUAL_PRINCIPAL]), st.integers(1, 60), st.integers(1, 12), amounts, rates)
def test_capitalised_grace_is_compounding_and_then_a_plain_loan(
    repayment: str, repaying: int, grace: int, amount: float, rate: float
) -> None:
    late = loan_schedule(LoanTerms(repayment, grace + repaying, MONTHLY, grace, INTEREST_CAPITALISED), amount, rate)
    plain = loan_schedule(LoanTerms(repayment, repaying, MONTHLY), amount * (1 + rate) ** grace, rate)
    assert_array_equal(late.payment[:grace], 0.0)
    assert_allclose(late.payment[grace:], plain.payment, rtol=1e-9)


@settings(deadline=None)
@given(st.sampled_from(REPAYMENTS), st.integers(1, 60), st.integers(1, 12), amounts, rates)
def test_paid_grace_is_interest_alone_and_then_a_plain_loan(
    repayment: str, repaying: int, grace: int, amount: float, rate: float
) -> None:
    late = loan_schedule(LoanTerms(repayment, grace + repaying, MONTHLY, grace, INTEREST_PAID), amount, rate)
    plain = loan_schedule(LoanTerms(repayment, repaying, MONTHLY), amount, rate)
    assert_allclose(late.payment[:grace], amount * rate, rtol=1e-9)
    assert_allclose(late.payment[grace:], plain.payment, rtol=1e-9)


@settings(deadline=None)
@given(st.integers(1, 60), st.integers(0, 12), st.sampled_from(GRACE_KINDS), amounts, st.floats(1e-4, 0.3))
def test_the_true_rate_of_a_flat_loan_makes_its_payments_worth_the_sum(
    repaying: int, grace_periods: int, grace: str, amount: float, rate: float
) -> None:
    terms = LoanTerms(FLAT, repaying + grace_periods, MONTHLY, grace_periods, grace)
    loan = loan_schedule(terms, amount, rate)
    found = true_rate_per_period(loan)
    worth = present_value(np.append(0.0, loan.payment), discount_factors(found, terms.periods))
    assert_allclose(worth, amount, rtol=1e-9)
    # by hand: interest is owed for every period, whatever the grace
    assert_allclose(loan.payment.sum(), amount * (1 + rate * terms.periods), rtol=1e-9)


@settings(deadline=None)
@given(all_terms.filter(lambda terms: terms.repayment != FLAT), amounts, st.floats(1e-4, 0.3))
def test_the_true_rate_of_other_loans_is_the_one_stated(terms: LoanTerms, amount: float, rate: float) -> None:
    assert_allclose(true_rate_per_period(loan_schedule(terms, amount, rate)), rate, rtol=1e-7)  # a root, not a formula


@settings(max_examples=50, deadline=None)
@given(st.integers(1, 60), amounts, st.floats(1e-4, 0.3))
def test_interest_and_principal_agree_with_numpy_financial(periods: int, amount: float, rate: float) -> None:
    loan = loan_schedule(LoanTerms(ANNUITY, periods, MONTHLY), amount, rate)
    numbers = np.arange(1, periods + 1)
    slack = 1e-9 * amount  # its balances come from a difference of growing powers
    assert_allclose(loan.interest, -numpy_financial.ipmt(rate, numbers, periods, amount), atol=slack)
    assert_allclose(loan.principal, -numpy_financial.ppmt(rate, numbers, periods, amount), atol=slack)


# --- shapes, and where there is no answer


@pytest.mark.parametrize("repayment", REPAYMENTS)
def test_sites_and_draws_are_the_same_loans_as_one_by_one(repayment: str) -> None:
    terms = LoanTerms(repayment, 8, 4, 2, INTEREST_CAPITALISED)
    sums, period_rates = np.array([[500.0], [9000.0]]), np.array([[0.0, 0.01, 0.2]])  # invented for the test
    loans = loan_schedule(terms, sums, period_rates)
    assert loans.payment.shape == (8, 2, 3)
    for site in range(2):
        for draw in range(3):
            alone = loan_schedule(terms, sums[site, 0], period_rates[0, draw])
            assert_allclose(loans.payment[:, site, draw], alone.payment, rtol=1e-12)
            assert_allclose(loans.closing[:, site, draw], alone.closing, rtol=1e-12)


def test_what_is_unknown_stays_unknown_and_spoils_no_other_draw() -> None:
    loans = loan_schedule(
        LoanTerms(ANNUITY, 3, 1), np.array([100.0, np.nan, 100.0, 0.0]), np.array([np.nan, 0.1, 0.1, 0.1])
    )
    assert np.isnan(loans.payment[:, :2]).all()
    assert np.isfinite(loans.payment[:, 2:]).all()
    assert_array_equal(loans.payment[:, 3], 0.0)
    assert_array_equal(np.isnan(true_rate_per_period(loans)), [True, True, False, True])


def test_a_rate_at_which_more_than_everything_is_lost_gives_no_schedule() -> None:
    assert np.isnan(loan_schedule(LoanTerms(ANNUITY, 3, 1), 100.0, -1.0).payment).all()


def test_a_very_small_rate_keeps_its_digits() -> None:
    # interest of equal payments to first order in i: A i (n + 1) / 2, the next term is i^2 and lost at 1e-12
    loan = loan_schedule(LoanTerms(ANNUITY, 60, MONTHLY), 1000.0, 1e-12)
    assert_allclose(loan.interest.sum(), 1000.0 * 1e-12 * 61 / 2, rtol=1e-9)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        (("balloon", 12, 12), "repayment is one of annuity, equal_principal, flat, found 'balloon'"),
        (("annuity", 12, 52), "periods_per_year is 12, 4, 2 or 1, found 52"),
        (("annuity", 12, 12, 12), "a grace of 12 leaves nothing of 12 periods to repay in"),
        (("annuity", 0, 12), "a grace of 0 leaves nothing of 0 periods"),
        (("annuity", 12, 12, -1), "a grace of -1 leaves nothing"),
        (("annuity", 12, 12, 2, "waived"), "grace is one of interest_paid, interest_capitalised, found 'waived'"),
    ],
)
def test_terms_that_are_no_loan_are_refused_with_what_was_found(values: tuple[object, ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        LoanTerms(*values)


def test_a_rate_says_by_which_convention_it_is_stated() -> None:
    assert rate_per_period(0.12, 12, convention=NOMINAL) == 0.01  # 0.12 / 12
    assert_allclose(effective_rate_per_year(rate_per_period(0.12, 4, convention=EFFECTIVE), 4), 0.12, rtol=1e-12)
    with pytest.raises(ValueError, match="a rate is nominal or effective, found 'monthly'"):
        rate_per_period(0.12, 12, convention="monthly")
