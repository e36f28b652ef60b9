"""What every panel of a case is: dials, what follows them, and what is said when it cannot. It computes nothing."""

import html
import os
from abc import abstractmethod
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import numpy as np

from plotworth.case.folder import Case, open_case
from plotworth.choose.appraise import Appraisal, appraise_layout
from plotworth.choose.controls import Control
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.ground.errors import PlotworthError
from plotworth.show.panels.dial_panel import DialPanel
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import list_html

CASE_VARIABLE = "PLOTWORTH_CASE"
_open_panels: dict[type[DialPanel], DialPanel] = {}


class CasePanel(DialPanel):
    """Dials, charts and tables of one case. `appraisal` is the last result; `dials` by address.

    A kind of panel says what stands in it: `controls`, `more_controls`, which are folded away, `charts`, `draw`,
    `head_html` and `tables_html`; `choosers` are other controls above the dials, whose changes call `follow`.
    """

    def __init__(self, case: Case, layout: Layout) -> None:
        self.case, self.case_layout = case, layout
        self.choosers: Sequence[widgets.Widget] = ()
        self.make_dials(self.controls(layout), self.more_controls(layout))
        self.appraisal = appraise_layout(case, layout, layout.values)
        self.prepare(self.appraisal)
        self.lay_out_parts(self.choosers)
        self._show(self.appraisal)
        self.listen()

    @abstractmethod
    def controls(self, layout: Layout) -> Sequence[Control]:
        """Return the controls that the panel offers."""

    def more_controls(self, _layout: Layout) -> Sequence[Control]:
        """Return the controls that stand folded away below the others; none unless a kind of panel says so."""
        return ()

    @abstractmethod
    def prepare(self, appraisal: Appraisal) -> None:
        """Make what is made once, from the appraisal of the book: charts, choosers, flags."""

    @abstractmethod
    def charts(self) -> LiveCharts:
        """Return the widget of the charts."""

    @abstractmethod
    def draw(self, appraisal: Appraisal) -> None:
        """Give the charts their rows and words."""

    @abstractmethod
    def head_html(self, appraisal: Appraisal) -> str:
        """Return what stands above the dials."""

    @abstractmethod
    def tables_html(self, appraisal: Appraisal) -> str:
        """Return what stands below the charts."""

    def compute(self) -> None:
        """Appraise the case with the dials as they stand, and show it."""
        self._show(appraise_layout(self.case, self.case_layout, self._values()))

    def failures(self) -> list[str]:
        """Return the master checks that the last appraisal fails."""
        return [f"Do not use these figures: {c.sentence} fails." for c in self.appraisal.checks if not c.holds]

    def _values(self) -> dict[str, Any]:
        moved = {dial.address: np.full((1, 1), dial.value) for dial in self.dials.values() if dial.is_moved}
        return {**self.case_layout.values, **moved}

    def _show(self, appraisal: Appraisal) -> None:
        self.appraisal = appraisal
        self.head.value = self.head_html(appraisal)
        self.draw(appraisal)
        self.tables.value = self.tables_html(appraisal)
        self.tell([])


def open_panel(kind: type[CasePanel], case: str | Path | None) -> widgets.Widget:
    """Return a panel of a case folder: the one named, or the one the workbook was opened on.

    Faults of the case come back as a page of sentences instead of a panel. An earlier panel of the kind in the same
    notebook is closed with its charts.
    """
    close_earlier(kind)
    try:
        opened = open_case(case_folder(case))
        panel = keep_open(kind(opened, lay_out(opened)))
    except PlotworthError as error:
        sentences = str(error).splitlines()
        return widgets.HTML(f"<p>The case cannot be appraised yet:</p>{list_html(sentences, kind='pw-faults')}")
    return panel


def case_folder(case: str | Path | None) -> str | Path:
    """Return the case folder named, or the one the workbook was opened on."""
    return case if case is not None else os.environ.get(CASE_VARIABLE, ".")


def close_earlier(kind: type[DialPanel]) -> None:
    """Close the earlier panel of a kind in this notebook, with its charts."""
    if (earlier := _open_panels.pop(kind, None)) is not None:
        earlier.charts().close()
        earlier.close()


def keep_open(panel: DialPanel) -> DialPanel:
    """Remember a panel as the one of its kind, and return it."""
    _open_panels[type(panel)] = panel
    return panel


def question_html(appraisal: Appraisal) -> str:
    """Return the mark of invented data and the question of the case."""
    settings = appraisal.case.settings
    invented = "<div class='pw-invented'>Invented data: no place, group, price or plot in it is real</div>"
    return f"{invented if settings.invented else ''}<p>{html.escape(settings.question)}</p>"
