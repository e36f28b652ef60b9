"""Nutrients, manure and salt that ask a question: what the first season lacks, what was picked too soon, what burns."""

import math
from collections.abc import Iterator

import pandas as pd

from plotworth.choose.appraise import Appraisal
from plotworth.choose.dressing import Dressing, largest_dressings, unweighed
from plotworth.choose.flag import PRACTICE, Findings, Flag, ended, said, together
from plotworth.choose.guard_balance import NITROGEN_UNIT, nitrogen_removed
from plotworth.choose.manure_season import raw_manure
from plotworth.choose.salt_season import SaltSeason, salt_seasons
from plotworth.choose.soil_balance import soil_balance
from plotworth.ground.amounts import share_text
from plotworth.ground.conversions import GRAMS_PER_KG
from plotworth.ground.glossary import GLOSSARY
from plotworth.ground.handbook import HandbookError, find_salt_tolerance
from plotworth.supply.input_kinds import NOT_SAID
from plotworth.supply.manure import INTERVAL_SOURCE, TOO_SHORT, names_that_say_manure
from plotworth.supply.salt import EC_LIMITS_DS_M, RESTRICTIONS, WATER_CLASS_SOURCE

FIRST_SEASON = "first_season_nitrogen_g_per_m2"
INTERVAL = "raw_manure_interval_days"
KIND_NOT_SAID = "manure_of_unknown_kind_rows"
DRESSING = "fertiliser_dressing_kg_per_m2"
SOIL, WATER = "soil_salinity_ds_m", "water_salinity_ds_m"
SALINITY_UNIT = "dS/m"
DRESSING_UNIT = "kg/m2"
HIGHEST_EC_DS_M = EC_LIMITS_DS_M[1]


