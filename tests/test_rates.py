"""Rates of return: published values, an exact count of roots, hard cases, and what must not matter."""

import warnings
from fractions import Fraction
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import numpy_financial
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.money import rates
from plotworth.money.measures import discount_factors, present_value
from plotworth.money.rates import all_rates_of_return, internal_rate_of_return

CONVENTIONAL = (-5200, 640, 910, 1180, 1225, 1240, 1190, 1260, 1275, 1280, 1755)
CONVENTIONAL_RATE = 0.1649162881235541  # tests/published/money_spreadsheet.csv, mpmath

whole_streams = st.lists(st.integers(-60, 60), min_size=2, max_size=9)
hundredths = st.integers(-30_000, 90_000).map(lambda amount: amount / 100)
farm_streams = st.tuples(st.integers(100, 5000), st.lists(hundredths, min_size=3, max_size=20)).map(
    lambda parts: [-float(parts[0]), *parts[1]]
)


def stream_with_rates(*chosen: float, rest: tuple[float, ...] = (1.0,)) -> npt.NDArray[np.float64]:
    """Return flows whose rates are the chosen ones: the product of ((1 + rate) v - 1) and a factor without roots."""
    flows = np.array(rest)
    for rate in chosen:
        flows = np.convolve(flows, [-1.0, 1.0 + rate])
    return flows


def remainder(dividend: list[Fraction], divisor: list[Fraction]) -> list[Fraction]:
    """Return the remainder of polynomial division, highest power first, without leading zeros."""
    left = list(dividend)
    while len(left) >= len(divisor):
        factor = left[0] / divisor[0]
        padded = divisor + [Fraction(0)] * (len(left) - len(divisor))
        left = [above - factor * below for above, below in zip(left, padded, strict=True)][1:]
    while left and left[0] == 0:
        left = left[1:]
    return left


def sign_changes(values: list[Fraction]) -> int:
    """Return how often a list changes sign, zeros left out."""
    signs = [value > 0 for value in values if value != 0]
    return sum(before != after for before, after in pairwise(signs))


def exact_root_count(flows: list[int]) -> int:
    """Return the number of distinct positive roots of the polynomial with these coefficients (Sturm's theorem)."""
    chain = [Fraction(flow) for flow in reversed(flows)]
    while chain and chain[0] == 0:
        chain = chain[1:]
    while chain and chain[-1] == 0:
        chain = chain[:-1]
    if len(chain) < 2:
        return 0
    degree = len(chain) - 1
    sequence = [chain, [value * (degree - place) for place, value in enumerate(chain[:-1])]]
    while rest := remainder(sequence[-2], sequence[-1]):
        sequence.append([-value for value in rest])
    return sign_changes([part[-1] for part in sequence]) - sign_changes([part[0] for part in sequence])


# --- the count of roots and the roots themselves


@settings(max_examples=400, deadline=None)
@given(whole_streams)
@example([-1, 2, -1])
@example([0, 0, 3, -6, 3, 0])
@example([1, -3, 3, -1])
@example([-1, 0, 0, 0, 1, -1])
def test_the_number_of_distinct_roots_is_that_of_an_exact_sturm_sequence(flows: list[int]) -> None:
    expected = exact_root_count(flows)
    assert internal_rate_of_return(flows).root_count == expected
    assert len(all_rates_of_return(flows)) == expected


@settings(max_examples=200, deadline=None)
@given(whole_streams)
def test_at_every_root_the_net_present_value_is_zero(flows: list[int]) -> None:
    for rate in all_rates_of_return(flows):
        factors = discount_factors(rate, len(flows) - 1)
        # A root's own rounding moves the value by its slope: 1e-12 relative in 1 + rate, times at most 8 years.
        assert abs(present_value(flows, factors)) <= 1e-11 * present_value(np.abs(flows), factors)


@settings(max_examples=200, deadline=None)
@given(farm_streams)
def test_the_rate_is_the_root_that_numpy_financial_finds_wherever_there_is_one_only(flows: list[float]) -> None:
    rate, count = internal_rate_of_return(flows)
    assume(count == 1)
    theirs = numpy_financial.irr(flows)
    assume(np.isfinite(theirs))  # version 1.0.0 drops roots that its eigenvalues leave a little off the real line
    # 1e-7: eigenvalues of a companion matrix lose half their digits where another root, real or not, is near.
    assert_allclose(rate, theirs, rtol=1e-7, atol=1e-9)


