"""What one chooses on the trial panel: trial, outcome, reference, treatment, and plots to leave out with a reason."""

from collections.abc import Callable, Sequence
from typing import Any

import ipywidgets as widgets

from plotworth.choose.trial_doubt_table import exclusion_faults
from plotworth.choose.trial_outcomes import OUTCOMES, key_text
from plotworth.choose.trial_view import Exclusion, TrialView, first_pair, fits_of
from plotworth.show.panels.markup import status_html
from plotworth.show.panels.trial_pictures import Chosen

WIDE = {"description_width": "150px"}
WIDTH = {"width": "100%", "max_width": "460px"}
ALL_PLOTS = "none"
CHOOSE_FIRST = "Choose a plot first."


class TrialChoosers:
    """The controls of a trial panel; `follow` is called once after every change.

    `exclusions` are the plots left out, each with its reason; the button refuses one without.
    """

    def __init__(self, view: TrialView, follow: Callable[[], None]) -> None:
        self.view, self.follow = view, follow
        self.exclusions: tuple[Exclusion, ...] = ()
        self._setting = False
        names = [(key_text(key) or "the trial", key) for key in view.keys]
        self.key = _dropdown("Season and site", names)
        self.outcome, self.reference, self.compared = map(_dropdown, ("Outcome", "Reference", "Compared with it"))
        self.plot = _dropdown("Plot to leave out")
        self.reason = widgets.Text(description="Because", placeholder="what happened to it", style=WIDE, layout=WIDTH)
        self.leave_out = widgets.Button(description="Leave the plot out")
        self.take_back = widgets.Button(description="Take all plots back")
        self.said = widgets.HTML()
        self._offer()
        self._listen()

    @property
    def widgets(self) -> Sequence[widgets.Widget]:
        """Return the controls in their order; the trial's where there are several, the plots' folded away."""
        buttons = widgets.HBox([self.leave_out, self.take_back])
        out = widgets.VBox([self.plot, self.reason, buttons, self.said])
        folded = widgets.Accordion([out], titles=("Leave plots out, and see both results",), selected_index=None)
        several = (self.key,) if len(self.view.keys) > 1 else ()
        box = widgets.VBox([*several, self.outcome, self.reference, self.compared])
        return (box, folded)

    def chosen(self) -> Chosen:
        """Return what is compared."""
        out = tuple(one.plot for one in self.exclusions)
        return Chosen(self.key.value, self.outcome.value, self.reference.value, self.compared.value, out)

    def _listen(self) -> None:
        self.key.observe(self._another_trial, "value")
        for control in (self.outcome, self.reference, self.compared):
            control.observe(self._changed, "value")
        self.leave_out.on_click(self._leave_out)
        self.take_back.on_click(self._take_back)

    def _offer(self) -> None:
        """Fill the choosers with what the chosen trial holds, keeping a choice that it holds too."""
        key = self.key.value
        outcomes = [(OUTCOMES[name].label, name) for name in fits_of(self.view, key)]
        treatments = [(self.view.labels[name], name) for name in self.view.treatments(key)]
        reference, compared = first_pair(self.view, key)
        _refill(self.outcome, outcomes, outcomes[0][1])
        _refill(self.reference, treatments, reference)
        _refill(self.compared, treatments, compared)
        plots = self.view.plots(key)["plot"].astype(str)
        _refill(self.plot, [(ALL_PLOTS, ""), *((plot, plot) for plot in plots)], "")

    def _another_trial(self, _change: Any) -> None:
        self._setting = True
        self.exclusions = ()
        self._offer()
        self._setting = False
        self.follow()

    def _changed(self, change: Any) -> None:
        if self._setting:
            return
        if self.reference.value == self.compared.value and len(self.reference.options) > 1:
            self._swap(change)
        self.follow()

    def _swap(self, change: Any) -> None:
        """Give the other chooser what this one held, so that a treatment never stands against itself."""
        other = self.compared if change["owner"] is self.reference else self.reference
        self._setting = True
        other.value = change["old"]
        self._setting = False

    def _leave_out(self, _button: Any) -> None:
        wanted = (*self.exclusions, Exclusion(self.plot.value, self.reason.value))
        faults = (
            exclusion_faults(self.view.plots(self.key.value), wanted) if self.plot.value else ["Choose a plot first."]
        )
        self.said.value = status_html(faults, [], "") if faults else ""
        if not faults:
            self.exclusions, self.reason.value, self.plot.value = wanted, "", ""
            self.follow()

    def _take_back(self, _button: Any) -> None:
        self.exclusions, self.said.value = (), ""
        self.follow()


def _dropdown(name: str, options: Sequence[tuple[str, Any]] = ()) -> widgets.Dropdown:
    return widgets.Dropdown(options=list(options), description=name, style=WIDE, layout=WIDTH)


def _refill(chooser: widgets.Dropdown, options: Sequence[tuple[str, Any]], usual: Any) -> None:
    kept = chooser.value
    chooser.options = list(options)
    chooser.value = kept if kept in [value for _, value in options] else usual
