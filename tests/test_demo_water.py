"""The water of the demo's six system-seasons, worked out from its own rows, weather and handbook."""

from functools import cache

import pandas as pd
import pytest

from folders import DEMO
from plotworth.case.folder import open_case
from plotworth.choose.inputs import lay_out
from plotworth.choose.watering import season_years

WARM_DRY, LATE_RAINS = "warm dry", "late rains"
SYSTEMS = ("reservoir", "drip", "hand")
TANKS_PER_PLOT = 2  # data_demo/README.md: a tank of 60 l waters 2.4 m2, a plot has 4.8 m2


@cache
def case_and_layout():
    case = open_case(DEMO)
    return case, lay_out(case)


@cache
def water_of(system, season):
    _, layout = case_and_layout()
    return season_years(layout, layout.values, system, season).shown


def records_of(treatment, *kinds):
    """Litres of a plot of a treatment, mean over its plots."""
    case, _ = case_and_layout()
    plots, water = case.table("plots"), case.table("water")
    own = plots.loc[plots["treatment"] == treatment, "plot"]
    return water.loc[water["plot"].isin(own) & water["kind"].isin(kinds), "litres"].sum() / len(own)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize(
    ("season", "planted", "days"), [(WARM_DRY, "2026-02-02", 137), (LATE_RAINS, "2025-09-01", 100)]
)
def test_every_season_of_the_demo_can_be_worked_out(system, season, planted, days):
    """Planted as in plots.csv, else in the first month of seasons.csv; days as in the book."""
    water = water_of(system, season)
    assert (water.weather.dates[0], len(water.weather.dates)) == (pd.Timestamp(planted), days)
    assert water.requirement.season_mm > 0
    assert (water.tank is None) == (system != "reservoir")


def test_the_demos_drip_requirement_lies_where_peppers_are_said_to_lie():
    """FAO crop information on pepper: 600 to 900 mm a season, from memory; a coarse bound, not a check of digits."""
    water = water_of("drip", WARM_DRY)
    assert 600 <= water.demand.crop_evapotranspiration_mm.sum() <= 900
    assert 600 <= water.requirement.season_mm <= 900


def test_the_demos_lids_catch_in_the_model_what_the_records_say_they_caught():
    """Lid and share caught in the book were read from these records, with two decimals: hence 1 %."""
    caught = water_of("reservoir", WARM_DRY).tank.totals.caught_l
    assert caught == pytest.approx(records_of("tank", "lid_catch") / TANKS_PER_PLOT, rel=0.01)


def test_the_demos_tanks_are_filled_in_the_model_as_often_as_in_the_records():
    """Every seventh day of 137: 19 times."""
    case, _ = case_and_layout()
    water = case.table("water")
    fillings = ((water["plot"] == "P02") & (water["kind"] == "refill")).sum()
    assert water_of("reservoir", WARM_DRY).tank.totals.refills == fillings == 19


def test_the_demos_wicks_lift_over_the_season_about_what_the_tanks_were_given():
    """The flow was read from six weeks; the whole season agrees to a tenth, too much in June making up for February."""
    given = records_of("tank", "first_fill", "refill") - records_of("tank", "left_over", "leak")
    applied = water_of("reservoir", WARM_DRY).tank.totals.applied_l_per_m2
    assert applied == pytest.approx(given / 4.8, rel=0.1)  # 4.8 m2: net_area_m2 of plots.csv


def test_the_demos_pepper_is_short_of_water_because_its_wicks_are_slow_and_not_because_its_tanks_are_empty():
    totals = water_of("reservoir", WARM_DRY).tank.totals
    assert totals.empty_days == 0
    assert totals.short_days == totals.short_days_with_water > 0
