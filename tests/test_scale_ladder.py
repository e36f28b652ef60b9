"""The same case at other sizes and with shared wells: one call, steps where they are stated, sums worked by hand."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from folders import DEMO
from independent_cases import plain_demo
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise, appraise_layout
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.scale_ladder import (
    AREAS_M2,
    UNITS,
    curve_areas_m2,
    households_served,
    ladder_areas_m2,
    sharing_rows,
    size_rows,
    stepped_items,
    steps_m2,
)
from plotworth.choose.size_table import sharing_table, size_notes, size_tables
from plotworth.ground.arrays import cell
from small_case import FILES, changed, write_case
from test_evaluate import drawn

many = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
PLAIN = {
    "assumptions.csv": FILES["assumptions.csv"].replace("trial,,,", "3,2,4,"),
    "plots.csv": None,
    "harvests.csv": None,
}
SHARED = {
    "costs.csv": """\
system,season,item,group,basis,quantity,unit_price,life_years,step_m2,shared,source,grade
tank,,well,capital,scheme,1,600,4,350,yes,invented,D
tank,,can,capital,scheme,1,5,4,40,,invented,D
"""
}


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


def small(folder, files=None) -> Appraisal:
    return appraise(open_case(write_case(folder, {**PLAIN, **(files or {})})))


def test_units_of_the_demo_are_beds_over_planted_share(demo: Layout) -> None:
    """A tank waters 2.4 m2 planted, 0.7 of the ground is planted: 2.4 / 0.7 m2 gross a unit."""
    assert_allclose(ladder_areas_m2(demo, demo.values), np.array(UNITS) * 2.4 / 0.7)
    rows = size_rows(demo, demo.values, ladder_areas_m2(demo, demo.values))
    assert_allclose([row.units for row in rows[::3]], UNITS)


def test_a_case_without_reservoirs_is_shown_at_set_areas(tmp_path) -> None:
    appraisal = small(tmp_path)
    assert ladder_areas_m2(appraisal.layout, appraisal.values) == AREAS_M2
    assert size_tables(appraisal)[0].rows[0].label.replace("\u00a0", " ") == "10 m²"


@many
@given(seed=st.integers(0, 10_000), area=st.floats(1.0, 20_000.0))
def test_a_rung_of_the_ladder_is_the_case_appraised_at_that_area(demo: Layout, seed: int, area: float) -> None:
    values = drawn(demo, seed) | {"households_sharing": cell(1.0)}
    alone = appraise_layout(demo.case, demo, {**values, "area_m2": cell(area)})
    rows = size_rows(demo, alone.values | {"area_m2": values["area_m2"]}, [3.0, area, 30_000.0])
    for row in (row for row in rows if row.area_m2 == area):
        assert_allclose(row.npv, alone.systems[row.system]["npv"], rtol=1e-12, atol=1e-9)
        assert_allclose(row.investment, alone.systems[row.system]["investment"], rtol=1e-12)
        assert_allclose(row.npv_per_m2 * area, row.npv, rtol=1e-12)
        gain = alone.systems[row.system]["npv"] - alone.systems["hand"]["npv"]
        assert_allclose(row.gain_on_today, gain, rtol=1e-9, atol=1e-7)
    best = [row for row in rows if row.is_best and row.area_m2 == area]
    assert best[0].npv == max(own["npv"] for own in alone.systems.values())


def test_one_household_works_small_sizes_and_more_the_large_ones(tmp_path) -> None:
    """The small case is 100 m2: 50 m2 are one household's, 300 m2 three households'. Hand: 90 a year on 100 m2."""
    appraisal = small(tmp_path)
    rows = size_rows(appraisal.layout, appraisal.values, [50.0, 300.0])
    hand = [row for row in rows if row.system == "hand"]
    annuity = (1 - 1.1**-4) / 0.1
    assert [row.households for row in hand] == [1.0, 3.0]
    assert_allclose([row.npv_per_household for row in hand], [45 * annuity, 90 * annuity], rtol=1e-12)
    assert hand[0].units != hand[0].units


def test_who_works_a_size_is_among_those_who_share(tmp_path) -> None:
    """A well at 600 shared by 4: 150 for one household, 300 for two of them, all of it for four; cans at 5 for 40 m2.

    On 400 m2 a second well is needed, since one serves 350 m2.
    """
    book = PLAIN["assumptions.csv"] + "households_sharing,,,,4,,,1,invented,,D\n"
    appraisal = small(tmp_path, {**SHARED, "assumptions.csv": book})
    rows = size_rows(appraisal.layout, appraisal.values, [100.0, 200.0, 400.0])
    paid = [row.investment for row in rows if row.system == "tank"]
    assert_allclose(paid, [150 + 3 * 5, 300 + 5 * 5, 1200 + 10 * 5])


def test_a_number_of_households_that_the_book_states_for_one_system_is_followed_too(tmp_path) -> None:
    """The same well shared by 4, said of the tank alone: 300 of 600 for two households, a half where two share."""
    book = PLAIN["assumptions.csv"] + "households_sharing,tank,,,4,,,1,invented,,D\n"
    appraisal = small(tmp_path, {**SHARED, "assumptions.csv": book})
    rows = size_rows(appraisal.layout, appraisal.values, [200.0])
    assert_allclose([row.investment for row in rows if row.system == "tank"], [300 + 5 * 5])
    rungs = sharing_rows(appraisal.layout, appraisal.values, most=2)
    assert_allclose([row.investment for row in rungs if row.system == "tank"], [600 + 3 * 5, 300 + 3 * 5])


def test_another_is_bought_just_above_a_step_and_the_curve_sees_both_sides(tmp_path) -> None:
    """Cans serve 40 m2 each at 5: one at 40 m2, two just above; wells 350 m2 each at 600."""
    appraisal = small(tmp_path, SHARED)
    layout, values = appraisal.layout, appraisal.values
    assert steps_m2(layout, values, up_to_m2=130.0) == {"tank": [40.0, 80.0, 120.0], "hand": []}
    assert stepped_items(layout.structure.system("tank"), values) == {40.0: ["can"], 350.0: ["well"]}
    areas = curve_areas_m2(layout, values, low_m2=10.0, high_m2=70.0)
    assert areas == sorted(areas)
    at = areas.index(40.0)
    assert_allclose(areas[at + 1], 40.00004, rtol=1e-12)
    rows = [row for row in size_rows(layout, values, areas[at : at + 2]) if row.system == "tank"]
    assert_allclose([row.investment for row in rows], [605.0, 610.0])


def test_wells_counted_by_the_area_they_serve_are_steps_too(tmp_path) -> None:
    """A well serves 60 planted m2, and 0.75 of the ground is planted: another above each 80 m2 gross."""
    book = PLAIN["assumptions.csv"] + (
        "area_per_well_m2,tank,,,60,,,m2,invented,,D\nplanted_share,,,,0.75,,,share,invented,,D\n"
    )
    costs = FILES["costs.csv"] + "tank,,borehole,capital,well,1,70,4,invented,D\n"
    appraisal = small(tmp_path, {"assumptions.csv": book, "costs.csv": costs})
    assert steps_m2(appraisal.layout, appraisal.values, up_to_m2=200.0)["tank"] == [80.0, 160.0]
    rows = size_rows(appraisal.layout, appraisal.values, [80.0, 80.1, 170.0])
    assert [row.wells for row in rows if row.system == "tank"] == [1.0, 2.0, 3.0]
    assert size_tables(appraisal)[-1].title == "wells by size"


def test_each_household_bears_its_part_of_a_shared_well_while_the_well_serves_them(tmp_path) -> None:
    """A well for 350 m2 at 600 serves 3 households of 100 m2; cans are each household's own: 3 x 5 = 15."""
    appraisal = small(tmp_path, SHARED)
    assert households_served(appraisal.layout, appraisal.values) == {"tank": 3.0, "hand": np.inf}
    rows = [row for row in sharing_rows(appraisal.layout, appraisal.values, most=4) if row.system == "tank"]
    assert_allclose([row.investment for row in rows], [615.0, 315.0, 215.0, 165.0])
    assert [row.is_served for row in rows] == [True, True, True, False]
    assert_allclose(rows[1].npv - rows[0].npv, 300.0)  # bought once in four years, in year 0
    table = sharing_table(appraisal)
    assert table is not None
    assert table.rows[3].cells[0] == "–"
    assert "What Tank shares is enough for 3 households of this size." in size_notes(appraisal)


