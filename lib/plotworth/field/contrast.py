"""Mixes of treatment means: what a level, a difference or an interaction comes to, with its interval."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plotworth.field.block_model import BlockModel, Spread, is_linked, label, spread
from plotworth.field.model_matrices import Floats, level_of

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Contrast:
    """A mix of treatment means.

    Attributes: label; estimate, standard_error, low and high end of the two-sided interval [unit of
    the value]; degrees_of_freedom; t and its two-sided p against 0; reason in words where the
    interval or the estimate is missing (then NaN), else "".
    """

    label: str
    estimate: float
    standard_error: float
    degrees_of_freedom: float
    low: float
    high: float
    t: float
    p: float
    reason: str


@dataclass(frozen=True)
class Margin:
    """Means to compare: m levels as mixes of c cells.

    Attributes: labels, of the m levels; weights, shape (m, c), each row adding to 1; plots, how many
    with a value stand behind each level.
    """

    labels: tuple[str, ...]
    weights: Floats
    plots: tuple[int, ...]

    def position(self, name: str) -> int:
        """Return where a level stands. Errors: ValueError where there is no such level."""
        if name not in self.labels:
            raise ValueError(f"no level {name!r} among {', '.join(self.labels)}")
        return self.labels.index(name)


def margin(model: BlockModel, *factors: str, at: Mapping[str, str] | None = None) -> Margin:
    """Return the levels of some factors, averaged over the cells of the others with equal weights.

    Parameters: factors, all of them when none is named; at, factors held at one level. A cell that
    the trial does not hold is left out of the average; one without a value makes the level missing.

    Errors: ValueError where no cell is left.
    """
    held = dict(at or {})
    arrangement = model.arrangement
    named = factors or tuple(factor for factor in arrangement.factors if factor not in held)
    used = [all(level_of(cell, arrangement, (f,)) == (v,) for f, v in held.items()) for cell in model.cells]
    own = [level_of(cell, arrangement, named) for cell in model.cells]
    levels = tuple(dict.fromkeys(level for level, use in zip(own, used, strict=True) if use))
    if not levels:
        raise ValueError(f"no treatment cell with {held}")
    members = np.array([[use and level == one for level, use in zip(own, used, strict=True)] for one in levels])
    plots = tuple(int(n) for n in members @ model.matrices.plots_per_cell)
    weights = members / members.sum(axis=1, keepdims=True)
    return Margin(tuple(label(level) for level in levels), weights, plots)


def contrast(model: BlockModel, weights: ArrayLike, *, name: str, confidence: float = CONFIDENCE) -> Contrast:
    """Return a mix of cell means, weights of shape (c,), with its t interval."""
    mix = np.asarray(weights, dtype=np.float64)
    if not is_linked(model, mix):
        return with_interval(name, math.nan, spread(model, mix), confidence)
    return with_interval(name, float(mix @ model.estimates), spread(model, mix), confidence)


def with_interval(name: str, estimate: float, error: Spread, confidence: float) -> Contrast:
    """Return an estimate with estimate -+ t x standard error; NaN ends where the error is missing."""
    from scipy.stats import t as t_distribution

    freedom, se = error.degrees_of_freedom, error.standard_error
    if error.reason:
        gaps = (math.nan,) * 6
        return Contrast(name, estimate, *gaps, error.reason)
    half = float(t_distribution.ppf((1 + confidence) / 2, freedom)) * se
    t = estimate / se
    p = float(2 * t_distribution.sf(abs(t), freedom))
    return Contrast(name, estimate, se, freedom, estimate - half, estimate + half, t, p, "")
