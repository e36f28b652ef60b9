"""Rows of the water charts: every stack closes, and what is drawn is what the balance says.

Expected values come from the balances themselves or from arithmetic written beside the test.
"""

import dataclasses
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from plotworth.choose import water_chart_rows as rows_of
from water_examples import LABELS, SYSTEMS, appraisal, water

PARTS = ("rain_mm", "watering_mm", "soil_mm", "short_mm")


@pytest.fixture(params=SYSTEMS)
def season(request):
    return water(request.param)


@pytest.fixture
def tank():
    return water("reservoir").tank


@pytest.fixture
def dates():
    return water("reservoir").weather.dates


def total(rows, key):
    return sum(row[key] for row in rows)


def test_what_covers_a_week_adds_up_to_what_the_crop_takes_and_no_part_is_below_nothing(season):
    for row in rows_of.requirement_rows(season, LABELS):
        assert sum(row[part] for part in PARTS) == pytest.approx(row["taken_mm"], abs=1e-9)
        assert min(row[part] for part in PARTS) >= 0


def test_the_weeks_follow_one_another_and_hold_every_day_of_the_season(season):
    rows = rows_of.requirement_rows(season, LABELS)
    assert total(rows, "days") == len(season.weather.dates)
    assert [row["to_ms"] for row in rows[:-1]] == [row["from_ms"] for row in rows[1:]]
    assert total(rows, "taken_mm") == pytest.approx(season.demand.crop_evapotranspiration_mm.sum())


@pytest.mark.parametrize("system", ["drip", "hand"])
def test_water_from_above_covers_over_the_season_what_the_requirement_says(system):
    """Equal where no week's rain is more than the crop takes in it, as in the demo's warm dry season."""
    rows, season = rows_of.requirement_rows(water(system), LABELS), water(system)
    assert total(rows, "watering_mm") == pytest.approx(season.requirement.net_mm.sum())
    assert total(rows, "rain_mm") == pytest.approx(season.demand.effective_rain_mm.sum())
    assert {row["source"] for row in rows} == {"watering"}


def test_rain_beyond_the_weeks_use_is_not_cover_of_that_week():
    """One week: 10 mm of rain that the soil had room for, 7 mm taken: 7 mm of cover, no watering."""
    week = {"first_day": pd.Timestamp("2026-03-02"), "days": 7, "week": 5, "taken_mm": 7.0, "rain_mm": 10.0,
            "watering_mm": -3.0, "soil_mm": 0.0, "short_mm": 0.0}  # fmt: skip
    row = rows_of._week_row(water("drip"), LABELS, week)
    assert (row["rain_mm"], row["watering_mm"], row["soil_mm"]) == (7.0, 0.0, 0.0)


def test_what_fills_the_soil_is_taken_off_the_wick_before_the_rain():
    """12 of the wick and 4 of rain, 10 taken, so 6 went into the soil: 6 of the wick and 4 of rain cover the week."""
    week = {"first_day": pd.Timestamp("2026-03-02"), "days": 7, "week": 5, "taken_mm": 10.0, "rain_mm": 4.0,
            "watering_mm": 12.0, "soil_mm": -6.0, "short_mm": 0.0}  # fmt: skip
    row = rows_of._week_row(water("reservoir"), LABELS, week)
    assert [row[part] for part in PARTS] == [4.0, 6.0, 0.0, 0.0]


def test_what_is_short_is_what_the_tank_left_unmet(tank):
    rows = rows_of.requirement_rows(water("reservoir"), LABELS)
    missing_l = float(tank.totals.demand_l - tank.totals.uptake_l)
    assert total(rows, "short_mm") * float(tank.trace.planted_m2) == pytest.approx(missing_l)


def test_the_level_begins_full_ends_with_the_last_evening_and_jumps_by_what_is_carried(tank, dates):
    rows, trace = rows_of.level_rows(tank, dates), tank.trace
    assert rows[0]["litres"] == float(trace.start_l)
    assert rows[-1]["litres"] == float(trace.storage_l[-1])
    jumps = [b["litres"] - a["litres"] for a, b in pairwise(rows) if b["when"] == "after filling"]
    assert sum(jumps) == pytest.approx(float(tank.totals.carried_l))
    assert [row["at_ms"] for row in rows] == sorted(row["at_ms"] for row in rows)


