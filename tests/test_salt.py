"""Salt: published examples, ranges, what cannot be reached, and a balance that closes."""

import csv
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.ground.handbook import SaltTolerance, find_salt_tolerance
from plotworth.supply import salt

PUBLISHED = Path(__file__).parent / "published" / "supply_salt.csv"
CLOSES = 1e-9  # kg/m2 beside amounts up to 100 kg/m2: a dozen additions of doubles

Row = dict[str, str]


def published_rows() -> list[Row]:
    with PUBLISHED.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def numbers(row: Row) -> list[float]:
    return [float(row[column]) for column in ("first", "second", "third") if row[column]]


WAYS: dict[str, Callable[..., object]] = {
    "extract_at_loss": salt.extract_at_loss_ds_m,
    "yield_share": salt.yield_share_under_salt,
    "water_of_extract": salt.water_of_extract_ds_m,
    "leaching_requirement": salt.leaching_requirement,
    "gross_depth": salt.gross_depth_mm,
    "extract_under_leaching": salt.extract_under_leaching_ds_m,
    "salt_added": salt.salt_added_kg_per_m2,
}
LIMITS = {"restriction_ec": salt.EC_LIMITS_DS_M, "restriction_dissolved": salt.DISSOLVED_LIMITS_MG_L}


@pytest.mark.published
@pytest.mark.parametrize("row", published_rows(), ids=lambda row: f"{row['name']} ({row['status']})")
def test_published_values(row: Row) -> None:
    if row["measure"] in LIMITS:
        assert salt.restriction_on_use(float(row["first"]), LIMITS[row["measure"]]) == row["value"]
    else:
        found = WAYS[row["measure"]](*numbers(row))
        assert_allclose(found, float(row["value"]), rtol=0, atol=float(row["within"]))


def test_salt_brought_by_water_is_linear_in_both_and_broadcasts_over_sites_and_draws() -> None:
    water = np.array([[100.0], [400.0]])
    assert_allclose(salt.salt_added_kg_per_m2(water, [0.5, 1.0, 2.0]), water * [[0.32, 0.64, 1.28]] / 1000)


def test_leaching_has_no_answer_once_the_requirement_would_reach_the_whole_water() -> None:
    at_limit = salt.leaching_requirement([2.499, 2.5, 5.0, 6.0, np.nan], 1.0)
    assert at_limit[0] < 1
    assert np.isnan(at_limit[1:]).all()
    assert salt.leaching_requirement(0.0, 1.7) == 0
    assert np.isnan(salt.gross_depth_mm(500.0, [1.0, 1.2, np.nan])).all()


@given(water=st.floats(0.05, 5), share=st.floats(0.01, 0.95))
def test_the_leaching_requirement_and_the_long_run_extract_undo_each_other(water: float, share: float) -> None:
    extract = salt.extract_under_leaching_ds_m(water, share)
    assert_allclose(salt.leaching_requirement(water, extract), share, rtol=1e-9)


def test_without_leaching_the_long_run_extract_has_no_end() -> None:
    assert salt.extract_under_leaching_ds_m(1.0, 0.0) == math.inf


def test_yield_is_whole_up_to_the_threshold_and_nothing_beyond_the_end() -> None:
    assert_array_equal(salt.yield_share_under_salt([0.0, 1.5, 50.0], 1.5, 14.0), [1.0, 1.0, 0.0])
    assert np.isnan(salt.yield_share_under_salt(np.nan, 1.5, 14.0))


@given(loss=st.floats(0, 1), threshold=st.floats(0.5, 8), slope=st.floats(2, 40))
def test_the_extract_at_a_loss_gives_that_loss(loss: float, threshold: float, slope: float) -> None:
    extract = salt.extract_at_loss_ds_m(loss, threshold, slope)
    assert_allclose(1 - salt.yield_share_under_salt(extract, threshold, slope), loss, atol=1e-9)


