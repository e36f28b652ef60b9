"""A trial drawn by lot: which treatment stands on which plot, block by block, from a stored seed.

Blocks are strips across the gradient (slope, or the way from the door of a house inward), so that the plots of a
block are alike and the gradient falls between blocks. Row 1 of the map lies at the side where the gradient begins.
Sources: Gomez & Gomez (1984), chapters 2 to 4; Hurlbert (1984) Ecological Monographs 54:187 on interspersion.
"""

from dataclasses import dataclass

import numpy as np

from plotworth.field.design import SPLIT, Design
from plotworth.field.interspersion import Standing, segregated

MOST_REDRAWS = 100  # a layout that chance segregates this often cannot be had otherwise
NO_REDRAW = "drawn once"
REDRAW_RULE = (
    "drawn again, before anyone looked, while a treatment (or a level of the whole-plot factor) had the same place in "
    "every block or kept to the same outer third of them all"
)


@dataclass(frozen=True)
class Plot:
    """A plot of the layout: name, block, treatment, level of every factor, row and column of the map, from 1."""

    name: str
    block: str
    treatment: str
    levels: tuple[str, ...]
    row: int
    column: int


@dataclass(frozen=True)
class Layout:
    """A drawn trial.

    Attributes: design; seed; redraws, how often the rule of interspersion asked for another draw; columns of the map;
    plots in the order of the ground, row by row; segregation, what the rule still finds (empty where it found nothing).
    """

    design: Design
    seed: int
    redraws: int
    columns: int
    plots: tuple[Plot, ...]
    segregation: tuple[str, ...]


def allowed_columns(design: Design) -> tuple[int, ...]:
    """Return the widths a block may have [plots]: it fills whole rows, and a whole plot stays in one row.

    The greatest is a block in a single row, which is the best where the ground allows it.
    """
    unit = len(design.factors[1].levels) if design.kind == SPLIT else 1
    count = design.plots_per_block
    return tuple(width for width in range(unit, count + 1, unit) if count % width == 0)


def draw_layout(design: Design, *, seed: int, columns: int = 0, redraw: bool = True) -> Layout:
    """Draw a layout by lot.

    Parameters: design; seed, an integer from 0, which gives the same layout on every machine; columns, the width of a
    block [plots], one of `allowed_columns`, 0 for a single row; redraw, whether `REDRAW_RULE` applies. Draw k uses the
    generator of (seed, k), so that the number of redraws and the seed give the layout again. The rule treats all
    treatments alike, so every treatment keeps the same chance of every place. It makes false differences no more
    frequent than 5 %, and rarer where the places of a block differ in the same way in all blocks, as it takes out the
    layouts that such a trend would fool; intervals are then a little too wide.

    Errors: ValueError where the columns are none that the design allows.
    """
    width = columns or design.plots_per_block
    if width not in allowed_columns(design):
        raise ValueError(f"a block of this design is {allowed_columns(design)} plots wide, not {width}")
    for attempt in range(MOST_REDRAWS + 1):
        layout = _drawn(design, seed, attempt, width)
        if not redraw or not layout.segregation:
            return layout
    return layout


def _drawn(design: Design, seed: int, attempt: int, width: int) -> Layout:
    generator = np.random.default_rng((seed, attempt))
    orders = [_block_order(design, generator) for _ in range(design.blocks)]
    found = segregated(_standings(design, orders, width))
    return Layout(design, seed, attempt, width, _plots(design, orders, width), found)


def _block_order(design: Design, generator: np.random.Generator) -> list[int]:
    """Return the numbers of the combinations in the order in which they stand in one block."""
    if design.kind != SPLIT:
        return [int(number) for number in generator.permutation(design.plots_per_block)]
    whole, sub = (len(factor.levels) for factor in design.factors)
    return [
        int(level) * sub + int(within)
        for level in generator.permutation(whole)
        for within in generator.permutation(sub)
    ]


def _plots(design: Design, orders: list[list[int]], width: int) -> tuple[Plot, ...]:
    combinations, treatments = design.combinations, design.treatments
    total = design.blocks * design.plots_per_block
    digits = max(2, len(str(total)))
    rows_per_block = design.plots_per_block // width
    plots: list[Plot] = []
    for block, order in enumerate(orders):
        for place, number in enumerate(order):
            row, column = block * rows_per_block + place // width + 1, place % width + 1
            name = f"P{len(plots) + 1:0{digits}d}"
            plots.append(Plot(name, f"B{block + 1}", treatments[number], combinations[number], row, column))
    return tuple(plots)


def _standings(design: Design, orders: list[list[int]], width: int) -> list[Standing]:
    """Return where every treatment, and every whole-plot level, stands in each block: place and column."""
    standings = [
        Standing(name, tuple(order.index(number) for order in orders), width)
        for number, name in enumerate(design.treatments)
    ]
    if design.kind == SPLIT:
        factor, sub = design.factors[0], len(design.factors[1].levels)
        for level, name in enumerate(factor.levels):
            places = tuple(order.index(level * sub) // sub for order in orders)
            standings.append(Standing(f"{factor.name} {name}", places, width // sub))
    return standings
