"""Hours by season, family and hired. Expected values are worked by hand."""

from dataclasses import replace

import numpy as np
from numpy.testing import assert_allclose

from plotworth.ground.arrays import cell
from plotworth.money.labour import Hours, LabourItem, Wages, plan_work

ROW = LabourItem("hours", "share", True, (0, 1), False)
VALUES = {"hours": cell(0.5), "share": cell(0.8)}
PLANTED = (cell(100.0), cell(40.0))


def hours_of(hours: Hours) -> tuple[float, float]:
    return hours.family.item(), hours.hired.item()


def test_hours_per_m2_grow_with_the_planted_area_of_each_season() -> None:
    """By hand: 0.5 h on 100 m2 and on 40 m2, four fifths of them by the family."""
    work = plan_work([ROW], VALUES, PLANTED)
    assert_allclose([hours_of(h) for h in work.steady], [(40, 10), (16, 4)])
    assert [hours_of(h) for h in work.harvest] == [(0, 0), (0, 0)]


def test_hours_of_the_whole_case_count_once_in_each_of_their_seasons() -> None:
    work = plan_work([replace(ROW, is_per_m2=False)], VALUES, PLANTED)
    assert_allclose([hours_of(h) for h in work.steady], [(0.4, 0.1), (0.4, 0.1)])


def test_hours_of_one_season_stand_in_that_season_alone() -> None:
    work = plan_work([replace(ROW, seasons=(1,))], VALUES, PLANTED)
    assert_allclose([hours_of(h) for h in work.steady], [(0, 0), (16, 4)])


def test_hours_that_move_with_the_harvest_stand_apart() -> None:
    work = plan_work([ROW, replace(ROW, moves_with_harvest=True)], VALUES, PLANTED)
    assert_allclose(hours_of(work.harvest[0]), (40, 10))
    assert_allclose(sum(hours.family + hours.hired for hours in work.all), 2 * (50 + 20))


def test_rows_of_one_season_add_up() -> None:
    work = plan_work([ROW, ROW, ROW], VALUES, PLANTED)
    assert_allclose(hours_of(work.steady[0]), (120, 30))


def test_hours_cost_their_own_wages() -> None:
    """By hand: 40 family hours at 0.3 and 10 hired at 0.35."""
    hours = Hours(cell(0.0), cell(0.0)).plus(cell(50.0), cell(0.8))
    assert_allclose(hours.cost(Wages(cell(0.3), cell(0.35))), 40 * 0.3 + 10 * 0.35)
    assert_allclose(hours.cost(Wages(cell(0.0), cell(0.35))), 3.5)


def test_family_and_hired_hours_are_all_the_hours_whatever_the_share() -> None:
    shares = np.array([[0.0, 0.25, 1.0]])
    work = plan_work([ROW], {**VALUES, "share": shares}, PLANTED)
    assert_allclose(work.steady[0].family + work.steady[0].hired, [[50, 50, 50]])


def test_without_a_plan_there_are_no_hours() -> None:
    work = plan_work([], {}, PLANTED)
    assert [hours_of(h) for h in work.all] == [(0, 0)] * 4
