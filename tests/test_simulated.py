"""Values that daily simulations give to the composition: what they are, what moves them, what is missing for them.

Expected values are arithmetic written beside the test on the season's own balance, or come from the source named.
"""

import numpy as np
import pytest

from independent_cases import assume, copy_demo, rewrite
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise, appraise_layout
from plotworth.choose.inputs import lay_out
from plotworth.choose.simulated import could_take_mm, taken_up_mm
from plotworth.choose.water_case import water_of_case
from plotworth.ground.arrays import cell
from plotworth.ground.errors import FaultsError
from plotworth.ground.glossary import GLOSSARY
from test_watering import leave_out, state

APPLIED = "water_applied_l_per_m2"
PEPPER = "sweet pepper"


@pytest.fixture
def watered(tmp_path):
    """A copy of the demo, which holds every row that a season's water needs."""
    return copy_demo(tmp_path)


def compute(case, name, **keys):
    """Let a row of the book say `computed`, in place of what it said."""
    rewrite(case, "assumptions", lambda rows: [row for row in rows if not _is(row, name, keys)])
    assume(case, name, "computed", GLOSSARY[name].unit, **keys)


def _is(row, name, keys):
    return row["name"] == name and all(row[key] == keys.get(key, "") for key in ("system", "crop"))


def test_computed_water_is_the_gross_requirement_or_what_is_filled_into_the_tank(watered):
    compute(watered, APPLIED, system="drip", crop=PEPPER)
    compute(watered, APPLIED, system="reservoir", crop=PEPPER)
    layout = lay_out(open_case(watered))
    seasons = water_of_case(layout, layout.values).seasons
    drip, tank = seasons["drip/warm dry"].shown, seasons["reservoir/warm dry"].shown
    inputs = layout.inputs
    assert inputs[f"{APPLIED}/drip/{PEPPER}/warm dry"].value == pytest.approx(drip.requirement.season_mm, rel=1e-12)
    totals = tank.tank.totals
    filled = float(totals.start_l + totals.carried_l - totals.spilled_l - totals.left_over_l) / 2.4
    assert inputs[f"{APPLIED}/reservoir/{PEPPER}/warm dry"].value == pytest.approx(filled, rel=1e-12)
    assert inputs[f"{APPLIED}/reservoir/{PEPPER}/warm dry"].origin == "computed"


def test_flushing_is_water_applied_too(watered):
    compute(watered, APPLIED, system="reservoir", crop=PEPPER)
    before = lay_out(open_case(watered)).inputs[f"{APPLIED}/reservoir/{PEPPER}/warm dry"].value
    leave_out(watered, "flushing_l_per_m2")
    state(watered, "flushing_l_per_m2", 40, system="reservoir")
    after = lay_out(open_case(watered)).inputs[f"{APPLIED}/reservoir/{PEPPER}/warm dry"].value
    stated_before = 0.0
    assert after - before == pytest.approx(40 - stated_before)


def test_a_dial_on_the_refill_interval_moves_water_yield_and_worth(watered):
    compute(watered, APPLIED, system="reservoir", crop=PEPPER)
    compute(watered, "water_limited_share", system="reservoir", crop=PEPPER)
    opened = open_case(watered)
    layout = lay_out(opened)
    interval = layout.structure.system("reservoir").seasons[0].water["refill_interval_days"]
    book = appraise_layout(opened, layout, layout.values)
    rare = appraise_layout(opened, layout, {**layout.values, interval: cell(21.0)})
    share = f"water_limited_share/reservoir/{PEPPER}/warm dry"
    assert rare.values[share] < book.values[share]
    assert rare.systems["reservoir"]["water_l_per_m2"] < book.systems["reservoir"]["water_l_per_m2"]
    assert rare.systems["reservoir"]["marketable_kg"] < book.systems["reservoir"]["marketable_kg"]
    assert rare.systems["drip"]["npv"] == book.systems["drip"]["npv"]
    back = appraise_layout(opened, layout, layout.values)
    assert back.systems["reservoir"]["npv"] == book.systems["reservoir"]["npv"]


def test_short_water_costs_the_share_of_the_yield_that_the_response_factor_says(watered):
    """Ky of pepper is 1.1 (FAO-56 Table 24): 1 - 1.1 (1 - uptake share)."""
    compute(watered, "water_limited_share", system="reservoir", crop=PEPPER)
    leave_out(watered, "refill_interval_days")
    state(watered, "refill_interval_days", 14, system="reservoir")
    layout = lay_out(open_case(watered))
    tank = water_of_case(layout, layout.values).seasons["reservoir/warm dry"].shown.tank
    share = float(layout.values[f"water_limited_share/reservoir/{PEPPER}/warm dry"][0, 0])
    assert share < 1
    assert share == pytest.approx(1 - 1.1 * (1 - float(tank.totals.uptake_share)), rel=1e-12)


