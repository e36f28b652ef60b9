"""Bins over rows of draws, and what the draws in each bin add up to: arrays in, arrays out, no model known."""

import numpy as np
from numpy.typing import NDArray

from plotworth.ground.arrays import Array

Places = NDArray[np.intp]
LOOKED_AT = 1000
"""Draws looked at for where most of a row lies."""
MOST_OF_A_ROW = (0.05, 0.95)
REACH = 0.75
"""Times the distance between these two that bins go out on either side of their middle: all of a uniform distribution,
two and a half standard deviations of a normal one. Draws further out fall into the outermost bins."""
JUST_BELOW = 1.0 - 1e-12


def bin_limits(drawn: Array) -> tuple[Array, Array]:
    """Return from where to where the bins of each row go, shapes (row,); equal ends for a row that is one number."""
    some = drawn[:, :: max(drawn.shape[1] // LOOKED_AT, 1)]
    low, high = np.quantile(some, MOST_OF_A_ROW, axis=1)
    middle, reach = (low + high) / 2.0, REACH * (high - low)
    lows, highs = middle - reach, middle + reach
    for flat in np.flatnonzero(low == high):
        lows[flat], highs[flat] = drawn[flat].min(), drawn[flat].max()
    return lows, highs


def bin_places(row: Array, low: float, high: float, *, bins: int) -> Array:
    """Return where each draw of a row lies among bins of equal width, shape (draw,), 0 up to below `bins`.

    The whole part is the number of the bin; 0 throughout where the ends are equal.
    """
    if not low < high:
        return np.zeros(row.shape)
    places = row - low
    places *= bins * JUST_BELOW / (high - low)
    return np.clip(places, 0.0, bins * JUST_BELOW, out=places)


def sums_by_bin(numbers: Places, outcomes: Array, *, bins: int) -> Array:
    """Return what each outcome adds up to in each bin, shape (outcome, bin).

    `numbers`, the bin of each draw; `outcomes`, shape (outcome, draw).
    """
    return np.array([np.bincount(numbers, one, minlength=bins) for one in outcomes])
