"""What it would be worth to know: closed forms, nested simulation by brute force, certainty."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from plotworth.choose.information_value import information_values, perfect_information_value, season_value

SIX = 6.0
BIN_LOSS = 0.02
"""Part of a value that is lost where a bin straddles the point at which the best system changes."""


def unit_loss(mean, deviation):
    """Return E[max(X, 0)] - max(mean, 0) for a normal X: deviation x phi(z) - |mean| Phi(-z) (Raiffa and Schlaifer)."""
    z = abs(mean) / deviation
    return deviation * stats.norm.pdf(z) - abs(mean) * stats.norm.cdf(-z)


@pytest.mark.parametrize("mean", [0.0, 0.7, -1.5])
@pytest.mark.parametrize("draws", [4_096, 100_000])
def test_two_systems_on_normal_rows_have_the_normal_loss(mean, draws) -> None:
    x, y, luck = np.random.default_rng(1).standard_normal((3, draws))
    outcomes = np.array([np.full(draws, 10.0), 10.0 + mean + 2.0 * x + 1.0 * y + 3.0 * luck])
    of_x, of_y = information_values(np.array([x, y]), outcomes)
    for found, deviation in ((of_x, 2.0), (of_y, 1.0)):
        known = unit_loss(mean, deviation)
        assert abs(found.value - known) < SIX * found.error + BIN_LOSS * known, (mean, deviation)
    everything = perfect_information_value(outcomes)
    assert abs(everything.value - unit_loss(mean, np.sqrt(14.0))) < SIX * everything.error


def test_a_value_agrees_with_nested_simulation_by_brute_force() -> None:
    """Three systems, curved and crossing, two rows and luck: the inner mean taken over 4,000 draws at 400 points."""

    def outcomes_at(x, y, luck):
        return np.array([4.0 * x + 0.0 * luck, 1.0 + np.sin(3.0 * y) + luck, 2.0 - x * y + 0.5 * luck])

    generator = np.random.default_rng(2)
    x, y, luck = generator.random(50_000), generator.random(50_000), generator.standard_normal(50_000)
    outcomes = outcomes_at(x, y, luck)
    of_x, of_y = information_values(np.array([x, y]), outcomes)
    inner_y, inner_luck = generator.random(4_000), generator.standard_normal(4_000)
    outer = (np.arange(400) + 0.5) / 400
    by_x = np.array([outcomes_at(one, inner_y, inner_luck).mean(axis=1) for one in outer])
    by_y = np.array([outcomes_at(inner_y, one, inner_luck).mean(axis=1) for one in outer])
    for found, means in ((of_x, by_x), (of_y, by_y)):
        nested = means.max(axis=1).mean() - means.mean(axis=0).max()
        # inner means of 4,000 draws: errors of about 1 / 60 in a mean, of which half reaches the value
        assert abs(found.value - nested) < SIX * found.error + 0.02, nested


def test_with_certainty_nothing_is_worth_knowing() -> None:
    outcomes = np.array([np.full(5_000, 3.0), np.full(5_000, 2.0)])
    (found,) = information_values(np.full((1, 5_000), 7.0), outcomes)
    assert (found.value, found.error) == (0.0, 0.0)
    assert perfect_information_value(outcomes).value == 0.0


def test_a_row_that_moves_nothing_is_worth_nothing_beyond_noise() -> None:
    generator = np.random.default_rng(3)
    worth = [
        information_values(generator.random((1, 4_096)), generator.standard_normal((2, 4_096)))[0] for _ in range(200)
    ]
    values, errors = np.array([one.value for one in worth]), np.array([one.error for one in worth])
    assert (values >= 0.0).all()
    assert (values < SIX * errors + 1e-12).all()
    # two systems tied: choosing by bins of noise would show sqrt(32 / (4096 pi)) = 0.05; what is left is under a tenth
    assert values.mean() < 0.01


def test_where_one_system_is_best_whatever_the_row_knowing_it_is_worth_exactly_nothing() -> None:
    x = np.random.default_rng(4).random(4_096)
    (found,) = information_values(x[None], np.array([x, x - 2.0]))
    assert (found.value, found.error) == (0.0, 0.0)


def test_the_error_told_is_that_of_repeated_draws() -> None:
    generator = np.random.default_rng(5)
    found = []
    for _ in range(200):
        x, luck = generator.standard_normal((2, 4_096))
        found.append(information_values(x[None], np.array([np.zeros(4_096), x + luck]))[0])
    spread = np.std([one.value for one in found])
    # errors from ten tenths each, themselves off by a quarter; what is decided anew from run to run is not in them
    assert_allclose(np.mean([one.error for one in found]), spread, rtol=0.3)
    assert_allclose(np.mean([one.value for one in found]), unit_loss(0.0, 1.0), rtol=0.02)


def test_knowing_a_part_is_never_worth_more_than_knowing_all() -> None:
    generator = np.random.default_rng(6)
    x = generator.random((4, 20_000))
    outcomes = np.array([x[0] + x[1], 2.0 * x[2] * x[3] + 0.4, np.full(20_000, 0.9)])
    everything = perfect_information_value(outcomes)
    for one in information_values(x, outcomes):
        assert one.value <= everything.value + SIX * (one.error + everything.error)


def test_an_npv_that_is_not_known_leaves_the_value_unknown() -> None:
    outcomes = np.array([np.full(1_000, np.nan), np.ones(1_000)])
    (found,) = information_values(np.random.default_rng(7).random((1, 1_000)), outcomes)
    assert np.isnan(found.value)
    assert np.isnan(perfect_information_value(outcomes).value)


@pytest.mark.parametrize("seasons", [1, 3])
@pytest.mark.parametrize("mean", [0.0, 0.5])
def test_one_more_season_is_worth_what_the_normal_preposterior_says(seasons, mean) -> None:
    """NPV apart = mean + 2 x: after n + 1 seasons one's belief of x varies by 1 / (n + 1)."""
    x, luck = np.random.default_rng(8).standard_normal((2, 200_000))
    outcomes = np.array([np.zeros(x.size), mean + 2.0 * x + luck])
    found = season_value(x[None], outcomes, seasons=seasons)
    known = unit_loss(mean, 2.0 / np.sqrt(seasons + 1.0))
    assert abs(found.value - known) < SIX * found.error + 0.01 * known


def test_one_more_season_agrees_with_trials_simulated_and_believed_by_bayes() -> None:
    """Prior of x from two seasons; a third is drawn with its error, the two are weighed, the best is chosen."""
    generator = np.random.default_rng(9)
    prior, seasons, gain, mean = 1.0, 2, 3.0, 0.4
    x = generator.normal(0.0, prior, 400_000)
    season = x + generator.normal(0.0, prior * np.sqrt(seasons), x.size)  # one season's error variance: n x the mean's
    believed = season / (1.0 + seasons)  # weight of one season beside n
    simulated = np.maximum(mean + gain * believed, 0.0).mean() - max(mean, 0.0)
    found = season_value(x[None], np.array([np.zeros(x.size), mean + gain * x]), seasons=seasons)
    assert_allclose(found.value, simulated, atol=SIX * found.error + 0.01)


def test_a_case_without_a_trial_has_no_season_to_add() -> None:
    found = season_value(np.empty((0, 1_000)), np.random.default_rng(1).random((2, 1_000)), seasons=1)
    assert (found.value, found.error) == (0.0, 0.0)