@settings(max_examples=100, deadline=None)
@given(farm_streams)
def test_the_list_holds_the_single_rate_and_as_many_as_are_counted(flows: list[float]) -> None:
    rate, count = internal_rate_of_return(flows)
    listed = all_rates_of_return(flows)
    assert len(listed) == count
    assert sorted(listed) == list(listed)
    assert np.isnan(rate) == (count != 1)
    if count == 1:
        assert_allclose(listed, [rate], rtol=1e-9, atol=1e-11)


@pytest.mark.parametrize(
    "chosen",
    [(0.1, 0.2), (-0.5, 1.0), (0.1, 0.2, 0.3), (0.05, 0.1, 0.4, 1.0), (0.08, 0.0801), (-0.9, 0.0, 9.0), (-0.3, 1e4)],
)
def test_streams_made_from_their_rates_give_these_back(chosen: tuple[float, ...]) -> None:
    flows = stream_with_rates(*chosen)
    # The flows' own rounding moves roots that lie close together: eps over the distance to the others.
    assert_allclose(all_rates_of_return(flows), chosen, rtol=1e-8, atol=1e-12)
    rate, count = internal_rate_of_return(flows)
    assert np.isnan(rate)
    assert count == len(chosen)


@pytest.mark.parametrize(
    ("chosen", "distinct"),
    [((0.1, 0.1), (0.1,)), ((0.1, 0.1, 0.1), (0.1,)), ((0.1, 0.1, 0.5), (0.1, 0.5)), ((0.1, 0.1, 0.5, 0.5), (0.1, 0.5)),
     ((-0.4, -0.4), (-0.4,)), ((0.2, 0.2, 0.2, 0.2), (0.2,))],
)  # fmt: skip
def test_a_root_without_a_crossing_counts_once(chosen: tuple[float, ...], distinct: tuple[float, ...]) -> None:
    flows = stream_with_rates(*chosen)
    # A root of higher order is known to a root of rounding only, unless it is found as an extremum.
    assert_allclose(all_rates_of_return(flows), distinct, rtol=1e-9)
    rate, count = internal_rate_of_return(flows)
    assert count == len(distinct)
    assert_allclose(rate, distinct[0] if len(distinct) == 1 else np.nan, rtol=1e-9)


def test_two_rates_a_millionth_apart_are_two_and_a_billionth_apart_are_one() -> None:
    assert internal_rate_of_return(stream_with_rates(0.1, 0.1 + 1e-6)).root_count == 2
    assert internal_rate_of_return(stream_with_rates(0.1, 0.1 + 1e-9)).root_count == 1
    assert internal_rate_of_return(stream_with_rates(0.1, 0.1 + 1e-8, 0.1 + 2e-8, 0.1 + 3e-8)).root_count == 1
    # Three close ones blur sooner: the value between them is the cube of their distance.
    assert internal_rate_of_return(stream_with_rates(0.1, 0.1 + 1e-5, 0.1 + 2e-5)).root_count == 1


@pytest.mark.parametrize("sign", [1, -1])
def test_a_rate_near_minus_one_hides_no_second_rate(sign: int) -> None:
    # Invented: seen from the rate near -1, where v is above 100, the first flow is far below the rounding of the last.
    flows = [sign * flow for flow in [-2, 60_000, 80_000, *[0] * 11, 50_000, -300]]
    assert exact_root_count(flows) == 2
    rate, count = internal_rate_of_return(flows)
    assert np.isnan(rate)
    assert count == 2


def test_many_sign_changes_are_no_reason_for_nan() -> None:
    flows = [-1000, 400, -100, 400, -100, 400, -100, 400, -100, 400]  # invented: replacements every second year
    rate, count = internal_rate_of_return(flows)
    assert count == 1
    assert_allclose(rate, numpy_financial.irr(flows), rtol=1e-9)


# --- hard cases


HARD = {  # name: (flows, rate, count); rates follow from the flows by hand
    "all positive": ([1, 2, 3], np.nan, 0),
    "all negative": ([-1, -2, -3], np.nan, 0),
    "all zero": ([0, 0, 0], np.nan, 0),
    "one flow": ([-5], np.nan, 0),
    "mixed signs, no real root": ([1, -1, 1], np.nan, 0),
    "10 % and 20 %": (stream_with_rates(0.1, 0.2), np.nan, 2),
    "-50 % and +100 %": (stream_with_rates(-0.5, 1.0), np.nan, 2),
    "double root 10 %": (stream_with_rates(0.1, 0.1), 0.1, 1),
    "rate 1000": ([-1, 1001], 1e3, 1),
    "rate 100000": ([-1, 100001], 1e5, 1),
    "rate 100000, then little": ([-1, 0, 100001**2, 0, 0], 1e5, 1),
    "-84 %": ([-100, 10, 0.96], -0.84, 1),
    "-99 %": ([-100, 1], -0.99, 1),
    "borrowing": ([100, 0, -121], 0.1, 1),
    "leading zeros": ([0, 0, -100, 0, 121], 0.1, 1),
    "trailing zeros": ([-100, 0, 121, 0, 0], 0.1, 1),
    "zero rate": ([-100, 50, 50], 0.0, 1),
    "a flow that is not a number": ([-1, np.nan, 2], np.nan, 0),
    "an endless flow": ([-1, np.inf, 2], np.nan, 0),
    "an endless outlay": ([-np.inf, 1, 2], np.nan, 0),
    "opposite endless flows": ([-np.inf, np.inf, 2], np.nan, 0),
    "a left-over of rounding at the end": ([-100, 0, 121, -1e-12], 0.1, 1),
    "rounding alone on one side": ([-100, -50, 1e-12], np.nan, 0),
    "long zeros on both sides": ([0] * 30 + [-1, 1001] + [0] * 30, 1e3, 1),
}


