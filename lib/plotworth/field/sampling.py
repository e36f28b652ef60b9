"""How large a plot and how many fruit: the spread that plot size and weighing leave.

Smith (1938) J. Agric. Sci. 28:1: the variance of a mean per unit area falls with plot size x as x^-b. b is 1 where
neighbours are no more alike than strangers, and near 0 where the ground varies in large patches; in most fields it lies
between 0.3 and 0.8 (common practice, no source); it is an input.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from plotworth.field.design import Design
from plotworth.field.power import comparisons, detectable_difference

CONFIDENCE = 0.95


@dataclass(frozen=True)
class SizeRow:
    """A trial of some size: plants on a net plot, blocks, net plants of each treatment, plot CV, detectable difference.

    CV and difference are shares of the mean; the difference is that of the design's last comparison of `comparisons`.
    """

    plants_per_plot: int
    blocks: int
    plants_per_treatment: int
    plot_cv: float
    detectable: float


def cv_of_size(cv: float, *, plants: float, of_plants: float, index: float) -> float:
    """Return the CV of plots of `plants` from the CV of plots of `of_plants`, by Smith's index b.

    Equation: cv x (plants / of_plants)^(-b/2).
    """
    return cv * math.pow(plants / of_plants, -index / 2)


def smith_index(plants: ArrayLike, variances: ArrayLike) -> float:
    """Return Smith's b from plots of several sizes, shape (n,) each.

    Equation: minus the slope of log variance of the mean per unit on log size, by least squares, unweighted.
    """
    size, variance = np.log(np.asarray(plants, dtype=np.float64)), np.log(np.asarray(variances, dtype=np.float64))
    centred = size - size.mean()
    return -float(centred @ variance / (centred @ centred))


def size_table(
    design: Design,
    *,
    plants_per_plot: Sequence[int],
    blocks: Sequence[int],
    plot_cv: float,
    of_plants: int,
    index: float,
) -> tuple[SizeRow, ...]:
    """Return what plants per plot and blocks do to the detectable difference between two treatments.

    Parameters: design, its own number of blocks does not count; plants of a net plot and blocks to try; CV of plots of
    `of_plants`, a share; Smith's index b.
    """
    rows = []
    for count in blocks:
        repeated = replace(design, blocks=count)
        for plants in plants_per_plot:
            cv = cv_of_size(plot_cv, plants=plants, of_plants=of_plants, index=index)
            detectable = detectable_difference(comparisons(repeated, plot_cv=cv)[-1])
            rows.append(SizeRow(plants, count, plants * count, cv, detectable))
    return tuple(rows)


def sample_size(cv: float, precision: float, *, population: float = math.inf, confidence: float = CONFIDENCE) -> float:
    """Return how many fruit to weigh, not rounded, so that their mean lies within `precision` of the true one.

    Parameters: cv between single fruit, a share (standard deviation with n - 1 over the mean); precision, half the
    interval's width as a share of the mean; population, the fruit there are; confidence of the interval.

    Equation: n0 = (z cv / precision)^2, n = n0 / (1 + n0/N), from the variance (1 - n/N) s^2/n of a mean of n out of N.
    Valid for 30 and more, since z stands for t. Source: Cochran (1977) *Sampling Techniques*, section 4.6.
    """
    from scipy.stats import norm

    unlimited = float((norm.ppf((1 + confidence) / 2) * cv / precision) ** 2)
    return unlimited / (1 + unlimited / population)


def fruit_to_weigh(cv: float, precision: float, *, population: float = math.inf, confidence: float = CONFIDENCE) -> int:
    """Return `sample_size` in whole fruit, at least 2, so that a spread can be told, at most all there are."""
    needed = math.ceil(sample_size(cv, precision, population=population, confidence=confidence))
    return int(min(max(needed, 2), population))
