"""Cash by month, financing and labour by month as tables to read, and the sentences that go with them."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.cash_months import INFLOWS, OUTFLOWS, CaseCash, CashMonths
from plotworth.choose.cash_rows import (
    calendar_rows,
    labour_rows,
    month_name,
    plain,
    shown_months,
    task_rows,
    when,
)
from plotworth.choose.cash_summary import Balance, CashSummary
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.labour_peak import labour_peak
from plotworth.choose.loan_flows import FINANCING
from plotworth.choose.month_shares import MONTHS
from plotworth.ground.amounts import figures_text, money_text, share_text
from plotworth.ground.arrays import Array

LEAN_MARK, SHORT_MARK = " lean", " short"
MONTH_COLUMNS = ("Comes in", "Goes out", "Financing", "Closing")
NOT_HERE = (
    "Cash is money in hand: family work costs nothing, food eaten at home brings nothing, and no working capital is "
    "laid out: the months show what it stands for."
)
TIMES = (
    "What is bought to last is paid in month 0 and again in the month in which its life ends; cost lines fall into "
    "their month, without one into the first month of their season or, yearly ones, evenly over the year."
)


def _text(value: float) -> str:
    return DASH if value != value else figures_text(value)


def _first(array: Array) -> float:
    return float(array.flat[0])


def month_tables(cash: CaseCash) -> list[FigureTable]:
    """Return a table for each system: by month what comes in, goes out, is financed, and the closing balance.

    Its columns are those of `MONTH_COLUMNS`; a month opens with the balance at which the one before closes.
    """
    return [_month_table(cash, one) for one in cash.systems.values()]


def _month_table(cash: CaseCash, one: CashMonths) -> FigureTable:
    last, currency = shown_months(cash), cash.layout.case.settings.currency
    columns = [
        plain(sum(one.flows[kind] for kind in kinds) + np.zeros_like(one.before)) for kinds in (INFLOWS, OUTFLOWS)
    ]
    columns += [plain(one.financed), plain(one.closing(with_financing=True))]
    rows = (
        FigureRow(f"{month}: {when(one, month)}", currency, tuple(_text(column[month]) for column in columns))
        for month in range(last + 1)
    )
    return FigureTable(f"cash by month, {one.months.plan.label}", MONTH_COLUMNS, tuple(rows))


def kind_tables(cash: CaseCash) -> list[FigureTable]:
    """Return a table for each system: what each kind of inflow, outflow and financing comes to in the years shown."""
    return [_kind_table(cash, one) for one in cash.systems.values()]


def _kind_table(cash: CaseCash, one: CashMonths) -> FigureTable:
    years, currency = shown_months(cash) // MONTHS, cash.layout.case.settings.currency
    parts = {**one.flows, **one.financing}
    rows = []
    for kind in (*INFLOWS, *OUTFLOWS, *FINANCING):
        months = plain(parts[kind])
        sums = [months[0], *(sum(months[MONTHS * y + 1 : MONTHS * (y + 1) + 1]) for y in range(years))]
        if any(sums):
            rows.append(FigureRow(kind.capitalize(), currency, tuple(map(_text, sums))))
    columns = ("Year 0", *(f"Year {year + 1}" for year in range(years)))
    return FigureTable(f"cash by kind and year, {one.months.plan.label}", columns, tuple(rows))


@dataclass(frozen=True)
class _Line:
    """A line of the summary: its label, its unit (`money` for the currency), and how a cell is written."""

    label: str
    unit: str
    cell: Callable[[CashMonths, CashSummary], str]


def _of(name: str) -> Callable[[CashMonths, CashSummary], str]:
    return lambda _, summary: _text(_first(getattr(summary, name)))


def _balance_cell(which: str, name: str) -> Callable[[CashMonths, CashSummary], str]:
    return lambda _, summary: _text(_first(getattr(getattr(summary, which), name)))


def _deepest_when(which: str) -> Callable[[CashMonths, CashSummary], str]:
    def cell(_: CashMonths, summary: CashSummary) -> str:
        found: Balance = getattr(summary, which)
        month = _first(found.deepest_month)
        return DASH if month != month or _first(found.deepest) == 0.0 else f"{month:.0f}"

    return cell


def _lean_cell(one: CashMonths, summary: CashSummary) -> str:
    places = plain(summary.lean)
    if any(place != place for place in places):
        return DASH
    return ", ".join(month_name(one.calendar_month(int(place)))[:3] for place in sorted(places))


def _share_cell(_: CashMonths, summary: CashSummary) -> str:
    share = _first(summary.break_even_grant_share)
    return DASH if share != share else share_text(share).removesuffix("\u00a0%")


SUMMARY = (
    _Line("Deepest balance before financing", "money", _balance_cell("before", "deepest")),
    _Line("in month", "", _deepest_when("before")),
    _Line("Months below zero before financing, of all", "month", _balance_cell("before", "below_zero_months")),
    _Line("Deepest balance after financing", "money", _balance_cell("after", "deepest")),
    _Line("in month", "", _deepest_when("after")),
    _Line("Months below zero after financing, of all", "month", _balance_cell("after", "below_zero_months")),
    _Line("Lean months of a normal year", "", _lean_cell),
    _Line("Needed in year 1 until sales carry it", "money", _of("first_year_need")),
    _Line("Working capital in the appraisal for it", "money", _of("working_capital")),
    _Line("Grants", "money", _of("granted")),
    _Line("Loans", "money", _of("borrowed")),
    _Line("NPV, full view: the headline", "money", _of("npv_full")),
    _Line("NPV, cash view, before financing", "money", _of("npv_cash")),
    _Line("NPV, cash view, after financing", "money", _of("npv_cash_after")),
    _Line("Grant at which the family breaks even, of the investment", "%", _share_cell),
    _Line("Smallest loan with no month below zero", "money", _of("smallest_loan")),
    _Line("Largest loan with no month below zero", "money", _of("largest_loan")),
)


def summary_table(cash: CaseCash, summaries: Mapping[str, CashSummary]) -> FigureTable:
    """Return what the months of every system come to, before and after financing."""
    currency = cash.layout.case.settings.currency
    rows = (
        FigureRow(
            line.label,
            currency if line.unit == "money" else line.unit,
            tuple(line.cell(one, summaries[name]) for name, one in cash.systems.items()),
        )
        for line in SUMMARY
    )
    return FigureTable("cash before and after financing", _labels(cash), tuple(rows))


def _labels(cash: CaseCash) -> tuple[str, ...]:
    return tuple(one.months.plan.label for one in cash.systems.values())


def calendar_table(cash: CaseCash) -> FigureTable:
    """Return the net cash of a normal year by calendar month and system, the lean months marked."""
    currency = cash.layout.case.settings.currency
    cells = [_text(row["net"]) + (LEAN_MARK if row["lean"] else "") for row in calendar_rows(cash)]
    return FigureTable("net cash of a normal year", _labels(cash), _by_month(cash, cells, currency))


def labour_tables(cash: CaseCash) -> list[FigureTable]:
    """Return family hours by calendar month, those above the hours at hand marked, then the hired hours."""
    rows = labour_rows(cash)
    family = [_text(row["family"]) + (SHORT_MARK if row["short"] > 0.0 else "") for row in rows]
    hired = [_text(row["hired"]) for row in rows]
    return [
        FigureTable("family hours of a full year", _labels(cash), _by_month(cash, family, "hour")),
        FigureTable("hired hours of a full year", _labels(cash), _by_month(cash, hired, "hour")),
    ]


def _by_month(cash: CaseCash, cells: list[str], unit: str) -> tuple[FigureRow, ...]:
    """Return rows by calendar month from cells in the order system, month."""
    first = next(iter(cash.systems.values()))
    places = range(1, MONTHS + 1)
    return tuple(
        FigureRow(month_name(first.calendar_month(place)), unit, tuple(cells[place - 1 :: MONTHS])) for place in places
    )


def task_table(one: CashMonths) -> FigureTable:
    """Return the hours of one system by task, family and hired together, a column for each calendar month."""
    months = tuple(month_name(one.calendar_month(place))[:3] for place in range(1, MONTHS + 1))
    rows = (
        FigureRow(
            row["task"],
            "hour",
            tuple(_text(mine + hired) for mine, hired in zip(row["family"], row["hired"], strict=True)),
        )
        for row in task_rows(one)
    )
    return FigureTable(f"hours by task and month, {one.months.plan.label}", months, tuple(rows))


def cash_notes(cash: CaseCash, summaries: Mapping[str, CashSummary]) -> list[str]:
    """Return what is to be read with the months: what they leave out, what they follow, what financing lacks."""
    return [
        NOT_HERE,
        TIMES,
        *cash.notes,
        *(sentence for name, one in cash.systems.items() for sentence in _financing_notes(one, summaries[name])),
        *labour_notes(cash),
    ]


def _financing_notes(one: CashMonths, summary: CashSummary) -> Iterator[str]:
    label, borrowed = one.months.plan.label, _first(summary.borrowed)
    share, npv = _first(summary.break_even_grant_share), _first(summary.npv_cash)
    if share != share and npv == npv:
        yield f"{label}: no grant breaks even for the family: in the cash view more is lost than the investment."
    if borrowed > 0.0 and _first(summary.smallest_loan) != _first(summary.smallest_loan):
        yield f"{label}: no loan on these terms keeps every month from closing below zero."


def labour_notes(cash: CaseCash) -> Iterator[str]:
    """Yield the month of most family work of each system, against the hours at hand, and what hiring the rest costs."""
    currency = cash.layout.case.settings.currency
    for one in cash.systems.values():
        peak, label = labour_peak(one, cash.values), one.months.plan.label
        month, at_hand = _first(peak.peak_month), _first(peak.at_hand)
        if month != month:
            continue
        most = float(peak.family.reshape(MONTHS, -1)[:, 0].max())
        text = f"{label}: most family work falls in {month_name(int(month))}, {figures_text(most)} hours"
        if at_hand != at_hand:
            yield f"{text}; the book states no hours_at_hand_per_month, so nothing says whether the family has them."
        elif most <= at_hand:
            yield f"{text}, of {figures_text(at_hand)} at hand."
        else:
            short = float(peak.short.reshape(MONTHS, -1)[:, 0].sum())
            cost = money_text(_first(peak.hire_cost), currency)
            yield (
                f"{text}, of {figures_text(at_hand)} at hand: over the year {figures_text(short)} hours are short, and "
                f"hiring them costs {cost}, which is in no figure above."
            )
