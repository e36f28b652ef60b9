"""A well: the area it serves by hand, dry holes expected and drawn, their limits, and the permit."""

from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from lifting_rows import Row, inputs, name_of, rows_of
from plotworth.supply.well import (
    ENGLAND_AND_WALES_FREE_M3_PER_DAY,
    chance_of_water,
    drawn_dry_holes,
    expected_dry_holes,
    field_share,
    permit_needed,
    served_area_m2,
    well_cost,
)

assert_close = partial(assert_allclose, rtol=1e-9)

CHANCE = st.floats(min_value=0, max_value=1)
TRIES = st.integers(min_value=1, max_value=20)
UNIFORM = st.floats(min_value=0, max_value=1, exclude_max=True)


@pytest.mark.published
@pytest.mark.parametrize("row", rows_of("well"), ids=name_of)
def test_the_permit_threshold_of_england_and_wales(row: Row) -> None:
    found = permit_needed(inputs(row)["peak_m3_per_day"], ENGLAND_AND_WALES_FREE_M3_PER_DAY)
    assert bool(found) == bool(int(row["value"]))


def test_the_area_of_a_well_by_hand() -> None:
    # by hand: 1.5 m3/h x 6 h = 9 m3 a day, 1 m3 for the house; 8000 L / 6.4 L per m2 = 1250 m2
    assert_close(served_area_m2(1.5, 6, 6.4, other_use_m3_per_day=1.0), 1250)


def test_a_well_taken_whole_by_others_serves_no_field() -> None:
    assert served_area_m2(1.0, 2.0, 6.0, other_use_m3_per_day=3.0) == 0
    assert served_area_m2(1.0, 2.0, 0.0, other_use_m3_per_day=3.0) == 0


def test_without_demand_a_well_serves_any_area() -> None:
    assert served_area_m2(1.0, 2.0, 0.0, other_use_m3_per_day=0.0) == np.inf


@given(st.floats(0.01, 100), st.floats(0.1, 24), st.floats(0.1, 15), st.floats(0, 10))
def test_a_served_area_at_its_peak_uses_what_the_well_has_left(
    well_yield: float, hours: float, demand: float, other: float
) -> None:
    area = served_area_m2(well_yield, hours, demand, other_use_m3_per_day=other)
    assert_allclose(area * demand / 1000, max(well_yield * hours - other, 0), atol=1e-9)


def test_the_field_carries_its_part_of_the_well() -> None:
    assert_close(field_share([300.0, 300.0, 0.0], [0.0, 100.0, 100.0]), [1.0, 0.75, 0.0])
    assert np.isnan(field_share(0.0, 0.0))


def test_dry_holes_by_hand() -> None:
    # by hand: chance 0.3, three tries: 0.3 + 0.09 + 0.027 = 0.417; water strikes with 1 - 0.027
    assert_close(expected_dry_holes(0.3, 3), 0.417)
    assert_close(chance_of_water(0.3, 3), 0.973)
    assert_close(well_cost(4000, 1500, expected_dry_holes(0.3, 3)), 4625.5)


def test_without_a_limit_dry_holes_are_p_over_one_less_p() -> None:
    assert_close(expected_dry_holes(0.25, 1000), 1 / 3)


def test_a_sure_strike_costs_the_well_alone() -> None:
    assert well_cost(4000, 1500, expected_dry_holes(0.0, 5)) == 4000
    assert chance_of_water(0.0, 5) == 1


@pytest.mark.parametrize("chance", [1 - 1e-12, np.nextafter(1.0, 0.0), 1.0])
def test_ground_that_is_surely_dry_costs_the_limit_of_tries_and_no_more(chance: float) -> None:
    assert_allclose(expected_dry_holes(chance, 5), 5, rtol=1e-10)
    assert_allclose(chance_of_water(chance, 5), 5 * (1 - chance), rtol=1e-10)


@given(CHANCE, TRIES)
def test_expected_dry_holes_are_the_sum_of_the_chances_to_meet_each(chance: float, tries: int) -> None:
    assert_allclose(expected_dry_holes(chance, tries), sum(chance**k for k in range(1, tries + 1)), rtol=1e-9)


@pytest.mark.parametrize("wet_chance", [3.3e-11, 7.7e-10, 3.1e-8])
def test_expected_dry_holes_keep_their_digits_in_nearly_dry_ground(wet_chance: float) -> None:
    chance = 1 - wet_chance
    assert_close(expected_dry_holes(chance, 7), sum(chance**k for k in range(1, 8)))


@given(CHANCE, TRIES, UNIFORM)
def test_drawn_dry_holes_are_whole_and_within_the_tries(chance: float, tries: int, uniform: float) -> None:
    holes = float(drawn_dry_holes(chance, tries, uniform))
    assert holes == int(holes)
    assert 0 <= holes <= tries


@given(CHANCE, CHANCE, TRIES, UNIFORM)
def test_a_draw_meets_no_fewer_dry_holes_in_drier_ground(one: float, other: float, tries: int, uniform: float) -> None:
    fewer, more = drawn_dry_holes(sorted([one, other]), tries, uniform)
    assert fewer <= more


def test_drawn_dry_holes_at_the_edges() -> None:
    assert_array_equal(drawn_dry_holes(0.0, 4, [0.0, 0.5, 0.999]), 0)
    assert_array_equal(drawn_dry_holes(1.0, 4, [0.0, 0.5, 0.999]), 4)


@pytest.mark.parametrize("chance", [0.1, 0.4, 0.9])
@pytest.mark.parametrize("tries", [1, 4])
def test_draws_have_the_expected_mean_and_the_geometric_shares(chance: float, tries: int) -> None:
    # uniforms evenly over [0, 1): no chance in it; the error of a step's place is one in 100 000
    uniforms = (np.arange(100_000) + 0.5) / 100_000
    holes = drawn_dry_holes(chance, tries, uniforms)
    assert_allclose(holes.mean(), expected_dry_holes(chance, tries), atol=1e-4)
    assert_allclose((holes < tries).mean(), chance_of_water(chance, tries), atol=1e-4)


def test_wells_broadcast_sites_against_draws() -> None:
    uniforms = np.random.default_rng(20).random((1, 50))
    chances = np.array([[0.1], [0.5], [0.9]])
    assert drawn_dry_holes(chances, 3, uniforms).shape == (3, 50)
    assert served_area_m2(chances, 6.0, uniforms, other_use_m3_per_day=0.0).shape == (3, 50)
