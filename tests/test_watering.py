"""The water of a season of a case: sums that close, what visits and covers change, gaps that are named.

The book's rows below are invented for these tests. Expected values come from the balances themselves, from arithmetic
written beside the test, or from the source named there.
"""

import numpy as np
import pytest

from independent_cases import assume, copy_demo, rewrite, set_cells
from plotworth.case.folder import open_case
from plotworth.choose.inputs import lay_out
from plotworth.choose.watering import season_years
from plotworth.ground.errors import FaultsError, PlotworthError
from plotworth.ground.glossary import GLOSSARY
from plotworth.supply.reservoir_trace import reservoir_gap_l, soil_gap_mm

SEASON = "warm dry"
DAYS = 137  # of the demo's trial: 2026-02-02 to 2026-06-18
EVERYWHERE = {"growing_days": DAYS, "evaporable_water_mm": 18, "readily_evaporable_water_mm": 8}
FROM_ABOVE = {"wetted_share": 0.35, "watering_interval_days": 2}
TANK = {
    "tank_l_per_unit": 60,
    "wick_flow_l_per_day": 14,
    "available_water_mm_per_m": 140,
    "rooting_depth_m": 0.4,
    "lid_m2_per_unit": 0.5,
    "lid_rain_caught_share": 0.8,
    "tank_surface_m2_per_unit": 0.4,
    "lidded_evaporation_share": 0.1,
    "refill_interval_days": 5,
}
SALT = ("water_salinity_ds_m", "soil_salinity_ds_m")
STATED_FOR_WATER = (
    *EVERYWHERE, *FROM_ABOVE, *TANK, *SALT, "application_efficiency_share", "dew_l_per_m2", "flushing_l_per_m2",
)  # fmt: skip


def state(case, name, value, **keys):
    assume(case, name, str(value), GLOSSARY[name].unit, **keys)


def leave_out(case, *names):
    rewrite(case, "assumptions", lambda rows: [row for row in rows if row["name"] not in names])


def water_of(case, system, season=SEASON):
    layout = lay_out(open_case(case))
    return season_years(layout, layout.values, system, season).shown


def without_rows(folder):
    """A copy of the demo without any row that only a season's water needs."""
    copy = copy_demo(folder)
    leave_out(copy, *STATED_FOR_WATER)
    return copy


@pytest.fixture
def case(tmp_path):
    """A copy of the demo with every row that a season's water needs, as stated above."""
    copy = without_rows(tmp_path)
    for name, value in EVERYWHERE.items():
        state(copy, name, value)
    for name, value in FROM_ABOVE.items():
        state(copy, name, value, system="drip")
        state(copy, name, value, system="hand")
    state(copy, "application_efficiency_share", 0.75, system="hand")
    for name, value in TANK.items():
        state(copy, name, value, system="reservoir")
    return copy


@pytest.fixture(scope="module")
def bare(tmp_path_factory):
    """A copy of the demo with none of the rows."""
    return without_rows(tmp_path_factory.mktemp("bare"))


@pytest.mark.parametrize("system", ["drip", "hand", "reservoir"])
def test_what_the_crop_takes_is_rain_it_can_use_and_what_is_given(case, system):
    demand = water_of(case, system).demand
    taken = demand.crop_evapotranspiration_mm.sum()
    assert taken == pytest.approx(demand.effective_rain_mm.sum() + demand.net_mm.sum(), rel=1e-12)
    assert (demand.effective_rain_mm <= demand.rain_mm + 1e-12).all()


def test_weeks_and_months_add_up_to_the_season(case):
    water = water_of(case, "drip")
    for table in (water.weeks, water.months):
        assert table["days"].sum() == DAYS
        assert table["net_mm"].sum() == pytest.approx(water.requirement.net_mm.sum(), rel=1e-12)
        assert table["gross_mm"].sum() == pytest.approx(water.requirement.season_mm, rel=1e-12)
        assert table["crop_evapotranspiration_mm"].sum() == pytest.approx(
            water.demand.crop_evapotranspiration_mm.sum(), rel=1e-12
        )


