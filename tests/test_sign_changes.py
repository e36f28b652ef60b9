"""Sign changes of made-up functions whose roots are known by arithmetic: one, several, at steps, touching."""

from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose

from plotworth.choose.coarse_signs import coarse_signs
from plotworth.choose.sign_changes import Signs, Stretch, signs_along

GROSS = 100.0


def found(function, *ends: float) -> Signs:
    """Return the signs of a function over neighbouring stretches with these ends."""

    def compare(_which, points):
        return np.array([function(x) for x in points]), np.full(len(points), GROSS)

    stretches = [Stretch(0, low, high) for low, high in pairwise(ends)]
    return signs_along(compare, stretches)[0]


def places(signs: Signs) -> list[float]:
    return [one.at for one in signs.changes]


@pytest.mark.parametrize(
    ("function", "roots"),
    [
        (lambda x: x - 3.0, [3.0]),
        (lambda x: (x - 2.0) * (x - 2.001) * (x - 7.0), [2.0, 2.001, 7.0]),  # two roots between any two of the samples
        (lambda x: np.sin(x), [np.pi, 2 * np.pi, 3 * np.pi]),
        (lambda x: 1.0 / x - 0.2, [5.0]),  # a pole just outside of the range
        (lambda x: (x - 4.0) ** 2 + 1e-6, []),  # nearly touches 0
        (lambda x: (x - 4.0) ** 2, []),  # touches it: no change
        (lambda x: abs(x - 4.3) - 1.0, [3.3, 5.3]),  # a kink that no edge tells
        (lambda x: 5.0 + x, []),
    ],
)
def test_all_roots_of_a_function_are_found_and_nothing_else(function, roots) -> None:
    signs = found(function, 0.01, 10.0)
    assert_allclose(places(signs), roots, rtol=1e-9)
    assert not any(one.is_step for one in signs.changes)
    assert all(one.left_over < 1e-9 for one in signs.changes)


def test_signs_before_and_after_follow_each_other() -> None:
    signs = found(np.sin, 0.01, 10.0)
    assert (signs.first, [one.after for one in signs.changes]) == (1, [-1, 1, -1])
    assert_allclose([one.slope for one in signs.changes], [-1.0, 1.0, -1.0], rtol=1e-9)


def test_a_jump_over_zero_at_an_edge_is_a_step_and_a_jump_on_one_side_is_nothing() -> None:
    """3 - x below 5 with a fall of 4 at 2: from 1 to -3; 2.5 - x + 10 above 5 jumps back up."""
    signs = found(lambda x: 3.0 - x - 4.0 * (x > 2.0) + 10.0 * (x > 5.0), 0.0, 2.0, np.nextafter(2.0, 3.0), 4.0)
    assert [(one.at, one.is_step, one.after) for one in signs.changes] == [(np.nextafter(2.0, 3.0), True, -1)]
    assert found(lambda x: 30.0 - x - 4.0 * (x > 2.0), 0.0, 2.0, np.nextafter(2.0, 3.0), 4.0).changes == ()


def test_a_jump_that_no_edge_tells_is_closed_in_to_rounding() -> None:
    (one,) = found(lambda x: 1.0 if x < np.pi else -2.0, 0.0, 10.0).changes
    assert one.is_step
    assert_allclose(one.at, np.pi, rtol=1e-11)


def test_a_function_that_is_not_smooth_at_0_is_followed_to_its_end() -> None:
    """The root of x^0.3 - 0.5 is 0.5^(1/0.3); no polynomial tells a power below 1 at 0."""
    (one,) = found(lambda x: x**0.3 - 0.5, 0.0, 1.0).changes
    assert_allclose(one.at, 0.5 ** (1 / 0.3), rtol=1e-9)


def test_a_root_on_the_border_of_two_stretches_counts_once() -> None:
    signs = found(lambda x: x - 2.0, 0.0, 2.0, 4.0)
    assert_allclose(places(signs), [2.0])
    assert not signs.changes[0].is_step


def test_no_difference_at_all_is_no_change_and_a_gap_is_not_known() -> None:
    assert found(lambda _x: 0.0, 1.0, 2.0) == Signs(0, ())
    assert found(lambda _x: np.nan, 1.0, 2.0) == Signs(None, ())


def test_the_other_sign_has_the_same_roots_to_the_last_digit() -> None:
    def cubic(x: float) -> float:
        return (x - 1.1) * (x - 2.2) * (x - 9.3)

    assert places(found(cubic, 0.0, 10.0)) == places(found(lambda x: -cubic(x), 0.0, 10.0))


def compare_on_grid(function):
    return lambda _which, points: (np.array([function(x) for x in points]), np.full(len(points), GROSS))


def test_a_grid_finds_ties_steps_and_whole_days() -> None:
    """x^2 - 2 passes 0; a fall at pi jumps; of whole days 4 is the first above 3.5."""
    (tie,) = coarse_signs(compare_on_grid(lambda x: x * x - 2.0), 0, 0.0, 4.0, is_whole=False).changes
    assert not tie.is_step
    assert_allclose(tie.at, np.sqrt(2.0), atol=0.5 / 2**16)  # a grid step of 0.5 halved 16 times
    (step,) = coarse_signs(compare_on_grid(lambda x: 1.0 if x < np.pi else -1.0), 0, 0.0, 4.0, is_whole=False).changes
    assert step.is_step
    (day,) = coarse_signs(compare_on_grid(lambda x: x - 3.5), 0, 0.5, 9.0, is_whole=True).changes
    assert (day.at, day.is_step, day.after) == (4.0, True, 1)


def test_a_grid_says_what_is_the_same_and_what_is_not_known() -> None:
    assert coarse_signs(compare_on_grid(lambda _x: 0.0), 0, 0.0, 4.0, is_whole=False) == Signs(0, ())
    assert coarse_signs(compare_on_grid(lambda _x: np.nan), 0, 0.0, 4.0, is_whole=False) == Signs(None, ())
    assert coarse_signs(compare_on_grid(lambda x: x), 0, 1.2, 1.4, is_whole=True) == Signs(None, ())
