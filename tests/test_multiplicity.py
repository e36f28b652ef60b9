"""Chances of the largest of several comparisons: one-dimensional cases, other routes, other programs."""

import math

import numpy as np
from numpy.testing import assert_allclose
from scipy.special import ndtr
from scipy.stats import t as t_distribution

from plotworth.field.multiplicity import (
    EXACT,
    SIMULATED,
    dunnett_critical,
    dunnett_method,
    dunnett_p,
    product_structure,
    tukey_critical,
    tukey_p,
)

CLOSE = 1e-9
SIMULATION = 2e-3  # scipy's quasi-random integration of the same chance, about 1e-4 absolute


def _correlation(comparisons: int, share: float = 0.5) -> np.ndarray:
    return np.full((comparisons, comparisons), share) + (1 - share) * np.eye(comparisons)


def test_one_comparison_is_the_plain_t_test() -> None:
    for freedom in (2, 8, 7.3, 200):
        want = 2 * t_distribution.sf(2.1, freedom)
        assert_allclose(dunnett_p(2.1, np.eye(1), freedom), want, rtol=CLOSE)
        assert_allclose(dunnett_critical(np.eye(1), freedom), t_distribution.ppf(0.975, freedom), rtol=CLOSE)


def test_two_means_make_tukey_the_plain_t_test() -> None:
    assert_allclose(tukey_p(-2.1, 2, 8), 2 * t_distribution.sf(2.1, 8), rtol=CLOSE)
    assert_allclose(tukey_critical(2, 8), t_distribution.ppf(0.975, 8), rtol=CLOSE)


def test_quadrature_agrees_with_quasi_random_points() -> None:
    from scipy.stats import multivariate_t

    r, ends = _correlation(4), np.full(4, 2.3)
    inside = multivariate_t.cdf(ends, shape=r, df=12, lower_limit=-ends, maxpts=200_000, random_state=1)
    assert_allclose(dunnett_p(2.3, r, 12), 1 - inside, rtol=SIMULATION)


def test_tukeys_chance_agrees_with_a_double_integral_written_out() -> None:
    """1 - E over s of k times the integral of phi(z) (Phi(z) - Phi(z - q s))^(k - 1), by Gauss-Legendre."""
    from scipy.stats import chi2, norm

    k, freedom, t = 8, 21, 3.2
    x, w = np.polynomial.legendre.leggauss(200)
    z, top = 9 * x, math.sqrt(chi2.isf(1e-15, freedom) / freedom)
    s = (x + 1) * top / 2
    rest = (ndtr(z) - ndtr(z[None, :] - t * math.sqrt(2) * s[:, None])) ** (k - 1)
    inside = k * rest @ (9 * w * norm.pdf(z))
    density = 2 * s * freedom * chi2.pdf(freedom * s**2, freedom) * w * top / 2
    assert_allclose(tukey_p(t, k, freedom), density @ (1 - inside), rtol=CLOSE)


def test_chances_fall_as_t_grows_and_rise_with_comparisons() -> None:
    p = [dunnett_p(t, _correlation(3), 10) for t in (0.0, 1.0, 2.0, 4.0, 40.0)]
    assert_allclose(p[0], 1.0, rtol=CLOSE)
    assert p == sorted(p, reverse=True)
    assert dunnett_p(2.0, _correlation(5), 10) > p[2] > 2 * t_distribution.sf(2.0, 10)


def test_unequal_plots_still_have_a_product_structure() -> None:
    # control on 8 plots, others on 4 and 2: r_ij = l_i l_j with l_i^2 = n_i / (n_i + 8)
    n = np.array([4.0, 2.0, 4.0])
    want = np.sqrt(n / (n + 8))
    r = np.where(np.eye(3) == 1, 1.0, np.outer(want, want))
    assert_allclose(product_structure(r), want, rtol=CLOSE)
    assert dunnett_method(r) == EXACT


def test_other_correlations_are_integrated_by_quasi_random_points_and_say_so() -> None:
    r = _correlation(4)
    r[0, 1] = r[1, 0] = 0.2
    assert product_structure(r) is None
    assert dunnett_method(r) == SIMULATED
    p = dunnett_p(2.3, r, 12)
    assert p == dunnett_p(2.3, r, 12)  # seeded
    assert dunnett_p(2.3, _correlation(4), 12) < p < dunnett_p(2.3, _correlation(4, 0.2), 12)
    assert_allclose(dunnett_p(dunnett_critical(r, 12), r, 12), 0.05, atol=1e-6)  # the root of a smooth seeded curve


def test_two_comparisons_of_opposite_sign_are_as_good_as_of_one() -> None:
    assert_allclose(dunnett_p(2.0, _correlation(2, -0.5), 9), dunnett_p(2.0, _correlation(2), 9), rtol=CLOSE)


def test_a_comparison_turned_round_is_the_same_comparison() -> None:
    r = _correlation(3)
    turned = np.array([-1.0, 1.0, 1.0])
    assert dunnett_method(r * np.outer(turned, turned)) == EXACT
    assert_allclose(dunnett_p(2.0, r * np.outer(turned, turned), 9), dunnett_p(2.0, r, 9), rtol=CLOSE)
