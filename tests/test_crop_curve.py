"""Crop coefficient curves: FAO-56 examples, curves by hand, limits."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from demand_tables import PEPPER, PEPPER_STAGES, STAGES, Row, allowance, inputs, rows
from plotworth.ground.errors import PlotworthError
from plotworth.ground.handbook import find_crop_coefficients, find_stage_lengths
from plotworth.supply.crop_curve import (
    CurvePoints,
    adjusted_end,
    adjusted_mid,
    basal_points,
    climate_adjustment,
    coefficient_curve,
    initial_coefficient,
    lifted,
    points_in_climate,
    single_points,
    stretched_stages,
)

POINTS = CurvePoints(0.4, 1.2, 0.6, 1.0)  # invented
WETTING = ("wetting_mm", "light", "heavy")


@pytest.mark.published
@pytest.mark.parametrize("row", rows("initial_coefficient"), ids=lambda row: row["name"])
def test_initial_coefficient_of_the_examples(row: Row) -> None:
    given_ = inputs(row)
    found = initial_coefficient(*(given_[name] for name in WETTING), wetted_share=given_["wetted_share"])
    assert_allclose(found, float(row["value"]), rtol=0, atol=allowance(row))


@pytest.mark.published
@pytest.mark.parametrize("row", rows("crop_evapotranspiration_mm"), ids=lambda row: row["name"])
def test_crop_evapotranspiration_of_the_examples(row: Row) -> None:
    given_ = inputs(row)
    found = initial_coefficient(*(given_[name] for name in WETTING), wetted_share=given_["wetted_share"])
    assert_allclose(found * given_["reference_mm"], float(row["value"]), rtol=0, atol=allowance(row))


@pytest.mark.published
@pytest.mark.parametrize("row", rows("adjusted_mid"), ids=lambda row: row["name"])
def test_a_coefficient_in_its_climate(row: Row) -> None:
    found = adjusted_mid(*(inputs(row)[name] for name in ("mid", "wind_2m_m_s", "rh_min_pct", "height_m")))
    assert_allclose(found, float(row["value"]), rtol=0, atol=allowance(row))
    if row["unrounded"]:
        assert_allclose(found, float(row["unrounded"]), rtol=0, atol=0.5 * 10.0 ** -(len(row["unrounded"]) - 2))


@pytest.mark.published
@pytest.mark.parametrize("row", rows("staked_basal_mid"), ids=lambda row: row["name"])
def test_basal_coefficient_of_staked_crops(row: Row) -> None:
    crop = row["inputs"].removeprefix("crop=").replace("_", " ")
    assert_allclose(basal_points(find_crop_coefficients(crop), staked=True).mid, float(row["value"]))


def test_the_curve_by_hand() -> None:
    # 2 days at 0.4, four steps of 0.2 up to 1.2, 3 days there, two steps of 0.3 down
    by_hand = [0.4, 0.4, 0.6, 0.8, 1.0, 1.2, 1.2, 1.2, 1.2, 0.9, 0.6]
    assert_allclose(coefficient_curve(POINTS, STAGES, 11), by_hand)
    assert_allclose(coefficient_curve(POINTS, STAGES, 5), by_hand[:5])


def test_a_curve_of_draws_is_the_curves_one_by_one() -> None:
    mids = np.array([[1.0, 1.1, 1.2]])
    curve = coefficient_curve(dataclasses.replace(POINTS, mid=mids), STAGES, 11)
    assert curve.shape == (11, 1, 3)
    for draw, mid in enumerate(mids[0]):
        alone = coefficient_curve(dataclasses.replace(POINTS, mid=mid), STAGES, 11)
        assert_allclose(curve[:, 0, draw], alone, rtol=1e-12)


def test_more_days_than_the_stages_have_are_refused() -> None:
    with pytest.raises(PlotworthError, match=r"12 days were given for a season of 11; use stretched_stages first"):
        coefficient_curve(POINTS, STAGES, 12)


def test_nothing_is_adjusted_in_the_climate_of_the_tables() -> None:
    assert_allclose(climate_adjustment(2.0, 45.0, [0.3, 2.0]), 0.0, atol=1e-15)


@pytest.mark.parametrize(
    ("beyond", "limit"),
    [
        ((0.2, 45.0, 1.0), (1.0, 45.0, 1.0)),
        ((9.0, 45.0, 1.0), (6.0, 45.0, 1.0)),
        ((2.0, 5.0, 1.0), (2.0, 20.0, 1.0)),
        ((2.0, 95.0, 1.0), (2.0, 80.0, 1.0)),
        ((4.0, 45.0, 0.02), (4.0, 45.0, 0.1)),
        ((4.0, 45.0, 20.0), (4.0, 45.0, 10.0)),
    ],
)
def test_a_climate_beyond_the_valid_range_counts_as_its_limit(beyond, limit) -> None:
    assert climate_adjustment(*beyond) == climate_adjustment(*limit)
    assert climate_adjustment(*beyond) != 0


def test_an_end_below_045_stays_as_tabulated() -> None:
    ends = adjusted_end([0.44, 0.45], 4.0, 30.0, 3.0)  # 0.04 x 2 + 0.004 x 15 = 0.14
    assert_allclose(ends, [0.44, 0.59])


def test_mid_and_end_take_the_climate_of_their_own_stage() -> None:
    wind = np.array([9.0] * 6 + [3.0] * 3 + [5.0] * 2)
    found = points_in_climate(dataclasses.replace(POINTS, height_m=3.0), wind, np.full(11, 45.0), STAGES)
    assert_allclose([found.initial, found.mid, found.end], [0.4, 1.24, 0.72])


def test_days_without_a_value_are_left_out_of_a_stages_mean() -> None:
    wind = np.array([2.0] * 6 + [np.nan, 3.0, 3.0] + [np.nan] * 2)
    found = points_in_climate(dataclasses.replace(POINTS, height_m=3.0), wind, np.full(11, 45.0), STAGES)
    assert_allclose(found.mid, 1.24)
    assert np.isnan(found.end)


def test_a_stage_that_the_days_do_not_reach_takes_the_mean_of_all() -> None:
    found = points_in_climate(dataclasses.replace(POINTS, height_m=3.0), np.full(5, 3.0), np.full(5, 45.0), STAGES)
    assert_allclose([found.mid, found.end], [1.24, 0.64])


def test_a_staked_crop_is_taller_and_takes_more() -> None:
    flat, staked = single_points(PEPPER, staked=False), single_points(PEPPER, staked=True)
    assert (flat.mid, flat.height_m, flat.end) == (1.05, 0.7, 0.90)
    assert (staked.mid, staked.height_m, staked.end) == (1.15, 1.75, 0.90)


def test_a_range_of_ends_stands_for_its_middle() -> None:
    assert_allclose(single_points(find_crop_coefficients("tomato"), staked=False).end, 0.80)


def test_a_crop_without_staked_or_basal_values_is_refused_by_name() -> None:
    with pytest.raises(PlotworthError, match="eggplant: the handbook has no coefficient for a staked crop"):
        single_points(find_crop_coefficients("eggplant"), staked=True)
    with pytest.raises(PlotworthError, match="sweet pepper: the handbook has no basal crop coefficients"):
        basal_points(dataclasses.replace(PEPPER, basal_mid=None), staked=False)


def test_basal_values_lie_below_the_single_ones() -> None:
    single, basal = single_points(PEPPER, staked=False), basal_points(PEPPER, staked=False)
    assert all(low < high for low, high in zip((basal.initial, basal.mid), (single.initial, single.mid), strict=True))


@given(days=st.integers(min_value=20, max_value=400))
def test_stretched_stages_add_up_and_keep_their_proportions(days: int) -> None:
    for stages in find_stage_lengths("sweet pepper"):
        found = stretched_stages(stages, days)
        assert found.total_days == days
        assert abs(found.mid_days - stages.mid_days * days / stages.total_days) <= 1
        assert len(coefficient_curve(POINTS, found, days)) == days


def test_stages_stretched_to_their_own_length_are_themselves() -> None:
    found = stretched_stages(PEPPER_STAGES, PEPPER_STAGES.total_days)
    assert dataclasses.replace(found, condition=PEPPER_STAGES.condition) == PEPPER_STAGES


def test_new_axes_go_right_behind_the_day() -> None:
    assert lifted(np.zeros(7), 2).shape == (7, 1, 1)
    assert lifted(np.zeros((7, 3)), 2).shape == (7, 1, 3)
    assert_array_equal(lifted(np.arange(3.0), 1)[:, 0], [0, 1, 2])
