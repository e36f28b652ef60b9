"""The appraisal panel: dials for what matters most, charts and tables that follow. It wires, and computes nothing.

from plotworth.show.panels.appraisal import appraisal_panel
panel = appraisal_panel()
panel
"""

import html
import logging
import os
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import numpy as np

from plotworth.case.folder import Case, open_case
from plotworth.choose.appraise import Appraisal, appraise_layout
from plotworth.choose.area_table import area_tables
from plotworth.choose.controls import first_controls
from plotworth.choose.cost_table import cost_table
from plotworth.choose.figure_table import GROUPS, figure_tables, flow_table, other_crops, reasons
from plotworth.choose.guard import flags, unchecked
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.trial_table import trial_notes, trial_tables
from plotworth.ground.amounts import amount_text, figures_text, unit_words
from plotworth.ground.errors import PlotworthError
from plotworth.show.panels.dial import Dial
from plotworth.show.panels.markup import STYLE, cells_html, figures_html, folded_html, list_html, status_html
from plotworth.show.panels.pictures import Pictures

CASE_VARIABLE = "PLOTWORTH_CASE"
COST_COLUMNS = (("System", False), ("Item", False), ("Paid", False), ("Counted by", False), ("Count", True))
WORTH = list(GROUPS).index("over the horizon")
LOG = logging.getLogger("plotworth")
UNEXPECTED = "Something went wrong that this panel does not know; the last result stays. The log holds the details."
_open_panels: list["AppraisalPanel"] = []


class AppraisalPanel(widgets.VBox):  # type: ignore[misc]
    """Dials, charts and tables of one case. `appraisal` is the last result; `dials` by address."""

    def __init__(self, case: Case, layout: Layout) -> None:
        self.case, self.case_layout = case, layout
        self.dials = {dial.address: dial for dial in map(Dial, first_controls(layout))}
        self.head, self.status, self.tables = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.reset = widgets.Button(description="Back to the book", tooltip="Set every dial to the value in the book")
        self.appraisal = appraise_layout(case, layout, layout.values)
        self.pictures = Pictures(self.appraisal)
        dials = widgets.Box(list(self.dials.values()))
        dials.add_class("pw-dials")
        parts = [widgets.HTML(STYLE), self.head, dials, self.reset, self.status]
        super().__init__([*parts, self.pictures.widget, self.tables])
        self.add_class("pw-panel")
        self.flags = _flags_html(self.appraisal)
        self._show(self.appraisal)
        for dial in self.dials.values():
            dial.on_change(self._follow)
        self.reset.on_click(self._back_to_the_book)

    def set(self, address: str, value: float) -> None:
        """Set a dial by its address, as if its number had been typed."""
        self.dials[address].set(value)

    def _back_to_the_book(self, _button: Any) -> None:
        for dial in self.dials.values():
            if dial.is_moved or dial.problem:
                dial.set(dial.control.input.value)

    def _values(self) -> dict[str, Any]:
        moved = {dial.address: np.full((1, 1), dial.value) for dial in self.dials.values() if dial.is_moved}
        return {**self.case_layout.values, **moved}

    def _follow(self) -> None:
        problems = [dial.problem for dial in self.dials.values() if dial.problem]
        if not problems:
            try:
                self._show(appraise_layout(self.case, self.case_layout, self._values()))
            except PlotworthError as error:
                problems = [str(error)]
            except Exception:  # whatever it is must reach the user as a sentence, and the log in full
                LOG.exception("the appraisal panel failed")
                problems = [UNEXPECTED]
        self._tell(problems)

    def _tell(self, problems: list[str]) -> None:
        failed = [f"Do not use these figures: {c.sentence} fails." for c in self.appraisal.checks if not c.holds]
        problems = [*problems, *failed]
        warnings = [dial.warning for dial in self.dials.values() if dial.warning]
        self.pictures.widget.stale = bool(problems)
        for part in (self.head, self.tables):
            part.add_class("pw-stale-text") if problems else part.remove_class("pw-stale-text")
        self.status.value = status_html(problems, warnings, self._echo())

    def _echo(self) -> str:
        moved = [dial for dial in self.dials.values() if dial.is_moved]
        if not moved:
            return "Computed with the values of the book."
        words = ", ".join(
            f"{d.control.label} {amount_text(d.value, unit_words(d.control.input.unit), digits=4)}" for d in moved
        )
        return f"Computed with {words}; all else as in the book."

    def _show(self, appraisal: Appraisal) -> None:
        self.appraisal = appraisal
        self.head.value = _head_html(appraisal)
        self.pictures.show(appraisal)
        self.tables.value = _tables_html(appraisal) + self.flags
        self._tell([])


def appraisal_panel(case: str | Path | None = None) -> widgets.Widget:
    """Return the panel of a case folder: the one named, or the one the workbook was opened on.

    Faults of the case come back as a page of sentences instead of a panel. An earlier one is closed with its charts.
    """
    while _open_panels:
        earlier = _open_panels.pop()
        earlier.pictures.widget.close()
        earlier.close()
    try:
        opened = open_case(case if case is not None else os.environ.get(CASE_VARIABLE, "."))
        panel = AppraisalPanel(opened, lay_out(opened))
    except PlotworthError as error:
        sentences = str(error).splitlines()
        return widgets.HTML(f"<p>The case cannot be appraised yet:</p>{list_html(sentences, kind='pw-faults')}")
    _open_panels.append(panel)
    return panel


def _head_html(appraisal: Appraisal) -> str:
    settings = appraisal.case.settings
    invented = "<div class='pw-invented'>Invented data: no place, group, price or plot in it is real</div>"
    first = html.escape(appraisal.headline)
    verdicts = list_html([verdict.sentence for verdict in appraisal.verdicts], kind="pw-verdicts")
    question = f"<p>{html.escape(settings.question)}</p>"
    return f"{invented if settings.invented else ''}{question}<p class='pw-headline'>{first}</p>{verdicts}"


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


def _flags_html(appraisal: Appraisal) -> str:
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
