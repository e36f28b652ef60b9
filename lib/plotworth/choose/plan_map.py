"""The map of a trial: the frozen plan's, or an example that shows sizes and places and was not drawn by lot.

An example is never a draw of any seed: its treatments stand in turn, moved on by one from block to block, so that
nobody can choose a seed by the map that it gives.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Any

from plotworth.case.folder import Case
from plotworth.case.plan import Plan
from plotworth.choose.trial_outline import TrialOutline, plan_design, plan_size
from plotworth.field.design import SPLIT, Design
from plotworth.field.layout import Layout, Plot
from plotworth.field.layout_map import map_rows
from plotworth.field.plot_size import PlotSize

NO_SEED = -1
EXAMPLE = "Example, not the drawing by lot"


@dataclass(frozen=True)
class FieldMap:
    """A map for a chart.

    Attributes: rows, a plot each, with its centre, gross and net size [m], its letter, whether a deviation is noted;
    key, letter and treatment; heading, whether it is an example or was frozen; standing, the same with the hash; the
    side where the gradient begins; rows of plots on the ground.
    """

    rows: tuple[Mapping[str, Any], ...]
    key: Mapping[str, str]
    heading: str
    standing: str
    gradient_from: str
    plot_rows: int
    is_example: bool


def example_map(outline: TrialOutline, *, gradient_from: str) -> FieldMap:
    """Return an example of the outline's trial on the ground, a block a row of plots."""
    return _map(
        _example_layout(outline.design), outline.size, outline.path_m, (EXAMPLE, EXAMPLE), gradient_from, noted=()
    )


def frozen_map(case: Case, *, path_m: float) -> FieldMap | None:
    """Return the map of the case's frozen plan, with hash and date, plots that a deviation names marked; None without.

    The path between plots [m] is no part of a plan.
    """
    if (plan := case.plan) is None:
        return None
    noted = {str(plot) for plot in case.table("deviations")["plot"]} - {""}
    heading = f"Frozen on {plan.frozen_on.isoformat()}"
    words = (heading, f"{heading}, hash {plan.sha256[:12]}")
    return _map(_frozen_layout(plan), plan_size(plan), path_m, words, plan.gradient_from, noted=noted)


def deviation_sentences(case: Case) -> list[str]:
    """Return a sentence for each deviation from the plan that the case notes, or that none is."""
    rows = case.rows("deviations")
    told = [
        f"{row.date:%Y-%m-%d}, {f'plot {row.plot}' if row.plot else 'the whole trial'}: {row.what} ({row.why})"
        for row in rows
    ]
    return told or ["No deviation from the plan is noted."]


def _frozen_layout(plan: Plan) -> Layout:
    plots = tuple(Plot(p.plot, p.block, p.treatment, p.levels, p.row, p.column) for p in plan.plots)
    return Layout(plan_design(plan), plan.seed, plan.redraws, plan.columns, plots, ())


def _example_layout(design: Design) -> Layout:
    """Return the treatments in turn, each block one place further; whole plots stay together."""
    unit = len(design.factors[1].levels) if design.kind == SPLIT else 1
    count = design.plots_per_block
    plots = []
    for block in range(design.blocks):
        for place in range(count):
            number = (place + block * unit) % count
            name = f"P{block * count + place + 1:02d}"
            treatment, levels = design.treatments[number], design.combinations[number]
            plots.append(Plot(name, f"B{block + 1}", treatment, levels, block + 1, place + 1))
    return Layout(design, NO_SEED, 0, count, tuple(plots), ())


def _map(
    layout: Layout, size: PlotSize, path_m: float, words: tuple[str, str], gradient_from: str, *, noted: Collection[str]
) -> FieldMap:
    letters = {treatment: _letter(place) for place, treatment in enumerate(layout.design.treatments)}
    rows = tuple(
        {**vars(row), "letter": letters[row.treatment], "noted": row.plot in noted}
        for row in map_rows(layout, size, path_m=path_m)
    )
    key = {letter: treatment for treatment, letter in letters.items()}
    count = max(plot.row for plot in layout.plots)
    return FieldMap(rows, key, *words, gradient_from, count, layout.seed == NO_SEED)


def _letter(place: int) -> str:
    """Return A to Z, then A2 to Z2 and so on."""
    turn, letter = divmod(place, len(ascii_uppercase))
    return f"{ascii_uppercase[letter]}{turn + 1 if turn else ''}"
