"""Flags on nutrients, manure and salt: each fires at its limit, stays silent below it, and moves no number."""

from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from folders import DEMO
from plotworth import Appraisal, appraise, open_case
from plotworth.choose.flag import Flag
from plotworth.choose.guard import flags, unchecked
from soil_case import INPUTS, SALT, soil_appraisal
from trial_case import HARVESTS

RAW = INPUTS.replace("yard_waste_compost", "raw_cattle_manure").replace("compost", "cow dung")
UNSAID = INPUTS.replace("yard_waste_compost", "").replace("compost", "cow dung")
NEW = {
    "first_season_nitrogen_g_per_m2",
    "raw_manure_interval_days",
    "manure_of_unknown_kind_rows",
    "fertiliser_dressing_kg_per_m2",
    "soil_salinity_ds_m",
    "water_salinity_ds_m",
}


def raised(appraisal: Appraisal) -> dict[tuple[str, str], Flag]:
    found = [flag for flag in flags(appraisal) if flag.what in NEW]
    assert all("Check " in flag.sentence and flag.source.split(";")[0] in flag.sentence for flag in found)
    return {(flag.place, flag.what): flag for flag in found}


def test_enough_nitrogen_that_comes_too_late_is_flagged_and_too_little_in_all_is_left_to_the_other_flag(
    tmp_path: Path,
) -> None:
    """Tank: 24.5 g/m2 given, 5.5 g at first, 15 g removed at the least. Hand: nothing given, 9 g removed."""
    appraisal = soil_appraisal(tmp_path)
    found = raised(appraisal)
    assert found.keys() == {("treatments/tank", "first_season_nitrogen_g_per_m2")}
    flag = found["treatments/tank", "first_season_nitrogen_g_per_m2"]
    assert_allclose([flag.value, flag.low or 0.0], [5.5, 15.0])
    short = {flag.place for flag in flags(appraisal) if flag.what == "nitrogen_removed_g_per_m2"}
    assert short == {"treatments/hand"}


def test_an_unknown_share_raises_no_flag_on_the_first_season(tmp_path: Path) -> None:
    assert raised(soil_appraisal(tmp_path, inputs=INPUTS.replace("yard_waste_compost", "compost"))) == {}


@pytest.mark.parametrize(
    ("touches", "picked_on", "needed", "interval"),
    [
        (0.0, "2026-05-01", 90, 89),  # 1 February to 1 May 2026
        (0.0, "2026-05-02", None, 90),
        (1.0, "2026-05-31", 120, 119),
        (1.0, "2026-06-01", None, 120),
        (None, "2026-05-31", 120, 119),
    ],
)
def test_raw_manure_too_close_to_the_picking_is_flagged_by_treatment(
    tmp_path: Path, touches: float | None, picked_on: str, needed: float | None, interval: float
) -> None:
    """120 days where the edible part touches the soil or that is not stated, 90 otherwise (7 CFR 205.203(c)(1))."""
    files = {"harvests.csv": HARVESTS.replace("2026-05-01", picked_on)}
    found = raised(soil_appraisal(tmp_path, inputs=RAW, book={"touches_soil": touches}, files=files))
    flag = found.get(("treatments/tank", "raw_manure_interval_days"))
    assert (None if flag is None else flag.low) == needed
    if flag is not None:
        assert flag.value == interval
        assert "to plot T1 and 1 other on 2026-02-01" in flag.sentence
        assert ("touches_soil" in flag.sentence) is (touches is None)


def test_a_crop_that_touches_the_soil_in_one_season_is_held_to_the_longer_interval(tmp_path: Path) -> None:
    book = {"touches_soil/tank": 0.0, "touches_soil/hand": 1.0}
    found = raised(soil_appraisal(tmp_path, inputs=RAW, book=book))
    assert found["treatments/tank", "raw_manure_interval_days"].low == 120


def test_an_item_whose_name_says_manure_and_whose_kind_is_blank_is_a_question(tmp_path: Path) -> None:
    flag = raised(soil_appraisal(tmp_path, inputs=UNSAID))["treatments/tank", "manure_of_unknown_kind_rows"]
    assert (flag.value, flag.high) == (2.0, 0.0)
    assert "is cow dung raw manure?" in flag.sentence
    said = UNSAID.replace("0.06,\n", "0.06,composted_cattle_manure\n")
    assert raised(soil_appraisal(tmp_path, inputs=said)) == {}


@pytest.mark.parametrize(("kg", "is_raised"), [(0.31, False), (0.33, True)])
def test_more_fertiliser_at_once_than_the_crop_bears_is_flagged(tmp_path: Path, kg: float, is_raised: bool) -> None:
    """From 1 to 1.5 dS/m is 0.08 kg/m2 (0.5 x 0.2 x 0.64 / 0.8), 0.32 kg on a plot of 4 m2."""
    inputs = INPUTS.replace("15-15-15,0.12,", f"15-15-15,{kg},")
    found = raised(soil_appraisal(tmp_path, inputs=inputs, book={**SALT, "soil_salinity_ds_m": 1.0}))
    key = ("treatments/tank", "fertiliser_dressing_kg_per_m2")
    assert (key in found) is is_raised
    if is_raised:
        assert_allclose([found[key].value, found[key].high or 0.0], [kg / 4, 0.08])


@pytest.mark.parametrize(("salinity", "is_raised"), [(1.5, False), (1.6, True), (2.0, True)])
def test_a_soil_above_the_lowest_threshold_is_flagged_season_by_season(
    tmp_path: Path, salinity: float, is_raised: bool
) -> None:
    """Sweet pepper, FAO-56 Table 23: threshold 1.5 to 1.7 dS/m, 12 to 14 % each dS/m above it."""
    found = raised(soil_appraisal(tmp_path, book={"soil_salinity_ds_m": salinity}))
    keys = {(f"seasons/{system}/dry", "soil_salinity_ds_m") for system in ("tank", "hand")}
    assert (keys <= found.keys()) is is_raised
    if salinity == 2.0:
        assert "loses 3.6\u00a0% to 7\u00a0% of its yield" in found["seasons/tank/dry", "soil_salinity_ds_m"].sentence


@pytest.mark.parametrize(("salinity", "is_raised"), [(3.0, False), (3.1, True)])
def test_water_of_severe_restriction_is_flagged_system_by_system(
    tmp_path: Path, salinity: float, is_raised: bool
) -> None:
    """FAO-29 Table 1: severe above 3 dS/m."""
    found = raised(soil_appraisal(tmp_path, book={"water_salinity_ds_m": salinity}))
    assert (
        {("systems/tank", "water_salinity_ds_m"), ("systems/hand", "water_salinity_ds_m")} <= found.keys()
    ) is is_raised


def test_what_is_not_stated_and_what_has_no_row_is_named(tmp_path: Path) -> None:
    told = unchecked(soil_appraisal(tmp_path, crop="okra", book={"soil_salinity_ds_m": 2.0}))
    assert "Salt in the water (water_salinity_ds_m): not stated for Tank, Hand." in told
    assert any(text.startswith("Salt in the soil against okra:") for text in told)


def test_flags_move_no_number(tmp_path: Path) -> None:
    appraisal = soil_appraisal(tmp_path, inputs=RAW, book={**SALT, "water_salinity_ds_m": 4.0})
    before, table = repr(appraisal.systems), appraisal.case.table("inputs").copy()
    assert len(raised(appraisal)) > 4
    assert repr(appraisal.systems) == before
    assert table.equals(appraisal.case.table("inputs"))


def test_the_demo_raises_none_of_them() -> None:
    assert raised(appraise(open_case(DEMO))) == {}