def first_season_nitrogen(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment given enough N in all of which the first season can get less than was removed.

    Held against the lowest removal by fruit and culls, with the highest share available; where all that was given is
    too little already, `nitrogen_removed` says so alone.
    """
    balance = soil_balance(appraisal)
    if balance is None:
        return Findings()
    short_in_all = {flag.place for flag in nitrogen_removed(appraisal).flags}
    rows = balance.table[balance.table["nutrient"] == "n"]
    short = rows[rows["available_high_kg_per_m2"] < rows["removed_low_kg_per_m2"]]
    named = [(f"treatments/{name}", str(name), row) for name, row in short.set_index("treatment").iterrows()]
    return Findings(tuple(_late_nitrogen(place, name, row) for place, name, row in named if place not in short_in_all))


def _late_nitrogen(place: str, name: str, row: pd.Series) -> Flag:
    names = ("available_high_kg_per_m2", "removed_low_kg_per_m2", "total_kg_per_m2")
    available, removed, total = (GRAMS_PER_KG * float(row[one]) for one in names)
    sources = str(row["sources"])
    sentence = (
        f"Treatment {name}: of the {said(total, NITROGEN_UNIT)} of nitrogen that it was given, its first crop could "
        f"get {said(available, NITROGEN_UNIT)} at the most, less than the {said(removed, NITROGEN_UNIT)} at the least "
        f"that its harvest and culls took ({sources}); earlier dressings or the soil gave the rest. Check the kinds "
        f"of its inputs, and whether such a yield can be had again on new ground."
    )
    return Flag(place, FIRST_SEASON, available, NITROGEN_UNIT, removed, None, sources, sentence)


def raw_manure_too_late(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment in which raw manure was given too few days [day] before a picking."""
    if appraisal.layout.trial is None:
        return Findings()
    table = raw_manure(appraisal)
    short = table[table["verdict"] == TOO_SHORT].sort_values("interval_days", kind="stable")
    return Findings(tuple(_manure_flag(str(name), rows) for name, rows in short.groupby("treatment", sort=False)))


def _manure_flag(name: str, rows: pd.DataFrame) -> Flag:
    """Return the flag of a treatment's dressings, told by the one with the shortest interval."""
    row = next(rows.itertuples(index=False))
    interval, needed = float(rows["interval_days"].iloc[0]), float(rows["needed_days"].iloc[0])
    contact = "" if row.contact_known else " Whether its edible part touches the soil is not stated (touches_soil)."
    given, picked = (pd.Timestamp(rows[day].iloc[0]).date() for day in ("applied_on", "next_picking_on"))
    others = rows["plot"].nunique() - 1
    plots = f" and {others} other{'s' if others > 1 else ''}" if others else ""
    sentence = (
        f"Treatment {name}: {row.item}, raw manure, was given to plot {row.plot}{plots} on {given}, {interval:g} days "
        f"before the picking of {picked}; the rule asks for {needed:g} ({INTERVAL_SOURCE}).{contact} Check the dates "
        f"and whether the manure was composted; food from it may carry germs."
    )
    return Flag(f"treatments/{name}", INTERVAL, interval, "day", needed, None, INTERVAL_SOURCE, sentence)


def manure_of_unknown_kind(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment with an input whose name says manure and whose kind was not written down."""
    if appraisal.layout.trial is None:
        return Findings()
    case = appraisal.case
    inputs = case.table("inputs")
    unsaid = inputs[inputs["kind"] == NOT_SAID]
    rows = unsaid[unsaid["item"].isin(names_that_say_manure(unsaid["item"]))]
    named = rows.astype({"plot": object}).merge(case.table("plots")[["plot", "treatment"]], on="plot")
    return Findings(tuple(_kind_flag(str(name), part) for name, part in named.groupby("treatment", sort=False)))


def _kind_flag(name: str, rows: pd.DataFrame) -> Flag:
    items = " and ".join(dict.fromkeys(str(item) for item in rows["item"]))
    sentence = (
        f"Treatment {name}: is {items} raw manure? Its name says manure, and its kind was not written down in "
        f"inputs.csv ({len(rows)} rows), so that the interval to the picking ({INTERVAL_SOURCE}) and its first-season "
        f"share were not looked at. Check how it was kept, and fill in the column kind."
    )
    return Flag(f"treatments/{name}", KIND_NOT_SAID, float(len(rows)), "1", None, 0.0, INTERVAL_SOURCE, sentence)


def fertiliser_at_once(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment whose largest dressing [kg/m2] lifts the soil above the crop's threshold.

    Only where the soil is held below the threshold: where it is not, `soil_above_threshold` asks already.
    """
    if appraisal.layout.trial is None:
        return Findings()
    case = appraisal.case
    treatments = {system.id: system.treatment for system in case.settings.systems}
    dressings = largest_dressings(case)
    measured = [one for one in salt_seasons(appraisal) if one.dressing_kg_per_m2 == one.dressing_kg_per_m2]
    over = {
        treatments[one.system]: one for one in measured if one.dressing_kg_per_m2 > one.most_fertiliser_kg_per_m2 > 0
    }
    odd = tuple(f"{item}: its amount is no weight, so that no dressing of it is looked at." for item in unweighed(case))
    return Findings(tuple(_dressing_flag(dressings[name], one) for name, one in over.items()), odd)


def _dressing_flag(dressing: Dressing, one: SaltSeason) -> Flag:
    tolerance = find_salt_tolerance(one.crop)
    source = f"{tolerance.source}, {tolerance.table}"
    most, given = one.most_fertiliser_kg_per_m2, one.dressing_kg_per_m2
    sentence = (
        f"Treatment {dressing.treatment}: plot {dressing.plot} was given {said(given, DRESSING_UNIT)} of mineral "
        f"fertiliser at once on {dressing.date}; on the soil as the book states it, {said(most, DRESSING_UNIT)} brings "
        f"{one.crop} to its salt threshold of {said(tolerance.threshold_low_ds_m, SALINITY_UNIT)} ({source}; salt of "
        f"fertiliser: {PRACTICE}). Check the amount, and whether it can be split or watered in."
    )
    return Flag(f"treatments/{dressing.treatment}", DRESSING, given, DRESSING_UNIT, None, most, source, sentence)


def soil_above_threshold(appraisal: Appraisal) -> Findings:
    """Return a flag on each season whose stated soil salinity [dS/m] costs yield, by the lowest threshold in print."""
    return together(_threshold_finding(one) for one in salt_seasons(appraisal) if one.soil_ds_m == one.soil_ds_m)


def _threshold_finding(one: SaltSeason) -> Findings:
    try:
        tolerance = find_salt_tolerance(one.crop)
    except HandbookError as error:
        return Findings(unchecked=(f"Salt in the soil against {one.crop}: {ended(error)}",))
    if one.soil_ds_m <= tolerance.threshold_low_ds_m:
        return Findings()
    source = f"{tolerance.source}, {tolerance.table}"
    least, most = (share_text(1.0 - left, digits=2) for left in (one.yield_share_high, one.yield_share_low))
    lost = most if least == most else f"{least} to {most}"
    sentence = (
        f"{one.label}, {one.season}: at {said(one.soil_ds_m, SALINITY_UNIT)} in the soil {one.crop} loses {lost} of "
        f"its yield, for its threshold is {said(tolerance.threshold_low_ds_m, SALINITY_UNIT)} ({source}). Check "
        f"whether the stated yield was had on such a soil."
    )
    place = f"seasons/{one.system}/{one.season}"
    limit = tolerance.threshold_low_ds_m
    return Findings((Flag(place, SOIL, one.soil_ds_m, SALINITY_UNIT, None, limit, source, sentence),))


def water_too_salty(appraisal: Appraisal) -> Findings:
    """Return a flag on each system whose water [dS/m] is in the class of severe restriction on use."""
    seasons = salt_seasons(appraisal)
    severe = {one.system: one for one in seasons if one.restriction == RESTRICTIONS[2]}
    return Findings(tuple(_water_flag(one) for one in severe.values()), tuple(_salt_not_stated(seasons)))


def _water_flag(one: SaltSeason) -> Flag:
    sentence = (
        f"{one.label}: its water of {said(one.water_ds_m, SALINITY_UNIT)} is above "
        f"{said(HIGHEST_EC_DS_M, SALINITY_UNIT)}, from where its use is severely restricted ({WATER_CLASS_SOURCE}). "
        f"Check the reading and its unit, and whether the crop bears it."
    )
    place = f"systems/{one.system}"
    return Flag(place, WATER, one.water_ds_m, SALINITY_UNIT, None, HIGHEST_EC_DS_M, WATER_CLASS_SOURCE, sentence)


def _salt_not_stated(seasons: tuple[SaltSeason, ...]) -> Iterator[str]:
    """Yield a sentence for water and for soil on the systems for which the book does not state its salinity."""
    for name, attribute in ((WATER, "water_ds_m"), (SOIL, "soil_ds_m")):
        labels = dict.fromkeys(one.label for one in seasons if math.isnan(getattr(one, attribute)))
        if labels:
            yield f"{GLOSSARY[name].label} ({name}): not stated for {', '.join(labels)}."
