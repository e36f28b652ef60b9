"""Internal rates of return: the one rate of many streams at once, or every rate of one stream.

Arrays in, arrays out: year axis first, flows of shape (T+1, ...) at year ends 0..T.

With v = 1 / (1 + rate) a stream's net present value is a polynomial in v, and its rates of return are the
positive roots. Below z = log v. Three steps, each column going no further than it must:

1. Newton's method on log(PV of inflows) - log(PV of outflows), which is nearly a straight line in z, from a step
   of Halley's method taken where the mean of the columns has its root.
2. The polynomial is divided by (v - root). Where the quotient's coefficients keep one sign it has no
   positive root (Descartes' rule of signs), so the root found is the only one. In the language of
   investment: at that rate the stream is never lender and borrower in turn. Where they do not, the quotient is
   multiplied by (v + root) some times, which adds no positive root and, where there is none, ends in
   coefficients of one sign (Polya).
3. The remaining columns climb the ladder of `rate_ladder`.

A flow below `DUST` of the stream's largest is no flow: what is left over from subtracting equal amounts must not
make a rate of return near -100 %.
"""

from collections.abc import Iterator
from functools import cache
from math import comb
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from plotworth.money.rate_ladder import (
    ROUNDING,
    Floats,
    Truths,
    Whole,
    in_and_out,
    ladder_roots,
    log_ratio_of_powers,
    without_dust,
)

START = -float(np.log1p(0.08))  # a first guess in z; the answer does not depend on it
SETTLED = 1e-7  # a Newton step below this leaves an error of about its square
BLOCK = 8192  # columns at a time, so that the work stays in the processor's cache
SAMPLE = 64  # columns whose mean shows where the roots of a block lie; so few are done without
CENTRE_ROUNDS = 4  # steps towards the root of that mean
FARTHEST = 2.0  # a root of the mean beyond this z is no place to start from
LARGEST_PRODUCT = 2**18  # multiplications below which OpenBLAS starts no threads
QUICK_ROUNDS = 3  # for a whole block
PATIENT_ROUNDS = 12  # for the columns that have not settled by then
SMOOTHING = 16  # factors (v + root) that the quotient is multiplied by to make its coefficients keep one sign


class RateOfReturn(NamedTuple):
    """The rate of return [1/year], NaN unless there is exactly one, and the number of distinct roots."""

    rate: Floats
    root_count: Whole


def internal_rate_of_return(flows: npt.ArrayLike) -> RateOfReturn:
    """Return the single rate in (-1, inf) at which each stream's net present value is zero.

    Parameters: flows [money], shape (T+1, ...), year ends 0..T.
    Returns: `rate` [1/year], shape (...), NaN unless the stream has exactly one root there; `root_count`,
    whole numbers of shape (...), the distinct roots; a double root is one root, and alone it is the rate.
    Several changes of sign in the flows are no reason for NaN. Streams without both signs, or with NaN or
    infinite flows, give NaN and 0.
    Equation: 0 = sum over t of flows[t] / (1 + rate)**t.
    Source: Descartes' rule of signs, applied to the quotient; the module's text gives the method.
    """
    stream = np.asarray(flows, dtype=np.float64)
    columns = stream.reshape(stream.shape[0], -1)
    rate, count = np.empty(columns.shape[1]), np.empty(columns.shape[1], dtype=np.int64)
    unsure = np.empty(columns.shape[1], dtype=np.bool_)
    with np.errstate(all="ignore"):
        for part in _blocks(columns.shape[1]):
            rate[part], count[part], unsure[part] = _quick_rates(columns[:, part])
        waiting = np.flatnonzero(unsure)
        for part in _blocks(waiting.size):
            chosen = waiting[part]
            rate[chosen], count[chosen] = _ladder_rates(columns[:, chosen])
    shape = stream.shape[1:]
    return RateOfReturn(rate.reshape(shape), count.reshape(shape))


