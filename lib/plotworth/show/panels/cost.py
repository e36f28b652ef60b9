"""The panel on money: what it costs, who has the money month by month, and who has the hours. It computes nothing.

from plotworth.show.panels.cost import cost_panel
cost_panel()
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from plotworth.choose.appraise import Appraisal, appraise_layout
from plotworth.choose.cash_months import cash_by_month
from plotworth.choose.cash_summary import cash_summaries
from plotworth.choose.controls import Control
from plotworth.choose.cost_controls import GRANT, LOAN, cost_controls, more_cost_controls
from plotworth.choose.cost_sentences import month_sentences, order_sentence
from plotworth.choose.labour_peak import AT_HAND
from plotworth.choose.layout import Layout
from plotworth.choose.views import FULL, VIEWS, in_view
from plotworth.show.panels.cost_pictures import CostPictures
from plotworth.show.panels.cost_tables import cash_html, worth_html
from plotworth.show.panels.cost_trail import TrailFold
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import list_html
from plotworth.show.panels.panel import CasePanel, open_panel, question_html

MONTHS_ALONE = (LOAN, GRANT, AT_HAND)
"""How the addresses begin whose numbers move cash and hours by month, and nothing of what a system is worth."""
Mark = tuple[Any, ...]
ABOUT = (
    "The system chosen is shown by itself in the second chart, in that of work, and in the tables by month. The view "
    "chosen is that of the size chart, the gross margins, the tables by size and the trail; cash by month has no view."
)


@dataclass(frozen=True)
class Worth:
    """What loans and grants do not move: the sentence on views and the tables, and the `mark` of what they stand on."""

    mark: Mark
    order: str
    tables: str


class CostPanel(CasePanel):
    """Cost lines, financing and hours as dials; balances, calendars, views and sizes; the trail of any figure."""

    def controls(self, layout: Layout) -> Sequence[Control]:
        """Return the dearest cost lines, loans and grants, the family's wage and its hours."""
        return cost_controls(layout)

    def more_controls(self, layout: Layout) -> Sequence[Control]:
        """Return area, further lines, the other wages, sharing and contingencies."""
        return more_cost_controls(layout)

    def prepare(self, appraisal: Appraisal) -> None:
        """Make the charts, the choosers and the fold of the trail."""
        systems = appraisal.layout.structure.systems
        self.cash = cash_by_month(appraisal.layout, appraisal.values)
        self.pictures = CostPictures(appraisal, self.cash)
        self.system = widgets.ToggleButtons(options=[(one.label, one.id) for one in systems], description="System")
        self.view = widgets.ToggleButtons(options=[(view.capitalize(), view) for view in VIEWS], description="View")
        self.view.value = FULL
        self.trail = TrailFold(appraisal)
        self.choosers = (self.system, self.view, widgets.HTML(f"<span class='pw-origin'>{ABOUT}</span>"))
        self._worth = Worth(mark=(), order="", tables="")

    def lay_out_parts(self, choosers: Sequence[widgets.Widget], *, above_charts: Sequence[widgets.Widget] = ()) -> None:
        """Put the parts under one another, the trail last."""
        super().lay_out_parts(choosers, above_charts=above_charts)
        self.children: tuple[widgets.Widget, ...] = (*self.children, self.trail)

    def listen(self) -> None:
        """Follow dials, choosers and the trail."""
        super().listen()
        for chooser in (self.system, self.view):
            chooser.observe(self.follow, "value")
        self.trail.listen(self._show_trail)

    def charts(self) -> LiveCharts:
        """Return the widget of the charts."""
        return self.pictures.widget

    def head_html(self, appraisal: Appraisal) -> str:
        """Return the question, the view that turns the order, every worst month, and the grants that break even."""
        self.cash = cash_by_month(appraisal.layout, appraisal.values)
        self.summaries = cash_summaries(self.cash)
        self.seen = self._in_view(appraisal)
        sentences = [self._kept_worth(appraisal).order, *month_sentences(self.cash, self.summaries)]
        return question_html(appraisal) + list_html(sentences, kind="pw-verdicts")

    def _in_view(self, appraisal: Appraisal) -> Appraisal:
        if self.view.value == FULL:
            return appraisal
        values = in_view(appraisal.layout, appraisal.values, self.view.value)
        return appraise_layout(appraisal.case, appraisal.layout, values)

    def draw(self, appraisal: Appraisal) -> None:
        """Give the charts their rows and words, and the trail its figures."""
        self.pictures.show(appraisal, self.seen, self.cash, self.system.value, mark=self._mark())
        self._show_trail()

    def _mark(self) -> Mark:
        """Return what worth stands on: the view, and every moved dial but those that move months alone."""
        moved = ((dial.address, dial.value) for dial in self.dials.values() if dial.is_moved)
        return (self.view.value, *(one for one in moved if not one[0].startswith(MONTHS_ALONE)))

    def _kept_worth(self, appraisal: Appraisal) -> Worth:
        """Return the words and tables of worth, worked out anew where a dial that moves them has moved."""
        mark = self._mark()
        if mark != self._worth.mark:
            tables = worth_html(appraisal, self.seen, self.view.value)
            self._worth = Worth(mark, order_sentence(appraisal), tables)
        return self._worth

    def _show_trail(self, *_change: Any) -> None:
        self.trail.show(self.seen)

    def tables_html(self, appraisal: Appraisal) -> str:
        """Return cash and hours in figures, then what loans and grants do not move."""
        return cash_html(self.cash, self.summaries, self.system.value) + self._kept_worth(appraisal).tables


def cost_panel(case: str | Path | None = None) -> widgets.Widget:
    """Return the panel on money of a case folder: the one named, or the one the workbook was opened on.

    Faults of the case come back as a page of sentences instead of a panel. An earlier one is closed with its charts.
    """
    return open_panel(CostPanel, case)
