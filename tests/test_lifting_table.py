"""Who lifts the water: the demo's terms of carrying and head, held to the arithmetic beside them."""

import pytest

from independent_cases import assume, copy_demo
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.figure_table import DASH
from plotworth.choose.lifting_table import lifting_table
from water_examples import LABELS, appraisal


def cells(table, label):
    (row,) = [row for row in table.rows if row.label == label]
    return dict(zip(table.systems, row.cells, strict=True))


def number(text):
    return float(text.replace("\u202f", "").replace("\u2212", "-"))


@pytest.fixture(scope="module")
def table():
    return lifting_table(appraisal())


def test_there_is_a_column_for_each_system(table):
    assert table.systems == tuple(LABELS.values())


def test_a_trip_of_the_demo_is_walked_there_and_back(table):
    """250 m out and back at 4 km/h: 0.5 / 4 x 60 = 7.5 minutes, and 5 to fill and pour; 20 l x 60 / 12.5 = 96 l/h."""
    assert cells(table, "A trip takes")["Hand watering"] == "12.5"
    assert cells(table, "One carrier brings")["Hand watering"] == "96"


def test_trips_times_minutes_are_the_hours_and_times_load_the_water(table):
    """To the three figures that the table writes: half of one in a thousand each."""
    trips = number(cells(table, "Trips in a full year")["Hand watering"])
    assert trips * 12.5 / 60 == pytest.approx(appraisal().systems["hand"]["water_m3"] * 1000 / 96, rel=5e-3)
    assert trips * 20 / 1000 == pytest.approx(appraisal().systems["hand"]["water_m3"], rel=5e-3)


def test_the_terms_of_the_head_add_up_and_make_the_energy(table):
    """Method: 0.002725 x head / (0.45 x 0.75), the demo's pump and motor; to three figures of each cell."""
    terms = [row.cells[table.systems.index("Well and drip")] for row in table.rows if row.label.startswith("Lift: ")]
    total = sum(number(term) for term in terms)
    head = number(cells(table, "Total dynamic head")["Well and drip"])
    assert total == pytest.approx(head, abs=0.05)
    energy = number(cells(table, "Pumping a cubic metre takes")["Well and drip"])
    assert energy == pytest.approx(0.002725 * head / (0.45 * 0.75), rel=5e-3)
    drawn = appraisal().systems["drip"]["water_m3"]
    assert number(cells(table, "Energy of pumping in a full year")["Well and drip"]) == pytest.approx(
        energy * drawn, rel=5e-3
    )


def test_nobody_walks_for_the_pump_and_no_head_stands_beside_the_can(table):
    assert cells(table, "Trips in a full year")["Well and drip"] == DASH
    assert cells(table, "Hours of carrying in a full year")["Well and drip"] == "0"
    assert cells(table, "Total dynamic head")["Hand watering"] == DASH


def test_a_typed_rate_has_hours_and_no_trips(tmp_path):
    case = copy_demo(tmp_path)
    assume(case, "carrying_h_per_m3", "4", "hour/m3", system="hand")
    found = appraise(open_case(case))
    table = lifting_table(found)
    assert cells(table, "A trip takes")["Hand watering"] == DASH
    hours = number(cells(table, "Hours of carrying in a full year")["Hand watering"])
    assert hours == pytest.approx(4 * found.systems["hand"]["water_m3"], rel=5e-3)  # three figures written
