"""Evaporation of wetted soil: days by hand, FAO-56 as the case of one strip, bounds and balance."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from demand_tables import DRIP
from plotworth.supply.soil_evaporation import (
    OpenGround,
    Strips,
    Surface,
    canopy_share,
    dried_layers,
    evaporable_mm,
    evaporation_coefficients,
    evaporation_reduction,
    exposed_shares,
    first_lack_mm,
    greatest_coefficient,
    lack_after_a_day,
    rain_into_soil_mm,
    wetted_layers,
)

SHARE = st.floats(min_value=0, max_value=1)
BARE = Surface(20.0, 8.0, wetted_share=1.0, covered_share=0.0, rain_through_cover=0.0, at_the_plant=False)


def strips(watered: float, rained: float) -> Strips:
    return Strips(np.asarray(watered), np.asarray(rained))


def test_evaporable_water_by_hand() -> None:
    assert_allclose(evaporable_mm(0.23, 0.10, 0.10), 18.0)


def test_reduction_by_hand() -> None:
    assert_allclose(evaporation_reduction(np.array([0.0, 8.0, 14.0, 20.0]), DRIP), [1.0, 1.0, 0.5, 0.0])


def test_wet_ground_takes_120_of_the_reference_in_the_tables_climate() -> None:
    assert_allclose(greatest_coefficient(np.array([0.15, 1.18]), 2.0, 45.0, 0.7), [1.2, 1.23])


def test_leaves_shade_nothing_at_first_and_most_of_the_ground_when_grown() -> None:
    shade = canopy_share(np.array([0.15, 0.675, 1.0]), 1.2, 1.0)
    assert_allclose(shade, [0.0, 0.5**1.5, (0.85 / 1.05) ** 1.5])


def test_exposed_shares_by_hand() -> None:
    # a third of the wet ring under a canopy of half lies in the shade
    found = exposed_shares(0.5, DRIP)
    assert_allclose(found.watered, 0.35 * (1 - 1 / 3))
    assert_allclose(found.rained, 0.5 - found.watered)


def test_ground_under_lids_is_not_exposed() -> None:
    found = exposed_shares(0.0, dataclasses.replace(BARE, covered_share=0.7))
    assert_allclose(found.watered, 0.3)
    assert found.rained == 0
    closed = exposed_shares(0.2, dataclasses.replace(DRIP, covered_share=1.0))
    assert closed.watered == closed.rained == 0


def test_wicks_wet_no_surface() -> None:
    found = exposed_shares(0.1, dataclasses.replace(DRIP, wetted_share=0.0))
    assert found.watered == 0
    assert_allclose(found.rained, 0.9)


@given(depleted=st.floats(min_value=0, max_value=20), canopy=SHARE, basal=st.floats(min_value=0.15, max_value=1.1))
def test_wholly_wetted_ground_is_the_paper_to_the_letter(depleted: float, canopy: float, basal: float) -> None:
    exposed = exposed_shares(canopy, BARE)
    found = evaporation_coefficients(strips(depleted, 20.0), exposed, basal, 1.2, BARE)
    reduction = min(1.0, (20 - depleted) / 12)
    assert_allclose(found.watered, min(reduction * (1.2 - basal), (1 - canopy) * 1.2), atol=1e-12)
    assert_allclose(found.rained, 0.0, atol=1e-12)


@given(depleted=st.floats(min_value=0, max_value=19.9), canopy=SHARE, basal=st.floats(min_value=0.15, max_value=1.1))
def test_two_strips_equally_wet_give_off_what_one_does(depleted: float, canopy: float, basal: float) -> None:
    exposed = exposed_shares(canopy, DRIP)
    found = evaporation_coefficients(strips(depleted, depleted), exposed, basal, 1.2, DRIP)
    one = evaporation_coefficients(strips(depleted, 20.0), exposed_shares(canopy, BARE), basal, 1.2, BARE)
    assert_allclose(found.watered + found.rained, one.watered, atol=1e-12)


@given(a=st.floats(min_value=0, max_value=20), b=st.floats(min_value=0, max_value=20), canopy=SHARE, basal=SHARE)
def test_crop_and_soil_together_take_no_more_than_the_air_does(a: float, b: float, canopy: float, basal: float) -> None:
    found = evaporation_coefficients(strips(a, b), exposed_shares(canopy, DRIP), basal, 1.2, DRIP)
    assert 0 <= found.watered + found.rained <= 1.2 - basal + 1e-12


def test_watering_wets_its_strip_and_rain_wets_both() -> None:
    found = wetted_layers(strips(15.0, 18.0), 4.0, 2.1, DRIP)  # 2.1 mm over all is 6 mm on 0.35
    assert_allclose([found.watered, found.rained], [5.0, 14.0])


def test_a_day_by_hand() -> None:
    # bare, dry for 14 mm: Kr 0.5, Ke 0.5 x (1.2 - 0.2) = 0.5, 5 mm a day
    ground = OpenGround(
        BARE, Strips(np.ones(1), np.zeros(1)), np.array([0.2]), np.array([1.2]), np.array([5.0]), np.array([0.0])
    )
    lack, evaporated = lack_after_a_day(ground, 0, strips(14.0, 20.0), 0.0)
    assert_allclose(evaporated, 2.5)
    assert_allclose(lack.watered, 16.5)


def test_a_layer_loses_no_more_than_it_holds() -> None:
    lack, evaporated = dried_layers(strips(19.0, 20.0), strips(1.0, 1.0), strips(0.4, 0.6), 9.0, DRIP)
    assert_allclose([lack.watered, lack.rained], [20.0, 20.0])
    assert_allclose(evaporated, 0.4)


@given(a=st.floats(min_value=0, max_value=20), b=st.floats(min_value=0, max_value=20), canopy=SHARE)
def test_what_evaporates_is_what_the_layers_lose(a: float, b: float, canopy: float) -> None:
    exposed = exposed_shares(canopy, DRIP)
    before = strips(a, b)
    coefficients = evaporation_coefficients(before, exposed, 0.3, 1.2, DRIP)
    lack, evaporated = dried_layers(before, coefficients, exposed, 6.0, DRIP)
    lost = exposed.watered * (lack.watered - a) + exposed.rained * (lack.rained - b)
    assert_allclose(lost, evaporated, rtol=0, atol=1e-9)


@pytest.mark.parametrize(("through", "expected"), [(0.0, 7.0), (1.0, 10.0)])
def test_lids_keep_rain_out_and_straw_does_not(through: float, expected: float) -> None:
    surface = dataclasses.replace(BARE, covered_share=0.3, rain_through_cover=through)
    assert_allclose(rain_into_soil_mm(10.0, surface), expected)


def test_at_planting_the_watered_strip_is_wet_and_the_rest_dry() -> None:
    nothing = np.zeros(1)
    lack = first_lack_mm(OpenGround(DRIP, Strips(nothing, nothing), nothing, nothing, nothing, nothing))
    assert_allclose([lack.watered, lack.rained], [0.0, 20.0])