def all_rates_of_return(flows: npt.ArrayLike) -> tuple[float, ...]:
    """Return every distinct rate in (-1, inf) at which one stream's net present value is zero, ascending.

    Parameters: flows [money], shape (T+1,), year ends 0..T.
    Returns: rates [1/year]; a double root once; empty where there is none, or where a flow is not finite.
    Equation and method: as `internal_rate_of_return`.
    """
    column = np.asarray(flows, dtype=np.float64)[:, None]
    with np.errstate(all="ignore"):
        logarithms = ladder_roots(column)[:, 0]
        rates = np.expm1(-logarithms[np.isfinite(logarithms)])
    return tuple(sorted(rates.tolist()))


def _blocks(columns: int) -> Iterator[slice]:
    """Yield the slices that part so many columns into blocks."""
    for first in range(0, columns, BLOCK):
        yield slice(first, min(first + BLOCK, columns))


def _quick_rates(flows: Floats) -> tuple[Floats, Whole, Truths]:
    """Return Newton's rate, NaN unless certain to be the only one; 1 or 0 roots so far; what is left unsure."""
    stream = without_dust(flows)
    sides = in_and_out(stream)
    many = flows.shape[1] > SAMPLE
    start, mixed = _start(sides, _centre(sides) if many else START)
    logarithm, settled = _newton(sides, start, mixed)
    certain = mixed & settled & (_is_only_root(stream, logarithm) if many else False)
    doubtful = np.flatnonzero(mixed & settled & ~certain)
    if doubtful.size:
        certain[doubtful] = _smoothed_keeps_sign(stream[:, doubtful], logarithm[doubtful])
    return np.where(certain, np.expm1(-logarithm), np.nan), certain.astype(np.int64), mixed & ~certain


def _ladder_rates(flows: Floats) -> tuple[Floats, Whole]:
    """Return the rate, NaN unless it is the only one, and the number of roots, both by way of the ladder."""
    roots = ladder_roots(flows)
    count = np.isfinite(roots).sum(axis=0)
    return np.where(count == 1, np.expm1(-roots[0]), np.nan), count


