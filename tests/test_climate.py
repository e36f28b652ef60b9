"""A weather table with gaps: a value for every day that can have one, and what was estimated."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from climate_tables import Row, inputs, rows, station
from plotworth.ground.errors import PlotworthError
from plotworth.supply.climate import DailyReference, daily_reference
from plotworth.supply.evapotranspiration import wind_at_two_metres_m_s
from plotworth.supply.radiation import KRS_COAST, KRS_INTERIOR
from plotworth.supply.vapour import (
    lowest_humidity_pct,
    saturation_vapour_pressure_kpa,
    vapour_from_highest_humidity_kpa,
    vapour_from_humidity_kpa,
)

NAN = np.nan
PLACES = {
    "greensboro": (36.1, 273.0, KRS_INTERIOR),
    "chicago": (41.98, 205.0, KRS_INTERIOR),
    "san_diego": (32.73, 4.0, KRS_COAST),
}
COLUMNS = ["date", "reference_mm", "hargreaves_mm", "rain_mm", "wind_2m_m_s", "rh_min_pct", "estimated"]
WHOLE_DAY = {
    "tmin_c": 19.0,
    "tmax_c": 31.0,
    "rh_min_pct": 42.0,
    "rh_max_pct": 88.0,
    "wind_m_s": 2.5,
    "wind_height_m": 2.0,
    "sun_h": 8.5,
    "solar_mj_m2": 21.0,
    "rain_mm": 0.0,
}


def days(*changes: dict[str, float], **columns: float) -> pd.DataFrame:
    """Weather from 2026-03-01 on, a whole day each but for the changes; columns change every day."""
    table = pd.DataFrame([{**WHOLE_DAY, **columns, **change} for change in changes])
    return table.assign(date=pd.date_range("2026-03-01", periods=len(table)))


def at_home(weather: pd.DataFrame) -> DailyReference:
    return daily_reference(weather, latitude_deg=12.0, elevation_m=300.0)


@pytest.mark.published
@pytest.mark.parametrize("name", PLACES)
def test_whole_years_of_a_station(name: str) -> None:
    weather, (latitude, elevation, _) = station(name), PLACES[name]
    found = daily_reference(weather, latitude_deg=latitude, elevation_m=elevation)
    assert_allclose(found.table["reference_mm"], weather["plain_mm"], rtol=0, atol=1e-8)
    assert_allclose(found.table["hargreaves_mm"], weather["hargreaves_mm"], rtol=0, atol=1e-8)
    assert_array_equal(found.table["rain_mm"], weather["rain_mm"])
    assert (found.table["estimated"] == "").all()


@pytest.mark.published
@pytest.mark.parametrize("name", ["chicago", "san_diego"])
def test_whole_years_without_a_radiation_record(name: str) -> None:
    weather, (latitude, elevation, krs) = station(name), PLACES[name]
    blank = weather.assign(solar_mj_m2=NAN)
    found = daily_reference(blank, latitude_deg=latitude, elevation_m=elevation, krs=krs)
    assert_allclose(found.table["reference_mm"], weather["plain_mm"], rtol=0, atol=1e-8)
    assert (found.table["estimated"] == "radiation from temperatures").all()
    assert found.notes[0].startswith("731 of 731 days lack solar_mj_m2 and sun_h: ")
    assert found.notes[0].endswith(f"(FAO-56 eq 50 with kRs {krs:g}).")


@pytest.mark.published
def test_years_of_temperatures_and_rain_alone() -> None:
    weather = station("seattle")
    found = daily_reference(weather, latitude_deg=47.45, elevation_m=130.0)
    assert_allclose(found.table["hargreaves_mm"], weather["hargreaves_mm"], rtol=0, atol=1e-8)
    assert found.table["reference_mm"].notna().all()
    assert set(found.table["estimated"]) == {"humidity from tmin_c; radiation from temperatures; wind 2 m/s"}
    assert len(found.notes) == 3


@pytest.mark.published
@pytest.mark.parametrize(
    "row", [r for r in rows("reference_mm") if r["section"] == "Example 18"], ids=lambda r: r["name"]
)
def test_example_18_as_a_day_of_a_table(row: Row) -> None:
    given = inputs(row)
    day = pd.DataFrame([{**given, "wind_height_m": given["height_m"], "date": "2026-07-06"}])
    found = daily_reference(day, latitude_deg=given["latitude_deg"], elevation_m=given["elevation_m"])
    assert_allclose(found.table["reference_mm"], float(row["unrounded"]), rtol=0, atol=5e-7)


@pytest.mark.published
def test_example_20_needs_temperatures_alone() -> None:
    row = next(r for r in rows("reference_mm") if r["section"] == "Example 20" and "wind_2m_m_s=2" in r["inputs"])
    given = inputs(row)
    day = pd.DataFrame([{"date": "2026-07-15", "tmin_c": given["tmin_c"], "tmax_c": given["tmax_c"]}])
    found = daily_reference(day, latitude_deg=given["latitude_deg"], elevation_m=given["elevation_m"])
    assert_allclose(found.table["reference_mm"], float(row["unrounded"]), rtol=0, atol=5e-7)


def test_the_result_has_the_columns_of_the_contract_and_a_whole_day_needs_no_note() -> None:
    found = at_home(days({}, {}))
    assert list(found.table) == COLUMNS
    assert found.notes == ()
    assert_array_equal(found.table["rh_min_pct"], 42.0)
    assert_array_equal(found.table["wind_2m_m_s"], 2.5)


def test_each_gap_is_filled_by_its_own_procedure_and_said() -> None:
    found = at_home(
        days(
            {},
            {"rh_min_pct": NAN},
            {"rh_max_pct": NAN},
            {"rh_min_pct": NAN, "rh_max_pct": NAN},
            {"solar_mj_m2": NAN},
            {"solar_mj_m2": NAN, "sun_h": NAN},
            {"wind_m_s": NAN},
            {"wind_height_m": NAN},
            {"wind_height_m": 10.0},
            {"rain_mm": NAN},
        )
    )
    assert list(found.table["estimated"]) == [
        "",
        "humidity from rh_max_pct",
        "humidity from rh_min_pct",
        "humidity from tmin_c",
        "radiation from sun_h",
        "radiation from temperatures",
        "wind 2 m/s",
        "wind gauge at 2 m",
        "",
        "",
    ]
    assert len(found.notes) == 9
    assert all(note.startswith("1 of 10 days ") for note in found.notes)
    assert found.table["reference_mm"].notna().all()
    assert_allclose(found.table["wind_2m_m_s"][[6, 7, 8]], [2.0, 2.5, float(wind_at_two_metres_m_s(2.5, 10.0))])
    assert_array_equal(found.table["rain_mm"].isna(), [False] * 9 + [True])


def test_the_lowest_humidity_is_filled_from_the_same_vapour_pressure() -> None:
    found = at_home(days({"rh_min_pct": NAN}, {"rh_min_pct": NAN, "rh_max_pct": NAN}))
    highest = vapour_from_highest_humidity_kpa(19.0, 88.0)
    coolest = saturation_vapour_pressure_kpa(19.0)
    assert_allclose(found.table["rh_min_pct"], lowest_humidity_pct(31.0, [highest, coolest]))


def test_measured_radiation_goes_before_sunshine() -> None:
    with_sunshine, without = at_home(days({})), at_home(days({"sun_h": NAN}))
    assert_array_equal(with_sunshine.table["reference_mm"], without.table["reference_mm"])


def test_days_without_usable_temperatures_stay_missing_and_are_said() -> None:
    found = at_home(days({"tmin_c": NAN}, {"tmax_c": NAN}, {"tmin_c": 32.0}, {}))
    assert_array_equal(found.table["reference_mm"].isna(), [True, True, True, False])
    assert_array_equal(found.table["hargreaves_mm"].isna(), [True, True, True, False])
    assert list(found.table["estimated"]) == ["no temperatures", "no temperatures", "tmin_c above tmax_c", ""]
    assert found.notes == (
        "2 of 4 days lack tmin_c or tmax_c: no reference evapotranspiration.",
        "1 of 4 days have tmin_c above tmax_c: no reference evapotranspiration.",
    )


def test_a_day_absent_from_the_table_gets_a_row_of_its_own() -> None:
    found = at_home(days({}, {}, {}, {}).drop(index=[1, 2]).iloc[::-1])
    assert_array_equal(found.table["date"], pd.date_range("2026-03-01", periods=4))
    assert_array_equal(found.table["reference_mm"].isna(), [False, True, True, False])
    assert found.table["estimated"][1] == "no row; wind 2 m/s"
    assert found.notes[0] == "2 of 4 days have no row in the table: no reference evapotranspiration."


def test_a_day_that_stands_twice_is_refused_by_date() -> None:
    twice = days({}, {}).assign(date=pd.Timestamp("2026-03-02"))
    with pytest.raises(PlotworthError, match="2026-03-02 stands more than once; keep one row a day"):
        at_home(twice)


def test_an_empty_table_gives_an_empty_result() -> None:
    found = at_home(days({}).iloc[:0])
    assert list(found.table) == COLUMNS
    assert found.table.empty
    assert found.notes == ()


def test_doubtful_readings_are_used_and_said() -> None:
    found = at_home(days({"solar_mj_m2": 55.0}, {"solar_mj_m2": NAN, "sun_h": 15.0}, {"wind_m_s": 0.2}))
    assert found.table["reference_mm"].notna().all()
    assert "1 of 3 days have more solar_mj_m2 than arrives above the air" in found.notes[2]
    assert "1 of 3 days have more hours of sun_h than the day is long" in found.notes[1]
    assert "1 of 3 days have less than 0.5 m/s at 2 m" in found.notes[3]
    assert found.table["wind_2m_m_s"][2] == 0.2


def test_a_day_that_loses_more_heat_than_it_gains_counts_as_zero() -> None:
    clear = days({}, tmin_c=-8.0, tmax_c=-8.0, rh_min_pct=100.0, rh_max_pct=100.0, solar_mj_m2=1.5)
    winter = clear.assign(date=pd.Timestamp("2026-12-20"))
    found = daily_reference(winter, latitude_deg=60.0, elevation_m=0.0)
    assert found.table["reference_mm"][0] == 0
    assert found.table["estimated"][0] == "below 0, counted as 0"
    assert found.notes == ("1 of 1 days came out below 0, more heat lost than gained: counted as 0.",)


def test_a_day_without_sunrise_has_no_value_and_says_so() -> None:
    polar = days({}).assign(date=pd.Timestamp("2026-12-20"))
    found = daily_reference(polar, latitude_deg=75.0, elevation_m=0.0)
    assert found.table["reference_mm"].isna().all()
    assert "1 of 1 days have no sunrise at this latitude: no reference evapotranspiration." in found.notes


def test_the_weather_is_not_changed() -> None:
    weather = days({}, {"wind_m_s": NAN})
    before = weather.copy(deep=True)
    at_home(weather)
    pd.testing.assert_frame_equal(weather, before)


GAPS = st.lists(st.sets(st.sampled_from(sorted(WHOLE_DAY))), min_size=1, max_size=6)


@given(GAPS)
def test_any_pattern_of_gaps_gives_a_value_wherever_temperatures_are_known(gaps: list[set[str]]) -> None:
    weather = days(*(dict.fromkeys(missing, NAN) for missing in gaps))
    found = at_home(weather).table
    known = weather["tmin_c"].notna() & weather["tmax_c"].notna()
    assert_array_equal(found["reference_mm"].notna(), known)
    assert (found["reference_mm"][known] >= 0).all()
    assert found["wind_2m_m_s"].notna().all()
    needed = ["tmin_c", "tmax_c", "rh_min_pct", "rh_max_pct", "solar_mj_m2", "wind_m_s", "wind_height_m"]
    assert_array_equal(found["estimated"] == "", weather[needed].notna().all(axis=1))


@given(st.floats(min_value=10, max_value=30), st.floats(min_value=0, max_value=20), st.floats(min_value=0, max_value=5))
def test_hotter_afternoons_alone_raise_both_estimates(tmin: float, spread: float, more: float) -> None:
    gaps = {"rh_min_pct": NAN, "rh_max_pct": NAN, "sun_h": NAN, "solar_mj_m2": NAN, "wind_m_s": NAN}
    cooler = at_home(days({}, tmin_c=tmin, tmax_c=tmin + spread, **gaps)).table.loc[0]
    hotter = at_home(days({}, tmin_c=tmin, tmax_c=tmin + spread + more, **gaps)).table.loc[0]
    assert cooler["reference_mm"] <= hotter["reference_mm"] + 1e-12
    assert cooler["hargreaves_mm"] <= hotter["hargreaves_mm"] + 1e-12


def test_the_two_humidity_readings_together_follow_equation_17() -> None:
    both = at_home(days({})).table["reference_mm"][0]
    mean = float(vapour_from_humidity_kpa(19.0, 31.0, 42.0, 88.0))
    highest = 100 * mean / float(saturation_vapour_pressure_kpa(19.0))
    assert_allclose(at_home(days({"rh_min_pct": NAN, "rh_max_pct": highest})).table["reference_mm"][0], both)
