"""How sure a case is, as a page of text."""

from collections.abc import Sequence

from plotworth.choose.influence import Influence
from plotworth.choose.risk import AreaRisk, Risk
from plotworth.choose.risk_share_table import influence_notes
from plotworth.choose.risk_table import risk_notes, risk_sentences, risk_tables
from plotworth.ground.cautions import DECISION_SUPPORT
from plotworth.report.influence_page import influence_lines
from plotworth.report.page import tables_lines, title_lines, wrapped


def risk_text(risk: Risk, areas: Sequence[AreaRisk] = (), moving: Influence | None = None) -> str:
    """Return the page of a case drawn many times: what the draws say, tables, what moves it, what to know."""
    settings = risk.layout.case.settings
    lines = title_lines(settings)
    lines += wrapped(f"How sure it is, {settings.area_m2:g} m², {settings.currency} at {settings.price_year} prices.")
    lines += [line for sentence in risk_sentences(risk) for line in wrapped(sentence)]
    lines += tables_lines(risk_tables(risk, areas))
    told = [*risk_notes(risk), *(influence_notes(moving) if moving is not None else ())]
    notes = [line for sentence in told for line in wrapped(f"- {sentence}")]
    lines += influence_lines(moving) if moving is not None else ()
    return "\n".join([*lines, "", "WHAT TO KNOW", *notes, "", *wrapped(DECISION_SUPPORT)])
