"""Tables of a season's water: the same numbers as the season, with labels, units and dashes."""

import dataclasses
import math

import pandas as pd
import pytest

from plotworth.choose import water_table
from plotworth.choose.figure_table import DASH
from plotworth.choose.missed_visits import MissedVisit, MissedVisits, miss_each_visit
from plotworth.ground.amounts import figures_text
from plotworth.show.panels.markup import figures_html
from water_examples import LABELS, SYSTEMS, water


def cells(table, label):
    """The one row of a label."""
    (row,) = [row for row in table.rows if row.label == label]
    return row.cells


def all_seasons():
    return [water(system) for system in SYSTEMS]


@pytest.mark.parametrize("system", SYSTEMS)
def test_months_stand_side_by_side_with_their_sum_at_the_end(system):
    table, season = water_table.month_table(water(system), LABELS), water(system)
    assert table.systems == ("February 2026", "March 2026", "April 2026", "May 2026", "June 2026", "Season")
    taken = season.demand.crop_evapotranspiration_mm.sum()
    assert cells(table, "The crop takes (evapotranspiration)")[-1] == figures_text(taken)
    assert cells(table, "To be given, gross")[0] == figures_text(season.months["gross_mm"].iloc[0])
    assert all(row.unit for row in table.rows)


def test_only_a_tank_has_rows_of_what_it_supplies():
    words = [row.label for row in water_table.month_table(water("drip"), LABELS).rows]
    tank = water_table.month_table(water("reservoir"), LABELS)
    assert "Short" not in words
    totals, ground = water("reservoir").tank.totals, 2.4  # m2_per_unit of the demo's book
    assert cells(tank, "Short")[-1] == figures_text(float(totals.demand_l - totals.uptake_l) / ground)
    assert cells(tank, "Filled into the tank")[-1] == figures_text(float(totals.carried_l) / ground)


def test_a_season_has_a_column_for_each_system_and_says_its_peak():
    table = water_table.season_table(all_seasons(), LABELS)
    assert table.systems == tuple(LABELS.values())
    assert table.title == "sweet pepper in warm dry: water of the season"
    gross = [figures_text(float(season.requirement.gross_mm.sum())) for season in all_seasons()]
    assert list(cells(table, "Requirement, gross")) == gross
    peak = [figures_text(season.peak_requirement_l_per_m2_per_day) for season in all_seasons()]
    assert list(cells(table, "The same at the source, what is lost on the way counted")) == peak
    assert cells(table, "Peak month") == tuple(f"{season.peak_month:%B %Y}" for season in all_seasons())


def test_columns_of_several_seasons_are_told_apart():
    other = dataclasses.replace(water("drip"), season="late rains")
    heads = water_table.season_table([water("drip"), other], LABELS).systems
    assert heads == ("Well and drip, warm dry", "Well and drip, late rains")


def test_only_seasons_with_a_tank_are_in_the_tanks_table():
    table = water_table.tank_table(all_seasons(), LABELS)
    tank = water("reservoir").tank
    assert table.systems == ("Wick-fed tank",)
    assert cells(table, "Fillings in the season") == (figures_text(float(tank.totals.refills)),)
    assert cells(table, "Plants get, of what they ask") == (figures_text(100 * float(tank.totals.uptake_share)),)
    assert water_table.tank_table([water("drip")], LABELS) is None


def test_what_is_not_known_or_endless_is_a_dash():
    tank = dataclasses.replace(water("reservoir").tank, yield_left=None, days_to_empty=math.inf)
    table = water_table.tank_table([dataclasses.replace(water("reservoir"), tank=tank)], LABELS)
    assert cells(table, "Yield left by short water: low end") == (DASH,)
    assert cells(table, "From full to empty in the peak month, no rain") == (DASH,)


def test_every_table_can_be_shown_as_a_panel_shows_tables():
    tables = [water_table.month_table(water("reservoir"), LABELS), water_table.season_table(all_seasons(), LABELS)]
    for table in [*tables, water_table.tank_table(all_seasons(), LABELS)]:
        assert figures_html(table).count("<tr>") == len(table.rows) + 1
        assert all(len(row.cells) == len(table.systems) for row in table.rows)


def missed(planned, *visits):
    """Visits missed, of short days and uptake alone."""
    day = pd.Timestamp("2026-04-05")
    made = [
        MissedVisit(day + pd.Timedelta(days=7 * (place + 1)), "neighbour", *visit)
        for place, visit in enumerate(visits)
    ]  # fmt: skip
    season = miss_each_visit(water("reservoir"), water("reservoir").tank)
    return MissedVisits(tuple(made), MissedVisit(day, "", *planned), season.trace, season.totals)


def test_the_visit_that_matters_most_is_said_with_days_and_water():
    words = water_table.missed_visit_sentence(missed((0, 1.0), (3, 0.98), (2, 0.99)), "Tank").replace("\u00a0", " ")
    assert words == (
        "Tank: if the visit of 12 April 2026 is missed and not made up for, the plants are short on 3 days and get "
        "98 % of the water they ask (100 % with every visit); no other visit matters more."
    )


def test_days_short_anyway_are_said_beside():
    words = water_table.missed_visit_sentence(missed((73, 0.767), (74, 0.766), (77, 0.741)), "Tank")
    assert "the visit of 19 April 2026" in words
    assert "short on 77 days instead of 73 and get" in words


def test_a_visit_that_matters_to_no_plant_and_a_season_without_visits_are_said():
    assert "whichever single visit is missed" in water_table.missed_visit_sentence(missed((0, 1.0), (0, 1.0)), "Tank")
    assert "nobody is to come" in water_table.missed_visit_sentence(missed((0, 1.0)), "Tank")


def test_who_should_have_come_is_said_where_several_come():
    found = missed((0, 1.0), (3, 0.98), (2, 0.99))
    second = dataclasses.replace(found.visits[1], who="grandmother")
    words = water_table.missed_visit_sentence(dataclasses.replace(found, visits=(found.visits[0], second)), "Tank")
    assert "the visit of 12 April 2026 by neighbour is missed" in words
