"""The lid: what it catches, what it keeps in, what it keeps off the bed."""

from dataclasses import replace

import numpy as np
from numpy.testing import assert_allclose

from plotworth.supply.lid import (
    HIGHEST_DEW_L_PER_M2,
    dew_above_ceiling_l_per_m2,
    dew_caught_l,
    most_evaporation_l,
    rain_caught_l,
    rain_on_soil_mm,
)
from reservoir_units import FUNNEL_LID, TIGHT_LID

COVERED = replace(FUNNEL_LID, rain_reaching_share=0.0)


def test_dew_counts_up_to_the_ceiling_of_0_8_litres_a_night() -> None:
    assert HIGHEST_DEW_L_PER_M2 == 0.8
    stated = np.array([0.0, 0.3, 0.8, 4.0])
    assert_allclose(dew_caught_l(FUNNEL_LID, stated), [0.0, 0.15, 0.4, 0.4])
    assert_allclose(dew_above_ceiling_l_per_m2(stated), [0.0, 0.0, 0.0, 3.2])


def test_a_lid_catches_its_share_and_the_open_surface_all_of_the_rain() -> None:
    assert_allclose(rain_caught_l(FUNNEL_LID, 10.0), 10 * (0.5 * 0.8 + 0.25 * 0.1))
    assert_allclose(rain_caught_l(TIGHT_LID, 10.0), 0.0)
    assert_allclose(rain_caught_l(replace(TIGHT_LID, lidded_share=0.0), 10.0), 2.5)


def test_under_a_cover_no_rain_is_caught_but_dew_is_taken_as_stated() -> None:
    assert_allclose(rain_caught_l(COVERED, 10.0), 0.0)
    assert_allclose(rain_on_soil_mm(COVERED, 10.0, 2.0), 0.0)
    assert_allclose(dew_caught_l(COVERED, 0.3), 0.15)


def test_what_the_tank_catches_is_kept_off_the_bed_that_it_stands_in() -> None:
    assert_allclose(rain_on_soil_mm(FUNNEL_LID, 10.0, 2.0), 10 - 4.25 / 2)
    assert_allclose(rain_on_soil_mm(replace(FUNNEL_LID, over_bed_share=0.0), 10.0, 2.0), 10.0)


def test_evaporation_is_that_of_the_open_part_and_a_share_of_the_lidded() -> None:
    assert_allclose(most_evaporation_l(FUNNEL_LID, 5.0), 5 * 0.25 * (0.1 + 0.9 * 0.1))
    assert_allclose(most_evaporation_l(replace(FUNNEL_LID, lidded_share=0.0), 5.0), 1.25)