def test_a_draining_system_that_is_given_its_requirement_loses_nothing_and_one_given_less_does(watered):
    compute(watered, APPLIED, system="drip", crop=PEPPER)
    compute(watered, "water_limited_share", system="drip", crop=PEPPER)
    share = f"water_limited_share/drip/{PEPPER}/warm dry"
    layout = lay_out(open_case(watered))
    assert layout.values[share][0, 0] == pytest.approx(1, rel=1e-12)
    water = water_of_case(layout, layout.values).seasons["drip/warm dry"].shown
    leave_out(watered, APPLIED)
    state(watered, APPLIED, 300)
    reached = 300 * water.rows.application_share + water.demand.effective_rain_mm.sum()
    expected = 1 - 1.1 * (1 - reached / water.demand.crop_evapotranspiration_mm.sum())
    assert lay_out(open_case(watered)).values[share][0, 0] == pytest.approx(expected, rel=1e-12)
    assert taken_up_mm(water, 300) == pytest.approx(reached)
    assert taken_up_mm(water, 1e5) == could_take_mm(water)


def test_salt_over_the_threshold_costs_yield(watered):
    """FAO-56 Table 23: sweet pepper 1.5-1.7 dS/m and 12-14 % for each dS/m; middle of least and greatest loss."""
    compute(watered, "salt_limited_share", crop=PEPPER)
    leave_out(watered, "soil_salinity_ds_m", "water_salinity_ds_m")
    with pytest.raises(FaultsError, match="write a row soil_salinity_ds_m in dS/m"):
        lay_out(open_case(watered))
    state(watered, "soil_salinity_ds_m", 2.5)
    state(watered, "water_salinity_ds_m", 0.7)
    values = lay_out(open_case(watered)).values
    least, greatest = (2.5 - 1.7) * 0.12, (2.5 - 1.5) * 0.14
    assert values[f"salt_limited_share/drip/{PEPPER}/warm dry"][0, 0] == pytest.approx(1 - (least + greatest) / 2)


def test_the_peak_requirement_decides_how_many_wells(watered):
    """Area of a well = 1000 x (flow x hours - other use) / peak: by hand from the peak month of the season's water."""
    compute(watered, "peak_requirement_l_per_m2_per_day", system="drip")
    compute(watered, "area_per_well_m2", system="drip")
    rows = {"well_yield_m3_per_h": 0.4, "pumping_hours_per_day": 4, "well_other_use_m3_per_day": 0.2}
    for name, value in rows.items():
        state(watered, name, value, system="drip")
    layout = lay_out(open_case(watered))
    seasons = water_of_case(layout, layout.values).seasons
    peaks = [s.shown.peak_requirement_l_per_m2_per_day for key, s in seasons.items() if key.startswith("drip/")]
    assert layout.values["peak_requirement_l_per_m2_per_day/drip"][0, 0] == pytest.approx(max(peaks), rel=1e-12)
    area = 1000 * (0.4 * 4 - 0.2) / max(peaks)
    assert layout.values["area_per_well_m2/drip"][0, 0] == pytest.approx(area, rel=1e-12)
    assert appraise(open_case(watered)).systems["drip"]["wells"] == np.ceil(400 * 0.7 / area)


def test_seasons_that_share_a_month_add_their_requirement_by_their_share_of_the_ground(watered):
    """Two seasons of pepper side by side, a third and two thirds of the ground, are one season on the whole of it."""
    compute(watered, "peak_requirement_l_per_m2_per_day", system="drip")
    compute(watered, "area_per_well_m2", system="drip")
    for name, value in {"well_yield_m3_per_h": 2, "pumping_hours_per_day": 4, "well_other_use_m3_per_day": 0}.items():
        state(watered, name, value, system="drip")
    address = "peak_requirement_l_per_m2_per_day/drip"
    whole = lay_out(open_case(watered)).values[address][0, 0]

    def split(rows):
        drip = next(row for row in rows if row["system"] == "drip" and row["season"] == "warm dry")
        others = [row for row in rows if row is not drip]
        return [
            *others,
            *({**drip, "season": s, "share_of_area": p} for s, p in (("warm dry", "0.4"), ("side", "0.6"))),
        ]

    rewrite(watered, "seasons", split)
    assert lay_out(open_case(watered)).values[address][0, 0] == pytest.approx(whole, rel=1e-12)


def test_what_is_missing_for_a_computed_value_is_named_with_line_and_remedy(watered):
    compute(watered, APPLIED, system="drip", crop=PEPPER)
    leave_out(watered, "wetted_share")
    with pytest.raises(FaultsError, match="wetted_share") as caught:
        lay_out(open_case(watered))
    assert all("write a row" in fault.remedy for fault in caught.value.faults)


