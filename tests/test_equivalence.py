"""Two one-sided tests against the smallest gain worth having."""

import math

import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import t as t_distribution

from plotworth.field.arrangement import completely_randomised
from plotworth.field.block_model import NO_ERROR_LEFT, fit
from plotworth.field.compare import differences
from plotworth.field.contrast import Contrast
from plotworth.field.equivalence import equivalence
from published_trials import fitted_trial

CLOSE = 1e-9


def _difference(estimate: float, se: float = 1.0, freedom: float = 10.0) -> Contrast:
    return Contrast("a - b", estimate, se, freedom, math.nan, math.nan, math.nan, math.nan, "")


def test_the_p_is_the_larger_of_two_one_sided_tests() -> None:
    for estimate in (-0.7, 0.0, 0.4):
        found = equivalence(_difference(estimate), limit=2.0)
        below = t_distribution.sf(estimate + 2.0, 10)  # against -limit
        above = t_distribution.cdf(estimate - 2.0, 10)  # against +limit
        assert_allclose(found.p, max(below, above), rtol=CLOSE)


def test_both_tests_pass_exactly_where_the_ninety_percent_interval_lies_inside() -> None:
    half = t_distribution.ppf(0.95, 10)
    for limit in (half + 0.5 + 1e-6, half + 0.5 - 1e-6):
        found = equivalence(_difference(0.5), limit=limit)
        assert found.shown == (found.high < limit)
        assert_allclose([found.low, found.high], [0.5 - half, 0.5 + half], rtol=CLOSE)


def test_no_difference_shown_is_not_equivalence_shown() -> None:
    # strawberry: P less E is -0.05 lb with a standard error of 0.75 (R); half a pound is not ruled out
    found = next(d for d in differences(fitted_trial("strawberry"), baseline="E") if d.label == "P - E")
    assert found.p > 0.9
    assert not equivalence(found, limit=0.5).shown
    assert equivalence(found, limit=1.5).shown


def test_without_an_interval_nothing_is_shown() -> None:
    plots = pd.DataFrame({"treatment": ["a", "b"], "y": [1.0, 2.0]})
    (alone,) = differences(fit(plots, completely_randomised("treatment"), value="y"), baseline="a")
    found = equivalence(alone, limit=5.0)
    assert (found.shown, found.reason) == (False, NO_ERROR_LEFT)


def test_a_limit_above_nothing_is_needed() -> None:
    with pytest.raises(ValueError, match="a limit above 0 is needed"):
        equivalence(_difference(0.0), limit=0.0)
