"""Checks of cash by month: what must hold whatever the case says, each found by a second route."""

from collections.abc import Callable, Iterator

import numpy as np

from plotworth.choose.cash_months import CaseCash, CashMonths
from plotworth.choose.checks import Check
from plotworth.choose.evaluate import flows_by_year
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.labour_months import hours_of
from plotworth.choose.loan_flows import INFLATION, INTEREST, LOAN_IN, PRINCIPAL, loan_terms, loans_of, schedule_of
from plotworth.ground.arrays import Array
from plotworth.money.financing import last_month, years_of_months
from plotworth.money.prices import MONTHS_PER_YEAR, nominal_prices

TOLERANCE = 1e-9
"""Part of all that was added by which two sums may differ: what is left of adding."""


def cash_checks(cash: CaseCash) -> tuple[Check, ...]:
    """Return the checks of the months of a case, in the order of `CHECKS`."""
    return tuple(Check(sentence, holds(cash)) for sentence, holds in CHECKS)


def _same(one: Array, other: Array, size: Array) -> bool:
    """Whether two results are the same but for rounding, or both unknown."""
    return bool(np.allclose(one, other, rtol=0.0, atol=TOLERANCE * np.nanmax(size, initial=1.0), equal_nan=True))


def _months_are_years(cash: CaseCash) -> bool:
    """Whether months and what sets cash apart from the full view come to the composition's flows by year."""
    structure = cash.layout.structure
    full = flows_by_year(structure, cash.values, expected_shocks(structure, cash.values))
    return all(
        _same(_as_full_view(one), full[name], np.abs(one.before).sum(axis=0)) for name, one in cash.systems.items()
    )


def _as_full_view(one: CashMonths) -> Array:
    """Return years of months with food eaten and family work put in and working capital laid out and released."""
    system = one.months.year
    steady = sum(hours.family for hours in system.work.steady) * system.wages.family
    years = years_of_months(one.before) + np.zeros((1, *np.shape(steady)))
    years[0] -= system.amounts.working_capital
    years[-1] += system.amounts.working_capital
    years[1:] -= steady
    for season, weight, hours in zip(system.seasons, system.weights, system.work.harvest, strict=True):
        in_kind = season.eaten_value * season.eaten_share
        years[1:] += weight * (in_kind - hours.family * system.wages.family)
    return years


def _balance_closes(cash: CaseCash) -> bool:
    """Whether the last balance is all that came in less all that went out, kind by kind."""
    return all(
        _same(one.closing(with_financing=True)[-1], _all_kinds(one), np.abs(one.after).sum(axis=0))
        for one in cash.systems.values()
    )


def _all_kinds(one: CashMonths) -> Array:
    whole = sum(part.sum(axis=0) for part in (*one.flows.values(), *one.financing.values()))
    return np.asarray(whole)


def _loans_end(cash: CaseCash) -> bool:
    """Whether every loan is paid back in full, in the money of its payments, within the horizon."""
    return all(_is_repaid(cash, name, one) for name, one in cash.systems.items())


def _is_repaid(cash: CaseCash, name: str, one: CashMonths) -> bool:
    loans = loans_of(cash.layout.case, name)
    inflation = cash.values[one.months.plan.addresses[INFLATION]]
    paid, received = (
        nominal_prices(one.financing[kind], inflation, periods_per_year=MONTHS_PER_YEAR).sum(axis=0)
        for kind in (PRINCIPAL, LOAN_IN)
    )
    in_time = all(last_month(loan_terms(loan), 0) < len(one.before) for loan in loans)
    return in_time and _same(-paid, received, np.abs(received)) and _interest_is_due(cash, one, name)


def _interest_is_due(cash: CaseCash, one: CashMonths, name: str) -> bool:
    """Whether the interest of all loans is what their schedules ask, in the money of its dates."""
    inflation = cash.values[one.months.plan.addresses[INFLATION]]
    paid = nominal_prices(one.financing[INTEREST], inflation, periods_per_year=MONTHS_PER_YEAR).sum(axis=0)
    investment = one.months.year.amounts.investment
    schedules = [schedule_of(loan, cash.values, investment) for loan in loans_of(cash.layout.case, name)]
    due = sum((schedule.interest.sum(axis=0) for schedule in schedules), start=np.zeros((1, 1)))
    return _same(-paid, due, np.abs(due))


def _hours_are_whole(cash: CaseCash) -> bool:
    """Whether hours by task and month come to those of a full year."""
    return all(
        _same(hours.sum(axis=0), whole, np.abs(whole))
        for one in cash.systems.values()
        for hours, whole in zip(hours_of(one.tasks), _hours_of_year(one), strict=True)
    )


def _hours_of_year(one: CashMonths) -> Iterator[Array]:
    yield one.months.year.family_hours
    yield one.months.year.hired_hours


CHECKS: tuple[tuple[str, Callable[[CaseCash], bool]], ...] = (
    ("the months of cash come to the years of the appraisal", _months_are_years),
    ("the last balance is all that came in less all that went out", _balance_closes),
    ("every loan is repaid in full within the horizon", _loans_end),
    ("hours by task and month come to those of the year", _hours_are_whole),
)
