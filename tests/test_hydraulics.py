"""Friction in pipes: published rows, Darcy's formula by hand, outlet by outlet, and how losses scale."""

from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from lifting_rows import METRES_PER_FOOT, MILLIMETRES_PER_INCH, Row, allowance, inputs, name_of, rows_of
from plotworth.ground.conversions import (
    LITRES_PER_M3,
    LITRES_PER_US_GALLON,
    MINUTES_PER_HOUR,
)
from plotworth.supply.hydraulics import (
    BLASIUS_EXPONENT,
    HAZEN_WILLIAMS_EXPONENT,
    Lateral,
    Main,
    blasius_holds,
    christiansen_factor,
    darcy_blasius_loss_m,
    hazen_williams_loss_m,
    reynolds_number,
    velocity_m_s,
)

assert_close = partial(assert_allclose, rtol=1e-9)

FLOW = st.floats(min_value=0.01, max_value=200)
LENGTH = st.just(0.0) | st.floats(min_value=1e-3, max_value=5000)
DIAMETER = st.floats(min_value=8, max_value=300)
OUTLETS = st.integers(min_value=1, max_value=1000)


def main_ft(row: Row) -> float:
    given_ = inputs(row)
    flow_m3_per_h = given_["flow_gpm"] * LITRES_PER_US_GALLON * MINUTES_PER_HOUR / LITRES_PER_M3
    main = Main(
        given_["length_ft"] * METRES_PER_FOOT,
        given_["diameter_in"] * MILLIMETRES_PER_INCH,
        given_["hazen_williams_c"],
    )
    return float(main.loss_m(flow_m3_per_h)) / METRES_PER_FOOT


def christiansen(row: Row) -> float:
    given_ = inputs(row)
    return float(christiansen_factor(given_["outlets"], given_["flow_exponent"]))


WAYS = {"main_ft": main_ft, "christiansen": christiansen}


@pytest.mark.published
@pytest.mark.parametrize("row", rows_of("hydraulics"), ids=name_of)
def test_friction_agrees_with_published_rows(row: Row) -> None:
    assert_allclose(WAYS[row["quantity"]](row), float(row["value"]), rtol=0, atol=allowance(row))


def test_hazen_williams_by_hand() -> None:
    # the SI form as printed: 10.67 L Q**1.852 / (C**1.852 d**4.8704); 10 m3/h in 50 mm, C 150, 200 m
    expected_m = 10.67 * 200 * (10 / 3600) ** 1.852 / (150**1.852 * 0.05**4.8704)
    assert_close(hazen_williams_loss_m(10, Main(200, 50, 150)), expected_m)


def test_darcy_blasius_by_hand_written_with_the_friction_factor() -> None:
    # Darcy-Weisbach as textbooks print it: f L/d v2/2g with f = 0.3164 Re**-0.25; 500 L/h in 14 mm over 60 m
    speed = 0.5 / 3600 / (np.pi * 0.014**2 / 4)
    friction_factor = 0.3164 * (speed * 0.014 / 1.004e-6) ** -0.25
    assert_close(darcy_blasius_loss_m(0.5, 60, 14), friction_factor * 60 / 0.014 * speed**2 / (2 * 9.81))


def test_friction_of_a_lateral_summed_outlet_by_outlet() -> None:
    # second route: the flow of each stretch rubs over one spacing; Christiansen's series is its sum to 1e-3
    lateral = Lateral(outlets=40, spacing_m=0.5, outlet_l_per_h=2.0, diameter_mm=14.0)
    stretches = sum(float(darcy_blasius_loss_m(2.0 * number / 1000, 0.5, 14.0)) for number in range(1, 41))
    assert_allclose(lateral.loss_m, stretches, rtol=1e-3)


@given(OUTLETS, st.sampled_from([BLASIUS_EXPONENT, HAZEN_WILLIAMS_EXPONENT]))
def test_christiansen_factor_is_the_sum_of_powers(outlets: int, exponent: float) -> None:
    # Euler-Maclaurin: sum of (k/N)**m / N; the terms left out stay under 0.5 % and vanish with N
    summed = np.sum((np.arange(1, outlets + 1) / outlets) ** exponent) / outlets
    assert_allclose(christiansen_factor(outlets, exponent), summed, rtol=2e-2 / outlets)


def test_many_outlets_rub_like_a_steady_loss_of_flow() -> None:
    assert_allclose(christiansen_factor(1e9, BLASIUS_EXPONENT), 1 / 2.75, rtol=1e-8)


def test_no_flow_rubs_nowhere() -> None:
    assert hazen_williams_loss_m(0, Main(100, 50, 150)) == 0
    assert darcy_blasius_loss_m(0, 100, 14) == 0
    assert Lateral(10, 0.3, 0, 14).loss_m == 0


def test_reynolds_number_by_hand() -> None:
    # by hand: 0.001 m3/s in 50 mm is 0.5093 m/s; x 0.05 / 1.004e-6 = 25 363
    assert_allclose(velocity_m_s(3.6, 50), 0.509296, rtol=1e-6)
    assert_allclose(reynolds_number(3.6, 50), 25363.3, rtol=1e-5)


def test_blasius_holds_between_its_bounds_and_not_outside() -> None:
    assert blasius_holds([3999, 4000, 100_000, 100_001]).tolist() == [False, True, True, False]


def test_a_lateral_says_whether_its_inlet_lies_in_the_range() -> None:
    # by hand: 40 x 2 L/h in 14 mm is Re 2013; 100 x 2 L/h is 5032
    assert Lateral(np.array([40, 100]), 0.5, 2.0, 14.0).blasius_holds.tolist() == [False, True]


@given(FLOW, LENGTH, DIAMETER)
def test_friction_is_linear_in_length_and_a_power_of_flow(flow: float, length: float, diameter: float) -> None:
    darcy, hazen = darcy_blasius_loss_m, hazen_williams_loss_m
    assert_close(darcy(flow, 3 * length, diameter), 3 * darcy(flow, length, diameter))
    assert_close(darcy(2 * flow, length, diameter), 2**1.75 * darcy(flow, length, diameter))
    assert_close(hazen(flow, Main(3 * length, diameter, 140)), 3 * hazen(flow, Main(length, diameter, 140)))
    assert_close(hazen(2 * flow, Main(length, diameter, 140)), 2**1.852 * hazen(flow, Main(length, diameter, 140)))


@given(OUTLETS)
def test_a_lateral_rubs_no_more_than_a_pipe_that_carries_all_to_its_end(outlets: int) -> None:
    lateral = Lateral(outlets, 0.3, 1.6, 16.0)
    assert lateral.loss_m <= darcy_blasius_loss_m(lateral.inlet_flow_m3_per_h, outlets * 0.3, 16.0)


def test_friction_broadcasts_sites_against_draws() -> None:
    main = Main(np.array([[50.0], [200.0]]), 63.0, np.array([[130.0, 140.0, 150.0]]))
    assert main.loss_m(4.0).shape == (2, 3)
