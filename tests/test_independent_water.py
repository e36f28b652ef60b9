"""What the library works out of a season's water agrees with a second opinion, in sums and day by day."""

import pytest

from independent import Folder, appraise
from independent_cases import copy_demo, mismatches
from independent_water import WATER_NAMES, Plan
from independent_water_cases import (
    CROPS,
    SYSTEMS,
    WATER_VARIANTS,
    all_computed,
    days_to_empty_seen_in_one_of_three_years,
    months_of_leap_and_other_years,
    patchy_weather,
    wide_lid_with_dew,
)
from plotworth.case.folder import open_case
from plotworth.choose.inputs import lay_out
from plotworth.choose.watering import season_years

SEASONS = dict(zip(("warm dry", "late rains"), CROPS, strict=True))
CLOSE = {"rel": 1e-9, "abs": 1e-9}


@pytest.mark.parametrize("change", WATER_VARIANTS, ids=lambda change: change.__name__)
def test_every_outcome_agrees_where_the_book_says_computed(change, tmp_path):
    case = copy_demo(tmp_path)
    change(case)
    assert mismatches(appraise(case), case) == []


@pytest.mark.parametrize("change", WATER_VARIANTS, ids=lambda change: change.__name__)
def test_every_computed_value_agrees(change, tmp_path):
    case = copy_demo(tmp_path)
    change(case)
    layout, book = lay_out(open_case(case)), Folder(case).book
    assert {item.name for item in layout.structure.simulated} == set(WATER_NAMES)
    for item in layout.structure.simulated:
        second = book.find(item.name, item.system, SEASONS.get(item.season, ""), item.season)
        assert layout.values[item.address].item() == pytest.approx(second, rel=1e-9), item.address


def years_of(case, system, season):
    layout = lay_out(open_case(case))
    return season_years(layout, layout.values, system, season)


def test_a_season_told_in_months_is_a_day_longer_in_a_leap_year_and_counts_all_the_same(tmp_path):
    """2 February to 1 July: 27 + 31 + 30 + 31 + 30 + 1 days, and one more in 2024."""
    case = copy_demo(tmp_path)
    months_of_leap_and_other_years(case)
    years = years_of(case, "drip", "warm dry").years
    assert [year.year for year in years] == [2024, 2025, 2026]
    assert [len(year.weather.dates) for year in years] == [151, 150, 150]
    assert [year.stages.total_days for year in years] == [151, 150, 150]


def test_days_to_empty_tell_the_wick_of_the_year_in_which_they_were_seen_and_it_lifts_the_same_in_others(tmp_path):
    case = copy_demo(tmp_path)
    days_to_empty_seen_in_one_of_three_years(case)
    found = years_of(case, "reservoir", "warm dry")
    assert {year.tank.wick_l_per_day for year in found.years} == {found.shown.tank.wick_l_per_day}
    assert found.shown.year == 2026  # of the trial
    assert any("as read in 2026" in note for note in found.years[0].notes)


@pytest.fixture(scope="module", params=[all_computed, patchy_weather, wide_lid_with_dew], ids=lambda c: c.__name__)
def followed(request, tmp_path_factory):
    """Return {(system, season): what the library followed, what the second opinion did} of a copy of the demo."""
    case = copy_demo(tmp_path_factory.mktemp(request.param.__name__))
    request.param(case)
    opened, book = open_case(case), Folder(case).book
    layout = lay_out(opened)
    return {
        (system, season): (
            season_years(layout, layout.values, system, season).years,
            Plan(book, system, crop, season).years(),
        )
        for system in SYSTEMS
        for season, crop in SEASONS.items()
    }


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("season", SEASONS)
def test_every_day_agrees(followed, system, season):
    library, second = followed[system, season]
    assert len(library) == len(second)
    for year, other in zip(library, second, strict=True):
        demand, found = year.demand, other.demand
        assert [str(date.date()) for date in year.weather.dates] == [str(day["date"]) for day in other.days]
        assert list(year.weather.reference_mm) == pytest.approx([day["reference"] for day in other.days], **CLOSE)
        assert list(demand.crop_evapotranspiration_mm) == pytest.approx(found["use"], **CLOSE)
        assert list(demand.effective_rain_mm) == pytest.approx(found["effective"], **CLOSE)
        assert list(demand.net_mm) == pytest.approx(found["net"], **CLOSE)
        assert list(year.requirement.gross_mm) == pytest.approx(other.gross_mm, **CLOSE)


@pytest.mark.parametrize("season", SEASONS)
def test_every_evening_of_the_tank_agrees(followed, season):
    for year, other in zip(*followed["reservoir", season], strict=True):
        assert list(year.tank.trace.storage_l) == pytest.approx(other.tank["evenings"], **CLOSE)
        assert list(year.tank.trace.uptake_mm) == pytest.approx(other.tank["uptake"], **CLOSE)
        assert year.applied_l_per_m2 == pytest.approx(other.applied_mm, **CLOSE)
