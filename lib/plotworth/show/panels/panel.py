"""What every panel of a case is: dials, what follows them, and what is said when it cannot. It computes nothing."""

import html
import logging
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
from plotworth.ground.amounts import amount_text, unit_words
from plotworth.ground.errors import PlotworthError
from plotworth.show.panels.dial import Dial
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import STYLE, list_html, status_html

CASE_VARIABLE = "PLOTWORTH_CASE"
LOG = logging.getLogger("plotworth")
UNEXPECTED = "Something went wrong that this panel does not know; the last result stays. The log holds the details."
_open_panels: dict[type["CasePanel"], "CasePanel"] = {}


class CasePanel(widgets.VBox):  # type: ignore[misc]
    """Dials, charts and tables of one case. `appraisal` is the last result; `dials` by address.

    A kind of panel says what stands in it: `controls`, `more_controls`, which are folded away, `charts`, `draw`,
    `head_html` and `tables_html`; `choosers` are other controls above the dials, whose changes call `follow`.
    """

    def __init__(self, case: Case, layout: Layout) -> None:
        self.case, self.case_layout = case, layout
        self.choosers: Sequence[widgets.Widget] = ()
        first, more = ([Dial(one) for one in ones] for ones in (self.controls(layout), self.more_controls(layout)))
        self.dials = {dial.address: dial for dial in (*first, *more)}
        self.head, self.status, self.tables = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.reset = widgets.Button(description="Back to the book", tooltip="Set every dial to the value in the book")
        self.appraisal = appraise_layout(case, layout, layout.values)
        self.prepare(self.appraisal)
        dials = [_together(first), *([_folded(_together(more))] if more else [])]
        parts = [widgets.HTML(STYLE), self.head, *self.choosers, *dials, self.reset, self.status]
        super().__init__([*parts, self.charts(), self.tables])
        self.add_class("pw-panel")
        self._show(self.appraisal)
        for dial in self.dials.values():
            dial.on_change(self.follow)
        self.reset.on_click(self._back_to_the_book)

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

    def follow(self, *_change: Any) -> None:
        """Appraise the case with the dials as they stand, and show it; or say why that cannot be."""
        problems = [dial.problem for dial in self.dials.values() if dial.problem]
        if not problems:
            try:
                self._show(appraise_layout(self.case, self.case_layout, self._values()))
            except PlotworthError as error:
                problems = str(error).splitlines()
            except Exception:  # whatever it is must reach the user as a sentence, and the log in full
                LOG.exception("the %s failed", type(self).__name__)
                problems = [UNEXPECTED]
        self._tell(problems)

    def _tell(self, problems: list[str]) -> None:
        failed = [f"Do not use these figures: {c.sentence} fails." for c in self.appraisal.checks if not c.holds]
        problems = [*problems, *failed]
        warnings = [dial.warning for dial in self.dials.values() if dial.warning]
        self.charts().stale = bool(problems)
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
        self.head.value = self.head_html(appraisal)
        self.draw(appraisal)
        self.tables.value = self.tables_html(appraisal)
        self._tell([])


def _together(dials: Sequence[Dial]) -> widgets.Box:
    box = widgets.Box(list(dials))
    box.add_class("pw-dials")
    return box


def _folded(inside: widgets.Widget) -> widgets.Accordion:
    return widgets.Accordion([inside], titles=("More dials",), selected_index=None)


def open_panel(kind: type[CasePanel], case: str | Path | None) -> widgets.Widget:
    """Return a panel of a case folder: the one named, or the one the workbook was opened on.

    Faults of the case come back as a page of sentences instead of a panel. An earlier panel of the kind in the same
    notebook is closed with its charts.
    """
    if (earlier := _open_panels.pop(kind, None)) is not None:
        earlier.charts().close()
        earlier.close()
    try:
        opened = open_case(case if case is not None else os.environ.get(CASE_VARIABLE, "."))
        panel = _open_panels[kind] = kind(opened, lay_out(opened))
    except PlotworthError as error:
        sentences = str(error).splitlines()
        return widgets.HTML(f"<p>The case cannot be appraised yet:</p>{list_html(sentences, kind='pw-faults')}")
    return panel


def question_html(appraisal: Appraisal) -> str:
    """Return the mark of invented data and the question of the case."""
    settings = appraisal.case.settings
    invented = "<div class='pw-invented'>Invented data: no place, group, price or plot in it is real</div>"
    return f"{invented if settings.invented else ''}<p>{html.escape(settings.question)}</p>"
