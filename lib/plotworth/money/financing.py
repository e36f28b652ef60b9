"""Financing: grants and loans as streams of money by month and by year, and a stream before and after them.

Time comes first, then site and draw: months 0..M, month 0 being the moment of the investment; years 0..T, months
12 t - 11 to 12 t making year t. Streams are in constant prices of month 0: a nominal sum is deflated at its own month.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from plotworth.money.loan import LoanTerms, Schedule
from plotworth.money.measures import discount_factors, present_value
from plotworth.money.prices import MONTHS_PER_YEAR, constant_prices, rate_per_part, time_first

Floats = npt.NDArray[np.float64]


class Financed(NamedTuple):
    """Streams [money] of one shape: `before` financing, the `financing` itself, and `after` it, their sum."""

    before: Floats
    financing: Floats
    after: Floats


def grant_amount(investment: npt.ArrayLike, *, share: npt.ArrayLike = 0.0, lump_sum: npt.ArrayLike = 0.0) -> Floats:
    """Return what a grant pays: a share of the investment, a sum, or both, at most the investment.

    Parameters: investment of year 0 [money], from 0; share [0-1]; lump_sum [money], from 0. Shapes that broadcast.
    Returns: money, min(investment, investment x share + lump_sum); NaN where any of them is.
    """
    whole = np.asarray(investment, dtype=np.float64)
    offered = whole * np.asarray(share, dtype=np.float64) + np.asarray(lump_sum, dtype=np.float64)
    return np.minimum(whole, offered)


def break_even_grant_share(net_present_value: npt.ArrayLike, investment: npt.ArrayLike) -> Floats:
    """Return the smallest share of the investment that, given in year 0, leaves no loss.

    Parameters: net present value without a grant [money]; investment of year 0 [money]. Shapes that broadcast.
    Returns: share [0-1]; 0 where there is no loss; NaN where the whole investment would not be enough.
    Equation: max(0, -NPV) / investment.
    """
    loss = np.maximum(-np.asarray(net_present_value, dtype=np.float64), 0.0)
    whole = np.asarray(investment, dtype=np.float64)
    enough = loss <= whole
    return np.where(enough, loss, np.nan) / np.where(whole > 0.0, whole, 1.0)


def grant_by_month(amount: npt.ArrayLike, months: int, *, month: int, inflation: npt.ArrayLike = 0.0) -> Floats:
    """Return a grant received in one month, in constant prices.

    Parameters: amount [money of that month], shape (...); months M; the month it comes in, 0..M; inflation [1/year].
    Returns: money of month 0, shape (M + 1, ...). Errors: ValueError for a month outside.
    """
    if not 0 <= month <= months:
        raise ValueError(f"the grant's month is 0 to {months}, found {month}")
    received = np.asarray(amount, dtype=np.float64)
    flows = np.zeros((months + 1, *received.shape))
    flows[month, ...] = received
    return constant_prices(flows, inflation, periods_per_year=MONTHS_PER_YEAR)


def loan_by_month(
    schedule: Schedule, terms: LoanTerms, months: int, *, received_month: int = 0, inflation: npt.ArrayLike = 0.0
) -> Floats:
    """Return what a loan brings in and takes out by month, in constant prices.

    Parameters: schedule and the terms it was made with; months M shown; received_month, when the money comes;
    inflation [1/year], above -1, by which the nominal sums are deflated (0: the case's prices do not rise).
    Returns: money of month 0, shape (M + 1, ...): the amount less payments. Payments after month M are left out, so a
    window of 36 months may show a longer loan; what is then still owed is `debt_by_month`.
    """
    flows = np.zeros((max(months, last_month(terms, received_month)) + 1, *schedule.amount.shape))
    flows[received_month, ...] = schedule.amount
    flows[_payment_months(terms, received_month)] -= schedule.payment
    return constant_prices(flows, inflation, periods_per_year=MONTHS_PER_YEAR)[: months + 1]


def loan_by_year(
    schedule: Schedule, terms: LoanTerms, horizon_years: int, *, received_month: int = 0, inflation: npt.ArrayLike = 0.0
) -> Floats:
    """Return a loan's flows by year, in constant prices: the months of `loan_by_month` added up.

    Parameters: schedule and terms; horizon_years T; received_month; inflation [1/year]. Returns: money of month 0,
    shape (T + 1, ...).
    Errors: ValueError where the last payment falls after year T: money that is never paid back would be a gift.
    """
    end = last_month(terms, received_month)
    if end > horizon_years * MONTHS_PER_YEAR:
        raise ValueError(f"the loan ends in month {end}, after the horizon of {horizon_years} years")
    months = horizon_years * MONTHS_PER_YEAR
    return years_of_months(loan_by_month(schedule, terms, months, received_month=received_month, inflation=inflation))


def debt_by_month(schedule: Schedule, terms: LoanTerms, months: int, *, received_month: int = 0) -> Floats:
    """Return what is owed at the end of each month 0..M [money of its date], payments of the month made.

    Between payments the debt stands at the last closing balance; interest since then is not counted.
    """
    debt = np.zeros((max(months, last_month(terms, received_month)) + 1, *schedule.amount.shape))
    spacing = terms.months_per_period
    stretch = np.repeat(schedule.opening, spacing, axis=0)
    debt[received_month : received_month + len(stretch)] = stretch
    return debt[: months + 1]


def last_month(terms: LoanTerms, received_month: int) -> int:
    """Return the month of a loan's last payment."""
    return received_month + terms.periods * terms.months_per_period


def _payment_months(terms: LoanTerms, received_month: int) -> slice:
    first = received_month + terms.months_per_period
    return slice(first, last_month(terms, received_month) + 1, terms.months_per_period)


def years_of_months(flows: npt.ArrayLike) -> Floats:
    """Return flows by month, shape (12 T + 1, ...), added up to years, shape (T + 1, ...); month 0 is year 0.

    Errors: ValueError where the months are not whole years.
    """
    stream = np.asarray(flows, dtype=np.float64)
    years, left = divmod(stream.shape[0] - 1, MONTHS_PER_YEAR)
    if left:
        raise ValueError(f"{stream.shape[0] - 1} months are not whole years")
    return np.concatenate([stream[:1], stream[1:].reshape(years, MONTHS_PER_YEAR, *stream.shape[1:]).sum(axis=1)])


def financed(before: npt.ArrayLike, *streams: npt.ArrayLike) -> Financed:
    """Return a stream before and after financing.

    Parameters: net flows before financing [money], time first; grants and loans [money], the same dates and prices.
    Returns: three arrays of one shape; without grants and loans, `after` equals `before`.
    """
    all_streams = [np.asarray(stream, dtype=np.float64) for stream in (before, *streams)]
    dimensions = max(stream.ndim for stream in all_streams)
    start, *parts = np.broadcast_arrays(*(time_first(stream, dimensions) for stream in all_streams))
    financing = sum(parts, start=np.zeros(start.shape))
    return Financed(start, financing, start + financing)


def present_value_of_months(flows: npt.ArrayLike, rate: npt.ArrayLike) -> Floats:
    """Return the worth in month 0 of flows by month.

    Parameters: flows [money], shape (M + 1, ...); rate [1/year], above -1, real where the flows are in constant prices.
    Returns: money, shape (...). Equation: sum of flow[m] / (1 + rate)**(m / 12). Flows added up to year ends first
    (`years_of_months`, the convention of the appraisal) are worth a little less where they are receipts.
    """
    stream = np.asarray(flows, dtype=np.float64)
    return present_value(stream, discount_factors(rate_per_part(rate, MONTHS_PER_YEAR), stream.shape[0] - 1))