def test_pepper_under_drip_takes_what_peppers_are_said_to_take(case):
    """FAO crop information on pepper: 600 to 900 mm a season, from memory; a coarse bound, not a check of digits."""
    assert 600 <= water_of(case, "drip").demand.crop_evapotranspiration_mm.sum() <= 900


def test_the_crop_is_planted_when_its_plots_were_and_lasts_as_stated(case):
    water = water_of(case, "drip")
    assert str(water.weather.dates[0].date()) == "2026-02-02"  # plots.csv
    assert len(water.weather.dates) == DAYS == water.stages.total_days


def test_gross_is_net_over_the_handbooks_efficiency_where_the_book_states_none(case):
    """0.90 for drip: FAO Irrigation Manual Module 4, Table 30."""
    water = water_of(case, "drip")
    assert water.requirement.gross_mm == pytest.approx(water.requirement.net_mm / 0.9)
    assert any("Application efficiency: not stated, taken as 0.9" in note for note in water.notes)


def test_salt_in_the_water_adds_leaching_where_it_is_more_than_the_losses(case):
    """LR = 1.5 / (5 x 2 - 1.5) = 0.17647; 1 / (1 - LR) = 1.21429 is more than 1 / 0.9."""
    state(case, "water_salinity_ds_m", 1.5)
    state(case, "soil_salinity_ds_m", 2.0)
    water = water_of(case, "drip")
    assert water.leaching_share == pytest.approx(1.5 / 8.5)
    assert water.requirement.gross_mm == pytest.approx(water.requirement.net_mm / (1 - 1.5 / 8.5))


def test_water_too_salt_for_the_soil_that_is_wanted_is_refused(case):
    state(case, "water_salinity_ds_m", 6)
    state(case, "soil_salinity_ds_m", 2)
    with pytest.raises(PlotworthError, match="no amount of water of 6 dS/m holds a root zone at 2 dS/m"):
        water_of(case, "drip")


def test_a_wick_leaches_nothing_and_its_flushing_is_counted_apart(case):
    state(case, "water_salinity_ds_m", 1.5)
    state(case, "soil_salinity_ds_m", 2.0)
    state(case, "flushing_l_per_m2", 40, system="reservoir")
    water = water_of(case, "reservoir")
    assert water.leaching_share == 0
    assert water.requirement.gross_mm == pytest.approx(water.requirement.net_mm)
    assert water.requirement.season_mm == pytest.approx(water.requirement.net_mm.sum() + 40)


def test_the_peak_is_the_month_with_the_most_a_day_and_at_the_source_over_the_delivery_share(case):
    """Delivery share of drip in the demo's book: 0.9."""
    water = water_of(case, "drip")
    daily = water.months["gross_mm"] / water.months["days"]
    assert water.peak_gross_mm_per_day == pytest.approx(daily.max())
    assert water.peak_month == water.months["first_day"][daily.idxmax()]
    assert water.peak_requirement_l_per_m2_per_day == pytest.approx(daily.max() / 0.9)


def test_the_reservoir_and_its_soil_lose_no_water(case):
    tank = water_of(case, "reservoir").tank
    assert np.abs(reservoir_gap_l(tank.trace)).max() < 1e-9
    assert np.abs(soil_gap_mm(tank.trace)).max() < 1e-9
    assert tank.totals.refills == (DAYS - 1) // TANK["refill_interval_days"]
    assert tank.carried_l_per_m2 == pytest.approx(tank.trace.carried_l.sum() / 2.4)  # m2_per_unit of the demo's book


def test_requirement_and_balance_let_the_same_rain_into_the_soil(case):
    """What the lid of 0.5 m2 catches, 0.8 of its rain, is kept off a bed of 2.4 m2; the rest enters."""
    water = water_of(case, "reservoir")
    share = 1 - 0.8 * 0.5 / 2.4
    assert water.demand.rain_mm == pytest.approx(share * water.weather.rain_mm)
    assert water.tank.trace.soil_rain_mm == pytest.approx(water.demand.rain_mm)


