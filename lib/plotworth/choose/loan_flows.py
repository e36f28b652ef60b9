"""Loans and grants of a system by month, in constant prices, and what is to be asked of them.

Everything is received in month 0, with the investment; payments are nominal and deflated at their own months.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from plotworth.case.financing import Grant, Loan
from plotworth.case.folder import Case
from plotworth.case.settings import FILE
from plotworth.choose.financing_inputs import AMOUNT_END, GRANT_SHARE_END, LOAN_SHARE_END, RATE_END
from plotworth.choose.layout import Layout
from plotworth.choose.system import SystemYear
from plotworth.ground.amounts import money_text
from plotworth.ground.arrays import Array
from plotworth.ground.errors import Fault
from plotworth.money.financing import grant_amount, grant_by_month, last_month, loan_by_month
from plotworth.money.loan import (
    INTEREST_CAPITALISED,
    INTEREST_PAID,
    NOMINAL,
    LoanTerms,
    Schedule,
    loan_schedule,
    rate_per_period,
)

MONTHS_PER_YEAR = 12
GRANT_IN, LOAN_IN, INTEREST, PRINCIPAL = "grant received", "loan received", "interest", "principal repaid"
FINANCING = (GRANT_IN, LOAN_IN, INTEREST, PRINCIPAL)
INFLATION = "inflation_rate"
ROUNDING = 1e-9  # part of an investment by which grants may exceed it: what is left of adding shares


def loans_of(case: Case, system: str) -> list[Loan]:
    """Return the loans of a system."""
    return [loan for loan in case.settings.loans if loan.system == system]


def grants_of(case: Case, system: str) -> list[Grant]:
    """Return the grants of a system."""
    return [grant for grant in case.settings.grants if grant.system == system]


def loan_terms(loan: Loan) -> LoanTerms:
    """Return a loan's terms, counted in payment periods."""
    spacing = MONTHS_PER_YEAR // loan.payments_per_year
    return LoanTerms(
        repayment=loan.kind,
        periods=round(loan.years * MONTHS_PER_YEAR / spacing),
        periods_per_year=loan.payments_per_year,
        grace_periods=loan.grace_months // spacing,
        grace=INTEREST_CAPITALISED if loan.capitalise_grace_interest else INTEREST_PAID,
    )


def schedule_of(loan: Loan, values: Mapping[str, Array], investment: Array) -> Schedule:
    """Return a loan's schedule at values by address [money of the payments' dates]; `investment` is of year 0."""
    period_rate = rate_per_period(values[f"{loan.address}{RATE_END}"], loan.payments_per_year, convention=NOMINAL)
    if loan.amount_share is None:
        return loan_schedule(loan_terms(loan), values[f"{loan.address}{AMOUNT_END}"], period_rate)
    return loan_schedule(loan_terms(loan), values[f"{loan.address}{LOAN_SHARE_END}"] * investment, period_rate)


def loan_months(loan: Loan, schedule: Schedule, months: int, inflation: Array) -> dict[str, Array]:
    """Return a loan by kind and month, (months + 1, site, draw) [money of month 0]: received above 0, paid below.

    Interest added to the debt in the grace stands as interest and, with the other sign, as principal: nothing is paid.
    """
    terms, nothing = loan_terms(loan), 0.0 * schedule.amount
    parts = {
        LOAN_IN: replace(schedule, payment=0.0 * schedule.payment),
        INTEREST: replace(schedule, amount=nothing, payment=schedule.interest),
        PRINCIPAL: replace(schedule, amount=nothing, payment=schedule.principal),
    }
    whole = max(months, last_month(terms, 0))
    return {kind: loan_by_month(part, terms, whole, inflation=inflation)[: months + 1] for kind, part in parts.items()}


def granted(case: Case, year: SystemYear, values: Mapping[str, Array]) -> Array:
    """Return what the grants of a system come to, at most its investment [money]."""
    investment = year.amounts.investment
    return grant_amount(investment, lump_sum=offered(case, year.plan.id, values, investment))


def offered(case: Case, system: str, values: Mapping[str, Array], investment: Array) -> Array:
    """Return what the grants of a system add up to as stated [money]."""
    total = np.zeros((1, 1))
    for grant in grants_of(case, system):
        if grant.share is None:
            total = total + values[f"{grant.address}{AMOUNT_END}"]
        else:
            total = total + values[f"{grant.address}{GRANT_SHARE_END}"] * investment
    return total


def financing_by_month(case: Case, year: SystemYear, values: Mapping[str, Array], months: int) -> dict[str, Array]:
    """Return the financing of a system by kind and month, (months + 1, site, draw) [money of month 0]."""
    inflation = values[year.plan.addresses[INFLATION]]
    flows = {GRANT_IN: grant_by_month(granted(case, year, values), months, month=0)}
    for loan in loans_of(case, year.plan.id):
        schedule = schedule_of(loan, values, year.amounts.investment)
        for kind, part in loan_months(loan, schedule, months, inflation).items():
            flows[kind] = flows[kind] + part if kind in flows else part
    nothing = np.zeros((months + 1, 1, 1))
    return {kind: flows.get(kind, nothing) for kind in FINANCING}


def grant_faults(case: Case, years: Mapping[str, SystemYear], values: Mapping[str, Array]) -> list[Fault]:
    """Return a fault for every system whose grants come to more than its investment at these values."""
    faults = []
    for name, year in years.items():
        investment = year.amounts.investment
        given = offered(case, name, values, investment)
        if bool(np.any(given > investment * (1.0 + ROUNDING))):
            worst, whole = float(np.max(given)), float(np.max(investment))
            currency = case.settings.currency
            rule = f"the grants of {name} are more than its investment, {money_text(whole, currency)}"
            last = grants_of(case, name)[-1]
            found = f"{worst:.6g}"
            faults.append(Fault(FILE, last.line, last.label, found, rule, "lower them to the investment at most"))
    return faults


def financing_notes(layout: Layout) -> Iterator[str]:
    """Yield what is to be known of the financing: nominal rates without a stated rise of prices."""
    if not layout.case.settings.loans:
        return
    at = layout.structure.systems[0].addresses[INFLATION]
    if layout.inputs[at].origin == "absent":
        yield (
            "Loans are repaid in the money of their day, everything else is in constant prices: the book states no "
            f"{INFLATION}, so prices are taken not to rise and the loans look dearer than they are."
        )
