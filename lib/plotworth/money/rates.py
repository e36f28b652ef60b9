"""Internal rates of return: the one rate of many streams at once, or every rate of one stream.

Arrays in, arrays out: year axis first, flows of shape (T+1, ...) at year ends 0..T.

With v = 1 / (1 + rate) a stream's net present value is a polynomial in v, and its rates of return are the
positive roots. Below z = log v. Three steps, each column going no further than it must:

1. Newton's method on log(PV of inflows) - log(PV of outflows), which is nearly a straight line in z.
2. The polynomial is divided by (v - root). Where the quotient's coefficients keep one sign it has no
   positive root (Descartes' rule of signs), so the root found is the only one. In the language of
   investment: at that rate the stream is never lender and borrower in turn.
3. The remaining columns climb a ladder. Multiplying the coefficients by (year - m) is, but for a positive
   factor, differentiation in z; with m put at a change of sign it removes that change. Down to one change
   there is one root; going up again, the roots of each rung part the line into pieces on which the next
   rung rises or falls only, so that a piece holds a root exactly where its ends differ in sign, and a
   root without a crossing (a double root) stands where an extremum is zero.

Roots closer than rounding can tell apart are one root. A flow below `DUST` of the stream's largest is no
flow: what is left over from subtracting equal amounts must not make a rate of return near -100 %.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]

START = -np.log1p(0.08)  # a first guess in z; the answer does not depend on it
DUST = 1e-13  # flows below this share of the largest are rounding left-overs
SETTLED = 1e-7  # a Newton step below this leaves an error of about its square
ROUNDING = 8 * np.finfo(np.float64).eps  # of the gross present value, for each year: a value below it is zero
BLOCK = 2048  # columns at a time, so that the work stays in the processor's cache
QUICK_ROUNDS = 5  # for a whole block
PATIENT_ROUNDS = 10  # for the columns that have not settled by then
CLOSE = 1e-12  # a bracketed root is taken when a step in z is below this
BISECT_FROM_ROUND = 30  # Newton inside a bracket gives way to halving it
LAST_ROUND = BISECT_FROM_ROUND + 70  # seventy halvings take any bracket down to rounding


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
        logarithms = _ladder_roots(column)[:, 0]
        rates = np.expm1(-logarithms[np.isfinite(logarithms)])
    return tuple(sorted(rates.tolist()))


def _blocks(columns: int) -> Iterator[slice]:
    """Yield the slices that part so many columns into blocks."""
    for first in range(0, columns, BLOCK):
        yield slice(first, min(first + BLOCK, columns))


def _quick_rates(flows: Floats) -> tuple[Floats, Whole, Truths]:
    """Return Newton's rate, NaN unless certain to be the only one; 1 or 0 roots so far; what is left unsure."""
    stream = _without_dust(flows)
    mixed = (stream.max(axis=0) > 0.0) & (stream.min(axis=0) < 0.0)
    logarithm, settled = _newton(stream)
    certain = mixed & settled & _is_only_root(stream, np.exp(logarithm))
    return np.where(certain, np.expm1(-logarithm), np.nan), certain.astype(np.int64), mixed & ~certain


def _ladder_rates(flows: Floats) -> tuple[Floats, Whole]:
    """Return the rate, NaN unless it is the only one, and the number of roots, both by way of the ladder."""
    roots = _ladder_roots(flows)
    count = np.isfinite(roots).sum(axis=0)
    return np.where(count == 1, np.expm1(-roots[0]), np.nan), count


def _without_dust(flows: Floats) -> Floats:
    """Return each column over its largest flow, left-overs of rounding as 0; all 0 if a flow is not finite."""
    scaled = flows / np.abs(flows).max(axis=0)
    return np.where(np.abs(scaled) > DUST, scaled, 0.0)


def _newton(flows: Floats) -> tuple[Floats, Truths]:
    """Return log v where Newton's method comes to rest, and whether it did, for each column."""
    sides = _sides(flows)
    logarithm = np.full(flows.shape[1], START)
    settled = _improve(sides, logarithm, QUICK_ROUNDS)
    late = np.flatnonzero(~settled)
    if late.size:
        retry = logarithm[late]
        settled[late] = _improve(np.ascontiguousarray(sides[:, :, late]), retry, PATIENT_ROUNDS)
        logarithm[late] = retry
    return logarithm, settled


