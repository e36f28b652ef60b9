"""Who does the work, as a plain record: hours by word, adding up to all hours of the appraisal."""

from pathlib import Path

from numpy.testing import assert_allclose

from independent_cases import plain_demo
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.who_works import CARRYING, HIRED_LINES, NOT_SAID, planned_hours, recorded_hours, who_tables
from small_case import FILES, write_case

BOOK = FILES["assumptions.csv"] + (
    "family_wage_per_hour,,,,1,,,XTS/hour,invented,,D\nhired_wage_per_hour,,,,1,,,XTS/hour,invented,,D\n"
    "water_applied_l_per_m2,,,,40,,,l/m2,invented,,D\ncarrying_h_per_m3,hand,,,6,,,hour/m3,invented,,D\n"
)
PLAN = """\
system,season,task,month,hours_per_m2,hours,family_share,harvest,who
,dry,weeding,3,0.1,,0.5,no,women
,dry,picking,4,0.2,,1,yes,women and children
tank,dry,filling,3,,30,1,no,men
hand,dry,watching,3,,12,1,no,
"""
RECORDS = """\
date,plot,task,person_minutes,family,who
2026-03-01,P1,weeding,90,yes,women
2026-03-08,,weeding,30,yes,women
2026-03-08,,carting,60,no,
"""


def stated(folder: Path, **files: str) -> Appraisal:
    base = {"assumptions.csv": BOOK, "labour_plan.csv": PLAN, "labour.csv": RECORDS}
    costs = FILES["costs.csv"] + ",,mending,yearly,hour,7,,,invented,D\n"
    return appraise(open_case(write_case(folder, {**base, "costs.csv": costs, **files})))


def test_planned_hours_by_who_by_hand(tmp_path: Path) -> None:
    """100 m2: weeding 10 h, picking 20 h; hand carries 4 m3 at 6 h; both systems mend 7 h."""
    appraisal = stated(tmp_path)
    hours = planned_hours(appraisal.layout, appraisal.values)
    common = {"women": 10.0, "women and children": 20.0, HIRED_LINES: 7.0}
    assert hours["tank"] == {**common, "men": 30.0, CARRYING: 0.0}
    assert hours["hand"] == {**common, NOT_SAID: 12.0, CARRYING: 24.0}


def test_hours_by_who_add_up_to_the_hours_of_the_appraisal(tmp_path: Path) -> None:
    for appraisal in (stated(tmp_path), appraise(open_case(plain_demo()))):
        for system, hours in planned_hours(appraisal.layout, appraisal.values).items():
            own = appraisal.systems[system]
            assert_allclose(sum(hours.values()), own["family_hours"] + own["hired_hours"], rtol=1e-12)


def test_recorded_minutes_are_hours_by_who(tmp_path: Path) -> None:
    """90 and 30 minutes of women are 2 hours; an hour of carting says nobody."""
    assert recorded_hours(stated(tmp_path).layout) == {"women": 2.0, NOT_SAID: 1.0}


def test_who_moves_no_sum(tmp_path: Path) -> None:
    bare = PLAN.replace(",who", "").replace(",women and children", "").replace(",women", "").replace(",men", "")
    bare = bare.replace(",no,\n", ",no\n")
    with_who, without = stated(tmp_path / "a"), stated(tmp_path / "b", **{"labour_plan.csv": bare})
    assert {name: own["npv"] for name, own in with_who.systems.items()} == {
        name: own["npv"] for name, own in without.systems.items()
    }


def test_tables_stand_only_where_somebody_is_named(tmp_path: Path) -> None:
    planned, recorded = who_tables(stated(tmp_path))
    assert [row.label for row in planned.rows][:2] == ["women", "women and children"]
    assert planned.rows[0].cells == ("10", "10")
    assert [row.cells for row in recorded.rows] == [("2",), ("1",)]
    assert who_tables(appraise(open_case(plain_demo()))) == []
