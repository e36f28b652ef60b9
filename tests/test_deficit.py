"""Deficit: the seasonal yield response by hand, its flag and its way back."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.ground.handbook import YieldResponse, find_yield_response
from plotworth.supply.deficit import deficit_share, evapotranspiration_for_yield_mm, yield_left, yield_share

PEPPER = find_yield_response("sweet pepper")  # 1.1, FAO-56 Table 24


def test_no_deficit_leaves_the_whole_yield() -> None:
    found = yield_left(600.0, 600.0, PEPPER)
    assert found.low == found.high == 1.0
    assert not found.beyond_range


def test_water_beyond_the_need_brings_no_more_yield() -> None:
    assert yield_left(900.0, 600.0, PEPPER).high == 1.0


def test_a_deficit_by_hand() -> None:
    found = yield_left([540.0, 300.0, 240.0], 600.0, PEPPER)
    assert_allclose(found.deficit_share, [0.1, 0.5, 0.6])
    assert_allclose(found.low, [1 - 0.11, 1 - 0.55, 1 - 0.66])


def test_more_than_half_the_water_missing_is_flagged() -> None:
    assert_array_equal(yield_left(np.array([300.0, 299.0]), 600.0, PEPPER).beyond_range, [False, True])


def test_a_range_of_response_factors_gives_a_range_of_yields() -> None:
    found = yield_left(480.0, 600.0, YieldResponse("banana", 1.2, 1.35))
    assert_allclose([found.low, found.high], [0.73, 0.76])


def test_yield_does_not_fall_below_nothing() -> None:
    assert yield_share(1.0, 1.25) == 0.0


def test_a_need_of_nothing_has_no_deficit_to_tell() -> None:
    assert np.isnan(deficit_share(10.0, 0.0))


@given(share=st.floats(min_value=0.0, max_value=1.0), factor=st.floats(min_value=1.0, max_value=1.4))
def test_the_way_back_leads_to_the_same_yield(share: float, factor: float) -> None:
    needed = evapotranspiration_for_yield_mm(share, 600.0, factor)
    assert_allclose(yield_share(deficit_share(needed, 600.0), factor), share, rtol=0, atol=1e-9)


def test_no_water_brings_more_than_the_full_yield() -> None:
    assert np.isnan(evapotranspiration_for_yield_mm(1.01, 600.0, 1.1))
