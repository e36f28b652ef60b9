"""The appraisal panel: dials for what matters most, charts and tables that follow. It wires, and computes nothing.

from plotworth.show.panels.appraisal import appraisal_panel
panel = appraisal_panel()
panel
"""

import html
from collections.abc import Sequence
from pathlib import Path

import ipywidgets as widgets

from plotworth.choose.appraise import Appraisal
from plotworth.choose.area_table import area_tables
from plotworth.choose.controls import Control, first_controls
from plotworth.choose.cost_table import cost_table
from plotworth.choose.figure_table import GROUPS, figure_tables, flow_table, other_crops, reasons
from plotworth.choose.guard import flags, unchecked
from plotworth.choose.layout import Layout
from plotworth.choose.trial_table import trial_notes, trial_tables
from plotworth.ground.amounts import figures_text
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import cells_html, figures_html, folded_html, list_html
from plotworth.show.panels.panel import CasePanel, open_panel, question_html
from plotworth.show.panels.pictures import Pictures

COST_COLUMNS = (("System", False), ("Item", False), ("Paid", False), ("Counted by", False), ("Count", True))
WORTH = list(GROUPS).index("over the horizon")


class AppraisalPanel(CasePanel):
    """What every system of a case is worth: dials, charts and tables."""

    def controls(self, layout: Layout) -> Sequence[Control]:
        """Return area, price, fruit mass, well, rate, wage and carrying."""
        return first_controls(layout)

    def prepare(self, appraisal: Appraisal) -> None:
        """Make the charts, and the flags, which no dial moves."""
        self.pictures = Pictures(appraisal)
        self.flags = flags_html(appraisal)

    def charts(self) -> LiveCharts:
        """Return the widget of the charts."""
        return self.pictures.widget

    def draw(self, appraisal: Appraisal) -> None:
        """Give the charts their rows and words."""
        self.pictures.show(appraisal)

    def head_html(self, appraisal: Appraisal) -> str:
        """Return the question, the first sentence and a verdict on each system."""
        return _head_html(appraisal)

    def tables_html(self, appraisal: Appraisal) -> str:
        """Return worth, and what is folded behind it."""
        return _tables_html(appraisal) + self.flags


def appraisal_panel(case: str | Path | None = None) -> widgets.Widget:
    """Return the panel of a case folder: the one named, or the one the workbook was opened on.

    Faults of the case come back as a page of sentences instead of a panel. An earlier one is closed with its charts.
    """
    return open_panel(AppraisalPanel, case)


def _head_html(appraisal: Appraisal) -> str:
    first = html.escape(appraisal.headline)
    verdicts = list_html([verdict.sentence for verdict in appraisal.verdicts], kind="pw-verdicts")
    return f"{question_html(appraisal)}<p class='pw-headline'>{first}</p>{verdicts}"


def _tables_html(appraisal: Appraisal) -> str:
    tables = [figures_html(table) for table in figure_tables(appraisal)]
    folds = {
        "What the trial measured": _trial_html(appraisal),
        "Each cost line, the sums by area, the flows by year": _cost_html(appraisal),
        "Yield, water, kilograms and a full year": "".join(tables[:WORTH])
        + list_html(list(other_crops(appraisal)), kind="pw-verdicts"),
        "Against the baseline and against present practice": "".join(tables[WORTH + 1 :]),
        "Why a dash, and what to read with care": list_html(reasons(appraisal), kind="pw-verdicts"),
    }
    return tables[WORTH] + "".join(folded_html(summary, inside) for summary, inside in folds.items() if inside)


def flags_html(appraisal: Appraisal) -> str:
    """Return the questions that the case's own figures raise; a dial moves no flag."""
    raised = [flag.sentence for flag in flags(appraisal)] or ["None is raised."]
    sentences = [*raised, *(f"Not checked: {sentence}" for sentence in unchecked(appraisal))]
    return folded_html("Flags on the figures of the book: questions to ask", list_html(sentences, kind="pw-verdicts"))


def _trial_html(appraisal: Appraisal) -> str:
    tables = "".join(figures_html(table) for table in trial_tables(appraisal))
    return tables + list_html(trial_notes(appraisal), kind="pw-verdicts") if tables else ""


def _cost_html(appraisal: Appraisal) -> str:
    currency = appraisal.case.settings.currency
    lines = [
        (r.system, r.item, r.group, r.basis, *map(figures_text, (r.number, r.unit_price, r.amount)))
        for r in cost_table(appraisal.case, appraisal.layout, appraisal.values)
    ]
    columns = [*COST_COLUMNS, *((f"{name} [{currency}]", True) for name in ("Price", "Amount"))]
    table = cells_html("Cost lines: once for capital, a full year for the others", columns, lines)
    return table + "".join(map(figures_html, (*area_tables(appraisal), flow_table(appraisal))))
