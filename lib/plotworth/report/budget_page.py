"""The partial budgets of a case as a page of text: tables by crop and season, then what follows."""

from plotworth.choose.appraise import Appraisal
from plotworth.choose.budget_moves import moved_budgets
from plotworth.choose.budget_table import budget_notes, budget_sentences, budget_tables
from plotworth.choose.treatment_budget import treatment_budgets
from plotworth.ground.cautions import DECISION_SUPPORT
from plotworth.report.page import tables_lines, title_lines, wrapped


def budget_text(appraisal: Appraisal) -> str:
    """Return the page of the partial budgets of an appraised case."""
    settings, layout, values = appraisal.case.settings, appraisal.layout, appraisal.values
    lines = title_lines(settings)
    lines += wrapped(f"Partial budget by crop and season, {settings.currency} at {settings.price_year} prices.")
    for budget in treatment_budgets(layout, values):
        moved = moved_budgets(layout, values, budget) if budget.is_comparison else ()
        lines += tables_lines(budget_tables(settings.currency, budget, moved))
        told = budget_sentences(settings.currency, budget, moved)
        lines += ["", *(line for sentence in told for line in wrapped(f"- {sentence}"))]
    notes = (line for sentence in budget_notes(appraisal) for line in wrapped(f"- {sentence}"))
    return "\n".join([*lines, "", "WHAT TO KNOW", *notes, "", *wrapped(DECISION_SUPPORT)])
