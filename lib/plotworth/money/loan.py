"""Loans: what is owed, interest, repayment and payment in each period, and the rate a loan truly costs.

Arrays broadcast to (site, draw); schedules have the period axis first. Sums are nominal, in the money of their dates.
A schedule closes at 0 whatever the rate: balances come from closed forms, not from a running subtraction.
NaN in an amount or a rate gives NaN in the schedule; a period rate of -1 or less gives NaN.
Nothing is rounded to coins.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotworth.money.prices import MONTHS_PER_YEAR, rate_per_part
from plotworth.money.rates import internal_rate_of_return

Floats = npt.NDArray[np.float64]

ANNUITY = "annuity"
EQUAL_PRINCIPAL = "equal_principal"
FLAT = "flat"
REPAYMENTS = (ANNUITY, EQUAL_PRINCIPAL, FLAT)

INTEREST_PAID = "interest_paid"
INTEREST_CAPITALISED = "interest_capitalised"
GRACE_KINDS = (INTEREST_PAID, INTEREST_CAPITALISED)

NOMINAL = "nominal"
EFFECTIVE = "effective"
RATE_CONVENTIONS = (NOMINAL, EFFECTIVE)

PERIODS_PER_YEAR = {"monthly": 12, "quarterly": 4, "half-yearly": 2, "yearly": 1}


@dataclass(frozen=True)
class LoanTerms:
    """The shape of a loan, the same in all draws.

    `repayment`: "annuity" (equal payments), "equal_principal" (equal repayments, interest on what is still owed) or
    "flat" (equal repayments, interest on the *first* sum to the end). `periods` [count]: from the money received to
    the last payment, grace included. `periods_per_year`: 12, 4, 2 or 1; payments fall at period ends.
    `grace_periods` [count]: the first ones, without repayment; in them the interest is paid ("interest_paid") or
    added to the debt ("interest_capitalised"; a flat loan adds the interest on the first sum).

    Errors: ValueError, naming the value, for a word that is not one of these, for periods that are not a whole part
    of a year, and for a grace that leaves no period to repay in.
    """

    repayment: str
    periods: int
    periods_per_year: int
    grace_periods: int = 0
    grace: str = INTEREST_PAID

    def __post_init__(self) -> None:
        if self.repayment not in REPAYMENTS:
            raise ValueError(f"repayment is one of {', '.join(REPAYMENTS)}, found {self.repayment!r}")
        if self.grace not in GRACE_KINDS:
            raise ValueError(f"grace is one of {', '.join(GRACE_KINDS)}, found {self.grace!r}")
        if self.periods_per_year not in PERIODS_PER_YEAR.values():
            raise ValueError(f"periods_per_year is 12, 4, 2 or 1, found {self.periods_per_year}")
        if not 0 <= self.grace_periods < self.periods:
            raise ValueError(f"a grace of {self.grace_periods} leaves nothing of {self.periods} periods to repay in")

    @property
    def months_per_period(self) -> int:
        """Months from one payment to the next."""
        return MONTHS_PER_YEAR // self.periods_per_year


@dataclass(frozen=True)
class Schedule:
    """A loan by period, the first axis being the periods 1..n at whose ends payments fall [money of their dates].

    `opening` is owed at the start, `interest` falls due, `principal` is repaid (below 0 where unpaid interest is
    added to the debt), `payment` = interest + principal, `closing` = opening - principal; `amount` was received.
    """

    amount: Floats
    opening: Floats
    interest: Floats
    principal: Floats
    payment: Floats
    closing: Floats


def rate_per_period(rate_per_year: npt.ArrayLike, periods_per_year: int, *, convention: str) -> Floats:
    """Return the interest of one period on what is owed.

    Parameters: rate [1/year], above -1; periods_per_year; convention: "nominal", the yearly rate divided by the
    periods, as lenders quote it, or "effective", the rate that compounds to the yearly one.
    Returns: rate [1/period], shape of the rate. Errors: ValueError for another convention.
    Equation: r / m, or (1 + r)**(1/m) - 1.
    """
    if convention == NOMINAL:
        return np.asarray(rate_per_year, dtype=np.float64) / periods_per_year
    if convention == EFFECTIVE:
        return rate_per_part(rate_per_year, periods_per_year)
    raise ValueError(f"a rate is {NOMINAL} or {EFFECTIVE}, found {convention!r}")


def effective_rate_per_year(period_rate: npt.ArrayLike, periods_per_year: int) -> Floats:
    """Return the yearly rate that a rate per period [1/period] compounds to: (1 + i)**m - 1."""
    grown: Floats = np.expm1(periods_per_year * np.log1p(np.asarray(period_rate, dtype=np.float64)))
    return grown


def loan_schedule(terms: LoanTerms, amount: npt.ArrayLike, period_rate: npt.ArrayLike) -> Schedule:
    """Return a loan's schedule.

    Parameters: terms; amount received [money], from 0; period_rate [1/period], above -1, from `rate_per_period`
    (for a flat loan: the interest of a period as a share of the first sum). Shapes that broadcast to (...).
    Returns: arrays of shape (periods, ...); the last closing balance is exactly 0.
    Equation: with n periods left to repay in, the balance after k of them is, as a share of the debt at the end of
    grace, annuity: (1 - v**(n - k)) / (1 - v**n), v = 1 / (1 + i); equal principal and flat: 1 - k/n.
    Capitalised grace of g periods: the debt grows to A (1 + i)**g; flat to A (1 + g i).
    """
    borrowed, rate = np.broadcast_arrays(
        np.asarray(amount, dtype=np.float64), _valid(np.asarray(period_rate, dtype=np.float64))
    )
    in_grace = borrowed * _grace_growth(terms, rate)
    balance = np.concatenate([in_grace, in_grace[-1] * _shares_left(terms, rate)])
    opening, closing = balance[:-1], balance[1:]
    interest = rate * (borrowed if terms.repayment == FLAT else opening)
    interest = np.broadcast_to(interest, opening.shape)
    principal = opening - closing
    if terms.grace == INTEREST_CAPITALISED:
        principal[: terms.grace_periods] = -interest[: terms.grace_periods]
    return Schedule(borrowed, opening, interest, principal, interest + principal, closing)


def _valid(rate: Floats) -> Floats:
    return np.where(rate > -1.0, rate, np.nan)


def _steps(numbers: range, rate: Floats) -> Floats:
    """Return whole numbers on a first axis, ready to meet an array of the shape of the rate."""
    return np.array(numbers, dtype=np.float64).reshape(-1, *(1,) * rate.ndim)


def _grace_growth(terms: LoanTerms, rate: Floats) -> Floats:
    """Return the debt at period ends 0..g of the grace as a share of the amount, shape (g + 1, ...)."""
    passed = _steps(range(terms.grace_periods + 1), rate)
    if terms.grace == INTEREST_PAID:
        return np.ones_like(passed) + 0.0 * rate
    if terms.repayment == FLAT:
        return 1.0 + passed * rate
    return np.exp(passed * np.log1p(rate))


def _shares_left(terms: LoanTerms, rate: Floats) -> Floats:
    """Return the debt after each repayment as a share of the debt at the end of grace; the last is 0."""
    count = terms.periods - terms.grace_periods
    left = _steps(range(count - 1, -1, -1), rate)
    even = left / count + 0.0 * rate
    if terms.repayment != ANNUITY:
        return even
    growth = np.log1p(rate)
    whole = np.expm1(-count * growth)
    return np.where(whole == 0.0, even, np.expm1(-left * growth) / np.where(whole == 0.0, 1.0, whole))


def level_payment(amount: npt.ArrayLike, period_rate: npt.ArrayLike, periods: int) -> Floats:
    """Return the equal payment at period ends 1..n that repays an amount.

    Parameters: amount [money]; rate [1/period], above -1; periods n. Returns: money a period.
    Equation: A i / (1 - (1 + i)**-n); A / n at rate 0. A spreadsheet's PMT gives it with a minus sign; its type 1
    (payments at period starts) is this over (1 + i).
    """
    terms = LoanTerms(ANNUITY, periods, periods_per_year=1)
    payment: Floats = loan_schedule(terms, amount, period_rate).payment[0]
    return payment


def true_rate_per_period(schedule: Schedule) -> Floats:
    """Return the rate on what is still owed that a loan truly costs [1/period].

    The root i of: amount = sum over k of payment[k] / (1 + i)**k. It is the period rate again for annuities and equal
    principal, and near twice the stated one for a flat loan of many periods. NaN where nothing was borrowed.
    Returns: shape (...). `effective_rate_per_year` makes a yearly rate of it; times periods_per_year the nominal one.
    """
    flows = np.concatenate([-schedule.amount[None], schedule.payment])
    return internal_rate_of_return(flows).rate
