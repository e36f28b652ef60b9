"""Rows for charts and JSON from the months: balances, the calendar of cash, the calendar of labour.

Of arrays over sites and draws the first counts.
"""

from typing import Any

import numpy as np

from plotworth.choose.cash_months import CaseCash, CashMonths
from plotworth.choose.cash_summary import SHOWN_MONTHS, lean_months
from plotworth.choose.labour_months import TaskMonths
from plotworth.choose.labour_peak import labour_peak
from plotworth.choose.month_shares import MONTHS
from plotworth.ground.arrays import Array

Rows = list[dict[str, Any]]
MONTH_NAMES = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def plain(array: Array) -> list[float]:
    """Return the first site and draw of an array (month, site, draw) as numbers."""
    return [float(number) for number in array.reshape(len(array), -1)[:, 0]]


def month_name(month: int) -> str:
    """Return the English name of a calendar month, 1-12."""
    return MONTH_NAMES[month - 1]


def shown_months(cash: CaseCash) -> int:
    """Return the last month that is shown: `SHOWN_MONTHS`, or the horizon where that ends before."""
    return min(SHOWN_MONTHS, MONTHS * cash.layout.structure.horizon_years)


def balance_rows(cash: CaseCash, *, with_financing: bool) -> Rows:
    """Return the closing balance of every system by month, 0 to the last that is shown [money].

    Rows: system, label, month, when (month in words), net, closing, deepest: true in the month, of those shown, of the
    lowest balance below zero.
    """
    return [row for name, one in cash.systems.items() for row in _balance(cash, name, one, with_financing)]


def _balance(cash: CaseCash, name: str, one: CashMonths, with_financing: bool) -> Rows:
    last = shown_months(cash)
    net = plain((one.after if with_financing else one.before)[: last + 1])
    closing = plain(one.closing(with_financing=with_financing)[: last + 1])
    lowest = int(np.argmin(closing))
    label = one.months.plan.label
    return [
        {
            "system": name,
            "label": label,
            "month": month,
            "when": when(one, month),
            "net": net[month],
            "closing": closing[month],
            "deepest": month == lowest and closing[month] < 0.0,
        }
        for month in range(last + 1)
    ]


def when(one: CashMonths, month: int) -> str:
    """Return a month in words: `investment` for month 0, else `February, year 1`."""
    if month == 0:
        return "investment"
    return f"{month_name(one.calendar_month(month))}, year {(month - 1) // MONTHS + 1}"


def calendar_rows(cash: CaseCash) -> Rows:
    """Return the net cash of a normal year by calendar month, from month 1 on [money].

    Rows: system, label, place 1-12, name, net, lean: true in the three lowest months.
    """
    rows: Rows = []
    for name, one in cash.systems.items():
        net, lean = plain(one.normal_year), set(plain(lean_months(one.normal_year)))
        for place in range(1, MONTHS + 1):
            month = month_name(one.calendar_month(place))
            own = {"system": name, "label": one.months.plan.label, "place": place, "name": month}
            rows.append({**own, "net": net[place - 1], "lean": place in lean})
    return rows


def labour_rows(cash: CaseCash) -> Rows:
    """Return the hours of every system by calendar month, from month 1 on, in a year of full harvest [hour].

    Rows: system, label, place 1-12, name, family, hired, at_hand (NaN where not stated), short, peak: true in the month
    of most family hours.
    """
    rows: Rows = []
    for name, one in cash.systems.items():
        peak = labour_peak(one, cash.values)
        family, hired, short = (plain(part) for part in (peak.family, peak.hired, peak.short))
        for place in range(1, MONTHS + 1):
            month = one.calendar_month(place)
            own = {"system": name, "label": one.months.plan.label, "place": place, "name": month_name(month)}
            hours = {"family": family[month - 1], "hired": hired[month - 1], "short": short[month - 1]}
            is_peak = month == float(peak.peak_month.flat[0]) and family[month - 1] > 0.0
            rows.append({**own, **hours, "at_hand": float(peak.at_hand.flat[0]), "peak": is_peak})
    return rows


def task_rows(one: CashMonths) -> Rows:
    """Return the hours of one system by task and calendar month, seasons added up, in a year of full harvest [hour].

    Rows: task, family and hired, each twelve numbers from month 1 on; tasks in the order of the plan, those without
    any hours left out.
    """
    by_task: dict[str, list[TaskMonths]] = {}
    for task in one.tasks:
        by_task.setdefault(task.task, []).append(task)
    order = [one.calendar_month(place) - 1 for place in range(1, MONTHS + 1)]
    rows: Rows = [
        {
            "task": name,
            "family": _in_order([task.family for task in tasks], order),
            "hired": _in_order([task.hired for task in tasks], order),
        }
        for name, tasks in by_task.items()
    ]
    return [row for row in rows if any(hours != 0.0 for hours in (*row["family"], *row["hired"]))]


def _in_order(parts: list[Array], order: list[int]) -> list[float]:
    hours = plain(sum(parts, start=np.zeros((MONTHS, 1, 1))))
    return [hours[place] for place in order]
