"""Analysis of variance: how much of the spread between plots the blocks and treatments account for.

Blocks come first, each treatment term is adjusted for every other term that does not contain it; with
all plots present the order makes no difference and the table is the classic one. In a split plot the
whole-plot terms are judged by the whole plots, the rest by the plots inside them; with plots missing
the whole-plot lines are approximate and say so.
"""

import math
from dataclasses import dataclass

import numpy as np

from plotworth.field.arrangement import Term
from plotworth.field.block_model import (
    NO_ERROR_LEFT,
    NO_SPREAD,
    PLOTS,
    WHOLE_PLOTS,
    BlockModel,
    Stratum,
    fitted,
    label,
    mean_square,
    sum_of_squares,
)
from plotworth.field.model_matrices import Floats, ModelMatrices, rank

ERROR = "error"
CONFOUNDED = "cannot be told from block differences"
APPROXIMATE = "approximate: plots are missing"
ZERO_MEAN = "no coefficient of variation: the mean is not above 0"


@dataclass(frozen=True)
class AnovaLine:
    """One line of the table.

    Attributes: stratum, the plots that judge it; term in words; degrees_of_freedom; sum_of_squares
    and mean_square [unit of the value, squared]; f and p, NaN for errors and where a reason stands;
    reason or remark in words, else "".
    """

    stratum: str
    term: str
    degrees_of_freedom: int
    sum_of_squares: float
    mean_square: float
    f: float
    p: float
    reason: str


@dataclass(frozen=True)
class VariationCoefficient:
    """Root of a stratum's mean square over the grand mean.

    Attributes: stratum; share [0-1, NaN with a reason]; reason in words, else "".
    """

    stratum: str
    share: float
    reason: str


@dataclass(frozen=True)
class AnovaTable:
    """The table of one trial.

    Attributes: lines from the blocks down; total_sum_of_squares about the mean [unit of the value,
    squared]; plots, how many had a value; grand_mean of these [unit of the value]; variation, one
    coefficient a stratum.
    """

    lines: tuple[AnovaLine, ...]
    total_sum_of_squares: float
    plots: int
    grand_mean: float
    variation: tuple[VariationCoefficient, ...]

    def line(self, term: str, *, stratum: str = PLOTS) -> AnovaLine:
        """Return the line of a term; KeyError where there is none."""
        for found in self.lines:
            if (found.stratum, found.term) == (stratum, term):
                return found
        raise KeyError((stratum, term))


def analysis_of_variance(model: BlockModel) -> AnovaTable:
    """Return the table of a fitted trial.

    Sum of squares of a term = what its columns take off the residuals of the model without it; F = its
    mean square over that of its stratum's error. Source: Yates (1934) J. Am. Statist. Ass. 29:51.
    """
    lines = [line for stratum in model.plot_strata for line in _stratum_lines(model, stratum)]
    mean = float(model.values.mean())
    about_mean = sum_of_squares(model.values - mean)
    variation = tuple(_variation(stratum, mean) for stratum in model.plot_strata)
    return AnovaTable(tuple(lines), about_mean, len(model.values), mean, variation)


def _stratum_lines(model: BlockModel, stratum: Stratum) -> list[AnovaLine]:
    """Return blocks (in the first stratum), terms and error of a stratum."""
    first = stratum is model.strata[0]
    terms = [t for t in model.arrangement.terms if model.arrangement.is_whole(t) == (stratum.name == WHOLE_PLOTS)]
    blocks = _block_lines(model, stratum) if first else []
    squares = stratum.mean_square * stratum.degrees_of_freedom if stratum.degrees_of_freedom else 0.0
    error = (int(stratum.degrees_of_freedom), squares, stratum.mean_square, math.nan, math.nan)
    reason = "" if stratum.degrees_of_freedom else NO_ERROR_LEFT
    lines = [_term_line(model, term, stratum) for term in terms]
    return [*blocks, *lines, AnovaLine(stratum.name, ERROR, *error, reason)]


def _block_lines(model: BlockModel, stratum: Stratum) -> list[AnovaLine]:
    """Return a line for each block column, one after the other."""
    below, lines = np.ones((len(model.values), 1)), []
    for name, columns in zip(model.arrangement.blocks, model.matrices.block_columns, strict=True):
        lines.append(_line(model, stratum, name, (below, np.hstack([below, columns]))))
        below = np.hstack([below, columns])
    return lines


def _term_line(model: BlockModel, term: Term, stratum: Stratum) -> AnovaLine:
    """Return the line of a treatment term, adjusted for those that do not contain it."""
    name = " x ".join(term)
    if term in model.left_out:
        return AnovaLine(stratum.name, name, 0, math.nan, math.nan, math.nan, math.nan, CONFOUNDED)
    matrices = model.matrices
    others = [t for t in model.arrangement.terms if not set(term) <= set(t)]
    base = [matrices.blocks] if stratum.name == WHOLE_PLOTS else [matrices.blocks, matrices.whole_plots]
    below = np.hstack([*base, *(matrices.term_columns[t] for t in others)])
    return _line(model, stratum, name, (below, np.hstack([below, matrices.term_columns[term]])))


def _line(model: BlockModel, stratum: Stratum, name: str, columns: tuple[Floats, Floats]) -> AnovaLine:
    """Return the line of what the second columns take off the residuals of the first."""
    below, full = columns
    y = model.values - model.values.mean()
    freedom = rank(full) - rank(below)
    squares = sum_of_squares(fitted(full, y - fitted(below, y)))
    square = mean_square(squares, freedom, model.values)
    f, p, reason = _test(square, freedom, stratum)
    remark = reason or (APPROXIMATE if stratum.name == WHOLE_PLOTS and is_uneven(model.matrices) else "")
    return AnovaLine(stratum.name, name, freedom, squares, square, f, p, remark)


def is_uneven(matrices: ModelMatrices) -> bool:
    """Say whether whole plots or cells differ in how many plots they hold."""
    per_whole_plot = matrices.whole_plots.sum(axis=0)
    uneven_cells = len(set(matrices.plots_per_cell.tolist())) > 1
    return uneven_cells or len(set(per_whole_plot.tolist())) > 1


def _test(square: float, freedom: int, error: Stratum) -> tuple[float, float, str]:
    """Return F, its p and the reason where there is none."""
    if freedom == 0:
        return math.nan, math.nan, CONFOUNDED
    if error.degrees_of_freedom == 0:
        return math.nan, math.nan, NO_ERROR_LEFT
    if not error.mean_square > 0:
        return math.nan, math.nan, NO_SPREAD
    from scipy.stats import f as f_distribution

    f = square / error.mean_square
    return f, float(f_distribution.sf(f, freedom, error.degrees_of_freedom)), ""


def _variation(stratum: Stratum, mean: float) -> VariationCoefficient:
    """Return a stratum's coefficient of variation."""
    if not mean > 0:
        return VariationCoefficient(stratum.name, math.nan, ZERO_MEAN)
    reason = "" if stratum.degrees_of_freedom else NO_ERROR_LEFT
    return VariationCoefficient(stratum.name, math.sqrt(stratum.mean_square) / mean, reason)


def plot_counts(model: BlockModel) -> dict[str, int]:
    """Return how many plots with a value each treatment cell has."""
    counts = model.matrices.plots_per_cell.tolist()
    return {label(cell): count for cell, count in zip(model.cells, counts, strict=True)}
