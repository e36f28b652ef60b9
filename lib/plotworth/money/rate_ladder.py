"""Every root of a stream's net present value in z = log v: what `rates` falls back on where one is not certain.

Multiplying the coefficients by (year - m) is, but for a positive factor, differentiation in z; with m put at a
change of sign it removes that change. Down to one change there is one root; going up again, the roots of each rung
part the line into pieces on which the next rung rises or falls only, so that a piece holds a root exactly where its
ends differ in sign, and a root without a crossing (a double root) stands where an extremum is zero.

Roots closer than rounding can tell apart are one root. Columns of shape (T+1, columns), year axis first.
"""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]

DUST = 1e-13  # flows below this share of the largest are rounding left-overs
ROUNDING = 8 * np.finfo(np.float64).eps  # of the gross present value, for each year: a value below it is zero
CLOSE = 1e-12  # a bracketed root is taken when a step in z is below this
BISECT_FROM_ROUND = 30  # Newton inside a bracket gives way to halving it
LAST_ROUND = BISECT_FROM_ROUND + 70  # seventy halvings take any bracket down to rounding


def without_dust(flows: Floats) -> Floats:
    """Return each column with left-overs of rounding as 0; all 0 if a flow is not finite."""
    size = np.abs(flows)
    least = size.max(axis=0) * DUST
    if np.all(size.min(axis=0) > least):
        return flows
    return np.where((size > least) & np.isfinite(least), flows, 0.0)


def _scaled(flows: Floats) -> Floats:
    """Return each column over its largest flow; a column of nothing stays 0."""
    largest = np.abs(flows).max(axis=0)
    return flows / np.where(largest > 0.0, largest, 1.0)


def in_and_out(coefficients: Floats) -> Floats:
    """Return inflows and outflows, both as amounts of zero or more, shape (T+1, 2, columns)."""
    sides = np.empty((coefficients.shape[0], 2, coefficients.shape[1]))
    np.maximum(coefficients, 0.0, out=sides[:, 0])
    np.subtract(sides[:, 0], coefficients, out=sides[:, 1])
    return sides


def ladder_roots(flows: Floats) -> Floats:
    """Return log v of every distinct root of each column, ascending, shape (most roots, columns), NaN padded."""
    stream = _scaled(without_dust(flows))
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


def log_ratio_of_powers(sides: Floats, powers: Floats) -> tuple[Floats, Floats]:
    """Return the same from the powers of v, which may all be off by one factor."""
    years = np.arange(powers.shape[0], dtype=np.float64)
    value = np.einsum("tsn,tn->sn", sides, powers)
    timed = np.einsum("tsn,tn->sn", sides, powers * years[:, None])
    timed /= value
    return np.log(value[0] / value[1]), timed[0] - timed[1]


def _bracketed_roots(rung: Floats, bracket: tuple[Floats, Floats], rises: Truths) -> Floats:
    """Return the one root in each bracket: Newton's method where it stays inside, halving where not."""
    low, high = bracket
    sides, ends = in_and_out(rung), _ends(rung)
    root = 0.5 * (low + high)
    for round_number in range(LAST_ROUND):
        height, slope = log_ratio_of_powers(sides, _safe_powers(root, ends, rung.shape[0]))
        beyond = (height > 0.0) == rises
        low, high = np.where(beyond, low, root), np.where(beyond, root, high)
        proposal = root - height / slope
        trusted = (proposal >= low) & (proposal <= high) & (round_number < BISECT_FROM_ROUND)
        last, root = root, np.where(trusted, proposal, 0.5 * (low + high))
        if np.all(np.abs(root - last) <= CLOSE):
            break
    return root
