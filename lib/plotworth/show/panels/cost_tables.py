"""The tables of the panel on money as HTML: cash by month and hours, and what loans and grants do not move."""

from collections.abc import Mapping

from plotworth.choose.appraise import Appraisal
from plotworth.choose.cash_months import CaseCash
from plotworth.choose.cash_summary import CashSummary
from plotworth.choose.cash_table import (
    calendar_table,
    cash_notes,
    kind_tables,
    labour_tables,
    month_tables,
    summary_table,
    task_table,
)
from plotworth.choose.cost_table import cost_table
from plotworth.choose.figure_table import GROUPS, figure_tables, reasons
from plotworth.choose.programme_table import programme_notes, programme_tables
from plotworth.choose.size_table import sharing_table, size_notes, size_tables
from plotworth.choose.views_table import views_notes, views_table, wage_table
from plotworth.choose.who_works import who_tables
from plotworth.ground.amounts import figures_text
from plotworth.show.panels.markup import cells_html, figures_html, folded_html, list_html

KIND = "pw-verdicts"
MARGINS, WORTH = (list(GROUPS).index(title) for title in ("gross margin of a full year", "over the horizon"))
COST_COLUMNS = (("System", False), ("Item", False), ("Paid", False), ("Counted by", False), ("Count", True))
MORE_COLUMNS = (("Lasts [years]", True), ("Grade", False), ("Source", False))
NOBODY = "No row of the labour plan or of the trial's records says who does the work: write it in their column `who`."
PLAIN_RECORD = "A plain record in the words of the case; it changes no figure."


def cash_html(cash: CaseCash, summaries: Mapping[str, CashSummary], system: str) -> str:
    """Return cash before and after financing, open; months, hours and notes folded, those of one system by themselves.

    Parameters: cash by month of the case, its summaries by system, the id of the system shown.
    """
    place = list(cash.systems).index(system)
    label = cash.systems[system].months.plan.label
    months = figures_html(kind_tables(cash)[place]) + figures_html(month_tables(cash)[place])
    hours = "".join(map(figures_html, (*labour_tables(cash), task_table(cash.systems[system]))))
    folds = {
        f"Cash by month: {label}": months,
        "Net cash of a normal year": figures_html(calendar_table(cash)),
        f"Hours by month, and by task: {label}": hours,
        "What the months follow, and what they leave out": list_html(cash_notes(cash, summaries), kind=KIND),
    }
    return figures_html(summary_table(cash, summaries)) + _folded(folds)


def worth_html(appraisal: Appraisal, seen: Appraisal, view: str) -> str:
    """Return what loans and grants do not move, all of it folded.

    Parameters: the appraisal in the full view; seen, the same in the view of this name, for margins and sizes.
    """
    sharing = sharing_table(seen)
    sizes = [*size_tables(seen), *([] if sharing is None else [sharing])]
    views = figures_html(views_table(appraisal)) + figures_html(wage_table(appraisal))
    tables = figure_tables(seen)
    margins = "".join(figures_html(tables[place]) for place in (MARGINS, WORTH))
    programme = "".join(map(figures_html, programme_tables(appraisal)))
    folds = {
        "Cost lines": cost_lines_html(appraisal),
        f"Gross margins and worth ({view} view)": margins + list_html(reasons(seen), kind=KIND),
        "Three views, and three values of family work": views + list_html(views_notes(appraisal), kind=KIND),
        f"Other sizes, and sharing ({view} view)": "".join(map(figures_html, sizes))
        + list_html(size_notes(seen), kind=KIND),
        "Who does the work": _who_html(appraisal),
        "The programme, as a donor sees it": programme + list_html(programme_notes(appraisal), kind=KIND)
        if programme
        else "",
    }
    return _folded(folds)


def _folded(folds: Mapping[str, str]) -> str:
    return "".join(folded_html(summary, inside) for summary, inside in folds.items() if inside)


def cost_lines_html(appraisal: Appraisal) -> str:
    """Return every cost line of every system, counted and priced, with its life, grade and source."""
    currency = appraisal.case.settings.currency
    rows = [
        (
            *(row.system, row.item, row.group, row.basis),
            *map(figures_text, (row.number, row.unit_price, row.amount)),
            *("" if row.life_years is None else f"{row.life_years}", row.grade, row.source),
        )
        for row in cost_table(appraisal.case, appraisal.layout, appraisal.values)
    ]
    columns = [*COST_COLUMNS, *((f"{name} [{currency}]", True) for name in ("Price", "Amount")), *MORE_COLUMNS]
    return cells_html("Cost lines: once for capital, a full year for the others", columns, rows)


def _who_html(appraisal: Appraisal) -> str:
    tables = "".join(map(figures_html, who_tables(appraisal)))
    return f"{tables}<p>{PLAIN_RECORD}</p>" if tables else f"<p>{NOBODY}</p>"
