"""Salt by season: brought, leached or risen, flushed, what it leaves of the yield and what burns; by hand."""

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from folders import DEMO
from plotworth import appraise, open_case
from plotworth.choose.dressing import largest_dressings, unweighed
from plotworth.choose.salt_season import ROWS, SaltSeason, salt_notes, salt_seasons
from plotworth.ground.handbook import HandbookError, find_salt_tolerance
from plotworth.supply.salt import salt_loss_low_high, salt_yield_share
from soil_case import INPUTS, SALT, soil_appraisal

APPLIED_L_PER_M2 = 110.0  # tank: (400 - 40) / 4 and (560 - 40) / 4
SATURATION_L_PER_M2 = 200.0  # 0.4 m x 500 mm/m


def seasons(folder: Path, **book: float | None) -> dict[str, SaltSeason]:
    return {one.system: one for one in salt_seasons(soil_appraisal(folder, book={**SALT, **book}))}


def test_salt_brought_is_the_water_times_its_salinity(tmp_path: Path) -> None:
    """110 l/m2 x 1 dS/m x 0.64 g/l / 1000, and 200 l/m2 for the hand."""
    found = seasons(tmp_path)
    assert_allclose([found["tank"].salt_added_kg_per_m2, found["hand"].salt_added_kg_per_m2], [0.0704, 0.128])


def test_water_from_above_has_a_leaching_requirement_and_water_from_below_has_none(tmp_path: Path) -> None:
    """LR = ECw / (5 ECe - ECw) = 1 / (5 x 2 - 1), FAO-29."""
    found = seasons(tmp_path)
    assert_allclose(found["hand"].leaching_share, 1 / 9)
    assert math.isnan(found["tank"].leaching_share)
    assert math.isnan(found["hand"].rise_ds_m)
    assert math.isnan(found["hand"].flushing_needed_l_per_m2)


def test_salt_of_rising_water_stays_until_it_is_flushed(tmp_path: Path) -> None:
    """Rise 110 x 1 / 200 = 0.55; back from 2.55 to 2: 200 / 0.5 x ln(1.55 / 1); 100 l leave 1 + 1.55 e^-0.25."""
    tank = seasons(tmp_path)["tank"]
    assert_allclose(tank.rise_ds_m, APPLIED_L_PER_M2 / SATURATION_L_PER_M2)
    assert_allclose(tank.flushing_needed_l_per_m2, 400 * math.log(1.55))
    assert_allclose(tank.end_ds_m, 1 + 1.55 * math.exp(-0.25))


def test_the_flushing_that_is_needed_brings_the_soil_back_where_it_was(tmp_path: Path) -> None:
    needed = 400 * math.log(1.55)
    assert_allclose(seasons(tmp_path, flushing_l_per_m2=needed)["tank"].end_ds_m, 2.0)


def test_the_yield_left_runs_between_the_ends_of_the_handbook(tmp_path: Path) -> None:
    """Sweet pepper, FAO-56 Table 23: 1.5-1.7 dS/m and 12-14 %: at 2 dS/m 1 - 14 % x 0.5 to 1 - 12 % x 0.3."""
    tank = seasons(tmp_path)["tank"]
    assert_allclose([tank.yield_share_low, tank.yield_share_high], [0.93, 0.964])


def test_the_middle_of_the_tolerance_lies_between_its_ends() -> None:
    """Sweet pepper: 1.6 dS/m and 13 %: at 2 dS/m 1 - 0.13 x 0.4; none lost at 1.6, all from 1.6 + 100 / 13."""
    salinity = np.array([0.5, 1.6, 2.0, 1.6 + 100 / 13, 12.0])
    assert_allclose(salt_yield_share("bell pepper", salinity), [1.0, 1.0, 0.948, 0.0, 0.0], atol=1e-12)
    least, greatest = salt_loss_low_high(salinity, find_salt_tolerance("sweet pepper"))
    lost = 1.0 - salt_yield_share("sweet pepper", salinity)
    assert np.all((least <= lost + 1e-12) & (lost <= greatest + 1e-12))
    assert salt_yield_share("tomato", np.ones((3, 2))).shape == (3, 2)
    with pytest.raises(HandbookError, match="okra"):
        salt_yield_share("okra", salinity)


