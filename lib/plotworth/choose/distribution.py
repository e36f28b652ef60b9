"""What draws say of a number or of a chance: percentiles, mean, and how far more draws would still move them."""

import math
from dataclasses import dataclass

import numpy as np

from plotworth.ground.arrays import Array

PERCENTS = (10.0, 50.0, 90.0)
WANTED_ERROR = 0.01
"""Standard error of a chance at which it is called known: one point in a hundred, so that 95 % lies within two."""
FEWEST_DRAWS = 100


@dataclass(frozen=True)
class Distribution:
    """Draws of one number in its unit: percentiles, mean, standard deviation, standard error of the mean.

    The standard error is that of independent draws; quasi-random points come as near or nearer.
    """

    p10: float
    p50: float
    p90: float
    mean: float
    standard_deviation: float
    standard_error: float


@dataclass(frozen=True)
class Chance:
    """A share of so many draws [share] and its standard error; NaN where the number drawn is not known."""

    share: float
    standard_error: float
    draws: int

    @property
    def draws_needed(self) -> int:
        """How many draws bring the standard error to one point in a hundred: p (1 - p) / 0.01^2, at least 100."""
        if math.isnan(self.share):
            return 0
        return max(math.ceil(self.share * (1.0 - self.share) / WANTED_ERROR**2), FEWEST_DRAWS)


def distribution(draws: Array) -> Distribution:
    """Return what draws, shape (draw,), say of a number; NaN throughout where one of them is NaN."""
    deviation = float(draws.std(ddof=1)) if len(draws) > 1 else math.nan
    low, middle, high = (float(q) for q in np.percentile(draws, PERCENTS))
    return Distribution(low, middle, high, float(draws.mean()), deviation, deviation / math.sqrt(len(draws)))


def chance_below_zero(draws: Array) -> Chance:
    """Return the chance that a number lies below 0, from draws of shape (draw,)."""
    return _chance(draws, draws < 0)


def chance_above_zero(draws: Array) -> Chance:
    """Return the chance that a number lies above 0, from draws of shape (draw,)."""
    return _chance(draws, draws > 0)


def _chance(draws: Array, happened: np.typing.NDArray[np.bool_]) -> Chance:
    if np.isnan(draws).any():
        return Chance(math.nan, math.nan, len(draws))
    share = float(happened.mean())
    return Chance(share, math.sqrt(share * (1.0 - share) / len(draws)), len(draws))


def running_means(draws: Array, counts: Array) -> tuple[Array, Array]:
    """Return the mean of the first n draws and its standard error, for each n of `counts` (2 or more)."""
    places = counts.astype(np.int64) - 1
    sums, squares = np.cumsum(draws)[places], np.cumsum(draws**2)[places]
    means = sums / counts
    variances = np.maximum(squares - counts * means**2, 0.0) / (counts - 1.0)
    return means, np.sqrt(variances / counts)