def test_a_household_that_needs_two_wells_fills_them_with_its_own_500_m2(tmp_path) -> None:
    """Two wells serve 700 m2, enough for one household of 500 m2 and not for a second."""
    appraisal = small(tmp_path, {**SHARED, **changed("case.toml", "area_m2 = 100.0", "area_m2 = 500.0")})
    assert households_served(appraisal.layout, appraisal.values)["tank"] == 1.0
    assert "What Tank shares is enough for no second household of this size." in size_notes(appraisal)


def test_nothing_shared_gives_no_table_of_sharing() -> None:
    assert sharing_table(appraise(open_case(plain_demo()))) is None


def test_the_demo_says_who_is_worth_most_at_which_size() -> None:
    """At 686 m2 drip's NPV is -3782 and hand's -5709 by this library; below, hand loses least."""
    notes = [note.replace("\u00a0", " ").replace("\u202f", " ") for note in size_notes(appraise(open_case(DEMO)))]
    assert notes[0].startswith("Worth most, or losing least: Hand watering at 5 units, 17.1 m²; 10 units")
    assert "Well and drip at 200 units, 686 m²" in notes[0]
    assert any("Well and drip needs another of hand tools above each 500 m²; of siting and permit" in n for n in notes)


def test_an_unknown_leaves_the_best_unsaid(tmp_path) -> None:
    book = PLAIN["assumptions.csv"].replace(",0.5,0.25,1,", ",unknown,,,")
    appraisal = small(tmp_path, {"assumptions.csv": book})
    assert "cannot be said" in size_notes(appraisal)[0]
    assert set(size_tables(appraisal)[0].rows[0].cells) == {"–"}