def _sides(coefficients: Floats) -> Floats:
    """Return inflows and outflows, both as amounts of zero or more, shape (T+1, 2, columns)."""
    sides = np.empty((coefficients.shape[0], 2, coefficients.shape[1]))
    np.maximum(coefficients, 0.0, out=sides[:, 0])
    np.subtract(sides[:, 0], coefficients, out=sides[:, 1])
    return sides


def _improve(sides: Floats, logarithm: Floats, rounds: int) -> Truths:
    """Take Newton steps in place; return for which columns the last step was small."""
    step = np.full(logarithm.shape, np.inf)
    for _ in range(rounds):
        height, slope = _log_ratio(sides, _powers(np.exp(logarithm), sides.shape[0]))
        np.divide(height, slope, out=step)
        np.clip(step, -2.0, 2.0, out=step)
        logarithm -= step
        if np.all(np.abs(step) <= SETTLED):
            break
    settled: Truths = np.abs(step) <= SETTLED
    return settled


def _powers(base: Floats, length: int) -> Floats:
    """Return base**0 .. base**(length - 1), shape (length, columns), by doubling."""
    powers = np.empty((length, base.size))
    powers[0] = 1.0
    done = 1
    while done < length:
        step = powers[done - 1] * base
        more = min(done, length - done)
        np.multiply(powers[:more], step, out=powers[done : done + more])
        done += more
    return powers


def _log_ratio(sides: Floats, powers: Floats) -> tuple[Floats, Floats]:
    """Return log(PV of inflows / PV of outflows) and its slope in z, the difference of mean times."""
    years = np.arange(powers.shape[0], dtype=np.float64)
    value = np.einsum("tsn,tn->sn", sides, powers)
    timed = np.einsum("tsn,tn->sn", sides, powers * years[:, None])
    timed /= value
    return np.log(value[0] / value[1]), timed[0] - timed[1]


def _is_only_root(flows: Floats, discount: Floats) -> Truths:
    """Return where the polynomial divided by (v - discount) is certain to have no positive root."""
    certain = _quotient_keeps_sign(flows, discount)
    # Above v = 1 the late flows weigh most: divide from the early end, where nothing is lost to rounding.
    negative_rate = np.flatnonzero(discount > 1.0)
    if negative_rate.size:
        backwards = np.ascontiguousarray(flows[::-1, negative_rate])
        certain[negative_rate] = _quotient_keeps_sign(backwards, 1.0 / discount[negative_rate])
    return certain


def _quotient_keeps_sign(coefficients: Floats, root: Floats) -> Truths:
    """Return where synthetic division by (v - root) leaves coefficients of one sign only."""
    quotient = coefficients[-1].copy()
    lowest, highest = quotient.copy(), quotient.copy()
    for coefficient in coefficients[-2:0:-1]:
        quotient *= root
        quotient += coefficient
        np.minimum(lowest, quotient, out=lowest)
        np.maximum(highest, quotient, out=highest)
    keeps: Truths = (lowest >= 0.0) | (highest <= 0.0)
    return keeps


def _ladder_roots(flows: Floats) -> Floats:
    """Return log v of every distinct root of each column, ascending, shape (most roots, columns), NaN padded."""
    stream = _without_dust(flows)
    places = _sign_change_places(stream)
    changes = np.isfinite(places).sum(axis=0)
    rungs = _rungs(stream, places)
    roots = np.full((max(1, len(rungs)), flows.shape[1]), np.nan)
    for level, rung in enumerate(rungs, start=1):
        active = np.flatnonzero(changes >= level)
        found = _roots_between(np.ascontiguousarray(rung[:, active]), roots[: level - 1, active])
        roots[:level, active] = found[:level]
    return roots


def _sign_change_places(stream: Floats) -> Floats:
    """Return the places in time where the sign changes, ascending, NaN padded; at a half year before the new sign."""
    places = np.full(stream.shape, np.nan)
    last_sign = np.zeros(stream.shape[1])
    for year, flow in enumerate(stream):
        sign = np.sign(flow)
        places[year, sign * last_sign < 0.0] = year - 0.5
        last_sign = np.where(sign == 0.0, last_sign, sign)
    return np.sort(places, axis=0)


