"""Many futures on demand: a button that draws them aside, progress, a button that ends it, and what was drawn."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from threading import Event, Thread

import ipywidgets as widgets

from plotworth.choose.events import NO_EVENTS, Events
from plotworth.choose.futures import Futures, draw_futures
from plotworth.choose.layout import Layout
from plotworth.choose.risk import ALL_EVENTS, DRAWS, SEED, Values
from plotworth.choose.risk_table import risk_notes, risk_sentences, risk_tables
from plotworth.ground.amounts import number_text
from plotworth.ground.errors import PlotworthError
from plotworth.show.panels.dial_panel import UNEXPECTED
from plotworth.show.panels.markup import figures_html, folded_html, list_html, status_html
from plotworth.show.panels.sureness_influence import influence_html
from plotworth.show.panels.sureness_pictures import FuturesPictures

LOG = logging.getLogger("plotworth")
NOTHING_YET = "Nothing is drawn until the button is pressed."
CANCELLED = "Ended before all futures were drawn; what is shown was drawn earlier."
CANCELLED_FIRST = "Ended before all futures were drawn; nothing is shown."
OPEN_TABLES = 4
"""Tables that stand open; the rest, by area, is folded away."""
WIDE = {"description_width": "initial"}
Mark = tuple[object, ...]


class EndedError(Exception):
    """Raised between two blocks of draws once the work is not wanted any more."""


@dataclass(frozen=True)
class Request:
    """What is to be drawn: values by address, what they are in words, and a mark that is another for other values."""

    values: Values
    words: str
    mark: Mark
    draws: int
    seed: int
    events: Events


class FuturesPart(widgets.VBox):  # type: ignore[misc]
    """Boxes for number and seed, the events, the buttons, progress; then charts and tables of what was drawn.

    The work runs in a thread of its own, `worker`, so that dials and the button that ends it are heard meanwhile.
    `futures` is the last result, None before the first.
    """

    def __init__(
        self,
        layout: Layout,
        system: str,
        references: Sequence[str],
        current: Callable[[], tuple[Values, str, Mark]],
    ) -> None:
        """Make the part, still without futures.

        Parameters: layout; system in question and what it can be held against, by id; current, which returns the
        values in force, in words, and their mark.
        """
        self.case_layout, self.current = layout, current
        self.system, self.references = system, references
        self.futures: Futures | None = None
        self.worker: Thread | None = None
        self._drawn_for: Mark = ()
        self._end = Event()
        self._compared = ("", "")
        self._make_controls()
        self.pictures = FuturesPictures()
        self.said, self.tables = widgets.HTML(), widgets.HTML()
        buttons, boxes = widgets.HBox([self.draw, self.end]), widgets.HBox([self.draws, self.seed])
        for row in (buttons, boxes):
            row.layout.flex_flow = "row wrap"
        super().__init__([boxes, self.events, buttons, self.progress, self.said, self.pictures.widget, self.tables])
        self.say("", NOTHING_YET)

    def _make_controls(self) -> None:
        size = widgets.Layout(width="170px")
        self.draws = widgets.IntText(value=DRAWS, description="Futures", style=WIDE, layout=size)
        self.seed = widgets.IntText(value=SEED, description="Seed", style=WIDE, layout=size)
        self.events = widgets.Checkbox(
            value=True,
            description="Seasons fail and holes are dry as they come",
            indent=False,
            layout=widgets.Layout(width="auto"),
        )
        self.draw = widgets.Button(button_style="primary", layout=widgets.Layout(width="auto"))
        self.end = widgets.Button(description="Cancel", disabled=True, tooltip="End the drawing between two blocks")
        self.progress = widgets.FloatProgress(
            min=0.0, max=1.0, description="Drawing", layout=widgets.Layout(width="min(100%, 420px)", display="none")
        )
        self._name_button()
        self.draws.observe(self._name_button, "value")
        for box in (self.draws, self.seed, self.events):
            box.observe(self.check_stale, "value")
        self.draw.on_click(self.start)
        self.end.on_click(self.cancel)

    def _name_button(self, *_change: object) -> None:
        self.draw.description = f"Draw {number_text(self.draws.value, decimals=0)} futures"

    def say(self, problem: str, words: str) -> None:
        """Say what goes on, spoken when it changes."""
        self.said.value = status_html([problem] if problem else [], [], words)

    def _mark(self, values_mark: Mark) -> Mark:
        return values_mark, self.draws.value, self.seed.value, self.events.value

    def start(self, *_button: object) -> None:
        """Draw with everything as it stands, in a thread; the button waits until that is done."""
        values, words, mark = self.current()
        events = ALL_EVENTS if self.events.value else NO_EVENTS
        request = Request(values, words, self._mark(mark), self.draws.value, self.seed.value, events)
        self._end.clear()
        self.draw.disabled, self.end.disabled = True, False
        self.progress.value, self.progress.layout.display = 0.0, ""
        self.worker = Thread(target=self._work, args=(request,), daemon=True)
        self.worker.start()

    def cancel(self, *_button: object) -> None:
        """End the work at the next block; what was drawn earlier stays."""
        self._end.set()

    def _told(self, done: float) -> None:
        if self._end.is_set():
            raise EndedError
        self.progress.value = done

    def _work(self, request: Request) -> None:
        try:
            self._take(request, self._drawn(request))
        except EndedError:
            self.say("", CANCELLED if self.futures else CANCELLED_FIRST)
        except PlotworthError as error:
            self.say(str(error), "")
        except Exception:  # whatever it is must reach the user as a sentence, and the log in full
            LOG.exception("drawing futures failed")
            self.say(UNEXPECTED, "")
        finally:
            self.draw.disabled, self.end.disabled = False, True
            self.progress.layout.display = "none"

    def _drawn(self, request: Request) -> Futures:
        return draw_futures(
            self.case_layout,
            request.values,
            self.system,
            self.references,
            draws=request.draws,
            seed=request.seed,
            events=request.events,
            told=self._told,
        )

    def _take(self, request: Request, futures: Futures) -> None:
        self.futures, self._drawn_for = futures, request.mark
        self.say("", f"{number_text(request.draws, decimals=0)} futures, seed {request.seed}. {request.words}")
        self._show()
        self.check_stale()

    def compare(self, which: str, reference: str) -> None:
        """Show what was drawn against `today` or `baseline`, blank for neither, which is the reference, by id."""
        if (which, reference) != self._compared:
            self._compared = which, reference
            self._show()
        self.check_stale()

    def _show(self) -> None:
        if self.futures is not None:
            self.pictures.show(self.futures, self.system, *self._compared)
            self.tables.value = _futures_html(self.futures, self._compared[1])

    def check_stale(self, *_change: object) -> None:
        """Grey what was drawn where the values, the number, the seed or the events are others by now."""
        stale = self.futures is not None and self._mark(self.current()[2]) != self._drawn_for
        self.pictures.widget.stale = stale
        self.tables.add_class("pw-stale-text") if stale else self.tables.remove_class("pw-stale-text")

    def close(self) -> None:
        """End the work, and close the charts with the part."""
        self.cancel()
        self.pictures.widget.close()
        super().close()


def _futures_html(futures: Futures, reference: str) -> str:
    """Return what the draws say in sentences, then in tables; what moves it and how it was drawn are folded away."""
    tables = [figures_html(table) for table in risk_tables(futures.risk, futures.table_areas)]
    said = list_html(risk_sentences(futures.risk), kind="pw-verdicts")
    by_area = folded_html("Chances by area, in figures", "".join(tables[OPEN_TABLES:]))
    notes = folded_html("How these futures were drawn", list_html(risk_notes(futures.risk), kind="pw-verdicts"))
    moves = influence_html(futures.influences[reference])
    return said + "".join(tables[:OPEN_TABLES]) + by_area + moves + notes