def test_fewer_visits_mean_more_days_short_of_water_and_less_yield(case):
    short, left = [], []
    for interval in (2, 6, 8, 12):
        state(case, "refill_interval_days", interval, system="reservoir")
        tank = water_of(case, "reservoir").tank
        short.append(float(tank.totals.short_days))
        left.append(float(tank.yield_left.low))
        # Ky of pepper is 1.1 (FAO-56 Table 24), one number, so that both ends are the same
        assert left[-1] == pytest.approx(1 - 1.1 * (1 - float(tank.totals.uptake_share)))
    assert short == sorted(set(short))
    assert left == sorted(set(left), reverse=True)
    assert short[0] == 0


def test_days_to_empty_in_the_peak_month_follow_from_its_mean_day(case):
    """60 l over the lesser of the crop's use and 14 l of wick, and 1.05 x 0.1 of the reference on 0.4 m2."""
    water = water_of(case, "reservoir")
    in_april = water.weather.dates.month == water.peak_month.month
    used = min(water.demand.crop_evapotranspiration_mm[in_april].mean() * 2.4, 14)
    lost = water.demand.reference_mm[in_april].mean() * 1.05 * 0.1 * 0.4
    assert water.tank.days_to_empty == pytest.approx(60 / (used + lost))
    assert water.tank.buffer_days > water.tank.days_to_empty - 1


def test_a_wick_read_from_days_to_empty_empties_the_tank_on_that_day(case):
    leave_out(case, "wick_flow_l_per_day")
    state(case, "days_to_empty", 10, system="reservoir")
    state(case, "days_to_empty_from_day", 60, system="reservoir")
    state(case, "refill_interval_days", 59, system="reservoir")  # fills up on the morning of day 60
    water = water_of(case, "reservoir")
    evenings = water.tank.trace.storage_l
    assert evenings[59 + 9] == 0
    assert evenings[59 + 8] > 0
    assert any("read from 10 days from full to empty" in note for note in water.notes)


def test_days_to_empty_that_no_crop_can_have_caused_are_refused(case):
    leave_out(case, "wick_flow_l_per_day")
    state(case, "days_to_empty", 2, system="reservoir")
    state(case, "days_to_empty_from_day", 3, system="reservoir")
    with pytest.raises(PlotworthError, match="look for a leak"):
        water_of(case, "reservoir")


@pytest.mark.parametrize("system", ["drip", "reservoir"])
def test_a_tunnel_keeps_the_rain_off_and_a_net_does_not(case, system):
    state(case, "cover_demand_share", 0.7)
    path = case / "case.toml"
    plain = path.read_text(encoding="utf-8")
    for cover, rain in (("tunnel", False), ("net", True)):
        block = plain.index(f'id = "{system}"')
        path.write_text(plain[:block] + plain[block:].replace('"none"', f'"{cover}"', 1), encoding="utf-8")
        water = water_of(case, system)
        assert (water.demand.rain_mm.sum() > 0) == rain
        assert water.demand.reference_mm == pytest.approx(0.7 * water.weather.reference_mm)
        assert water.tank is None or (water.tank.totals.caught_l > 0) == rain
        assert any(f"Under the {cover}" in note for note in water.notes)


def test_a_day_without_temperatures_takes_the_mean_of_its_neighbours_and_is_counted(case):
    set_cells(case, "weather", "tmin_c", "", date="2026-03-20")
    water = water_of(case, "drip")
    reference = water.weather.reference_mm
    day = (water.weather.dates == "2026-03-20").argmax()
    assert reference[day] == pytest.approx((reference[day - 1] + reference[day + 1]) / 2)
    # the demo's weather lacks one day already
    assert any("2 of 137 days of the season have no reference evapotranspiration" in note for note in water.notes)