def _rungs(stream: Floats, places: Floats) -> list[Floats]:
    """Return the ladder's coefficients: with one change of sign first, the stream itself last.

    A column with fewer changes than the level keeps its own coefficients there, and is not used.
    """
    years = np.arange(stream.shape[0], dtype=np.float64)[:, None]
    most = int(np.isfinite(places).sum(axis=0).max())
    rungs = [stream] if most else []
    for place in places[most - 1 : 0 : -1] if most else []:
        distance = np.where(np.isfinite(place), years - place, 1.0)
        rungs.append(rungs[-1] * distance)
    return rungs[::-1]


def _roots_between(rung: Floats, knots: Floats) -> Floats:
    """Return the rung's roots, ascending, NaN padded; between neighbouring knots it rises or falls only.

    Parameters: coefficients, shape (T+1, columns); knots in z, ascending, NaN padded, shape (level - 1, columns).
    """
    lowest, highest = _bounds(rung)
    inner = np.clip(np.where(np.isnan(knots), highest, knots), lowest, highest)
    edges = np.concatenate([lowest[None], inner, highest[None]])
    sign = _signs(rung, edges)
    crossing = sign[:-1] * sign[1:] < 0.0
    found = np.full(crossing.shape, np.nan)
    piece, column = np.nonzero(crossing)
    bracket = (edges[piece, column], edges[piece + 1, column])
    found[crossing] = _bracketed_roots(rung[:, column], bracket, sign[piece + 1, column] > 0.0)
    touching = np.where((sign[1:-1] == 0.0) & (sign[:-2] != 0.0), inner, np.nan)
    return np.sort(np.concatenate([found, touching]), axis=0)


def _ends(rung: Floats) -> tuple[Whole, Whole]:
    """Return the first and the last year with a coefficient other than 0, shape (columns,)."""
    present = rung != 0.0
    return present.argmax(axis=0), rung.shape[0] - 1 - present[::-1].argmax(axis=0)


def _bounds(rung: Floats) -> tuple[Floats, Floats]:
    """Return the z below and above which there is no root, since one coefficient outweighs all others (Cauchy)."""
    first, last = _ends(rung)
    columns = np.arange(rung.shape[1])
    largest = np.abs(rung).max(axis=0)
    lowest = -np.log(2.0 + 2.0 * largest / np.abs(rung[first, columns]))
    highest = np.log(2.0 + 2.0 * largest / np.abs(rung[last, columns]))
    return lowest, highest


def _safe_powers(logarithm: Floats, ends: tuple[Whole, Whole], length: int) -> Floats:
    """Return v**year but for a factor that keeps all of them at 1 or below, shape (length, ...)."""
    years = np.arange(length, dtype=np.float64).reshape(-1, *(1,) * logarithm.ndim)
    anchor = np.where(logarithm < 0.0, ends[0], ends[1])
    return np.exp((years - anchor) * logarithm)


def _signs(rung: Floats, edges: Floats) -> Floats:
    """Return -1, 0 or 1 at each edge, shape (edges, columns); 0 where only rounding keeps the value from zero."""
    powers = _safe_powers(edges, _ends(rung), rung.shape[0])
    value = np.einsum("tn,ten->en", rung, powers)
    gross = np.einsum("tn,ten->en", np.abs(rung), powers)
    return np.where(np.abs(value) <= ROUNDING * rung.shape[0] * gross, 0.0, np.sign(value))


def _bracketed_roots(rung: Floats, bracket: tuple[Floats, Floats], rises: Truths) -> Floats:
    """Return the one root in each bracket: Newton's method where it stays inside, halving where not."""
    low, high = bracket
    sides, ends = _sides(rung), _ends(rung)
    root = 0.5 * (low + high)
    for round_number in range(LAST_ROUND):
        height, slope = _log_ratio(sides, _safe_powers(root, ends, rung.shape[0]))
        beyond = (height > 0.0) == rises
        low, high = np.where(beyond, low, root), np.where(beyond, root, high)
        proposal = root - height / slope
        trusted = (proposal >= low) & (proposal <= high) & (round_number < BISECT_FROM_ROUND)
        last, root = root, np.where(trusted, proposal, 0.5 * (low + high))
        if np.all(np.abs(root - last) <= CLOSE):
            break
    return root