def test_a_range_of_tolerance_gives_a_range_of_loss_and_a_single_one_a_point() -> None:
    ranged = SaltTolerance("made up", 1.5, 1.7, 12.0, 14.0)
    low, high = salt.salt_loss_low_high(2.7, ranged)
    assert_allclose([low, high], [0.12 * 1.0, 0.14 * 1.2])
    point = SaltTolerance("made up", 1.2, 1.2, 13.0, 13.0)
    assert_array_equal(*salt.salt_loss_low_high([1.0, 2.0, 9.0], point))


def test_the_handbook_row_of_sweet_pepper_gives_an_ordered_range() -> None:
    low, high = salt.salt_loss_low_high(np.linspace(0, 12, 25), find_salt_tolerance("sweet pepper"))
    assert (low <= high).all()


def test_a_water_that_was_not_measured_is_unknown_not_good() -> None:
    classes = salt.restriction_on_use([[0.2, np.nan], [2.0, 9.0]], salt.EC_LIMITS_DS_M)
    assert classes.tolist() == [["none", "unknown"], ["slight to moderate", "severe"]]


def test_flushing_takes_out_what_a_well_mixed_store_loses() -> None:
    store = {"saturation_l_per_m2": 100.0, "mixing_share": 1.0}
    assert_allclose(salt.salt_after_flushing_kg_per_m2(1.0, 100.0, 0.0, **store), math.exp(-1))
    assert salt.salt_after_flushing_kg_per_m2(1.0, 0.0, 0.0, **store) == 1.0
    assert salt.salt_after_flushing_kg_per_m2(1.0, 500.0, 0.0, saturation_l_per_m2=100.0, mixing_share=0.0) == 1.0
    salty = salt.salt_added_kg_per_m2(100.0, 2.0)
    assert_allclose(salt.salt_after_flushing_kg_per_m2(0.0, 1e5, 2.0, **store), salty)


def test_flushing_agrees_with_a_store_stirred_in_small_steps() -> None:
    steps, drained, kept = 20_000, 150.0, 0.8
    inflow = salt.salt_added_kg_per_m2(0.6 * drained / steps, 0.5)
    for _ in range(steps):
        kept += inflow - kept * 0.6 * drained / steps / 90.0
    found = salt.salt_after_flushing_kg_per_m2(0.8, drained, 0.5, saturation_l_per_m2=90.0, mixing_share=0.6)
    assert_allclose(found, kept, rtol=1e-4)  # first-order steps


@given(
    extract=st.floats(0.1, 20),
    wanted=st.floats(0.6, 5),
    mixing=st.floats(0.1, 1),
    saturation=st.floats(20, 500),
)
def test_the_litres_to_flush_bring_the_extract_to_what_was_wanted(
    extract: float, wanted: float, mixing: float, saturation: float
) -> None:
    store = {"saturation_l_per_m2": saturation, "mixing_share": mixing}
    litres = salt.flushing_l_per_m2(extract, wanted, 0.5, **store)
    before = salt.salt_added_kg_per_m2(saturation, extract)
    after = salt.salt_after_flushing_kg_per_m2(before, litres, 0.5, **store)
    assert_allclose(salt.extract_of_salt_ds_m(after, saturation), min(extract, wanted), rtol=1e-9)


def test_a_flush_as_salty_as_the_wanted_extract_never_gets_there() -> None:
    litres = salt.flushing_l_per_m2([4.0, 1.0], 1.5, 1.5, saturation_l_per_m2=100.0, mixing_share=1.0)
    assert np.isnan(litres[0])
    assert litres[1] == 0


def rising(**change: object) -> salt.SaltTrace:
    usual = {
        "rain_drained_l_per_m2": [0.0, 0.0, 0.0],
        "flush_drained_l_per_m2": [0.0, 0.0, 0.0],
        "saturation_l_per_m2": 120.0,
        "mixing_share": 0.7,
        "start_kg_per_m2": 0.05,
    }
    return salt.salt_of_rising_water([300.0, 300.0, 300.0], [1.0, 1.0, 1.0], **(usual | change))