def test_a_yield_left_that_the_handbook_cannot_tell_is_refused_by_name(watered):
    compute(watered, "water_limited_share", system="reservoir", crop="zucchini")
    with pytest.raises(FaultsError, match=r"water_limited_share.*zucchini"):
        lay_out(open_case(watered))


def test_a_season_that_cannot_be_told_is_a_gap_with_its_reason_and_the_others_are_told(watered):
    leave_out(watered, "tank_l_per_unit")
    layout = lay_out(open_case(watered))
    water = water_of_case(layout, layout.values)
    assert any("tank_l_per_unit" in sentence for sentence in water.gaps["reservoir/warm dry"])
    assert "drip/warm dry" in water.seasons


def test_two_years_of_weather_give_two_seasons_and_their_mean(watered):
    compute(watered, APPLIED, system="drip", crop=PEPPER)

    def twice(rows):
        earlier = [{**row, "date": row["date"].replace("2026", "2025")} for row in rows if row["date"] > "2026"]
        known = {row["date"] for row in rows}
        hotter = [{**row, "tmax_c": row["tmax_c"] and str(float(row["tmax_c"]) + 2)} for row in earlier]
        return sorted([*rows, *(row for row in hotter if row["date"] not in known)], key=lambda row: row["date"])

    rewrite(watered, "weather", twice)
    layout = lay_out(open_case(watered))
    years = water_of_case(layout, layout.values).seasons["drip/warm dry"]
    assert [year.year for year in years.years] == [2025, 2026]
    assert years.shown.year == 2026  # the year of the plots
    applied = [year.applied_l_per_m2 for year in years.years]
    assert applied[0] > applied[1]
    assert layout.values[f"{APPLIED}/drip/{PEPPER}/warm dry"][0, 0] == pytest.approx(np.mean(applied), rel=1e-12)


def test_visits_by_a_table_bring_what_it_says_and_replace_the_interval(watered):
    (watered / "visits.csv").write_text(
        "system,season,who,first_day,every_days,litres\n"
        "reservoir,,mother,3,4,20\nreservoir,warm dry,son,6,6,\n", encoding="utf-8")  # fmt: skip
    layout = lay_out(open_case(watered))
    water = water_of_case(layout, layout.values).seasons["reservoir/warm dry"].shown
    visits, totals = water.tank.visits, water.tank.totals
    assert visits.who == ("mother", "son")
    assert visits.brought_l[0].sum() == 20 * len(range(2, 137, 4))
    assert visits.filled_share[1].sum() == len(range(5, 137, 6))
    assert float(totals.carried_l) > visits.brought_l.sum()
    assert any("visits.csv says who comes when" in note for note in water.notes)


def test_visits_to_a_system_without_tanks_are_refused(watered):
    (watered / "visits.csv").write_text(
        "system,season,who,first_day,every_days,litres\ndrip,,mother,3,4,20\n", encoding="utf-8")  # fmt: skip
    with pytest.raises(FaultsError, match=r"visits.csv line 2, system: found 'drip'"):
        open_case(watered)


MAKE = {
    "wick_conductivity_m_per_day": 12,
    "wick_area_m2_per_unit": 0.0008,
    "wick_length_m": 0.4,
    "wick_lift_full_m": 0.1,
    "wick_lift_empty_m": 0.35,
    "wick_limit_m": 0.6,
    "soil_suction_wet_m": 1.0,
    "soil_suction_dry_m": 15,
}


def test_a_wick_by_its_make_lifts_less_from_a_lower_level(watered):
    """q = K A (suction - lift) / length: 12 x 0.0008 / 0.4 = 0.024 m2/day, 24 l a day and metre; the limit of 0.6 m
    lies below the suction at field capacity: 24 x (0.6 - 0.225) = 9 l a day half full."""
    leave_out(watered, "wick_flow_l_per_day", "days_to_empty", "days_to_empty_from_day")
    for name, value in MAKE.items():
        state(watered, name, value, system="reservoir")
    layout = lay_out(open_case(watered))
    tank = water_of_case(layout, layout.values).seasons["reservoir/warm dry"].shown.tank
    assert tank.wick_l_per_day == pytest.approx(9)
    assert tank.trace.wick_l.max() <= 24 * 0.5 + 1e-9
    assert np.abs(np.diff(tank.trace.storage_l)).max() > 0


def test_a_wick_whose_lift_falls_as_the_tank_empties_is_refused(watered):
    leave_out(watered, "wick_flow_l_per_day", "days_to_empty", "days_to_empty_from_day")
    for name, value in {**MAKE, "wick_lift_empty_m": 0.05}.items():
        state(watered, name, value, system="reservoir")
    layout = lay_out(open_case(watered))
    assert "must not lie below wick_lift_full_m" in water_of_case(layout, layout.values).gaps["reservoir/warm dry"][0]
