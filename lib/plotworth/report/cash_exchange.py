"""Cash, financing and labour by month as JSON, for other programs: numbers as computed, null with its reason."""

import json
import math
from collections.abc import Iterator, Mapping
from typing import Any

from plotworth.choose.appraise import Appraisal
from plotworth.choose.cash_checks import cash_checks
from plotworth.choose.cash_months import CaseCash, CashMonths
from plotworth.choose.cash_rows import calendar_rows, labour_rows, plain, shown_months, task_rows, when
from plotworth.choose.cash_summary import CashSummary, cash_summaries
from plotworth.choose.cash_table import cash_notes
from plotworth.choose.month_shares import MONTHS

Number = float | None
WHY = {
    "break_even_grant_share": "a grant of the whole investment is not enough",
    "smallest_loan": "no loan is stated, or none on its terms keeps every month from closing below zero",
    "largest_loan": "no loan is stated, none on its terms keeps every month from closing below zero, or any size does",
}
UNKNOWN = "an assumption is unknown"
BALANCES = ("before", "after")


def cash_json(appraisal: Appraisal, cash: CaseCash) -> str:
    """Return the months of an appraised case as JSON text; the same case gives the same bytes."""
    return json.dumps(cash_data(appraisal, cash), allow_nan=False, indent=2)


def cash_data(appraisal: Appraisal, cash: CaseCash) -> dict[str, Any]:
    """Return what the JSON holds: case, systems by id with months, calendar, labour and summary; notes, reasons."""
    settings, summaries = appraisal.case.settings, cash_summaries(cash)
    return {
        "case": {
            "title": settings.title,
            "invented": settings.invented,
            "currency": settings.currency,
            "price_year": settings.price_year,
            "area_m2": settings.area_m2,
            "horizon_years": settings.horizon_years,
            "first_month": cash.first_month,
            "view": "cash",
        },
        "systems": {name: _system(cash, name, one, summaries[name]) for name, one in cash.systems.items()},
        "units": {"money": settings.currency, "hours": "hour", "prices": f"constant, of {settings.price_year}"},
        "notes": cash_notes(cash, summaries),
        "checks": {check.sentence: check.holds for check in cash_checks(cash)},
        "why": dict(sorted(_why(summaries))),
    }


def _system(cash: CaseCash, name: str, one: CashMonths, summary: CashSummary) -> dict[str, Any]:
    own = [row for row in calendar_rows(cash) if row["system"] == name]
    hours = [row for row in labour_rows(cash) if row["system"] == name]
    return {
        "label": one.months.plan.label,
        "months": _months(one, shown_months(cash)),
        "years": _years(one),
        "normal_year": [{"month": row["name"], "net": _number(row["net"]), "lean": row["lean"]} for row in own],
        "labour": [
            {"month": row["name"], **{key: _number(row[key]) for key in ("family", "hired", "at_hand", "short")}}
            for row in hours
        ],
        "tasks": [
            {"task": row["task"], **{key: [_number(hour) for hour in row[key]] for key in ("family", "hired")}}
            for row in task_rows(one)
        ],
        "summary": _summary_data(summary),
    }


def _months(one: CashMonths, last: int) -> list[dict[str, Any]]:
    flows = {kind: plain(part) for kind, part in one.flows.items()}
    financing = {kind: plain(part) for kind, part in one.financing.items()}
    closing = [plain(one.closing(with_financing=financed)) for financed in (False, True)]
    return [
        {
            "month": month,
            "when": when(one, month),
            "opening": _number(closing[1][month - 1]) if month else 0.0,
            "flows": {kind: _number(part[month]) for kind, part in flows.items()},
            "financing": {kind: _number(part[month]) for kind, part in financing.items()},
            "closing": _number(closing[1][month]),
            "closing_before_financing": _number(closing[0][month]),
        }
        for month in range(last + 1)
    ]


def _years(one: CashMonths) -> dict[str, list[Number]]:
    """Return net cash by year 0..T before and after financing."""
    return {
        which: [_number(net[0]), *(_number(sum(net[m : m + MONTHS])) for m in range(1, len(net), MONTHS))]
        for which, net in (("before", plain(one.before)), ("after", plain(one.after)))
    }


def _summary_data(summary: CashSummary) -> dict[str, Any]:
    figures = vars(summary)
    return {
        name: {key: _number(float(array.flat[0])) for key, array in vars(value).items()}
        if name in BALANCES
        else [_number(place) for place in plain(value)]
        if name == "lean"
        else _number(float(value.flat[0]))
        for name, value in figures.items()
    }


def _why(summaries: Mapping[str, CashSummary]) -> Iterator[tuple[str, str]]:
    for system, summary in summaries.items():
        unknown = math.isnan(float(summary.npv_cash.flat[0]))
        for name, value in _summary_data(summary).items():
            parts = value.values() if isinstance(value, dict) else value if isinstance(value, list) else [value]
            if any(part is None for part in parts):
                yield f"systems/{system}/summary/{name}", UNKNOWN if unknown else WHY.get(name, UNKNOWN)


def _number(value: float) -> Number:
    return value if math.isfinite(value) else None
