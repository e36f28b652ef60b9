"""Cash, financing and labour by month as a page of text."""

from plotworth.choose.appraise import Appraisal
from plotworth.choose.cash_checks import cash_checks
from plotworth.choose.cash_months import CaseCash
from plotworth.choose.cash_summary import cash_summaries
from plotworth.choose.cash_table import (
    calendar_table,
    cash_notes,
    kind_tables,
    labour_tables,
    month_tables,
    summary_table,
)
from plotworth.choose.views_table import wage_table
from plotworth.ground.cautions import DECISION_SUPPORT
from plotworth.report.page import HOLDS, tables_lines, title_lines, wrapped


def cash_text(appraisal: Appraisal, cash: CaseCash) -> str:
    """Return the page of the months of an appraised case: summary, calendar, months, kinds, labour, what to know."""
    settings, summaries = appraisal.case.settings, cash_summaries(cash)
    lines = title_lines(settings)
    lines += wrapped(f"Cash by month, {settings.area_m2:g} m², {settings.currency} at {settings.price_year} prices.")
    tables = [summary_table(cash, summaries), calendar_table(cash), *labour_tables(cash), wage_table(appraisal)]
    lines += tables_lines([*tables, *kind_tables(cash), *month_tables(cash)])
    notes = (line for sentence in cash_notes(cash, summaries) for line in wrapped(f"- {sentence}"))
    checks = (f"Check: {check.sentence}: {HOLDS[check.holds]}." for check in cash_checks(cash))
    return "\n".join([*lines, "", "WHAT TO KNOW", *notes, "", *checks, "", *wrapped(DECISION_SUPPORT)])
