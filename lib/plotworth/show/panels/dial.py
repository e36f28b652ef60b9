"""A dial: one input with a slider, a number box, its unit and where the figure comes from."""

import html
import math
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from plotworth.case.book import TRIAL
from plotworth.choose.controls import Control
from plotworth.ground.amounts import amount_text, figures_text, unit_words

SHOWN_DIGITS = 4
SLID_DIGITS = 4
BOX_WIDTH = "92px"
NOISE_STEPS = 0.51
ORIGINS = {
    "computed": "worked out from other rows of the book",
    "trial": "measured by the trial",
    "absent": "not in the book",
    "unknown": "unknown",
}


class Dial(widgets.VBox):  # type: ignore[misc]
    """A slider and a number box that hold one value between them.

    The box takes any number; the slider widens to hold it, nothing is clipped. `value` is the book's own number
    until the dial is moved; `problem` is a sentence where the number cannot be, `warning` where it lies outside
    what the book believes.
    """

    def __init__(self, control: Control) -> None:
        self.control = control
        self.problem = ""
        self.warning = ""
        self._value = control.input.value
        self._heard: list[Callable[[], None]] = []
        self._setting = False
        unit = unit_words(control.input.unit)
        name = f"{control.label} [{unit}]" if unit else control.label
        self.slider = _slider(control, name)
        self.box = widgets.FloatText(
            value=_shown(control.input.value), description=name, layout=widgets.Layout(width=BOX_WIDTH)
        )
        seen = widgets.HTML(f"<span class='pw-dial-name' aria-hidden='true'>{html.escape(name)}</span>")
        super().__init__([seen, widgets.HBox([self.slider, self.box]), widgets.HTML(_origin(control))])
        self.add_class("pw-dial")
        self.slider.observe(self._slid, "value")
        self.box.observe(self._typed, "value")

    @property
    def address(self) -> str:
        """The address of the dial's input."""
        return self.control.input.address

    @property
    def value(self) -> float:
        """The value in force, in the input's unit."""
        return self._value

    @property
    def is_moved(self) -> bool:
        """Whether the value is another than the book's."""
        return self._value != self.control.input.value

    def on_change(self, call: Callable[[], None]) -> None:
        """Call back after every change by slider, box or `set`."""
        self._heard.append(call)

    def set(self, value: float) -> None:
        """Set the value as if it were typed; the book's own value resets the dial."""
        self._take(value)

    def _slid(self, change: dict[str, Any]) -> None:
        if not self._setting and self._is_move(float(change["new"])):
            self._take(float(f"{change['new']:.{SLID_DIGITS}g}"))

    def _typed(self, change: dict[str, Any]) -> None:
        if not self._setting:
            self._take(float(change["new"]))

    def _is_move(self, value: float) -> bool:
        """Whether a slider's message is a move: a browser sets the thumb on the nearest step and says so."""
        return abs(value - self._value) > NOISE_STEPS * float(self.slider.step)

    def _take(self, value: float) -> None:
        self._setting = True
        self.problem, self.warning = _judge(self.control, value)
        self.box.value = _shown(value)
        if not self.problem:
            self._value = value
            _widen(self.slider, value)
            self.slider.value = value
        self._setting = False
        for call in self._heard:
            call()


def _slider(control: Control, name: str) -> widgets.FloatSlider:
    return widgets.FloatSlider(
        value=control.input.value,
        min=min(control.start, control.input.value),
        max=max(control.end, control.input.value),
        step=control.step,
        description=name,
        readout=False,
        style={"description_width": "100%"},
    )


def _widen(slider: widgets.FloatSlider, value: float) -> None:
    slider.min, slider.max = min(slider.min, value), max(slider.max, value)


def _shown(value: float) -> float:
    return value if not math.isfinite(value) else float(f"{value:.{SHOWN_DIGITS}g}")


def _judge(control: Control, value: float) -> tuple[str, str]:
    """Return the problem of a value that cannot be, and the warning about one that is not believed."""
    one = control.input
    if not one.lowest <= value <= one.highest:
        bounds = f"must lie between {figures_text(one.lowest)} and {figures_text(one.highest)}"
        return f"{control.label}: {amount_text(value, unit_words(one.unit))} cannot be; it {bounds}.", ""
    if one.low is not None and one.high is not None and not one.low <= value <= one.high:
        bounds = f"{figures_text(one.low)} to {figures_text(one.high)}"
        whose = "the trial's 95 % interval" if one.origin == TRIAL else "the range the book believes"
        return (
            "",
            f"{control.label}: {amount_text(value, unit_words(one.unit))} lies outside {whose}, {bounds}.",
        )
    return "", ""


def _origin(control: Control) -> str:
    one = control.input
    grade = f"grade {one.grade}: " if one.grade else ""
    words = html.escape(ORIGINS.get(one.origin, f"{grade}{one.source}"))
    place = f"{one.file} line {one.line}" if one.line else one.file
    return f"<span class='pw-origin' title='{html.escape(place)}'>{words}</span>"
