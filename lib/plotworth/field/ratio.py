"""The ratio of two means, with an interval that owns up when there is none.

Fieller's interval asks which ratios R the data do not contradict: those for which the mean of
y - R x does not differ from 0. Where the denominator itself may be 0 no finite interval exists,
and the reason says so. Keys: Fieller (1954) J. R. Statist. Soc. B 16:175; Cochran (1977)
*Sampling Techniques*, ch. 6; Welch (1947) Biometrika 34:28.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

NO_RATIO = "no ratio: a value is missing or the denominator's mean is 0"
NOT_DIFFERENT_FROM_ZERO = "no finite interval: the denominator does not differ from 0"
ONE_PAIR = "no finite interval: one pair only"
ONE_VALUE = "no finite interval: one value only"


@dataclass(frozen=True)
class Ratio:
    """A ratio of means.

    Attributes: ratio; low and high end of the interval, NaN where there is no finite one; standard
    error by Taylor linearisation; degrees of freedom of t; g = (t x se of the denominator's mean /
    that mean)^2, from 1 on the interval is unbounded; method in words; reason in words where the
    interval or the ratio is missing, else "".
    """

    ratio: float
    low: float
    high: float
    standard_error: float
    degrees_of_freedom: float
    g: float
    method: str
    reason: str


@dataclass(frozen=True)
class _Moments:
    """Means of numerator y and denominator x, variances and covariance of these means."""

    y: float
    x: float
    yy: float
    xx: float
    xy: float

    @property
    def ratio(self) -> float:
        return self.y / self.x if self.x != 0 else math.nan


def ratio_of_means(numerator: ArrayLike, denominator: ArrayLike, *, confidence: float = 0.95) -> Ratio:
    """Divide two means of paired values: plots, or the blocks that hold both treatments.

    Parameters: numerator y and denominator x, one value a pair, shape (n,), n at least 1; confidence
    of the two-sided interval. A missing value makes the ratio NaN: drop such pairs beforehand.

    R = mean y / mean x; se = sqrt(sum (y - R x)^2 / (n (n - 1))) / |mean x|, sampling with
    replacement; Fieller's interval with t on n - 1 degrees of freedom. Valid where the pair means
    are about normal. Errors: ValueError where the lengths differ.
    """
    y, x = _values(numerator), _values(denominator)
    if y.shape != x.shape:
        raise ValueError(f"paired values needed, found {y.size} numerators and {x.size} denominators")
    if y.size < 2:
        return _without_interval(float(y.mean()), float(x.mean()), "paired", ONE_PAIR)
    covariances = np.cov(y, x) / y.size
    moments = _moments(y, x, covariances[0, 0], covariances[1, 1], covariances[0, 1])
    residuals = y - moments.ratio * x
    variance = float(residuals @ residuals) / (y.size * (y.size - 1))
    return _fieller(moments, variance, float(y.size - 1), "paired", confidence)


def ratio_of_independent_means(numerator: ArrayLike, denominator: ArrayLike, *, confidence: float = 0.95) -> Ratio:
    """Divide the means of two independent samples of unlike size and spread.

    Parameters: numerator y, shape (n,); denominator x, shape (m,); confidence as in `ratio_of_means`.
    Fieller's interval without covariance; degrees of freedom by Welch and Satterthwaite for
    y - R x at the ratio found: (vy + R^2 vx)^2 / (vy^2 / (n - 1) + (R^2 vx)^2 / (m - 1)).
    """
    y, x = _values(numerator), _values(denominator)
    if min(y.size, x.size) < 2:
        return _without_interval(float(y.mean()), float(x.mean()), "independent samples", ONE_VALUE)
    moments = _moments(y, x, y.var(ddof=1) / y.size, x.var(ddof=1) / x.size, 0.0)
    parts = np.array([moments.yy, moments.ratio**2 * moments.xx])
    weight = float(np.sum(parts**2 / (np.array([y.size, x.size]) - 1)))
    freedom = float(parts.sum()) ** 2 / weight if weight > 0 else float(y.size + x.size - 2)
    return _fieller(moments, float(parts.sum()), freedom, "independent samples", confidence)


def ratio_of_adjusted_means(
    means: ArrayLike, covariance: ArrayLike, *, degrees_of_freedom: float, confidence: float = 0.95
) -> Ratio:
    """Divide two treatment means of a block model.

    Parameters: means, shape (2,), numerator first [one unit]; covariance of their errors, shape (2, 2)
    [unit squared]; degrees of freedom of numerator - ratio x denominator; confidence as above.
    Fieller's interval with the covariance, so that block differences shared by both do not widen it.
    """
    y, x = np.asarray(means, dtype=np.float64)
    (yy, xy), (_, xx) = np.asarray(covariance, dtype=np.float64)
    moments = _Moments(float(y), float(x), float(yy), float(xx), float(xy))
    ratio = moments.ratio
    variance = max(moments.yy - 2 * ratio * moments.xy + ratio**2 * moments.xx, 0.0)
    return _fieller(moments, variance, degrees_of_freedom, "block model", confidence)


def _values(values: ArrayLike) -> NDArray[np.float64]:
    """Return a flat float array that holds at least one value."""
    flat = np.asarray(values, dtype=np.float64).ravel()
    if flat.size == 0:
        raise ValueError("at least one value is needed on each side of a ratio")
    return flat


def _moments(y: NDArray[np.float64], x: NDArray[np.float64], yy: float, xx: float, xy: float) -> _Moments:
    """Return the moments as plain floats."""
    return _Moments(float(y.mean()), float(x.mean()), float(yy), float(xx), float(xy))


def _without_interval(y_mean: float, x_mean: float, design: str, reason: str) -> Ratio:
    """Return a ratio that one value a side allows."""
    ratio = _Moments(y_mean, x_mean, math.nan, math.nan, math.nan).ratio
    reason = reason if math.isfinite(ratio) else NO_RATIO
    return Ratio(ratio, math.nan, math.nan, math.nan, 0.0, math.nan, f"Fieller, {design}", reason)


def _fieller(moments: _Moments, variance: float, freedom: float, design: str, confidence: float) -> Ratio:
    """Solve Fieller's quadratic; `variance` is that of mean y - R mean x."""
    ratio, method = moments.ratio, f"Fieller, {design}"
    if not math.isfinite(ratio):
        return Ratio(math.nan, math.nan, math.nan, math.nan, freedom, math.nan, method, NO_RATIO)
    from scipy.stats import t

    quantile = float(t.ppf((1 + confidence) / 2, freedom))
    scale = (quantile / moments.x) ** 2
    g = scale * moments.xx
    error = math.sqrt(variance) / abs(moments.x)
    if g >= 1:
        return Ratio(ratio, math.nan, math.nan, error, freedom, g, method, NOT_DIFFERENT_FROM_ZERO)
    centre = (ratio - scale * moments.xy) / (1 - g)
    spread = variance - g * moments.yy + scale * moments.xy**2
    half = quantile * math.sqrt(max(spread, 0.0)) / (abs(moments.x) * (1 - g))
    return Ratio(ratio, centre - half, centre + half, error, freedom, g, method, "")
