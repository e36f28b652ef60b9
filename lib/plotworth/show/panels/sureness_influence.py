"""What moves the answer, what it rests on and what would be worth knowing: pictures and tables of the futures drawn."""

from typing import Any

from plotworth.choose.influence import Influence
from plotworth.choose.influence_rows import evidence_rows, share_rows, tornado_rows, worth_rows
from plotworth.choose.lines import OWN_WORTH
from plotworth.choose.risk_share_table import compared, influence_groups, influence_notes
from plotworth.show import tornado_captions, tornado_charts
from plotworth.show.panels.markup import figures_html, folded_html, list_html

Drawn = tuple[Any, dict[str, Any], str, str]
"""A chart, its rows by data set, its title and its spoken text."""
INFLUENCE_CHARTS = 4
DIFFERENCE = "Difference of NPV"
"""The axis of the tornado: short enough for a narrow screen; the text beside it says of which two."""
INFLUENCE_HEAD = "What moves it, what it rests on, what would be worth knowing: in figures"


def influence_pictures(found: Influence) -> list[Drawn]:
    """Return the tornado, shares of the spread, parts by grade of evidence, values of knowing; none where unknown."""
    if not found.is_known:
        return []
    return [_tornado(found), _shares(found), _evidence(found), _worth(found)]


def _tornado(found: Influence) -> Drawn:
    rows, what, currency = tornado_rows(found), compared(found), _currency(found)
    axis = what if found.tornado.reference == OWN_WORTH else DIFFERENCE
    chart = tornado_charts.tornado_chart(len(rows), currency=currency, title=axis)
    text = tornado_captions.tornado_text(rows, what, currency)
    return chart, tornado_charts.tornado_data(rows), tornado_captions.tornado_title(rows), text


def _shares(found: Influence) -> Drawn:
    rows = share_rows(found)
    text = tornado_captions.share_text_spoken(rows, compared(found))
    chart = tornado_charts.share_chart(len(rows))
    return chart, tornado_charts.share_data(rows), tornado_captions.share_title(rows), text


def _evidence(found: Influence) -> Drawn:
    rows = evidence_rows(found)
    text = tornado_captions.evidence_text(rows, compared(found))
    chart = tornado_charts.evidence_chart(len(rows))
    return chart, tornado_charts.evidence_data(rows), tornado_captions.evidence_title(rows), text


def _worth(found: Influence) -> Drawn:
    rows, currency = worth_rows(found), _currency(found)
    title, text = (words(rows, currency) for words in (tornado_captions.worth_title, tornado_captions.worth_text))
    chart = tornado_charts.worth_chart(len(rows), currency=currency)
    return chart, tornado_charts.worth_data(rows, currency), title, text


def _currency(found: Influence) -> str:
    return found.layout.case.settings.currency


def influence_html(found: Influence) -> str:
    """Return the sentences on what moves the answer, then its tables and notes folded away."""
    groups = influence_groups(found)
    said = list_html([sentence for group in groups for sentence in group.sentences], kind="pw-verdicts")
    tables = "".join(figures_html(table) for group in groups for table in group.tables)
    return said + folded_html(INFLUENCE_HEAD, tables + list_html(influence_notes(found), kind="pw-verdicts"))