def _centre(sides: Floats) -> float:
    """Return log v that is a root of the mean of some columns; `START` where it has none."""
    mean = np.ascontiguousarray(sides[:, :, :: 1 + sides.shape[2] // SAMPLE].mean(axis=2)[:, :, None])
    centre = START
    for _ in range(CENTRE_ROUNDS):
        centre = float(_start(mean, centre)[0][0])
    return centre if abs(centre) < FARTHEST else START


def _start(sides: Floats, centre: float) -> tuple[Floats, Truths]:
    """Return one step of Halley's method from the same z for every column, and which columns have both signs.

    The moments of inflows and outflows in time at that z are one small matrix product.
    """
    years = np.arange(sides.shape[0], dtype=np.float64)
    weights = np.exp(centre * years) * years ** np.arange(3.0)[:, None]
    value, first, second = _product(weights, sides.reshape(len(sides), -1)).reshape(3, 2, -1)
    mean = first / value
    spread = second / value - mean * mean
    slope = mean[0] - mean[1]
    step = np.log(value[0] / value[1]) / slope
    step /= 1.0 - 0.5 * step * (spread[0] - spread[1]) / slope
    return centre - np.clip(step, -2.0, 2.0), (value[0] > 0.0) & (value[1] > 0.0)


def _product(weights: Floats, columns: Floats) -> Floats:
    """Return weights @ columns, in parts so small that the linear algebra library starts no threads."""
    product = np.empty((weights.shape[0], columns.shape[1]))
    width = LARGEST_PRODUCT // weights.size
    for first in range(0, columns.shape[1], width):
        np.matmul(weights, columns[:, first : first + width], out=product[:, first : first + width])
    return product


def _newton(sides: Floats, logarithm: Floats, mixed: Truths) -> tuple[Floats, Truths]:
    """Return log v where Newton's method comes to rest from a start, and whether it did, for each column."""
    if not mixed.any():
        return logarithm, mixed
    settled = _improve(sides, logarithm, QUICK_ROUNDS)
    late = np.flatnonzero(mixed & ~settled)
    if late.size:
        retry = logarithm[late]
        settled[late] = _improve(np.ascontiguousarray(sides[:, :, late]), retry, PATIENT_ROUNDS)
        logarithm[late] = retry
    return logarithm, settled


def _improve(sides: Floats, logarithm: Floats, rounds: int) -> Truths:
    """Take Newton steps in place; return for which columns the last step was small."""
    step = np.full(logarithm.shape, np.inf)
    for _ in range(rounds):
        height, slope = _log_ratio(sides, logarithm)
        np.divide(height, slope, out=step)
        np.clip(step, -2.0, 2.0, out=step)
        logarithm -= step
        if not np.any(np.abs(step) > SETTLED):
            break
    settled: Truths = np.abs(step) <= SETTLED
    return settled


def _log_ratio(sides: Floats, logarithm: Floats) -> tuple[Floats, Floats]:
    """Return log(PV of inflows / PV of outflows) and its slope in z, the difference of mean times.

    By Horner's rule; for a few columns, where it is the number of steps that takes time, from the powers of v.
    """
    if logarithm.size <= SAMPLE:
        return log_ratio_of_powers(sides, np.exp(np.arange(sides.shape[0])[:, None] * logarithm))
    discount = np.exp(logarithm)
    value, slope = sides[-1] * discount, sides[-1].copy()
    value += sides[-2]
    for side in sides[-3::-1]:
        slope *= discount
        slope += value
        value *= discount
        value += side
    slope *= discount
    slope /= value
    return np.log(value[0] / value[1]), slope[0] - slope[1]


def _smoothed_keeps_sign(flows: Floats, logarithm: Floats) -> Truths:
    """Return where the quotient times (v + root)**SMOOTHING has coefficients of one sign, beyond all rounding.

    The quotient's coefficients, in powers of v over the root, are the added-up present values at the root.
    """
    present = flows * np.exp(np.arange(flows.shape[0])[:, None] * logarithm)
    early, late = _added_up(present[:-1]), _added_up(present[:0:-1])
    value = np.where(logarithm > 0.0, -early[0], late[0, ::-1])
    gross = np.where(logarithm > 0.0, early[1], late[1, ::-1])
    smoothed, rounding = (_product(_binomial(len(value)), sums) for sums in (value, gross))
    rounding *= ROUNDING * flows.shape[0]
    keeps: Truths = np.logical_or((smoothed >= rounding).all(axis=0), (smoothed <= -rounding).all(axis=0))
    return keeps


def _added_up(terms: Floats) -> Floats:
    """Return the running sums of terms and of their sizes, shape (2, terms, columns)."""
    return np.stack([np.cumsum(terms, axis=0), np.cumsum(np.abs(terms), axis=0)])


@cache
def _binomial(length: int) -> Floats:
    """Return the matrix that multiplies a polynomial of so many coefficients by (1 + w)**SMOOTHING."""
    matrix = np.zeros((length + SMOOTHING, length))
    for power in range(SMOOTHING + 1):
        matrix[np.arange(length) + power, np.arange(length)] = comb(SMOOTHING, power)
    return matrix


def _is_only_root(flows: Floats, logarithm: Floats) -> Truths:
    """Return where the polynomial divided by (v - root) is certain to have no positive root.

    Above v = 1 the late flows weigh most: divided from the early end, where nothing is lost to rounding.
    """
    discount, beyond = np.exp(logarithm), logarithm > 0.0
    if beyond.all():
        return _quotient_keeps_sign(flows, 1.0 / discount)
    certain = _quotient_keeps_sign(flows[::-1], discount)
    if not beyond.any():
        return certain
    certain[beyond] = _quotient_keeps_sign(flows, 1.0 / discount)[beyond]
    return certain


def _quotient_keeps_sign(coefficients: Floats, root: Floats) -> Truths:
    """Return where synthetic division by (v - root), from the first coefficient on, leaves those of one sign only."""
    quotient = coefficients[0].copy()
    lowest, highest = quotient.copy(), quotient.copy()
    for coefficient in coefficients[1:-1]:
        quotient *= root
        quotient += coefficient
        np.minimum(lowest, quotient, out=lowest)
        np.maximum(highest, quotient, out=highest)
    keeps: Truths = (lowest >= 0.0) | (highest <= 0.0)
    return keeps
