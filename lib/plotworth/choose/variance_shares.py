"""Which rows the spread of an outcome comes from: shares of variance, from draws that one has or from new ones.

Arrays in, arrays out: no case is known here. Shares from given data hold for correlated rows too: they are what a row
tells of the outcome, what its companions do with it included. Sobol indices ask for independent rows.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.choose.bins import bin_limits, bin_places, sums_by_bin
from plotworth.ground.arrays import Array

BINS = 32
ROWS_AT_A_TIME = 2
"""Rows binned together, so that the draws are added up once for both."""


@dataclass(frozen=True)
class Shares:
    """Shares of an outcome's variance, one a row, shape (row,) [share], with their standard errors.

    A share that is nothing but noise may come out a little below 0.
    """

    first: Array
    error: Array


def first_order_shares(drawn: Array, outcome: Array) -> Shares:
    """Return the part of an outcome's variance that goes once a row is known: Var(E[y | x]) / Var(y).

    Parameters: drawn, shape (row, draw), at least some hundreds of independent draws (of quasi-random ones too much is
    taken off for noise); outcome, shape (draw,), any unit.
    Returns: NaN throughout where an outcome is NaN or all are equal.
    Equation: (SSB - (K - 1) MSW) / SST over K bins of the row (epsilon squared, Kelley 1935), which takes off what bins
    of noise alone would show; standard error sqrt(4 S (1 - S)^2 / n + 2 (K - 1) / n^2), that of a squared correlation.
    """
    centred = outcome - outcome.mean()
    whole = float(centred @ centred)
    if not whole > 0:
        gap = np.full(len(drawn), np.nan)
        return Shares(gap, gap)
    lows, highs = bin_limits(drawn)
    found: list[tuple[float, float]] = []
    for start in range(0, len(drawn), ROWS_AT_A_TIME):
        few = slice(start, start + ROWS_AT_A_TIME)
        found += _shares(zip(drawn[few], lows[few], highs[few], strict=True), centred, whole)
    first, error = np.array(found).reshape(-1, 2).T
    return Shares(first, error)


def _shares(rows: Iterable[tuple[Array, float, float]], centred: Array, whole: float) -> list[tuple[float, float]]:
    """Return share and error of a few rows, from one table of them all."""
    places = [bin_places(row, low, high, bins=BINS) for row, low, high in rows]
    cell = places[0]
    for place in places[1:]:
        np.floor(cell, out=cell)
        cell *= BINS
        cell += place
    shape = (BINS,) * len(places)
    numbers = cell.astype(np.intp)
    counts = np.bincount(numbers, minlength=BINS ** len(places)).astype(np.float64)
    (sums,) = sums_by_bin(numbers, centred[None], bins=BINS ** len(places))
    tables = [(_margin(counts, shape, axis), _margin(sums, shape, axis)) for axis in range(len(places))]
    return [_share(own_counts, own_sums, whole, len(centred)) for own_counts, own_sums in tables]


def _margin(table: Array, shape: tuple[int, ...], axis: int) -> Array:
    others = tuple(other for other in range(len(shape)) if other != axis)
    return np.asarray(table.reshape(shape).sum(axis=others))


def _share(counts: Array, sums: Array, whole: float, draws: int) -> tuple[float, float]:
    filled = counts > 0
    between = float((sums[filled] ** 2 / counts[filled]).sum())
    steps = int(filled.sum()) - 1
    within = (whole - between) / max(draws - steps - 1, 1)
    share = (between - steps * within) / whole if steps else 0.0
    return share, float(np.sqrt(4.0 * share * (1.0 - share) ** 2 / draws * (share > 0) + 2.0 * steps / draws**2))


@dataclass(frozen=True)
class Indices:
    """Sobol indices of rows or groups of rows, shape (group,) [share of the variance], with standard errors.

    `first`: what goes once the group is known; `total`: what stays where all but the group is known.
    """

    first: Array
    total: Array
    first_error: Array
    total_error: Array


def sobol_indices(
    function: Callable[[Array], Array], groups: Sequence[Sequence[int]], *, draws: int, seed: int
) -> Indices:
    """Return first and total order indices of a function of independent uniforms, by pick and freeze.

    Parameters: function, from uniforms in (0, 1), shape (row, draw), to an outcome, shape (draw,); groups, the rows
    that are taken together, all rows in one of them each; draws, a power of two; seed, 0 or more. The function is
    called with draws x (2 + groups) draws in all.
    Equations: first = mean of f(B) (f(A with the group of B) - f(A)) / V (Saltelli et al. 2010), total = mean of
    (f(A) - f(A with the group of B))^2 / 2 V (Jansen 1999); A and B two halves of scrambled Sobol points.
    """
    a, b = _two_samples(sum(len(group) for group in groups), draws, seed)
    of_a, of_b = function(a), function(b)
    both = np.concatenate([of_a, of_b])
    middle, variance = both.mean(), both.var()
    found = []
    for group in groups:
        mixed = a.copy()
        mixed[list(group)] = b[list(group)]
        step = function(mixed) - of_a
        terms = np.array([(of_b - middle) * step, step**2 / 2.0]) / variance
        found.append([*terms.mean(axis=1), *terms.std(axis=1, ddof=1) / np.sqrt(draws)])
    return Indices(*np.array(found).T)


def _two_samples(rows: int, draws: int, seed: int) -> tuple[Array, Array]:
    from scipy.stats import qmc

    points = qmc.Sobol(2 * rows, scramble=True, rng=np.random.default_rng(seed)).random(draws).T
    inside = np.clip(points, np.finfo(np.float64).tiny, 1.0 - np.finfo(np.float64).epsneg)
    return np.ascontiguousarray(inside[:rows]), np.ascontiguousarray(inside[rows:])
