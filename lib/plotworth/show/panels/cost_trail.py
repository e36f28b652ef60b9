"""Where a figure comes from: an outcome chosen by its words, and its trail as a page behind a fold."""

import html
import math
from collections.abc import Callable, Iterator, Sequence

import ipywidgets as widgets

from plotworth.choose.appraise import Appraisal, reference_ids
from plotworth.choose.recorded import Recorded, record
from plotworth.choose.trail import SEASONS, Trail, TrailInput, outcome_paths, trail
from plotworth.choose.trail_records import records_words
from plotworth.ground.amounts import UNKNOWN, unit_words
from plotworth.ground.glossary import GLOSSARY
from plotworth.show.panels.markup import cells_html, folded_html, list_html

FIRST = "npv"
VALUE_DIGITS = 6
NOT_STATED = "absent"
BELOW = "↳ "
COLUMNS = (("What", False), ("Value", True), ("Address, line of the book, grade, source, record rows", False))


class TrailFold(widgets.Accordion):  # type: ignore[misc]
    """Two lists, of whose figure and of which, and the trail of the outcome chosen; worked out only while it is open.

    `show` gives it the appraisal in force.
    """

    def __init__(self, appraisal: Appraisal) -> None:
        self.of, self.page = _by_stream(appraisal), widgets.HTML()
        layout, style = {"width": "min(100%, 420px)"}, {"description_width": "60px"}
        self.stream = widgets.Dropdown(
            options=[(words, stream) for stream, words in _stream_words(appraisal).items() if stream in self.of],
            description="Of",
            layout=layout,
            style=style,
        )
        self.name = widgets.Dropdown(description="Figure", layout=layout, style=style)
        self._recorded: tuple[Appraisal | None, Recorded | None] = (None, None)
        self.appraisal = appraisal
        self._offer()
        inside = widgets.VBox([self.stream, self.name, self.page])
        super().__init__([inside], titles=("Where does this figure come from?",), selected_index=None)

    def listen(self, follow: Callable[..., None]) -> None:
        """Call back when another outcome is chosen or the fold opens."""
        self.stream.observe(self._offer, "value")
        for part, what in ((self.stream, "value"), (self.name, "value"), (self, "selected_index")):
            part.observe(follow, what)

    @property
    def path(self) -> str:
        """The path of the outcome chosen."""
        return f"{self.stream.value}/{self.name.value}"

    def _offer(self, *_change: object) -> None:
        """Offer the figures of the stream chosen, the one last shown where it has it, else the NPV or its first."""
        names = self.of[self.stream.value]
        wanted = next(name for name in (self.name.value, FIRST, names[0]) if name in names)
        self.name.options = [(GLOSSARY[name].label, name) for name in names]
        self.name.value = wanted

    def show(self, appraisal: Appraisal) -> None:
        """Show the trail of the outcome chosen at the values in force; nothing while the fold is closed."""
        self.appraisal = appraisal
        if self.selected_index is None:
            return
        if self._recorded[0] is not appraisal:
            self._recorded = (appraisal, record(appraisal.layout, appraisal.values))
        self.page.value = trail_html(trail(appraisal, self.path, recorded=self._recorded[1]))


def _by_stream(appraisal: Appraisal) -> dict[str, list[str]]:
    of: dict[str, list[str]] = {}
    for path in outcome_paths(appraisal):
        stream, name = path.rsplit("/", 1)
        of.setdefault(stream, []).append(name)
    return of


def _stream_words(appraisal: Appraisal) -> dict[str, str]:
    """Return whose figures there are, in words: each system alone, against the references, and season by season."""
    settings = appraisal.case.settings
    words = {f"systems/{name}": settings.system(name).label for name in appraisal.systems}
    for part, reference in reference_ids(appraisal.case).items():
        against = f"against {settings.system(reference).label}"
        words |= {f"{part}/{name}": f"{settings.system(name).label} {against}" for name in appraisal.part(part)}
    for key in appraisal.seasons:
        system, season = key.split("/", 1)
        words[f"{SEASONS}/{key}"] = f"{settings.system(system).label}, {season}"
    return words


def trail_html(found: Trail) -> str:
    """Return a trail as it is read on a page: value, formula, worked number, inputs with line, grade and rows."""
    value = html.escape(f"{found.label}: {_amount(found.value)} {unit_words(found.unit)}".rstrip())
    lines = [f"{found.meaning}.", f"Formula: {found.formula}."]
    lines += [f"Worked: {found.worked}"] if found.worked else []
    lines += [f"No value: {found.reason}."] if found.reason else []
    written = [one for one in found.inputs if one.input.origin != NOT_STATED]
    caption = f"What moves it: {len(written)} numbers of the case"
    table = cells_html(caption, COLUMNS, [row for one in written for row in _rows(one, "")])
    return f"<p class='pw-headline'>{value}</p>{list_html(lines, kind='pw-verdicts')}{table}{_rest(found)}"


def _rows(one: TrailInput, mark: str) -> Iterator[Sequence[str]]:
    """Yield the row of an input, and below it those of what it was worked out from."""
    place = f"{one.input.file} line {one.input.line}" if one.input.line else one.input.file
    grade = f"grade {one.input.grade}" if one.input.grade else ""
    formula = f"worked out: {one.formula}" if one.formula else ""
    told = [one.input.address, place, grade, one.input.source, formula, *map(records_words, one.records), *one.notes]
    value = f"{_amount(one.value)} {unit_words(one.input.unit)}".rstrip()
    yield f"{mark}{one.input.label}", value, "; ".join(filter(None, told))
    for below in one.stands_on:
        yield from _rows(below, f"{mark}{BELOW}")


def _rest(found: Trail) -> str:
    """Return what was taken as the glossary says, and what enters without moving the figure, folded."""
    taken = [
        f"{one.input.label}: {_amount(one.value)} {unit_words(one.input.unit)}".rstrip()
        for one in found.inputs
        if one.input.origin == NOT_STATED
    ]
    still = [f"{one.input.label} ({one.input.address}): {one.still}" for one in found.still]
    parts = {"Not stated, and taken as the glossary says": taken, "What enters and does not move it": still}
    return "".join(folded_html(words, list_html(own, kind="pw-verdicts")) for words, own in parts.items() if own)


def _amount(value: float) -> str:
    return f"{value:.{VALUE_DIGITS}g}" if math.isfinite(value) else UNKNOWN
