"""Raw manure in a trial: each dressing that inputs.csv calls raw, with the interval to the picking after it."""

import pandas as pd

from plotworth.case.folder import Case
from plotworth.choose.appraise import Appraisal
from plotworth.supply.input_kinds import raw_kinds
from plotworth.supply.manure import COMPOSTING_RULES, INTERVAL_RULE, INTERVAL_SOURCE, manure_intervals

LAW = "A country's own law comes first."


def raw_manure(appraisal: Appraisal) -> pd.DataFrame:
    """Return the dressings of raw manure with their intervals [day], as of `manure_intervals`; empty without any.

    Raw is what the column kind of inputs.csv calls so; whether the edible part touches the soil is the book's
    `touches_soil`, and a crop for which it is not stated is held to the longer interval.
    """
    case = appraisal.case
    inputs = case.table("inputs")
    raw = inputs[inputs["kind"].isin(raw_kinds())]
    crops = dict.fromkeys(str(crop) for crop in case.table("plots")["crop"])
    contact = {crop: touches_soil(case, crop) for crop in crops}
    known = {crop: touches for crop, touches in contact.items() if touches is not None}
    return manure_intervals(case.table("plots"), raw, case.table("harvests"), set(raw["item"]), known)


def touches_soil(case: Case, crop: str) -> bool | None:
    """Return whether the edible part of a crop touches the soil in any of its seasons, None where not stated.

    Any value above 0 counts as touching; one season without a statement leaves a crop that is otherwise clear unknown.
    """
    seasons = [row for row in case.rows("seasons") if row.crop == crop]
    rows = [case.book.find("touches_soil", system=row.system, crop=crop, season=row.season) for row in seasons]
    values = [row.value if row is not None and isinstance(row.value, float) else None for row in rows]
    if any(value for value in values):
        return True
    return False if values and None not in values else None


def manure_rules() -> tuple[str, ...]:
    """Return the rules as sentences: the intervals of raw manure, and what turns manure into compost."""
    intervals = f"{INTERVAL_RULE} Source: {INTERVAL_SOURCE}. {LAW}"
    return intervals, *(f"What counts as composted, not as raw: {rule.text()}" for rule in COMPOSTING_RULES)
