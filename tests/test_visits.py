"""Visits: who comes when, bringing what; what is missed."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.supply.reservoir_trace import room_before_visits_l
from plotworth.supply.visits import Round, carried_by_visitor_l, keep_visits, plan_visits, visits_of_a_day
from reservoir_units import SOIL, TANK, run

ANNA = Round("anna", first_day=2, every_days=4, brought_l=20.0, filled_share=0.0)
BEN = Round("ben", first_day=6, every_days=7, brought_l=0.0, filled_share=1.0)


def test_rounds_are_laid_out_by_day() -> None:
    visits = plan_visits([ANNA, BEN], 12)
    assert visits.who == ("anna", "ben")
    assert_array_equal(np.flatnonzero(visits.brought_l[0]), [2, 6, 10])
    assert_array_equal(np.flatnonzero(visits.filled_share[1]), [6])
    brought, filled = visits_of_a_day(visits)
    assert_allclose(brought[6], 20.0)
    assert_allclose(filled[6], 1.0)


def test_nobody_comes_without_rounds() -> None:
    visits = plan_visits((), 5)
    assert visits.brought_l.shape == (0, 5)
    assert_array_equal(visits_of_a_day(visits), np.zeros((2, 5)))


def test_a_missed_visit_is_not_made_up_for() -> None:
    kept = np.ones((2, 12, 1, 3))
    kept[0, 6, 0, 1] = 0.0
    visits = keep_visits(plan_visits([ANNA, BEN], 12), kept)
    assert visits.brought_l.shape == (2, 12, 1, 3)
    assert_array_equal(visits.brought_l[0, :, 0].sum(axis=0), [60, 40, 60])
    assert_array_equal(visits.filled_share[1, :, 0].sum(axis=0), [1, 1, 1])


def test_what_each_visitor_carried_adds_up_to_what_was_carried() -> None:
    visits = plan_visits([ANNA, BEN], 12)
    trace = run(TANK, SOIL, np.full(12, 5.0), visits=visits)
    by_visitor = carried_by_visitor_l(visits, room_before_visits_l(trace))
    assert_allclose(by_visitor.sum(axis=0), trace.carried_l, atol=1e-12)
    assert_allclose(by_visitor[:, 6], [20, 20])  # 60 l - 6 x 10 + 20 leave room for 40: cans first, then to the brim


def test_two_who_fill_by_shares_fill_what_the_other_left() -> None:
    half = Round("cleo", first_day=0, every_days=1, brought_l=0.0, filled_share=0.5)
    visits = plan_visits([half, half], 1)
    assert_allclose(carried_by_visitor_l(visits, np.array([40.0]))[:, 0], [20, 10])
    assert_allclose(visits_of_a_day(visits)[1], 0.75)
