"""Shares of variance against the Ishigami function's known values, closed forms and scipy's own indices."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from plotworth.choose.variance_shares import first_order_shares, sobol_indices

A, B = 7.0, 0.1
DRAWS = 2**16
SIX = 6.0
"""Standard errors within which a right estimate lies but for two draws in a billion; seeds are fixed."""
BIN_LOSS = 0.01
"""Part of a smooth row's share that bins hide: the spread within a bin and beyond the outermost."""
WAVY_BIN_LOSS = 0.03
"""The same of sin^2 over two waves in 21 bins of width w = 0.30: 1 - (sin w / w)^2."""


def ishigami(uniforms):
    """Ishigami and Homma (1990): sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1, x uniform from -pi to pi."""
    x1, x2, x3 = np.pi * (2.0 * uniforms - 1.0)
    return np.sin(x1) + A * np.sin(x2) ** 2 + B * x3**4 * np.sin(x1)


def known_indices():
    """Return first and total order indices in closed form (Saltelli et al. 2008, Global Sensitivity Analysis)."""
    p4, p8 = np.pi**4, np.pi**8
    v1, v2 = (1 + B * p4 / 5) ** 2 / 2, A**2 / 8
    v13 = B**2 * p8 * (1 / 18 - 1 / 50)
    whole = v1 + v2 + v13
    return np.array([v1, v2, 0.0]) / whole, np.array([v1 + v13, v2, v13]) / whole


def test_the_closed_form_gives_the_printed_indices() -> None:
    # S1 = 0.3139, S2 = 0.4424, S3 = 0; totals 0.5576, 0.4424, 0.2437: as printed for a = 7, b = 0.1, from memory
    first, total = known_indices()
    assert_allclose(first, [0.3139, 0.4424, 0.0], atol=5e-5)
    assert_allclose(total, [0.5576, 0.4424, 0.2437], atol=5e-5)


@pytest.fixture(scope="module")
def indices():
    return sobol_indices(ishigami, [[0], [1], [2]], draws=DRAWS, seed=4)


def test_pick_and_freeze_finds_the_known_indices(indices) -> None:
    first, total = known_indices()
    assert (np.abs(indices.first - first) < SIX * indices.first_error + 1e-12).all()
    assert (np.abs(indices.total - total) < SIX * indices.total_error + 1e-12).all()
    assert indices.first_error.max() < 0.02  # 65,536 draws of terms of about 1: under 1 / 250 x a few


def test_pick_and_freeze_agrees_with_scipy(indices) -> None:
    def function(x):
        return ishigami(x)

    other = stats.sobol_indices(func=function, n=DRAWS, dists=[stats.uniform()] * 3)
    # both within a hundredth of the known values at this number of draws
    assert_allclose(indices.first, other.first_order, atol=0.02)
    assert_allclose(indices.total, other.total_order, atol=0.02)


def test_a_group_of_rows_has_one_index_of_its_own() -> None:
    _, total = known_indices()
    grouped = sobol_indices(ishigami, [[0, 2], [1]], draws=DRAWS, seed=4)
    # x1 and x3 together are all but x2, which interacts with neither: first = total = 1 - S2
    assert_allclose(grouped.first, [1 - total[1], total[1]], atol=SIX * grouped.first_error.max())
    assert_allclose(grouped.total, [1 - total[1], total[1]], atol=SIX * grouped.total_error.max())


def test_shares_from_given_draws_find_the_known_first_order_indices() -> None:
    uniforms = np.random.default_rng(5).random((3, 100_000))
    found = first_order_shares(uniforms, ishigami(uniforms))
    first, _ = known_indices()
    assert (np.abs(found.first - first) < SIX * found.error + WAVY_BIN_LOSS * first).all()


@pytest.mark.parametrize("draws", [300, 2_000])
def test_bins_of_noise_alone_show_no_share_on_average(draws) -> None:
    generator = np.random.default_rng(6)
    noise = first_order_shares(generator.random((400, draws)), generator.standard_normal(draws))
    # 400 rows that tell nothing: their mean share lies within six of its own standard errors of 0
    assert abs(noise.first.mean()) < SIX * noise.first.std() / np.sqrt(400)
    assert_allclose(noise.first.std(), noise.error.mean(), rtol=0.3)  # an error of an error, and of bounded skew


def test_the_standard_error_is_that_of_repeated_draws() -> None:
    generator = np.random.default_rng(7)
    found = []
    for _ in range(300):
        x = generator.standard_normal((1, 2_000))
        found.append(first_order_shares(x, x[0] + generator.standard_normal(2_000)))
    shares = np.array([one.first[0] for one in found])
    # share 1 / 2 by the sum of two standard normals; bins hide up to a hundredth of it
    assert_allclose(shares.mean(), 0.5, atol=BIN_LOSS)
    assert_allclose(shares.std(), np.mean([one.error[0] for one in found]), rtol=0.2)


def test_correlated_rows_both_show_what_they_tell() -> None:
    """Rows z and r z + sqrt(1 - r^2) e with the outcome z: shares 1 and r^2, their sum above 1."""
    generator, r = np.random.default_rng(8), 0.8
    z, e = generator.standard_normal((2, 50_000))
    found = first_order_shares(np.array([z, r * z + np.sqrt(1 - r**2) * e]), z)
    assert_allclose(found.first, [1.0, r**2], atol=0.015)  # bins two standard deviations wide out, and 50,000 draws


def test_a_row_of_one_number_and_an_outcome_of_one_number_are_told_apart() -> None:
    generator = np.random.default_rng(9)
    outcome = generator.random(1_000)
    assert first_order_shares(np.ones((1, 1_000)), outcome).first[0] == 0.0
    assert np.isnan(first_order_shares(generator.random((2, 1_000)), np.ones(1_000)).first).all()
    assert np.isnan(first_order_shares(generator.random((2, 1_000)), np.full(1_000, np.nan)).first).all()
    assert first_order_shares(np.empty((0, 1_000)), outcome).first.shape == (0,)


def test_rare_counts_have_their_share() -> None:
    """A row that is 0 in nine draws of ten and 1 in the others, alone: all of the variance."""
    row = (np.random.default_rng(10).random(10_000) < 0.03).astype(float)
    assert_allclose(first_order_shares(row[None], 5.0 * row).first, [1.0], rtol=1e-9)


def test_the_order_of_rows_and_how_many_there_are_changes_no_share() -> None:
    generator = np.random.default_rng(11)
    rows = generator.random((5, 3_000))
    outcome = rows[0] + rows[3] ** 2
    whole = first_order_shares(rows, outcome).first
    assert_allclose(first_order_shares(rows[::-1], outcome).first[::-1], whole, rtol=1e-9, atol=1e-12)
    assert_allclose(first_order_shares(rows[3:4], outcome).first, whole[3:4], rtol=1e-9)
