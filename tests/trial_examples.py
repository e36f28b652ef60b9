"""The demo's trial, opened once for the tests of its tables and charts, and small trials written by hand."""

from functools import cache

from independent_cases import DEMO
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.trial_view import fits_of, trial_view

DRIP, TANK, HAND = "drip", "tank", "hand"


@cache
def demo_view():
    return trial_view(appraise(open_case(DEMO)))


@cache
def demo_fits():
    return fits_of(demo_view(), demo_view().keys[0])


def demo_plots():
    return demo_view().plots(demo_view().keys[0])


def view_of(case):
    """The trial of an opened case; None where it has none."""
    return trial_view(appraise(case))
