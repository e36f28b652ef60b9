"""Copies of the demo in which the book says `computed` for a season's water; every number in them is invented."""

import csv
import datetime

from independent_cases import assume, rewrite, set_cells
from plotworth.choose.assumed import SIMULATION_NAMES
from plotworth.ground.glossary import GLOSSARY

SYSTEMS = ("reservoir", "drip", "hand")
CROPS = ("sweet pepper", "zucchini")
EVERYWHERE = {
    "evaporable_water_mm": 17,
    "readily_evaporable_water_mm": 7.5,
    "soil_salinity_ds_m": 1.9,
    "well_yield_m3_per_h": 0.085,  # next to nothing, so that the whole wells needed are many and tell peaks apart
    "pumping_hours_per_day": 5,
    "well_other_use_m3_per_day": 0.4,
    "available_water_mm_per_m": 135,
    "rooting_depth_m": 0.35,
}
DRIP = {"wetted_share": 0.33, "watering_interval_days": 2, "water_salinity_ds_m": 0.6}
HAND = {
    "wetted_share": 0.55,
    "watering_interval_days": 4,
    "water_salinity_ds_m": 0.3,
    "application_efficiency_share": 0.72,
}
TANK = {
    "tank_l_per_unit": 55,
    "wick_flow_l_per_day": 9,
    "lid_m2_per_unit": 0.6,
    "lid_rain_caught_share": 0.75,
    "tank_surface_m2_per_unit": 0.3,
    "lidded_evaporation_share": 0.15,
    "refill_interval_days": 6,
}
WICK = {
    "wick_conductivity_m_per_day": 11,
    "wick_area_m2_per_unit": 0.0009,
    "wick_length_m": 0.45,
    "wick_lift_full_m": 0.12,
    "wick_lift_empty_m": 0.4,
    "wick_limit_m": 0.7,
    "soil_suction_wet_m": 0.2,
    "soil_suction_dry_m": 4,
}
WEATHER_COLUMNS_TO_BLANK = {
    "tmin_c": ("2026-02-02", "2026-02-03", "2026-04-10", "2026-04-11"),  # from the day of planting on
    "tmax_c": ("2026-06-18", "2025-10-20"),
    "rh_min_pct": ("2026-03-03", "2026-04-10", "2026-05-01"),
    "rh_max_pct": ("2026-03-03", "2026-03-09"),
    "wind_m_s": ("2026-03-15", "2025-09-20"),
    "wind_height_m": ("2026-03-16",),
    "sun_h": ("2026-03-20", "2026-05-20", "2025-10-02"),
    "rain_mm": ("2025-09-30", "2026-03-22"),
}


def state(case, name, value, **keys):
    """Write a row of the book in the glossary's unit; money and its like are not stated so."""
    assume(case, name, str(value), GLOSSARY[name].unit, **keys)


def state_all(case, rows, **keys):
    """Write several rows of the book for the same keys."""
    for name, value in rows.items():
        state(case, name, value, **keys)


def leave_out(case, *names):
    """Take rows out of the book."""
    rewrite(case, "assumptions", lambda rows: [row for row in rows if row["name"] not in names])


def all_computed(case):
    """Water, peak requirement and what is left of the yield are worked out wherever they can be."""
    leave_out(case, *SIMULATION_NAMES, "water_applied_l_per_m2", "peak_requirement_l_per_m2_per_day")
    leave_out(case, "water_limited_share", "salt_limited_share", "area_per_well_m2")
    for name in ("water_applied_l_per_m2", "salt_limited_share"):
        state(case, name, "computed")
    state(case, "water_limited_share", "computed", crop="sweet pepper")  # the handbook knows no factor of zucchini
    for name in ("peak_requirement_l_per_m2_per_day", "area_per_well_m2"):
        state(case, name, "computed")
    state_all(case, EVERYWHERE)
    state(case, "growing_days", 137, crop="sweet pepper")
    state(case, "growing_days", 95, crop="zucchini")
    for system, rows in (("drip", DRIP), ("hand", HAND), ("reservoir", TANK)):
        state_all(case, rows, system=system)


