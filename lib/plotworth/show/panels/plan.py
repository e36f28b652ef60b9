"""The panel on planning a trial: what it can show before anyone plants, and what it could show after all.

from plotworth.show.panels.plan import plan_panel
plan_panel()
"""

import html
from pathlib import Path

import ipywidgets as widgets

from plotworth.case.folder import Case, open_case
from plotworth.choose.achieved_trial import AchievedTrial, achieved_trials
from plotworth.choose.plan_card_table import (
    achieved_sentences,
    card_cells,
    card_notes,
    card_warnings,
    headline,
    outline_card,
)
from plotworth.choose.plan_controls import PlanStart, more_plan_controls, plan_controls, plan_start
from plotworth.choose.plan_map import FieldMap, deviation_sentences, example_map, frozen_map
from plotworth.choose.trial_outline import KIND_WORDS, ONE_FACTOR_KIND, TrialOutline, read_outline
from plotworth.ground.errors import PlotworthError
from plotworth.show.panels.dial_panel import DialPanel
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import cells_html, folded_html, list_html
from plotworth.show.panels.panel import case_folder, close_earlier, keep_open
from plotworth.show.panels.plan_pictures import PlanPictures

WIDE = {"description_width": "initial"}
FULL = {"width": "auto", "max_width": "640px"}
FROZEN_NOTE = "The map is the frozen plan's. Choices and dials move the figures above it, not what was frozen."
EXAMPLE_NOTE = (
    "The map is an example: in every block the treatments stand in turn, so that sizes and places can be seen. The lot "
    "decides what stands where, and nobody chooses a seed by the map that it gives."
)


