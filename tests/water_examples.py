"""The water of the demo's seasons, worked out once for the tests of its tables and charts."""

from functools import cache

from independent_cases import DEMO
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.water_case import water_of_case

SEASON = "warm dry"
SYSTEMS = ("reservoir", "drip", "hand")
LABELS = {"reservoir": "Wick-fed tank", "drip": "Well and drip", "hand": "Hand watering"}


@cache
def appraisal():
    return appraise(open_case(DEMO))


@cache
def water(system):
    """The demo's season of a system in the year shown."""
    found = water_of_case(appraisal().layout, appraisal().values)
    return found.seasons[f"{system}/{SEASON}"].shown