def test_water_that_rises_piles_salt_up_season_after_season() -> None:
    trace = rising()
    assert_allclose(trace.salt_kg_per_m2, 0.05 + 0.192 * np.array([1, 2, 3]))
    assert_allclose(trace.washed_out_kg_per_m2, 0, atol=CLOSES)
    assert_allclose(trace.extract_ds_m, trace.highest_extract_ds_m)


def test_rain_flushes_without_salt_and_the_hand_with_the_waters_own_litres_counted() -> None:
    rain, hand = rising(rain_drained_l_per_m2=[0, 80, 0]), rising(flush_drained_l_per_m2=[0, 80, 0])
    assert rain.salt_kg_per_m2[1] < hand.salt_kg_per_m2[1] < rising().salt_kg_per_m2[1]
    assert rain.flush_l_per_m2.sum() == 0
    assert hand.flush_l_per_m2.sum() == 80
    assert_allclose(hand.brought_kg_per_m2 - rain.brought_kg_per_m2, [0, 0.0512, 0], atol=CLOSES)
    assert hand.highest_extract_ds_m[1] > hand.extract_ds_m[1]


def test_seasons_stand_first_and_sites_and_draws_broadcast_behind_them() -> None:
    trace = rising(
        rain_drained_l_per_m2=np.array([0.0, 40.0, 80.0]).reshape(3, 1, 1),
        saturation_l_per_m2=np.array([[100.0], [120.0]]),
        start_kg_per_m2=np.array([0.0, 0.05, 0.1, 0.2]),
    )
    assert trace.salt_kg_per_m2.shape == trace.washed_out_kg_per_m2.shape == (3, 2, 4)
    alone = rising(rain_drained_l_per_m2=[0.0, 40.0, 80.0])
    assert_allclose(trace.salt_kg_per_m2[:, 1, 1], alone.salt_kg_per_m2, rtol=1e-12)


seasons = st.lists(
    st.tuples(st.floats(0, 900), st.floats(0, 5), st.floats(0, 400), st.floats(0, 200)), min_size=1, max_size=6
)


@given(seasons=seasons, start=st.floats(0, 3), saturation=st.floats(20, 500), mixing=st.floats(0, 1))
def test_the_salt_balance_closes_and_nothing_is_washed_out_that_was_not_there(
    seasons: list[tuple[float, float, float, float]], start: float, saturation: float, mixing: float
) -> None:
    water, conductivity, rain, flush = np.array(seasons).T
    trace = salt.salt_of_rising_water(
        water,
        conductivity,
        rain_drained_l_per_m2=rain,
        flush_drained_l_per_m2=flush,
        saturation_l_per_m2=saturation,
        mixing_share=mixing,
        start_kg_per_m2=start,
    )
    left = start + np.cumsum(trace.brought_kg_per_m2 - trace.washed_out_kg_per_m2)
    assert_allclose(left, trace.salt_kg_per_m2, atol=CLOSES)
    assert (trace.salt_kg_per_m2 >= -CLOSES).all()
    assert (trace.washed_out_kg_per_m2 >= -CLOSES).all()


def test_a_dose_of_fertiliser_raises_the_extract_and_the_largest_dose_stops_at_the_threshold() -> None:
    assert_allclose(salt.fertiliser_extract_ds_m(0.064, 1.0, 100.0), 1.0)
    dose = salt.most_fertiliser_kg_per_m2(1.5, [0.4, 2.0], 0.8, 90.0)
    assert_allclose(0.4 + salt.fertiliser_extract_ds_m(dose[0], 0.8, 90.0), 1.5)
    assert dose[1] == 0


def test_water_at_saturation_is_depth_times_pores() -> None:
    assert_allclose(salt.saturation_water_l_per_m2(0.3, 0.45), 135.0)
