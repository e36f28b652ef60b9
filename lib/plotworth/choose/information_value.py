"""What it would be worth to know: of one row, of everything, of one more season of the trial.

Arrays in, arrays out: no case is known here. A choice of the decider's own is no row of draws and has no part in it.
All values are money of the outcome (NPV of the case), before what finding out would cost.
"""

import math
from dataclasses import dataclass

import numpy as np

from plotworth.choose.bins import bin_limits, bin_places, sums_by_bin
from plotworth.ground.arrays import Array

PARTS = 10
"""Parts of the draws: what is best is decided by all but one of them and paid for in that one."""
MOST_BINS, DRAWS_A_BIN = 32, 100


@dataclass(frozen=True)
class Worth:
    """What some knowledge is worth [money, 0 or more] and the standard error of that from the draws."""

    value: float
    error: float


def information_values(drawn: Array, outcomes: Array) -> list[Worth]:
    """Return the value of perfect information on each row alone.

    Parameters: drawn, shape (row, draw); outcomes, NPV of each system that one could choose [money], (system, draw),
    of some thousands of draws.
    Equation: E[max over systems of E(NPV | row)] - max over systems of E(NPV). Conditional means by bins of the row;
    the best of a bin is decided on nine tenths of the draws and its NPV taken from the tenth, each tenth in turn, so
    that noise is not taken for knowledge. A value that comes out below 0 is noise and given as 0; NaN where an NPV is
    not known. Error: spread of the tenths' values over the root of ten.
    """
    draws = outcomes.shape[1]
    bins = max(min(MOST_BINS, draws // DRAWS_A_BIN), 1)
    part = np.arange(draws, dtype=np.float64) % PARTS
    ends = zip(drawn, *bin_limits(drawn), strict=True)
    places = (bin_places(row, low, high, bins=bins) for row, low, high in ends)
    return [_worth(_sums(part * bins + place, outcomes, bins), draws) for place in places]


def perfect_information_value(outcomes: Array) -> Worth:
    """Return the value of knowing everything, luck of the years included: E[max NPV] - max E(NPV) [money].

    `outcomes`: NPV of each system, shape (system, draw).
    """
    return _gain_over_best(outcomes.max(axis=0), outcomes)


def season_value(measured: Array, outcomes: Array, *, seasons: int) -> Worth:
    """Return the value of one more season of a trial like the `seasons` (1 or more) that it has had.

    Parameters: measured, the rows that the trial tells, shape (row, draw); outcomes, NPV of each system [money],
    (system, draw).
    Equation: E[max over systems of m + (fit - m) / sqrt(seasons + 1)] - max of m, with m a system's mean NPV and fit
    its least-squares plane over the measured rows. With equal seasons the variance V of what is measured becomes
    V n / (n + 1), so that what one will then believe varies by V / (n + 1): the normal approximation.
    Holds while NPV is near enough a plane over the range of the trial's error, and seasons differ by the error of
    plots alone; where years differ more than plots, one more season tells more than this.
    """
    means = outcomes.mean(axis=1, keepdims=True)
    if not len(measured):
        return Worth(0.0, 0.0)
    if np.isnan(means).any():
        return Worth(math.nan, math.nan)
    apart = (measured - measured.mean(axis=1, keepdims=True)).T
    slopes = np.linalg.lstsq(apart, (outcomes - means).T)[0]
    believed = means + (apart @ slopes).T / math.sqrt(seasons + 1.0)
    return _gain_over_best(believed.max(axis=0), believed)


def _sums(places: Array, outcomes: Array, bins: int) -> Array:
    """Return sums of NPV, shape (system, part, bin); `places` of the draws among all bins of all parts."""
    sums = sums_by_bin(places.astype(np.intp), outcomes, bins=PARTS * bins)
    return sums.reshape(len(outcomes), PARTS, bins)


def _worth(sums: Array, draws: int) -> Worth:
    """Return the value from sums by system, part and bin: the best of each bin less the best of all."""
    others = sums.sum(axis=1, keepdims=True) - sums
    by_bin = np.take_along_axis(sums, others.argmax(axis=0)[None], axis=0)[0].sum(axis=1)
    best = others.sum(axis=2).argmax(axis=0)
    without = np.take_along_axis(sums.sum(axis=2), best[None], axis=0)[0]
    gains = by_bin - without
    return Worth(_not_below_zero(gains.sum() / draws), float(gains.std(ddof=1) * PARTS / draws / math.sqrt(PARTS)))


def _gain_over_best(reached: Array, outcomes: Array) -> Worth:
    """Return what is reached in each draw less the system that is best on the whole, mean and standard error."""
    gains = reached - outcomes[outcomes.mean(axis=1).argmax()]
    return Worth(_not_below_zero(gains.mean()), float(gains.std(ddof=1) / math.sqrt(len(gains))))


def _not_below_zero(value: float) -> float:
    return float(np.maximum(value, 0.0))
