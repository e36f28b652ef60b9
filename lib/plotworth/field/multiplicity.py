"""How large a difference chance alone brings about when several are looked at together.

Dunnett's probability is that of a multivariate t. Where the correlations are products of one number a
comparison - always so with one control, complete blocks and full plots - two nested one-dimensional
integrals give it to about 14 digits, without random numbers. Tukey's is the studentised range.
Keys: Dunnett (1955) J. Am. Statist. Ass. 50:1096; Dunnett & Sobel (1955) Biometrika 42:258;
Kramer (1956) Biometrics 12:307.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

NODES = 200
NORMAL_END = 9.0
TAIL = 1e-15
PRODUCT_TOLERANCE = 1e-9
LARGEST_T = 1e4
LOADING_DECIMALS = 12
SEED = 20250101
MOST_POINTS = 200_000
EXACT = "multivariate t, by quadrature"
SIMULATED = "multivariate t, by quasi-random points with a fixed seed, good to about 4 digits"


def product_structure(correlation: ArrayLike) -> Floats | None:
    """Return l with r_ij = l_i l_j for i other than j, shape (m,); None where there is none below 1."""
    r = np.asarray(correlation, dtype=np.float64)
    if len(r) == 1:
        return np.zeros(1)
    if len(r) == 2:
        root = math.sqrt(abs(r[0, 1]))
        return np.array([root, math.copysign(root, r[0, 1])])
    found = np.array([_loading(r, i) for i in range(len(r))])
    found = np.where(r[0] < 0, -found, found)
    misfit = np.abs(np.outer(found, found) - r)[~np.eye(len(r), dtype=np.bool_)]
    return found if np.all(misfit < PRODUCT_TOLERANCE) and np.all(np.abs(found) < 1) else None


def _loading(r: Floats, i: int) -> float:
    """Return sqrt(r_ij r_ik / r_jk) from the first two others."""
    j, k = [other for other in range(len(r)) if other != i][:2]
    product = r[i, j] * r[i, k]
    return math.sqrt(max(product / r[j, k], 0.0)) if r[j, k] != 0 else 0.0


def dunnett_p(t: float, correlation: ArrayLike, degrees_of_freedom: float) -> float:
    """Return the chance that the largest of m |t| with this correlation, shape (m, m), passes |t|."""
    loadings = product_structure(correlation)
    if loadings is None:
        return _simulated_p(abs(t), np.asarray(correlation, dtype=np.float64), degrees_of_freedom)
    return _beyond(abs(t), loadings, degrees_of_freedom)


def dunnett_method(correlation: ArrayLike) -> str:
    """Return in words how the probability of these correlations is worked out."""
    return SIMULATED if product_structure(correlation) is None else EXACT


def dunnett_critical(correlation: ArrayLike, degrees_of_freedom: float, *, confidence: float = 0.95) -> float:
    """Return the |t| that the largest of m comparisons passes with chance 1 - confidence."""
    return _root(lambda t: dunnett_p(t, correlation, degrees_of_freedom), 1 - confidence)


def tukey_p(t: float, means: int, degrees_of_freedom: float) -> float:
    """Return the chance that the range of so many means passes |t| of the difference of two."""
    from scipy.stats import studentized_range

    return float(studentized_range.sf(abs(t) * math.sqrt(2), means, degrees_of_freedom))


def tukey_critical(means: int, degrees_of_freedom: float, *, confidence: float = 0.95) -> float:
    """Return the |t| of a difference that Tukey's test of so many means asks for."""
    return _root(lambda t: tukey_p(t, means, degrees_of_freedom), 1 - confidence)


def _root(chance: Callable[[float], float], wanted: float) -> float:
    """Return where a falling chance meets the wanted one."""
    from scipy.optimize import brentq

    upper = 4.0
    while chance(upper) > wanted and upper < LARGEST_T:
        upper *= 2
    return float(brentq(lambda t: chance(t) - wanted, 0.0, upper, xtol=1e-12, rtol=1e-13))


def _beyond(t: float, loadings: Floats, freedom: float) -> float:
    """Return 1 - P(all |t_i| <= t) = E over s, z of 1 - product of (1 - tails of comparison i).

    t_i = (sqrt(1 - l_i^2) e_i + l_i z) / s with s^2 = chi2 / freedom. Tails are added up as
    logarithms of 1 - tail, so that small chances keep their digits; equal loadings are worked out once.
    """
    z, z_weight = _nodes(-NORMAL_END, NORMAL_END)
    s, s_weight = _scale_nodes(freedom)
    density = np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    distinct, counts = np.unique(loadings.round(LOADING_DECIMALS), return_counts=True)
    bound = t * s[:, None]
    inside = sum(n * _log_inside(bound, z[None, :], load) for load, n in zip(distinct, counts, strict=True))
    return float(s_weight @ (-np.expm1(inside) @ (z_weight * density)))


def _log_inside(bound: Floats, z: Floats, loading: float) -> Floats:
    """Return log P(|sqrt(1 - l^2) e + l z| <= bound)."""
    from scipy.special import ndtr

    width = math.sqrt(1 - loading**2)
    tails = ndtr((-bound - loading * z) / width) + ndtr((-bound + loading * z) / width)
    return np.asarray(np.log1p(-np.minimum(tails, 1.0 - TAIL)))


def _scale_nodes(freedom: float) -> tuple[Floats, Floats]:
    """Return nodes of s = sqrt(chi2 / freedom) and their weights with the density."""
    from scipy.stats import chi2

    ends = np.sqrt(np.array([chi2.ppf(TAIL, freedom), chi2.isf(TAIL, freedom)]) / freedom)
    s, weight = _nodes(float(ends[0]), float(ends[1]))
    return s, np.asarray(weight * 2 * s * freedom * chi2.pdf(freedom * s**2, freedom))


def _nodes(low: float, high: float) -> tuple[Floats, Floats]:
    """Return Gauss-Legendre nodes and weights between two ends."""
    x, weight = np.polynomial.legendre.leggauss(NODES)
    half = (high - low) / 2
    return half * x + (low + high) / 2, half * weight


def _simulated_p(t: float, correlation: Floats, freedom: float) -> float:
    """Return the same chance for any correlation, by scipy's quasi-random integration."""
    from scipy.stats import multivariate_t

    ends = np.full(len(correlation), t)
    inside = multivariate_t.cdf(
        ends, shape=correlation, df=freedom, lower_limit=-ends, maxpts=MOST_POINTS, random_state=SEED
    )
    return float(1 - inside)
