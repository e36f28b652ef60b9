"""Nutrients and salt of an appraisal as data for other programs: numbers as computed, null with its reason."""

import math
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from plotworth.choose.appraise import Appraisal
from plotworth.choose.salt_season import SaltSeason, salt_notes, salt_seasons
from plotworth.choose.soil_balance import soil_balance

Data = dict[str, Any]
NO_REMOVAL = "no yield, several crops, or no handbook row of removal: the notes of nutrients say which"
NO_COST = "no price of the nutrient, or its balance is not known: the notes of nutrients say which"
FROM_ABOVE = "water comes from above: what it brings can drain"
FROM_BELOW = "water comes from below: nothing drains"
NO_DRESSING = "no weighed mineral fertiliser was given to plots of this system and crop"
NOT_STATED = "a row of the book that it needs is not stated, or the handbook has none: the notes of salt say which"
RISING_FIGURES = ("rise_ds_m", "flushing_needed_l_per_m2", "flushing_stated_l_per_m2", "end_ds_m")


def nutrient_data(appraisal: Appraisal) -> Data:
    """Return given, available, removed and balance [kg/m2] and cost [money/m2] by treatment and nutrient, and notes."""
    balance = soil_balance(appraisal)
    rows: dict[str, Data] = {}
    for row in [] if balance is None else balance.table.to_dict("records"):
        words = {name: str(row[name]) for name in ("gap", "sources")}
        numbers = {str(name): _number(float(row[name])) for name in row if str(name).endswith("_per_m2")}
        rows.setdefault(str(row["treatment"]), {})[str(row["nutrient"])] = numbers | words
    return {"treatments": rows, "notes": [] if balance is None else list(balance.notes)}


def salt_data(appraisal: Appraisal) -> Data:
    """Return the salt of each season by system and season, and notes."""
    seasons: dict[str, Data] = {}
    for one in salt_seasons(appraisal):
        seasons.setdefault(one.system, {})[one.season] = _season_data(one)
    return {"seasons": seasons, "notes": list(salt_notes(appraisal))}


def _season_data(one: SaltSeason) -> Data:
    return {name: _number(value) if isinstance(value, float) else value for name, value in asdict(one).items()}


def why_of_soil(nutrients: Data, salt: Data) -> Iterator[tuple[str, str]]:
    """Yield path and reason of every null in what the two functions above returned."""
    for treatment, by_nutrient in nutrients["treatments"].items():
        for nutrient, row in by_nutrient.items():
            for name in (name for name, value in row.items() if value is None):
                yield f"nutrients/treatments/{treatment}/{nutrient}/{name}", _why_of_nutrient(name, row["gap"])
    for system, by_season in salt["seasons"].items():
        for season, row in by_season.items():
            for name in (name for name, value in row.items() if value is None):
                yield f"salt/seasons/{system}/{season}/{name}", _why_of_salt(name, row)


def _why_of_nutrient(name: str, gap: str) -> str:
    if name.startswith(("removed", "picked")):
        return NO_REMOVAL
    if name.startswith("replacing"):
        return NO_COST
    return gap or NO_REMOVAL


def _why_of_salt(name: str, row: Data) -> str:
    if name == "leaching_share" and row["rises"]:
        return FROM_BELOW
    if name in RISING_FIGURES and not row["rises"]:
        return FROM_ABOVE
    if name.startswith("dressing") and row["dressing_kg_per_m2"] is None:
        return NO_DRESSING
    return NOT_STATED


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
