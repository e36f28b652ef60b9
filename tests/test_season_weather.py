"""Season weather: days cut out of a table, gaps said, several years side by side."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.ground.errors import PlotworthError
from plotworth.supply.season_weather import season_weather, season_weather_by_year


def table(first: str, days: int) -> pd.DataFrame:
    """Invented: the reference is the number of the day in its year."""
    dates = pd.date_range(first, periods=days)
    reference = dates.day_of_year.to_numpy(dtype=float)
    columns = {"reference_mm": reference, "rain_mm": 1.0, "wind_2m_m_s": 2.0, "rh_min_pct": 45.0}
    return pd.DataFrame({"date": dates, **columns})


def test_the_days_of_a_season_are_cut_out() -> None:
    found = season_weather(table("2026-01-01", 60), pd.Timestamp("2026-01-11"), 5)
    assert_array_equal(found.reference_mm, [11, 12, 13, 14, 15])
    assert found.dates[0] == pd.Timestamp("2026-01-11")
    assert found.notes == ()


def test_a_missing_reference_lies_between_its_neighbours_and_a_missing_rain_counts_as_dry() -> None:
    days = table("2026-01-01", 10)
    days.loc[[2, 3], "reference_mm"] = np.nan
    days.loc[5, "rain_mm"] = np.nan
    found = season_weather(days, pd.Timestamp("2026-01-01"), 10)
    assert_allclose(found.reference_mm[2:4], [3.0, 4.0])
    assert_array_equal(found.rain_mm[4:7], [1.0, 0.0, 1.0])
    assert found.notes == (
        "2 of 10 days of the season have no reference evapotranspiration: drawn between the days around them.",
        "1 of 10 days of the season have no rain recorded: counted as dry, so that the requirement is rather too high.",
    )


def test_weather_that_ends_before_the_season_is_refused() -> None:
    with pytest.raises(PlotworthError, match=r"covers 2026-01-01 to 2026-01-10, the season lasts from 2026-01-08 to"):
        season_weather(table("2026-01-01", 10), pd.Timestamp("2026-01-08"), 5)


def test_a_season_without_any_reference_is_refused() -> None:
    with pytest.raises(PlotworthError, match="no day from 2026-01-02 on has a reference evapotranspiration"):
        season_weather(table("2026-01-01", 9).assign(reference_mm=np.nan), pd.Timestamp("2026-01-02"), 5)


def test_no_weather_at_all_is_refused() -> None:
    with pytest.raises(PlotworthError, match="covers no day at all"):
        season_weather(table("2026-01-01", 0), pd.Timestamp("2026-01-02"), 5)


def test_years_stand_side_by_side_and_a_part_of_a_season_is_left_out() -> None:
    found = season_weather_by_year(table("2023-12-01", 800), pd.Timestamp("2030-02-01"), 60)
    assert found.years == (2024, 2025)
    assert found.reference_mm.shape == (60, 2)
    assert_array_equal(found.reference_mm[0], [32, 32])
    assert_array_equal(found.reference_mm[-1], [91, 91])


def test_a_leap_day_of_planting_begins_a_day_earlier_elsewhere() -> None:
    found = season_weather_by_year(table("2024-01-01", 700), pd.Timestamp("2024-02-29"), 10)
    assert_array_equal(found.reference_mm[0], [60, 59])


def test_weather_without_a_whole_season_is_refused() -> None:
    with pytest.raises(PlotworthError, match="no year of the weather holds all 200 days of a season planted on 01 Feb"):
        season_weather_by_year(table("2024-01-01", 100), pd.Timestamp("2024-02-01"), 200)