def large_tank_seldom_filled(case):
    """A tank of 140 l that is filled up every three weeks, so that it runs dry."""
    all_computed(case)
    state_all(case, {"tank_l_per_unit": 140, "refill_interval_days": 21}, system="reservoir")


def slow_wick_and_shallow_roots(case):
    """A wick that lifts less than the crop takes, over little soil; salt is flushed by hand."""
    all_computed(case)
    rows = {"wick_flow_l_per_day": 4.2, "rooting_depth_m": 0.15, "flushing_l_per_m2": 35}
    state_all(case, rows, system="reservoir")


def wick_read_from_days_to_empty(case):
    """No flow is stated; the tank was seen to last so many days from a day on, in either season."""
    all_computed(case)
    leave_out(case, "wick_flow_l_per_day")
    seen = {"sweet pepper": (8, 60), "zucchini": (12, 55)}
    for crop, (days, first) in seen.items():
        rows = {"days_to_empty": days, "days_to_empty_from_day": first}
        state_all(case, rows, system="reservoir", crop=crop)


def wide_lid_with_dew(case):
    """A lid over most of the bed that leads much into the tank, and more dew than can be."""
    all_computed(case)
    state_all(case, {"lid_m2_per_unit": 2.1, "lid_rain_caught_share": 0.95, "dew_l_per_m2": 1.1}, system="reservoir")


def under(case, cover):
    """Everything under a cover, with a second share of demand where it is wanted."""
    all_computed(case)
    path = case / "case.toml"
    text = path.read_text(encoding="utf-8").replace('cover = "none"', f'cover = "{cover}"')
    path.write_text(text, encoding="utf-8")
    state(case, "cover_demand_share", 0.72)


def under_a_tunnel(case):
    """No rain, less demand."""
    under(case, "tunnel")


def under_a_net(case):
    """All rain, less demand; bare ground is mulched."""
    under(case, "net")
    state(case, "covered_share", 0.6, system="drip")
    state(case, "covered_share", 0.25, system="hand")


def salty_water_and_poor_efficiency(case):
    """Leaching asks for more than the losses of drip, and for less than those of cans; salt costs yield."""
    all_computed(case)
    state(case, "water_salinity_ds_m", 2.4, system="drip")
    state(case, "soil_salinity_ds_m", 3.1, crop="sweet pepper")
    state(case, "application_efficiency_share", 0.5, system="hand")
    state(case, "application_efficiency_share", 0.97, system="reservoir")


def other_stages_staked(case):
    """The handbook's second row of stages, pepper on stakes, other lengths of season."""
    all_computed(case)
    state(case, "stage_row", 2)
    state(case, "staked", 1, crop="sweet pepper")
    state(case, "growing_days", 121, crop="sweet pepper")
    state(case, "growing_days", 64, crop="zucchini")


def furrows_and_less_water_than_needed(case):
    """Handbook efficiencies; pepper is given two thirds of its water, in the trial's amount under the tank."""
    all_computed(case)
    path = case / "case.toml"
    text = path.read_text(encoding="utf-8").replace('water_method = "hand"', 'water_method = "furrow"')
    path.write_text(text, encoding="utf-8")
    leave_out(case, "application_efficiency_share")
    state(case, "water_applied_l_per_m2", 290, system="drip", crop="sweet pepper")
    state(case, "water_applied_l_per_m2", 410, system="hand", crop="sweet pepper")
    state(case, "water_applied_l_per_m2", "trial", system="reservoir", crop="sweet pepper")