def test_notes_say_what_was_taken_for_granted(case):
    notes = "\n".join(water_of(case, "reservoir").notes)
    for word in ("sun_h", "not staked", "Stages of sweet pepper", "Dew: not stated", "Flushing: not stated",
                 "no visit is missed", "Open water", "Row of stages"):  # fmt: skip
        assert word in notes


@pytest.mark.parametrize(
    ("system", "missing"),
    [
        ("drip", {*FROM_ABOVE, "evaporable_water_mm", "readily_evaporable_water_mm"}),
        ("hand", {*FROM_ABOVE, "application_efficiency_share", "evaporable_water_mm", "readily_evaporable_water_mm"}),
        ("reservoir", {*TANK, "evaporable_water_mm", "readily_evaporable_water_mm"}),
    ],
)
def test_every_missing_row_is_named_with_unit_and_meaning_at_once(bare, system, missing):
    with pytest.raises(FaultsError) as caught:
        water_of(bare, system)
    faults = {fault.name: fault for fault in caught.value.faults if fault.file == "assumptions.csv"}
    assert set(faults) == missing
    for name, fault in faults.items():
        assert f"in {GLOSSARY[name].unit}" in fault.remedy
        assert GLOSSARY[name].meaning[1:] in fault.remedy


def test_a_value_of_the_composition_that_is_unknown_is_named_too(case):
    assume(case, "m2_per_unit", "unknown", "m2", system="reservoir")
    assume(case, "delivery_share", "unknown", "share", system="reservoir")
    with pytest.raises(FaultsError) as caught:
        water_of(case, "reservoir")
    assert {fault.name for fault in caught.value.faults} == {"m2_per_unit", "delivery_share"}


def test_weather_that_ends_before_the_season_is_refused_with_both_spans(bare):
    """Five months from 2 February 2026 end on 1 July; the weather ends on 18 June."""
    with pytest.raises(FaultsError, match=r"2025-09-01 to 2026-06-18.*2026-02-02 to 2026-07-01"):
        water_of(bare, "drip")


def test_salt_stated_for_the_water_alone_asks_for_that_of_the_soil(case):
    state(case, "water_salinity_ds_m", 1.5)
    with pytest.raises(FaultsError, match="soil_salinity_ds_m") as caught:
        water_of(case, "drip")
    assert len(caught.value.faults) == 1


@pytest.mark.parametrize(
    ("name", "value", "rule"),
    [
        ("watering_interval_days", 2.5, "whole number"),
        ("stage_row", 3, "the handbook has 2 rows"),
        ("readily_evaporable_water_mm", 18, "below the evaporable water"),
    ],
)
def test_rows_that_cannot_be_meant_are_refused(case, name, value, rule):
    leave_out(case, name)
    state(case, name, value)
    with pytest.raises(FaultsError, match=rule):
        water_of(case, "drip")


def test_the_row_of_stages_is_the_one_the_book_names(case):
    """FAO-56 Table 11, second row of sweet pepper: 30, 40, 110 and 30 days of 210, stretched to 137."""
    state(case, "stage_row", 2)
    stages = water_of(case, "drip").stages
    assert (stages.initial_days, stages.region) == (round(30 * DAYS / 210), "Arid")


def test_a_crop_without_plots_is_planted_in_its_first_month_and_one_without_a_factor_tells_no_yield(case):
    set_cells(case, "seasons", "crop", "zucchini", system="reservoir", season=SEASON)
    set_cells(case, "seasons", "first_month", "3", system="reservoir", season=SEASON)
    state(case, "growing_days", 100)
    water = water_of(case, "reservoir")
    assert str(water.weather.dates[0].date()) == "2026-03-01"
    assert water.tank.yield_left is None
    assert any("no plot says when" in note for note in water.notes)
    assert any("Yield left by short water: not told" in note for note in water.notes)


def test_a_season_that_the_case_does_not_have_is_refused_with_those_it_has(case):
    with pytest.raises(PlotworthError, match="drip/late rains"):
        water_of(case, "drip", "winter")
