"""Plausibility flags of an appraisal: what lies outside the published or the usual. They never change a number.

A flag is a question to whoever wrote the records. What the handbook has no range for is named as unchecked.
"""

from plotworth.choose.appraise import Appraisal
from plotworth.choose.flag import Findings, Flag, together
from plotworth.choose.guard_balance import nitrogen_removed, yield_against_water
from plotworth.choose.guard_published import water_against_print, yields_against_print
from plotworth.choose.guard_quotes import expired_quotes
from plotworth.choose.guard_records import counts_against_scale, dew_against_ceiling, rain_under_cover
from plotworth.choose.guard_soil import (
    fertiliser_at_once,
    first_season_nitrogen,
    manure_of_unknown_kind,
    raw_manure_too_late,
    soil_above_threshold,
    water_too_salty,
)
from plotworth.choose.guard_water import dew_of_the_book, yields_against_supply

__all__ = ["Flag", "flags", "unchecked"]

NO_TRIAL = "No trial is recorded: dew, counts, nitrogen and water of plots stand against nothing."
CHECKS = (
    yields_against_print,
    water_against_print,
    dew_against_ceiling,
    rain_under_cover,
    counts_against_scale,
    nitrogen_removed,
    yield_against_water,
    yields_against_supply,
    dew_of_the_book,
    expired_quotes,
    first_season_nitrogen,
    raw_manure_too_late,
    manure_of_unknown_kind,
    fertiliser_at_once,
    soil_above_threshold,
    water_too_salty,
)


def flags(appraisal: Appraisal) -> tuple[Flag, ...]:
    """Return the plausibility flags of an appraisal, check by check; empty where nothing stands out."""
    return _findings(appraisal).flags


def unchecked(appraisal: Appraisal) -> tuple[str, ...]:
    """Return a sentence on everything that could be held against nothing, and why."""
    trial = () if appraisal.layout.trial is not None else (NO_TRIAL,)
    return trial + _findings(appraisal).unchecked


def _findings(appraisal: Appraisal) -> Findings:
    return together(check(appraisal) for check in CHECKS)