def test_fertiliser_at_once_raises_the_soil_and_has_a_limit(tmp_path: Path) -> None:
    """0.12 kg on 4 m2; 0.03 x 0.8 / 0.64 / 0.2 = 0.1875 dS/m; from 1 to 1.5 dS/m 0.5 x 0.2 x 0.64 / 0.8 = 0.08 kg."""
    tank = seasons(tmp_path, soil_salinity_ds_m=1.0)["tank"]
    assert_allclose(tank.dressing_kg_per_m2, 0.03)
    assert_allclose(tank.dressing_rise_ds_m, 0.1875)
    assert_allclose(tank.most_fertiliser_kg_per_m2, 0.08)
    full = soil_appraisal(tmp_path, book=SALT)
    assert salt_seasons(full)[0].most_fertiliser_kg_per_m2 == 0, "at 2 dS/m the threshold is passed already"
    assert any("no room for salt of fertiliser" in note for note in salt_notes(full))


def test_dressings_of_one_day_are_added_and_other_units_are_named(tmp_path: Path) -> None:
    """T1 on 1 February: 0.12 kg and 200 g on 4 m2 are 0.08 kg/m2."""
    more = "2026-02-01,T1,potash,200,g,0,0,0.1,mineral_fertiliser\n2026-03-01,T1,feed,2,l,0,0,0.1,mineral_fertiliser\n"
    case = soil_appraisal(tmp_path, inputs=INPUTS + more).case
    found = largest_dressings(case)
    assert found.keys() == {"tank"}
    assert_allclose(found["tank"].kg_per_m2, 0.08)
    assert (found["tank"].plot, found["tank"].date) == ("T1", "2026-02-01")
    assert unweighed(case) == ("feed",)


@pytest.mark.parametrize("name", list(ROWS))
def test_each_row_that_is_not_stated_is_named_with_what_is_not_known(tmp_path: Path, name: str) -> None:
    appraisal = soil_appraisal(tmp_path, book={**SALT, name: None})
    (note,) = [note for note in salt_notes(appraisal) if f"({name}) is not stated for Tank" in note]
    assert note.endswith(f"not known without it: {ROWS[name]}.")


def test_with_every_row_stated_nothing_is_missing(tmp_path: Path) -> None:
    assert not any("not stated" in note for note in salt_notes(soil_appraisal(tmp_path, book=SALT)))


def test_water_that_cannot_hold_the_soil_is_said(tmp_path: Path) -> None:
    """ECw 5 and ECe 2: LR would be 5 / (10 - 5) = 1, and a flush of 5 dS/m cannot reach 2."""
    notes = " ".join(salt_notes(soil_appraisal(tmp_path, book={**SALT, "water_salinity_ds_m": 5.0})))
    assert "Hand in dry: no amount of this water" in notes
    assert "Tank in dry: flushing with this water cannot reach" in notes


def test_a_crop_without_a_tolerance_is_said_and_its_yield_left_is_a_gap(tmp_path: Path) -> None:
    appraisal = soil_appraisal(tmp_path, book=SALT, crop="okra")
    assert all(math.isnan(one.yield_share_low) for one in salt_seasons(appraisal))
    assert any("okra is without a handbook row of salt tolerance" in note for note in salt_notes(appraisal))


def test_where_neither_water_nor_soil_is_stated_one_sentence_says_so(tmp_path: Path) -> None:
    (note,) = salt_notes(soil_appraisal(tmp_path))
    assert note.startswith("Salt is not looked at")


def test_the_demo_has_a_salt_season_for_each_of_its_own_and_moves_no_npv() -> None:
    """NPVs as before salt was looked at: XTS -5023.04, -4563.48, and -3327.47 by means over blocks."""
    appraisal = appraise(open_case(DEMO))
    assert [f"{one.system}/{one.season}" for one in salt_seasons(appraisal)] == list(appraisal.seasons)
    npv = [appraisal.systems[name]["npv"] for name in ("reservoir", "drip", "hand")]
    assert_allclose(npv, [-5023.04, -4563.48, -3327.47], atol=0.005)  # printed to the cent