def test_there_is_a_filling_for_every_day_on_which_water_was_carried(tank, dates):
    rows = rows_of.refill_rows(tank, dates)
    assert len(rows) == tank.totals.refills
    assert total(rows, "carried_l") == pytest.approx(float(tank.totals.carried_l))
    assert all(row["litres"] == pytest.approx(float(tank.trace.capacity_l)) for row in rows)  # to the brim


def test_the_stretches_that_are_short_hold_every_short_day_once_and_all_that_is_missing(tank, dates):
    rows = rows_of.short_rows(tank, dates)
    assert total(rows, "days") == tank.totals.short_days
    assert total(rows, "short_l") == pytest.approx(float(tank.totals.demand_l - tank.totals.uptake_l))
    assert all(before["to_ms"] < after["from_ms"] for before, after in pairwise(rows))


def test_a_season_without_a_short_day_has_no_stretch(tank, dates):
    met = dataclasses.replace(tank.trace, uptake_mm=tank.trace.demand_mm)
    assert rows_of.short_rows(dataclasses.replace(tank, trace=met), dates) == []


def test_a_moment_is_midnight_in_universal_time():
    """86 400 000 ms are a day."""
    assert rows_of.moment_ms(pd.Timestamp("1970-01-02")) == 86_400_000
    assert rows_of.day_text(pd.Timestamp("2026-04-12")) == "12 April 2026"


def test_both_sides_of_a_ledger_add_up_alike(season):
    rows = rows_of.ledger_rows(season, LABELS)
    coming, going = (total([row for row in rows if row["side"] == side], "litres") for side in ("in", "out"))
    assert coming == pytest.approx(going, abs=1e-9)
    assert min(row["litres"] for row in rows) >= 0


def test_a_ledger_closes_with_flushing_too():
    flushed = dataclasses.replace(water("reservoir").requirement, flushing_mm=np.asarray(40.0))
    rows = rows_of.ledger_rows(dataclasses.replace(water("reservoir"), requirement=flushed), LABELS)
    plain = rows_of.ledger_rows(water("reservoir"), LABELS)
    assert rows[0]["litres"] == pytest.approx(plain[0]["litres"] + 40)
    assert total([row for row in rows if row["side"] == "in"], "litres") == pytest.approx(
        total([row for row in rows if row["side"] == "out"], "litres")
    )


def test_plants_and_soil_of_a_ledger_are_what_the_crop_got(season):
    rows = rows_of.ledger_rows(season, LABELS)
    through = [row["litres"] for row in rows if row["through_plants"]]
    bare = [row["litres"] for row in rows if row["part"] == "Evaporated from the soil"]
    got = season.demand.crop_evapotranspiration_mm if season.tank is None else season.tank.trace.uptake_mm
    assert through[0] + bare[0] == pytest.approx(got.sum())


def test_hours_and_energy_of_lifting_are_the_rate_times_the_water_drawn():
    """The demo's rates are the same in both seasons, so that the year's water times the rate is the year's sum."""
    for row in rows_of.lifting_rows(appraisal()):
        figures = appraisal().systems[row["system"]]
        plan = appraisal().layout.structure.system(row["system"])
        address = plan.seasons[0].addresses["carrying_h_per_m3"]
        rate = float(appraisal().values[address].flat[0])
        assert row["carrying_h"] == pytest.approx(rate * figures["water_m3"])
        assert (row["water_m3"], row["energy_kwh"]) == (figures["water_m3"], figures["energy_kwh"])


def test_a_year_has_a_row_for_each_system_with_what_it_requires():
    rows = rows_of.year_rows([water(system) for system in SYSTEMS], LABELS)
    assert [row["label"] for row in rows] == list(LABELS.values())
    assert all(row["litres"] == float(water(row["system"]).requirement.season_mm) for row in rows)
    assert {row["year"] for row in rows} == {2026}  # the demo's plots were planted on 2026-02-02


def test_plants_that_get_half_leave_half_of_the_soils_evaporation():
    """Ks cuts the whole of the crop's evapotranspiration, so with half the uptake each part of it is half."""
    season, tank = water("reservoir"), water("reservoir").tank
    halved = dataclasses.replace(tank.trace, uptake_mm=tank.trace.demand_mm / 2)
    changed = dataclasses.replace(season, tank=dataclasses.replace(tank, trace=halved))
    bare = [row for row in rows_of.ledger_rows(changed, LABELS) if row["part"] == "Evaporated from the soil"]
    assert bare[0]["litres"] == pytest.approx(season.demand.evaporation_mm.sum() / 2)