class PlanPanel(DialPanel):
    """A trial before planting: design, treatments, dials; the power card, the charts and the map that follow them.

    `outline` is the last trial that could be worked out. `case` is None where none could be opened; `faults` says why.
    """

    start_words = "Computed with the values that stand here at the start."
    else_words = "all else as at the start"
    reset_words = "Back to the start"

    def __init__(self, case: Case | None, start: PlanStart, *, faults: tuple[str, ...] = ()) -> None:
        self.case, self.start, self.faults = case, start, faults
        self.make_dials(plan_controls(start), more_plan_controls(start))
        self._make_choosers(start)
        self.pictures, self._offering = PlanPictures(), False
        self._read_achieved()
        self.card = widgets.HTML()
        self.greyed.append(self.card)
        self.lay_out_parts([self.kind, *self.factors, self.side, self.comparison], above_charts=[self.card])
        self.follow()
        self.listen()
        for chooser in (self.kind, *self.factors, self.side):
            chooser.observe(self.follow, "value")
        self.comparison.observe(self._compare, "value")

    def _make_choosers(self, start: PlanStart) -> None:
        self.kind = widgets.ToggleButtons(options=list(KIND_WORDS.items()), value=start.kind, description="Design")
        names = ("Treatments", "Second factor")
        self.factors = [
            widgets.Text(value=text, description=name, continuous_update=False, style=WIDE, layout=FULL)
            for name, text in zip(names, start.factor_texts, strict=True)
        ]
        side = start.gradient_from
        self.side = widgets.Text(
            value=side, description="Slope or way in from", continuous_update=False, style=WIDE, layout=FULL
        )
        self.side.placeholder = "north, door"
        self.comparison = widgets.Dropdown(description="Difference between", style=WIDE, layout=FULL)

    achieved: tuple[AchievedTrial, ...]
    achieved_reasons: tuple[str, ...]

    def _read_achieved(self) -> None:
        """Work out once what the case's harvested trials achieved; a dial moves the gain alone."""
        self.achieved, self.achieved_reasons = (), ()
        if self.case is not None:
            try:
                self.achieved, self.achieved_reasons = achieved_trials(self.case)
            except PlotworthError as error:
                self.achieved_reasons = tuple(str(error).splitlines())

    def charts(self) -> LiveCharts:
        """Return the widget of the charts."""
        return self.pictures.widget

    def back_to_start(self, _button: object) -> None:
        """Set choosers and dials back to where they started."""
        self.kind.value, self.side.value = self.start.kind, self.start.gradient_from
        for box, text in zip(self.factors, self.start.factor_texts, strict=True):
            box.value = text
        super().back_to_start(_button)

    def compute(self) -> None:
        """Read the outline from the controls and show what such a trial can show."""
        one_factor = self.kind.value == ONE_FACTOR_KIND
        self.factors[0].description = "Treatments" if one_factor else "First factor"
        self.factors[1].disabled = one_factor
        numbers = {dial.address: dial.value for dial in self.dials.values()}
        texts = [box.value for box in self.factors]
        outline = read_outline(self.kind.value, texts, numbers, stated_plants=self.start.plants)
        self._offer(outline)
        self.outline = outline
        self.head.value = self._head_html()
        self.card.value = _card_html(outline)
        self.pictures.show(outline, self.comparison.value, self._map())
        self.tables.value = self._map_html() + self._achieved_html()

    def _offer(self, outline: TrialOutline) -> None:
        """Offer the kinds of difference that the design can look at; keep the one chosen where it is among them."""
        names = tuple(one.name for one in outline.comparisons())
        if names == self.comparison.options:
            return
        kept = next((name for name in (self.comparison.value, self.start.comparison) if name in names), names[-1])
        self._offering = True  # new options choose their first by themselves
        self.comparison.options = names
        self.comparison.value = kept
        self._offering = False

    def _compare(self, *_change: object) -> None:
        """Follow another kind of difference, unless it is being offered."""
        if not self._offering:
            self.follow()

    def _map(self) -> FieldMap:
        frozen = frozen_map(self.case, path_m=self.outline.path_m) if self.case is not None else None
        return frozen or example_map(self.outline, gradient_from=self.side.value.strip())

    def _head_html(self) -> str:
        invented = self.case is not None and self.case.settings.invented
        mark = "<div class='pw-invented'>Invented data: no place, group, price or plot in it is real</div>"
        faults = ""
        if self.faults:
            told = "The case cannot be read yet; the panel starts from general values. What to mend"
            faults = folded_html(told, list_html(self.faults, kind="pw-faults"))
        said = html.escape(headline(self.outline, self.comparison.value))
        return f"{mark if invented else ''}{faults}<p class='pw-headline'>{said}</p>"

    def _achieved_html(self) -> str:
        tables = []
        for one in self.achieved:
            columns, cells = card_cells(one.card(self.outline.gain))
            tables.append(cells_html(f"Power card, as achieved: {one.name}", columns, cells))
        sentences = achieved_sentences(self.achieved, self.achieved_reasons)
        return "".join(tables) + (list_html(sentences, kind="pw-verdicts") if sentences else "")

    def _map_html(self) -> str:
        if self.case is None or self.case.plan is None:
            return list_html([EXAMPLE_NOTE], kind="pw-verdicts")
        sentences = [FROZEN_NOTE, self.case.plan.question, *deviation_sentences(self.case)]
        return list_html(sentences, kind="pw-verdicts")


def _card_html(outline: TrialOutline) -> str:
    """Return the power card with its warnings and notes."""
    card = outline_card(outline)
    columns, cells = card_cells(card)
    warnings = [f"Warning: {text}" for text in card_warnings(outline)]
    notes = list_html([*warnings, *card_notes(outline, card)], kind="pw-verdicts")
    return cells_html("Power card, before planting", columns, cells) + notes


def plan_panel(case: str | Path | None = None) -> widgets.Widget:
    """Return the panel on planning a trial, for a case folder: the one named, or the one the workbook was opened on.

    It needs no case: where none can be read yet it starts from general values and says what is to be mended. An earlier
    one is closed with its charts.
    """
    close_earlier(PlanPanel)
    try:
        opened, faults = open_case(case_folder(case)), ()
    except PlotworthError as error:
        return keep_open(PlanPanel(None, plan_start(None), faults=tuple(str(error).splitlines())))
    return keep_open(PlanPanel(opened, plan_start(opened), faults=faults))