@pytest.mark.parametrize("name", HARD)
def test_hard_cases(name: str) -> None:
    flows, expected, count = HARD[name]
    rate, root_count = internal_rate_of_return(flows)
    assert root_count == count
    assert_allclose(rate, expected, rtol=1e-9, atol=1e-12)
    assert len(all_rates_of_return(flows)) == count


def test_hard_cases_side_by_side_in_one_call_give_what_they_give_alone() -> None:
    longest = max(len(flows) for flows, _, _ in HARD.values())
    table = np.array([np.pad(np.asarray(flows, float), (0, longest - len(flows))) for flows, _, _ in HARD.values()]).T
    rate, count = internal_rate_of_return(table)
    assert_array_equal(count, [expected for _, _, expected in HARD.values()])
    assert_allclose(rate, [expected for _, expected, _ in HARD.values()], rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("scale", [1e-300, 1e-12, 1e-3, 1e12, 1e300])
def test_the_currency_unit_does_not_matter(scale: float) -> None:
    rate, count = internal_rate_of_return(np.array(CONVENTIONAL) * scale)
    assert count == 1
    assert_allclose(rate, CONVENTIONAL_RATE, rtol=1e-12)


@settings(max_examples=100, deadline=None)
@given(farm_streams, st.integers(-40, 40))
def test_scaling_by_a_power_of_two_and_swapping_the_sign_leave_rate_and_count(flows: list[float], power: int) -> None:
    rate, count = internal_rate_of_return(flows)
    for other in (np.array(flows) * 2.0**power, -np.array(flows)):
        other_rate, other_count = internal_rate_of_return(other)
        assert other_count == count
        assert_allclose(other_rate, rate, rtol=1e-9, atol=1e-12)


def test_no_warning_escapes() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for flows, _, _ in HARD.values():
            internal_rate_of_return(flows)
            all_rates_of_return(flows)


# --- shapes and blocks


def test_the_year_axis_comes_first_and_the_other_axes_are_kept() -> None:
    flows = np.array(CONVENTIONAL, float)[:, None, None] * np.arange(1, 7).reshape(2, 3)
    rate, count = internal_rate_of_return(flows)
    assert rate.shape == count.shape == (2, 3)
    assert_allclose(rate, CONVENTIONAL_RATE, rtol=1e-12)


def test_no_columns_give_no_rates() -> None:
    assert internal_rate_of_return(np.empty((4, 0))).rate.shape == (0,)


def test_block_width_and_company_do_not_matter(monkeypatch: pytest.MonkeyPatch) -> None:
    flows = np.random.default_rng(20260101).normal(200, 260, (16, 300))
    flows[0] -= 1500
    together = internal_rate_of_return(flows)
    monkeypatch.setattr(rates, "BLOCK", 7)
    narrow = internal_rate_of_return(flows)
    assert_array_equal(together.root_count, narrow.root_count)
    assert set(together.root_count) >= {1, 2}
    assert_allclose(together.rate, narrow.rate, rtol=1e-12, atol=1e-14)
    alone = [internal_rate_of_return(column).rate for column in flows.T]
    assert_allclose(together.rate, alone, rtol=1e-12, atol=1e-14)


def test_the_quick_way_and_the_ladder_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    flows = np.random.default_rng(7).normal(200, 200, (16, 400))
    flows[0] -= 1200
    quick = internal_rate_of_return(flows)
    monkeypatch.setattr(rates, "_is_only_root", lambda stream, _: np.zeros(stream.shape[1], dtype=bool))
    slow = internal_rate_of_return(flows)
    assert_array_equal(quick.root_count, slow.root_count)
    assert_allclose(quick.rate, slow.rate, rtol=1e-9, atol=1e-12)