def patchy_weather(case):
    """Readings are missing, one gauge stands higher, one day is brighter than it is long."""
    all_computed(case)
    for column, dates in WEATHER_COLUMNS_TO_BLANK.items():
        for date in dates:
            set_cells(case, "weather", column, "", date=date)
    set_cells(case, "weather", "wind_height_m", "10", date="2026-03-18")
    set_cells(case, "weather", "sun_h", "15", date="2026-03-19")
    set_cells(case, "weather", "rh_min_pct", "12", date="2026-04-02")
    set_cells(case, "weather", "wind_m_s", "7.5", date="2026-04-02")


def far_south_and_high(case):
    """Another place; days count from the middle of winter."""
    all_computed(case)
    path = case / "case.toml"
    text = path.read_text(encoding="utf-8")
    text = text.replace("latitude_deg = 12.0", "latitude_deg = -41.5").replace("_m = 1400", "_m = 2650")
    path.write_text(text, encoding="utf-8")


def seasons_that_meet_in_a_month(case):
    """The late season begins in November and ends in the month in which pepper is planted, each on half the ground."""
    all_computed(case)
    weather_of_years(case, 2025, 2026)
    set_cells(case, "seasons", "first_month", "11", season="late rains")
    set_cells(case, "seasons", "share_of_area", "0.5")
    state(case, "growing_days", 115, crop="zucchini")


def weather_of_years(case, first, last):
    """Repeat the demo's days to the end of August of the last year, warmer and wetter from year to year."""
    with (case / "weather.csv").open(encoding="utf-8", newline="") as file:
        known = list(csv.DictReader(file))
    start, end = datetime.date(first, 1, 1), datetime.date(last, 8, 31)
    dates = [start + datetime.timedelta(days=number) for number in range((end - start).days + 1)]
    rows = []
    for place, date in enumerate(dates):
        row = dict(known[(place + 150) % len(known)], date=date.isoformat())
        for column, more in (("tmax_c", 1.0), ("rain_mm", 2.0)):
            if row[column]:
                row[column] = f"{float(row[column]) + more * (place % 7) / 6 * (date.year - first):.1f}"
        rows.append(row)
    rewrite(case, "weather", lambda _: rows)


def three_years_of_weather(case):
    """Whole years of weather, so that a season is followed in each; days as stated."""
    all_computed(case)
    weather_of_years(case, 2024, 2026)


def months_of_leap_and_other_years(case):
    """No growing days are stated: the season's months count, a day more in a leap year."""
    all_computed(case)
    weather_of_years(case, 2024, 2026)
    leave_out(case, "growing_days")


def days_to_empty_seen_in_one_of_three_years(case):
    """The wick is read from what was seen in the year of the trial and lifts the same in the others."""
    wick_read_from_days_to_empty(case)
    weather_of_years(case, 2024, 2026)


def wick_by_its_make(case):
    """The wick's flow follows the level and the soil; its lift lies above the suction of wet soil at times."""
    all_computed(case)
    leave_out(case, "wick_flow_l_per_day")
    state_all(case, WICK, system="reservoir")


def visits_by_a_table(case):
    """One brings cans, some of which are spilled, another fills up in one season."""
    all_computed(case)
    lines = (
        "system,season,who,first_day,every_days,litres",
        "reservoir,,mother,3,3,30",
        "reservoir,late rains,son,1,9,",
    )
    (case / "visits.csv").write_text("\n".join((*lines, "")), encoding="utf-8")


WATER_VARIANTS = (
    all_computed,
    large_tank_seldom_filled,
    slow_wick_and_shallow_roots,
    wick_read_from_days_to_empty,
    wick_by_its_make,
    visits_by_a_table,
    wide_lid_with_dew,
    under_a_tunnel,
    under_a_net,
    salty_water_and_poor_efficiency,
    other_stages_staked,
    furrows_and_less_water_than_needed,
    patchy_weather,
    far_south_and_high,
    seasons_that_meet_in_a_month,
    three_years_of_weather,
    months_of_leap_and_other_years,
    days_to_empty_seen_in_one_of_three_years,
)
