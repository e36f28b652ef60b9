"""What each factor of a trial does, and whether it does the same at every level of another."""

from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np

from plotworth.field.block_model import BlockModel
from plotworth.field.compare import all_differences
from plotworth.field.contrast import CONFIDENCE, Contrast, Margin, contrast, margin


@dataclass(frozen=True)
class SplitPlotComparisons:
    """The four kinds of comparison of a split plot, each with its own error.

    Attributes, all differences [unit of the value]: whole, of two levels of the whole-plot factors
    over all sub-plot treatments; sub, of two sub-plot treatments over all whole plots; sub_in_whole,
    of two sub-plot treatments at one whole-plot level; whole_at_sub, of two whole-plot levels at one
    and the same sub-plot treatment; whole_across_sub, at different ones (the same error).
    """

    whole: tuple[Contrast, ...]
    sub: tuple[Contrast, ...]
    sub_in_whole: tuple[Contrast, ...]
    whole_at_sub: tuple[Contrast, ...]
    whole_across_sub: tuple[Contrast, ...]


def main_effects(model: BlockModel, factor: str, *, confidence: float = CONFIDENCE) -> tuple[Contrast, ...]:
    """Return the differences between levels of one factor, averaged over the others with equal weights."""
    return all_differences(model, margin(model, factor), confidence=confidence)


def interactions(model: BlockModel, first: str, second: str, *, confidence: float = CONFIDENCE) -> tuple[Contrast, ...]:
    """Return how the step between neighbouring levels of one factor changes along the steps of another.

    (b2 at a2 - b1 at a2) - (b2 at a1 - b1 at a1), averaged over further factors: one number for two
    factors of two levels, 0 where they act independently of each other.
    """
    pairs = {level: margin(model, second, at={first: level}) for level in margin(model, first).labels}
    shared = [level for level in margin(model, second).labels if all(level in m.labels for m in pairs.values())]
    steps = product(pairwise(pairs), pairwise(shared))
    return tuple(_interaction(model, pairs, a, b, confidence) for a, b in steps)


def _interaction(
    model: BlockModel, levels: dict[str, Margin], a: tuple[str, str], b: tuple[str, str], confidence: float
) -> Contrast:
    """Return one difference of differences."""
    step = [levels[x].weights[levels[x].position(b[1])] - levels[x].weights[levels[x].position(b[0])] for x in a]
    name = f"({b[1]} - {b[0]}) at {a[1]} less at {a[0]}"
    return contrast(model, step[1] - step[0], name=name, confidence=confidence)


def split_plot_comparisons(model: BlockModel, *, confidence: float = CONFIDENCE) -> SplitPlotComparisons:
    """Return the four kinds of comparison of a split plot of two factors or groups of factors.

    With r blocks, a whole-plot levels, s sub-plot treatments and mean squares E_a and E_b the squared
    standard errors are 2 E_a / (r s); 2 E_b / (r a); 2 E_b / r; and 2 ((s - 1) E_b + E_a) / (r s) with
    Satterthwaite's degrees of freedom. Source: Gomez & Gomez (1984), chapter 3; Satterthwaite (1946).

    Errors: ValueError for another arrangement.
    """
    arrangement = model.arrangement
    if not arrangement.whole_factors:
        raise ValueError(f"split plot needed, found {arrangement.name}")
    whole, sub = margin(model, *arrangement.whole_factors), margin(model, *arrangement.sub_factors)
    return SplitPlotComparisons(
        all_differences(model, whole, confidence=confidence),
        all_differences(model, sub, confidence=confidence),
        *_cell_comparisons(model, confidence),
    )


def _cell_comparisons(model: BlockModel, confidence: float) -> tuple[tuple[Contrast, ...], ...]:
    """Return differences of cells: at one whole level, at one sub-plot treatment, at neither."""
    cells = margin(model)
    groups: tuple[list[Contrast], ...] = ([], [], [])
    for i, j in product(range(len(cells.labels)), repeat=2):
        if i < j:
            name = f"{cells.labels[j]} - {cells.labels[i]}"
            mix = cells.weights[j] - cells.weights[i]
            groups[_kind(model, i, j)].append(contrast(model, mix, name=name, confidence=confidence))
    return tuple(tuple(group) for group in groups)


def _kind(model: BlockModel, i: int, j: int) -> int:
    """Return 0 for cells of one whole-plot level, 1 for one sub-plot treatment, 2 otherwise."""
    same = np.array(model.cells[i]) == np.array(model.cells[j])
    whole = np.isin(model.arrangement.factors, model.arrangement.whole_factors)
    if same[whole].all():
        return 0
    return 1 if same[~whole].all() else 2
