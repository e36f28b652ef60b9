"""What every panel with dials does: follow them, say what it computed with, and say why when it cannot."""

import logging
from abc import abstractmethod
from collections.abc import Sequence
from typing import Any

import ipywidgets as widgets

from plotworth.choose.controls import Control
from plotworth.ground.amounts import amount_text, unit_words
from plotworth.ground.errors import PlotworthError
from plotworth.show.panels.dial import Dial
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import STYLE, status_html

LOG = logging.getLogger("plotworth")
UNEXPECTED = "Something went wrong that this panel does not know; the last result stays. The log holds the details."


class DialPanel(widgets.VBox):  # type: ignore[misc]
    """Choosers, dials, charts and tables that follow them. `dials` by address.

    A kind of panel makes its dials with `make_dials`, then its charts, then calls `lay_out_parts`; it says what
    stands in it by `charts` and `compute`, which works everything out anew and shows it.
    """

    start_words = "Computed with the values of the book."
    else_words = "all else as in the book"
    reset_words = "Back to the book"

    def make_dials(self, first: Sequence[Control], more: Sequence[Control]) -> None:
        """Make the dials, those of `more` folded away below the others, and what stands around them."""
        self.first, self.more = ([Dial(one) for one in ones] for ones in (first, more))
        self.dials = {dial.address: dial for dial in (*self.first, *self.more)}
        self.head, self.status, self.tables = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.greyed = [self.head, self.tables]
        self.reset = widgets.Button(description=self.reset_words, tooltip="Set every dial back to where it started")

    def lay_out_parts(self, choosers: Sequence[widgets.Widget], *, above_charts: Sequence[widgets.Widget] = ()) -> None:
        """Put the parts of the panel under one another: head, choosers, dials, status, charts, tables."""
        dials = [_together(self.first), *([_folded(_together(self.more))] if self.more else [])]
        parts = [widgets.HTML(STYLE), self.head, *choosers, *dials, self.reset, self.status, *above_charts]
        super().__init__([*parts, self.charts(), self.tables])
        self.add_class("pw-panel")

    def listen(self) -> None:
        """Follow every dial and the button from now on."""
        for dial in self.dials.values():
            dial.on_change(self.follow)
        self.reset.on_click(self.back_to_start)

    @abstractmethod
    def charts(self) -> LiveCharts:
        """Return the widget of the charts."""

    @abstractmethod
    def compute(self) -> None:
        """Work everything out with the dials as they stand, and show it."""

    def failures(self) -> list[str]:
        """Return why the figures shown should not be used; nothing unless a kind of panel says so."""
        return []

    def set(self, address: str, value: float) -> None:
        """Set a dial by its address, as if its number had been typed."""
        self.dials[address].set(value)

    def back_to_start(self, _button: Any) -> None:
        """Set every dial back to where it started."""
        for dial in self.dials.values():
            if dial.is_moved or dial.problem:
                dial.set(dial.control.input.value)

    def follow(self, *_change: Any) -> None:
        """Work everything out with the dials as they stand, and show it; or say why that cannot be."""
        problems = [dial.problem for dial in self.dials.values() if dial.problem]
        if not problems:
            try:
                self.compute()
            except PlotworthError as error:
                problems = str(error).splitlines()
            except Exception:  # whatever it is must reach the user as a sentence, and the log in full
                LOG.exception("the %s failed", type(self).__name__)
                problems = [UNEXPECTED]
        self.tell(problems)

    def tell(self, problems: Sequence[str]) -> None:
        """Say what the figures shown were computed with, and grey them where there are problems."""
        problems = [*problems, *self.failures()]
        warnings = [dial.warning for dial in self.dials.values() if dial.warning]
        self.charts().stale = bool(problems)
        for part in self.greyed:
            part.add_class("pw-stale-text") if problems else part.remove_class("pw-stale-text")
        self.status.value = status_html(problems, warnings, self._echo())

    def _echo(self) -> str:
        moved = [dial for dial in self.dials.values() if dial.is_moved]
        if not moved:
            return self.start_words
        words = ", ".join(
            f"{d.control.label} {amount_text(d.value, unit_words(d.control.input.unit), digits=4)}" for d in moved
        )
        return f"Computed with {words}; {self.else_words}."


def _together(dials: Sequence[Dial]) -> widgets.Box:
    box = widgets.Box(list(dials))
    box.add_class("pw-dials")
    return box


def _folded(inside: widgets.Widget) -> widgets.Accordion:
    return widgets.Accordion([inside], titles=("More dials",), selected_index=None)
