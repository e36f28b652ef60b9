"""Loans and grants of a case as inputs: rates, amounts and shares by address, so that dials can move them."""

from plotworth.case.financing import AMOUNT, BOUNDS, GRANT_SHARE, LOAN_SHARE, Grant, Loan
from plotworth.case.folder import Case
from plotworth.case.settings import FILE
from plotworth.choose.input import Input

RATE_END, LOAN_SHARE_END, GRANT_SHARE_END, AMOUNT_END = "/rate_per_year", "/amount_share", "/share", "/amount"


def financing_inputs(case: Case) -> dict[str, Input]:
    """Return what can change of every loan and grant as inputs, by address; they move financing, never the appraisal.

    Addresses: loan/<system>/<label>/rate_per_year and /amount_share or /amount;
    grant/<system>/<label>/share or /amount.
    """
    money = case.settings.currency
    found = [one for loan in case.settings.loans for one in _of_loan(loan, money)]
    found += [_of_grant(grant, money) for grant in case.settings.grants]
    return {one.address: one for one in found}


def _of_loan(loan: Loan, money: str) -> list[Input]:
    rate = _input(loan, RATE_END, loan.rate_per_year, "share/year", "rate_per_year")
    if loan.amount_share is None:
        return [rate, _input(loan, AMOUNT_END, loan.amount, money, AMOUNT)]
    return [rate, _input(loan, LOAN_SHARE_END, loan.amount_share, "share", LOAN_SHARE)]


def _of_grant(grant: Grant, money: str) -> Input:
    if grant.share is None:
        return _input(grant, AMOUNT_END, grant.amount, money, AMOUNT)
    return _input(grant, GRANT_SHARE_END, grant.share, "share", GRANT_SHARE)


def _input(one: Loan | Grant, end: str, value: float | None, unit: str, bounds: str) -> Input:
    what = {RATE_END: "rate", LOAN_SHARE_END: "share of the investment", GRANT_SHARE_END: "share of the investment"}
    lowest, highest = BOUNDS[bounds]
    return Input(
        address=f"{one.address}{end}",
        label=f"{one.label}: {what.get(end, 'amount')}",
        unit=unit,
        group="financing",
        value=float("nan") if value is None else value,
        low=None,
        high=None,
        lowest=float(lowest),
        highest=float(highest),
        nature="choice",
        spread="fixed",
        origin="typed",
        grade="",
        source="financing of the case",
        file=FILE,
        line=one.line,
    )
