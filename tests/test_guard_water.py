"""Yields against what their water could carry: the demo's second crop turned into tomato, which the handbook knows.

Highest published field yield of tomato 11.54 kg/m2 (USDA NASS, 51.5 short tons an acre); Ky 1.05 (FAO-56 Table 24).
"""

import pytest

from independent_cases import copy_demo, rewrite, set_cells
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.guard import flags, unchecked
from plotworth.choose.water_case import water_of_case
from test_watering import leave_out, state

KY = 1.05
HIGHEST = 11.54
SEASON = "late rains"


@pytest.fixture
def case(tmp_path):
    """A copy of the demo that grows tomato in the late rains."""
    copy = copy_demo(tmp_path)
    for table in ("assumptions", "seasons"):
        set_cells(copy, table, "crop", "tomato", crop="zucchini")
    return copy


def supply_flags(case):
    return {flag.place: flag for flag in flags(appraise(open_case(case))) if "could carry" in flag.sentence}


def shown(case, key):
    appraisal = appraise(open_case(case))
    return water_of_case(appraisal.layout, appraisal.values).seasons[key].shown


def test_a_yield_that_its_water_could_carry_raises_no_question(case):
    assert supply_flags(case) == {}


@pytest.mark.parametrize(("more", "raised"), [(0.99, False), (1.01, True)])
def test_a_yield_is_asked_about_above_the_highest_published_less_what_short_water_costs(case, more, raised):
    """Drip: applied x 0.9 + rain on open soil over what the crop could take, by hand from the season's sums."""
    water = shown(case, f"drip/{SEASON}")
    had = 100 * 0.9 + water.demand.rain_mm.sum()
    most = HIGHEST * (1 - KY * (1 - had / water.demand.crop_evapotranspiration_mm.sum()))
    set_cells(case, "assumptions", "value", "100", name="water_applied_l_per_m2", system="drip", crop="tomato")
    set_cells(case, "assumptions", "low", "", name="water_applied_l_per_m2", system="drip", crop="tomato")
    set_cells(case, "assumptions", "high", "", name="water_applied_l_per_m2", system="drip", crop="tomato")
    rewrite(case, "assumptions", lambda rows: [_yielding(row, most * more) for row in rows])
    found = supply_flags(case)
    assert (f"seasons/drip/{SEASON}" in found) == raised
    if raised:
        flag = found[f"seasons/drip/{SEASON}"]
        assert flag.high == pytest.approx(most, rel=1e-12)
        for word in ("tomato", "FAO", "mm", "Check the water records"):
            assert word in flag.sentence


def _yielding(row, value):
    if row["name"] == "yield_kg_per_m2" and row["system"] == "drip":
        return {**row, "value": str(value), "low": "", "high": "", "spread": "fixed"}
    return row


def test_a_tank_whose_water_is_worked_out_is_held_to_what_its_plants_took_up(case):
    keys = {"name": "water_applied_l_per_m2", "system": "reservoir", "crop": "tomato"}
    for column, text in (("value", "computed"), ("low", ""), ("high", ""), ("spread", "")):
        set_cells(case, "assumptions", column, text, **keys)
    leave_out(case, "refill_interval_days")
    state(case, "refill_interval_days", 40, system="reservoir")
    share = float(shown(case, f"reservoir/{SEASON}").tank.totals.uptake_share)
    assert share < 0.9
    keys = {"name": "yield_kg_per_m2", "system": "reservoir", "crop": "tomato"}
    most = HIGHEST * (1 - KY * (1 - share))
    for column, text in (("value", str(most + 0.01)), ("low", ""), ("high", ""), ("spread", "fixed")):
        set_cells(case, "assumptions", column, text, **keys)
    assert supply_flags(case)[f"seasons/reservoir/{SEASON}"].high == pytest.approx(most, rel=1e-12)


def test_no_number_is_changed_by_a_flag(case):
    asked, quiet = appraise(open_case(case)), appraise(open_case(case))
    flags(asked)
    assert repr(asked.systems) == repr(quiet.systems)  # NaN equals itself in print


def test_dew_above_what_a_night_brings_is_asked_about(case):
    leave_out(case, "dew_l_per_m2")
    state(case, "dew_l_per_m2", 1.5, system="reservoir")
    (flag,) = [flag for flag in flags(appraise(open_case(case))) if "of dew a night" in flag.sentence]
    assert (flag.place, flag.value, flag.high) == ("systems/reservoir", 1.5, 0.8)


def test_what_cannot_be_held_against_its_water_says_why(case):
    leave_out(case, "tank_l_per_unit")
    sentences = unchecked(appraise(open_case(case)))
    assert any(
        "not told for reservoir/warm dry, reservoir/late rains" in s and "tank_l_per_unit" in s for s in sentences
    )
    assert any("Yield of sweet pepper against what its water could carry" in s for s in sentences)
