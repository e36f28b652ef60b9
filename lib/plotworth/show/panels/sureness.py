"""The panel on size and sureness: from what area a system pays, what would turn that, and in how many futures.

It computes nothing.

from plotworth.show.panels.sureness import sureness_panel
sureness_panel()
"""

import html
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from plotworth.choose.appraise import Appraisal
from plotworth.choose.case_crossover import areas_of, break_evens_of, main_pair
from plotworth.choose.controls import Control, first_controls
from plotworth.choose.crossover_table import area_table, break_even_sentences
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH, Values
from plotworth.choose.risk import BASELINE, TODAY
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import figures_html, folded_html, list_html
from plotworth.show.panels.panel import CasePanel, open_panel, question_html
from plotworth.show.panels.sureness_draws import FuturesPart, Mark
from plotworth.show.panels.sureness_parts import GridPart, SwitchingFold, label_of
from plotworth.show.panels.sureness_pictures import AreaPicture

GRID_HEAD, FUTURES_HEAD = "Two assumptions moved together", "How sure is it? Many futures"


class SurenessPanel(CasePanel):
    """Crossover by area and break-even values on every move; two assumptions in a grid; futures behind a button."""

    def controls(self, layout: Layout) -> Sequence[Control]:
        """Return area, price, fruit mass, well, rate, wage and way."""
        return first_controls(layout)

    def prepare(self, appraisal: Appraisal) -> None:
        """Make the charts, the chooser of the reference, and the parts below."""
        self.system, baseline = main_pair(appraisal.layout)
        self.references = _references(appraisal, self.system, baseline)
        self.against = widgets.ToggleButtons(
            options=[(label_of(appraisal, one), which) for which, one in self.references.items()],
            description="Against",
        )
        if len(self.references) > 1:
            self.choosers = (self.against,)
        self.picture, self.grid, self.switching = (
            AreaPicture(appraisal),
            GridPart(appraisal, self.pair),
            SwitchingFold(),
        )
        self.futures = FuturesPart(appraisal.layout, self.system, list(self.references.values()), self._current)

    def lay_out_parts(self, choosers: Sequence[widgets.Widget], *, above_charts: Sequence[widgets.Widget] = ()) -> None:
        """Put the parts under one another: what follows dials, then the grid, then the futures."""
        super().lay_out_parts(choosers, above_charts=above_charts)
        grid, futures = (widgets.HTML(f"<p class='pw-headline'>{words}</p>") for words in (GRID_HEAD, FUTURES_HEAD))
        parts = (self.switching, grid, self.grid, futures, self.futures)
        self.children: tuple[widgets.Widget, ...] = (*self.children, *parts)

    def listen(self) -> None:
        """Follow dials and choosers."""
        super().listen()
        self.against.observe(self.follow, "value")
        self.grid.listen(self._show_grid)
        self.switching.listen(self._show_switching)

    @property
    def pair(self) -> tuple[str, str]:
        """The system in question and what it is held against, by id."""
        return self.system, self.references[self.against.value]

    def charts(self) -> LiveCharts:
        """Return the widget of the chart by area."""
        return self.picture.widget

    def head_html(self, appraisal: Appraisal) -> str:
        """Return the question, and between which areas the system is worth more."""
        self.areas = areas_of(appraisal.layout, appraisal.values, *self.pair)
        own = next(one for one in self.areas if (one.system, one.reference) == self._leading(appraisal))
        first, *more = break_even_sentences(appraisal.layout, own)
        said = f"<p class='pw-headline'>{html.escape(first)}</p>"
        others = [line for one in self.areas if one is not own for line in break_even_sentences(appraisal.layout, one)]
        told = [line for line in dict.fromkeys([*more, *others]) if line != first]
        return question_html(appraisal) + said + list_html(told, kind="pw-verdicts")

    def _leading(self, appraisal: Appraisal) -> tuple[str, str]:
        """Return the pair of the first sentence: against present practice where the system loses to that.

        Beating the baseline while losing to present practice is losing, and is said first.
        """
        system, today = self.pair[0], appraisal.layout.structure.today
        compared = (system, today) in [(one.system, one.reference) for one in self.areas]
        loses = compared and appraisal.against_today[system]["npv"] < 0
        return (system, today) if loses else self.pair

    def draw(self, appraisal: Appraisal) -> None:
        """Give the charts their rows and words, and the parts below what they follow."""
        self.picture.show(appraisal, self.areas)
        self.grid.show(appraisal, self.pair)
        self.switching.show(appraisal, self.pair)
        reference = self.pair[1]
        self.futures.compare("" if reference == OWN_WORTH else self.against.value, reference)

    def tables_html(self, appraisal: Appraisal) -> str:
        """Return the areas at which the order turns, and where the pair ties along each dial."""
        layout = appraisal.layout
        found = break_evens_of(layout, appraisal.values, *self.pair)
        lines = [line for one in found for line in break_even_sentences(layout, one)]
        areas = folded_html("Areas at which the order turns, in figures", figures_html(area_table(layout, self.areas)))
        return f"<p class='pw-headline'>Where each dial alone would turn the order</p>{_list(lines)}{areas}"

    def _show_grid(self, *_change: Any) -> None:
        self.grid.show(self.appraisal, self.pair)

    def _show_switching(self, *_change: Any) -> None:
        self.switching.show(self.appraisal, self.pair)

    def _current(self) -> tuple[Values, str, Mark]:
        """Return the values in force for the futures, what they are in words, and a mark of them."""
        moved = tuple((dial.address, dial.value) for dial in self.dials.values() if dial.is_moved)
        return self._values(), self._echo(), moved

    def close(self) -> None:
        """Close the parts with their charts."""
        self.grid.close()
        self.futures.close()
        super().close()


def _list(lines: Sequence[str]) -> str:
    return list_html(lines, kind="pw-verdicts")


def _references(appraisal: Appraisal, system: str, baseline: str) -> dict[str, str]:
    """Return what a system can be held against, by `baseline` and `today`; each other system once."""
    found = {BASELINE: baseline}
    today = appraisal.layout.structure.today
    if baseline != OWN_WORTH and today not in (system, baseline):
        found[TODAY] = today
    return found


def sureness_panel(case: str | Path | None = None) -> widgets.Widget:
    """Return the panel on size and sureness of a case folder: the one named, or the one the workbook was opened on.

    Faults of the case come back as a page of sentences instead of a panel. An earlier one is closed with its charts.
    """
    return open_panel(SurenessPanel, case)
