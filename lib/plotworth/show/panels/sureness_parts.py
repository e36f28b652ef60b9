"""Parts of the panel on size and sureness: a grid of two assumptions, and switching values behind a fold."""

from collections.abc import Callable, Sequence

import ipywidgets as widgets

from plotworth.choose.appraise import Appraisal
from plotworth.choose.break_even_grid import POINTS, BreakEvenGrid, break_even_grid, grid_values
from plotworth.choose.case_crossover import FEW_COLUMNS, break_evens_of, first_addresses
from plotworth.choose.crossover_table import joint_sentences, joint_table, switching_notes, switching_table
from plotworth.choose.input_names import input_name
from plotworth.choose.joint_change import joint_change
from plotworth.choose.lines import OWN_WORTH
from plotworth.choose.structure import AREA
from plotworth.choose.switching import switching_values
from plotworth.show.panels.markup import figures_html, list_html
from plotworth.show.panels.sureness_pictures import GridPicture

TWICE = "Choose two different assumptions."
FEW = "The case has fewer than two assumptions to move together."
Pair = tuple[str, str]


class GridPart(widgets.VBox):  # type: ignore[misc]
    """Two lists of assumptions and the grid of the two chosen, each over what one would believe of it."""

    def __init__(self, appraisal: Appraisal, pair: Pair) -> None:
        addresses = [*first_addresses(appraisal.layout), AREA]
        options = [(input_name(appraisal.layout, at), at) for at in addresses]
        style, size = {"description_width": "60px"}, {"width": "auto", "max_width": "460px"}
        first, second = _nearest_ties(appraisal, pair, addresses)
        self.across = widgets.Dropdown(options=options, value=first, description="Across", style=style, layout=size)
        self.down = widgets.Dropdown(options=options, value=second, description="Down", style=style, layout=size)
        self.said = widgets.HTML()
        self.picture = GridPicture(appraisal)
        self.grid: BreakEvenGrid | None = None
        super().__init__([self.across, self.down, self.said, self.picture.widget])

    def listen(self, follow: Callable[..., None]) -> None:
        """Call back when another assumption is chosen."""
        for chooser in (self.across, self.down):
            chooser.observe(follow, "value")

    def show(self, appraisal: Appraisal, pair: Pair) -> None:
        """Show the grid at the values in force; a sentence where one assumption is chosen twice."""
        if self.across.value == self.down.value:
            self.said.value = list_html([FEW if len(self.across.options) == 1 else TWICE], kind="pw-verdicts")
            self.picture.widget.stale = True
            return
        self.said.value, layout, values = "", appraisal.layout, appraisal.values
        across, down = (
            grid_values(layout.inputs[at], float(values[at].flat[0]), points=points)
            for at, points in ((self.across.value, FEW_COLUMNS), (self.down.value, POINTS))
        )
        chosen = self.across.value, self.down.value
        self.grid = break_even_grid(layout, values, *chosen, *pair, first_values=across, second_values=down)
        self.picture.show(self.grid, *(label_of(appraisal, one) for one in pair))

    def close(self) -> None:
        """Close the chart with the part."""
        self.picture.widget.close()
        super().close()


class SwitchingFold(widgets.Accordion):  # type: ignore[misc]
    """Every assumption alone, and all together: how far it is to a tie. Worked out only while the fold is open."""

    def __init__(self) -> None:
        self.page = widgets.HTML()
        super().__init__([self.page], titles=("Every assumption alone: switching values",), selected_index=None)

    def listen(self, follow: Callable[..., None]) -> None:
        """Call back when the fold opens or closes."""
        self.observe(follow, "selected_index")

    def show(self, appraisal: Appraisal, pair: Pair) -> None:
        """Show switching values and the least joint change at the values in force; nothing while closed."""
        if self.selected_index is None:
            return
        layout, values = appraisal.layout, appraisal.values
        rows, joint = switching_values(layout, values, *pair), joint_change(layout, values, *pair)
        together = joint_table(layout, joint)
        self.page.value = (
            figures_html(switching_table(layout, rows))
            + list_html([*switching_notes(rows), *joint_sentences(layout, joint)], kind="pw-verdicts")
            + ("" if together is None else figures_html(together))
        )


def _nearest_ties(appraisal: Appraisal, pair: Pair, addresses: Sequence[str]) -> tuple[str, str]:
    """Return the two assumptions of different names that tie nearest; else the first that are offered."""
    found = break_evens_of(appraisal.layout, appraisal.values, *pair)
    near = {one.address: abs(tie.at / one.value - 1.0) for one in found if (tie := one.nearest) and one.value}
    ordered = [*sorted(near, key=lambda at: near[at]), *addresses]
    first = ordered[0]
    others = (at for at in ordered if at.split("/")[0] != first.split("/")[0])
    return first, next(others, first)


def label_of(appraisal: Appraisal, system: str) -> str:
    """Return the label of a system by id; `nothing` where a system is held against nothing."""
    return "nothing" if system == OWN_WORTH else appraisal.layout.structure.system(system).label
