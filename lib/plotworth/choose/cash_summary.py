"""What the months say: the deepest point, months below zero, lean months, worth before and after financing.

Arrays are (site, draw). Balances start from nothing before month 0, so that a balance below zero is money of the
family's own (or of others) that is in the system at that time.
"""

from dataclasses import dataclass

import numpy as np

from plotworth.choose.cash_months import CaseCash, CashMonths
from plotworth.choose.evaluate import flows_by_year
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.loan_flows import GRANT_IN, INTEREST, LOAN_IN, PRINCIPAL
from plotworth.choose.month_shares import MONTHS
from plotworth.choose.views import CASH, in_view
from plotworth.ground.arrays import Array
from plotworth.money.financing import break_even_grant_share, present_value_of_months
from plotworth.money.measures import discount_factors, present_value

SHOWN_MONTHS = 36
LEAN_MONTHS = 3
ROUNDING = 1e-9
"""Part of all money moved by which a balance may lie below zero: what is left of adding."""


@dataclass(frozen=True)
class Balance:
    """A balance over the horizon: its `deepest` point [money], the `deepest_month` 0..M, and how many months close
    below zero, of the whole horizon and of the first `SHOWN_MONTHS` [month]; month 0 counts as one.
    """

    deepest: Array
    deepest_month: Array
    below_zero_months: Array
    below_zero_shown: Array


@dataclass(frozen=True)
class CashSummary:
    """The months of one system in a few figures.

    `before` and `after` financing; `lean`: the three months of lowest net cash of a normal year, lowest first, counted
    1-12 from month 1 (3, site, draw); `first_year_need` [money]: what the family must bring in year 1, beside the
    investment, before sales carry the rest, for which the composition's `working_capital` [money] stands; `granted` and
    `borrowed` [money]; `npv_full`, the headline, `npv_cash` in the cash view and `npv_cash_after` financing [money];
    `break_even_grant_share` [share of the investment] at which the cash view after loans comes to nothing, NaN where a
    grant of all of it is not enough; `largest_loan` [money] on the stated terms with which no month closes below zero,
    NaN where no loan of these terms does that, and `smallest_loan` likewise.
    """

    before: Balance
    after: Balance
    lean: Array
    first_year_need: Array
    working_capital: Array
    granted: Array
    borrowed: Array
    npv_full: Array
    npv_cash: Array
    npv_cash_after: Array
    break_even_grant_share: Array
    largest_loan: Array
    smallest_loan: Array


def cash_summaries(cash: CaseCash) -> dict[str, CashSummary]:
    """Return the summary of every system, by id.

    Present values discount year ends at the real rate of the book, as the composition does, its working capital
    included, so that the NPV before financing is the appraisal's. Financing adds the grants and the present value of
    the deflated loans at their own months: at year ends a loan dearer than the discount rate could look like a gain.
    """
    structure, values = cash.layout.structure, cash.values
    shocks = expected_shocks(structure, values)
    full = flows_by_year(structure, values, shocks)
    in_cash = flows_by_year(structure, in_view(cash.layout, values, CASH), shocks)
    rate = values[structure.systems[0].addresses["discount_rate"]]
    factors = discount_factors(rate, structure.horizon_years)
    worth = {name: (present_value(full[name], factors), present_value(in_cash[name], factors)) for name in full}
    return {name: _summary(one, *worth[name], rate) for name, one in cash.systems.items()}


def _summary(cash: CashMonths, npv_full: Array, npv_cash: Array, rate: Array) -> CashSummary:
    investment = cash.months.year.amounts.investment
    loans = present_value_of_months(_loans(cash), rate)
    granted = cash.financing[GRANT_IN][0]
    smallest, largest = _loans_without_a_hole(cash)
    return CashSummary(
        before=balance(cash.before),
        after=balance(cash.after),
        lean=lean_months(cash.normal_year),
        first_year_need=np.maximum(-np.cumsum(cash.before[1 : MONTHS + 1], axis=0).min(axis=0), 0.0),
        working_capital=cash.months.year.amounts.working_capital,
        granted=granted,
        borrowed=cash.financing[LOAN_IN][0],
        npv_full=npv_full,
        npv_cash=npv_cash,
        npv_cash_after=npv_cash + loans + granted,
        break_even_grant_share=break_even_grant_share(npv_cash + loans, investment),
        largest_loan=largest,
        smallest_loan=smallest,
    )


def balance(net: Array) -> Balance:
    """Return the balance of net flows by month (M + 1, site, draw) [money], months from 0."""
    closing = np.cumsum(net, axis=0)
    below = closing < -ROUNDING * np.abs(net).sum(axis=0)
    unknown = np.isnan(closing).any(axis=0)
    deepest = np.where(unknown, np.nan, np.minimum(closing.min(axis=0), 0.0))
    month = np.where(unknown, np.nan, closing.argmin(axis=0))
    whole, shown = (np.where(unknown, np.nan, part.sum(axis=0)) for part in (below, below[: SHOWN_MONTHS + 1]))
    return Balance(deepest, month, whole, shown)


def lean_months(normal_year: Array) -> Array:
    """Return the months 1-12 of lowest net cash, lowest first, the earlier of equals (3, site, draw)."""
    places = np.argsort(normal_year, axis=0, kind="stable")[:LEAN_MONTHS].astype(np.float64) + 1.0
    return np.where(np.isnan(normal_year).any(axis=0), np.nan, places)


def _loans(cash: CashMonths) -> Array:
    return cash.financing[LOAN_IN] + cash.financing[INTEREST] + cash.financing[PRINCIPAL]


def _loans_without_a_hole(cash: CashMonths) -> tuple[Array, Array]:
    """Return the smallest and the largest loan, on the terms stated, with which no month closes below zero.

    A loan of A adds A u[m] to the balance B[m] without it, u that of a loan of 1: B + A u >= 0 in every month bounds A
    below where u > 0 and above where u < 0. NaN where there is no loan, or none that fits between the bounds.
    """
    borrowed = cash.financing[LOAN_IN][0]
    of_one = np.cumsum(_loans(cash), axis=0) / np.where(borrowed > 0.0, borrowed, np.nan)
    without = np.cumsum(cash.before + cash.financing[GRANT_IN], axis=0)
    of_one = np.where(np.abs(of_one) < ROUNDING, 0.0, of_one)
    with np.errstate(divide="ignore", invalid="ignore"):
        bound = -without / of_one
    least = np.maximum(np.where(of_one > 0.0, bound, -np.inf).max(axis=0), 0.0)
    most = np.where(of_one < 0.0, bound, np.inf).min(axis=0)
    hole = ((of_one == 0.0) & (without < -ROUNDING * np.abs(cash.before).sum(axis=0))).any(axis=0)
    fits = (borrowed > 0.0) & ~hole & (least <= most)
    return np.where(fits, least, np.nan), np.where(fits & np.isfinite(most), most, np.nan)
