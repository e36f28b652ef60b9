"""What a panel on money says first: the view that turns the order, every worst month, the grant that breaks even."""

from collections.abc import Iterator, Mapping

from plotworth.choose.appraise import Appraisal
from plotworth.choose.cash_months import CaseCash, CashMonths
from plotworth.choose.cash_rows import when
from plotworth.choose.cash_summary import Balance, CashSummary
from plotworth.choose.views import three_views
from plotworth.choose.views_table import ranking_sentence
from plotworth.ground.amounts import money_text, share_text
from plotworth.ground.arrays import Array


def order_sentence(appraisal: Appraisal) -> str:
    """Return which of the three views changes the order of the systems by NPV."""
    return ranking_sentence(appraisal, three_views(appraisal.layout, appraisal.values))


def month_sentences(cash: CaseCash, summaries: Mapping[str, CashSummary]) -> list[str]:
    """Return the worst month of each system, then the grant at which a family breaks even with each."""
    return [
        *(worst_month_sentence(cash, one, summaries[name]) for name, one in cash.systems.items()),
        *(grant_sentence(one, summaries[name]) for name, one in cash.systems.items()),
    ]


def worst_month_sentence(cash: CaseCash, one: CashMonths, summary: CashSummary) -> str:
    """Return the month in which a system's balance lies deepest, before financing and after where there is any."""
    label, currency = one.months.plan.label, cash.layout.case.settings.currency
    before = _deepest(one, summary.before, currency)
    if before is None:
        return f"{label}: the worst month cannot be said, since an assumption is unknown."
    text = f"{label}, worst month: {before}"
    after = _deepest(one, summary.after, currency)
    if _first(summary.granted) == 0.0 and _first(summary.borrowed) == 0.0:
        return f"{text}; no loan or grant is stated."
    return f"{text}; with its loans and grants {after}."


def _deepest(one: CashMonths, found: Balance, currency: str) -> str | None:
    """Return the deepest point of a balance in words, None where it is not known."""
    depth, month = _first(found.deepest), _first(found.deepest_month)
    if depth != depth:
        return None
    if depth == 0.0:
        return "the balance never falls below zero"
    return f"the balance is {money_text(depth, currency)} in month {month:.0f} ({when(one, int(month))})"


def grant_sentence(one: CashMonths, summary: CashSummary) -> str:
    """Return the grant at which a family breaks even in the cash view after its loans, as share of the investment."""
    label, share, npv = one.months.plan.label, _first(summary.break_even_grant_share), _first(summary.npv_cash)
    if npv != npv:
        return f"{label}: the grant at which the family breaks even cannot be said, since an assumption is unknown."
    if share != share:
        return f"{label}: no grant breaks even for the family, not even one of the whole investment (cash view)."
    if share == 0.0:
        return f"{label}: the family breaks even without a grant (cash view)."
    return f"{label}: the family breaks even with a grant of {share_text(share)} of the investment (cash view)."


def _first(array: Array) -> float:
    return float(array.flat[0])


def day_rows(appraisal: Appraisal) -> Iterator[dict[str, object]]:
    """Yield what a day of family work brings in each system, for a chart beside the wage of a day [money/day].

    Rows: system, label, per_day, wage; NaN where it is not known, or where the family does not work.
    """
    addresses = appraisal.layout.structure.systems[0].addresses
    hour, hours = (appraisal.values[addresses[name]] for name in ("family_wage_per_hour", "hours_per_day"))
    for name, own in appraisal.systems.items():
        label = appraisal.case.settings.system(name).label
        wage = float((hour * hours).flat[0])
        yield {"system": name, "label": label, "per_day": own["return_per_family_day"], "wage": wage}
