"""Salt by system and season: what the water brings, what drains or stays, what it leaves of the yield, and what burns.

Everything comes from rows of the book and from the water applied; where a row is not stated, a sentence says what is
not known for it. No number of the appraisal is changed here.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from plotworth.case.folder import Case
from plotworth.case.settings import System
from plotworth.choose.appraise import Appraisal
from plotworth.choose.dressing import Dressing, largest_dressings
from plotworth.choose.flag import PRACTICE
from plotworth.choose.structure import SeasonPlan, SystemPlan
from plotworth.ground.glossary import GLOSSARY
from plotworth.ground.handbook import HandbookError, SaltTolerance, find_salt_tolerance
from plotworth.supply.salt import (
    EC_LIMITS_DS_M,
    SALT_G_PER_L_PER_DS_M,
    extract_of_salt_ds_m,
    fertiliser_extract_ds_m,
    flushing_l_per_m2,
    leaching_requirement,
    most_fertiliser_kg_per_m2,
    restriction_on_use,
    salt_added_kg_per_m2,
    salt_after_flushing_kg_per_m2,
    salt_loss_low_high,
    saturation_water_l_per_m2,
)

NAN = math.nan
RISING = "reservoir"
PER_METRE = 1000.0
WATER, SOIL = "water_salinity_ds_m", "soil_salinity_ds_m"
DEPTH, SATURATION, MIXING = "rooting_depth_m", "saturation_mm_per_m", "flush_mixing_share"
FLUSHING, FERTILISER = "flushing_l_per_m2", "fertiliser_salt_share"
ROWS: Mapping[str, str] = {
    WATER: "the salt it brings, its class, leaching and flushing",
    SOIL: "leaching, flushing, the yield that salt leaves and the most fertiliser at once",
    DEPTH: "the rise of salt in the soil, flushing and the most fertiliser at once",
    SATURATION: "the rise of salt in the soil, flushing and the most fertiliser at once",
    MIXING: "flushing",
    FLUSHING: "what flushing by hand leaves",
    FERTILISER: "the most fertiliser at once",
}
"""The rows of the book, each with what is not known without it."""
FACTOR = (
    f"Salt of {SALT_G_PER_L_PER_DS_M:g} g in a litre for each dS/m (USDA Agriculture Handbook 60); fertiliser by the "
    f"same factor ({PRACTICE})."
)
ONLY_RISING = (MIXING, FLUSHING)
SALT_LEFT_OUT = (
    "Salt: plants are taken to leave all salt of the water behind and nothing to precipitate, so that the rise is the "
    "most there can be; rain that drains washes salt out and is not counted, and the yield that salt leaves is that "
    "at the salinity held, without the rise. Flushing is the water that has to drain, of the same salinity: dry soil "
    "keeps the first of what is poured. Fertiliser is taken as spread evenly over the planted ground, on soil at the "
    "salinity held; in a ring or a band the limit is reached sooner."
)


@dataclass(frozen=True)
class SaltSeason:
    """Salt of one season of a system; NaN where a row that it needs is not stated.

    Attributes: system, season and crop; rises, whether water comes from below; water_ds_m (ECw) and soil_ds_m (ECe
    the root zone is held at) as stated; restriction, the class of the water; water_applied_l_per_m2;
    salt_added_kg_per_m2; leaching_share of the water that must drain, where it comes from above;
    rise_ds_m of ECe over the season and flushing_needed_l_per_m2 that takes it back, where it comes from below;
    flushing_stated_l_per_m2 and end_ds_m, the ECe that it leaves; yield_share_low and yield_share_high left by salt
    at soil_ds_m, by the ends of the handbook's ranges; dressing_kg_per_m2, the largest amount of mineral fertiliser
    given at once in the trial's plots of this system, its dressing_rise_ds_m, and most_fertiliser_kg_per_m2
    that keeps ECe at the crop's lowest threshold.
    """

    system: str
    label: str
    season: str
    crop: str
    rises: bool
    water_ds_m: float
    soil_ds_m: float
    restriction: str
    water_applied_l_per_m2: float
    salt_added_kg_per_m2: float
    leaching_share: float
    rise_ds_m: float
    flushing_needed_l_per_m2: float
    flushing_stated_l_per_m2: float
    end_ds_m: float
    yield_share_low: float
    yield_share_high: float
    dressing_kg_per_m2: float
    dressing_rise_ds_m: float
    most_fertiliser_kg_per_m2: float


def salt_seasons(appraisal: Appraisal) -> tuple[SaltSeason, ...]:
    """Return the salt of every season of every system, in the order of the case."""
    case, dressings = appraisal.case, largest_dressings(appraisal.case)
    return tuple(
        _season(appraisal, case.settings.system(plan.id), plan, season, dressings)
        for plan in appraisal.layout.structure.systems
        for season in plan.seasons
    )


def _tolerance(crop: str) -> SaltTolerance | None:
    """Return the handbook's salt tolerance of a crop, None where it has no row."""
    try:
        return find_salt_tolerance(crop)
    except HandbookError:
        return None


def _stated(case: Case, plan: SystemPlan, season: SeasonPlan) -> dict[str, float]:
    """Return the numbers that the book states for a season, NaN where it has none."""
    rows = {name: case.book.find(name, system=plan.id, crop=season.crop, season=season.season) for name in ROWS}
    return {name: row.value if row and isinstance(row.value, float) else NAN for name, row in rows.items()}


def _season(
    appraisal: Appraisal, system: System, plan: SystemPlan, season: SeasonPlan, dressings: Mapping[str, Dressing]
) -> SaltSeason:
    row = _stated(appraisal.case, plan, season)
    rises = system.water_method == RISING
    applied = appraisal.seasons[f"{plan.id}/{season.season}"]["water_applied_l_per_m2"]
    added = float(salt_added_kg_per_m2(applied, row[WATER]))
    dressing = dressings.get(system.treatment)
    return SaltSeason(
        system=plan.id,
        label=plan.label,
        season=season.season,
        crop=season.crop,
        rises=rises,
        water_ds_m=row[WATER],
        soil_ds_m=row[SOIL],
        restriction=str(restriction_on_use(row[WATER], EC_LIMITS_DS_M)),
        water_applied_l_per_m2=applied,
        salt_added_kg_per_m2=added,
        leaching_share=NAN if rises else float(leaching_requirement(row[WATER], row[SOIL])),
        **_rising(row, added if rises else NAN),
        **_yield_left(row, season.crop),
        **_burn(row, season.crop, dressing.kg_per_m2 if dressing and dressing.crop == season.crop else NAN),
    )


def _rising(row: Mapping[str, float], added_kg_per_m2: float) -> dict[str, float]:
    """Return what a season of water from below does to ECe, and what flushing takes back or leaves."""
    saturation = float(saturation_water_l_per_m2(row[DEPTH], row[SATURATION] / PER_METRE))
    rise = float(extract_of_salt_ds_m(added_kg_per_m2, saturation))
    store = {"saturation_l_per_m2": saturation, "mixing_share": row[MIXING]}
    before = salt_added_kg_per_m2(saturation, row[SOIL]) + added_kg_per_m2
    stated = row[FLUSHING] if rise == rise else NAN
    left = salt_after_flushing_kg_per_m2(before, stated, row[WATER], **store)
    needed = flushing_l_per_m2(row[SOIL] + rise, row[SOIL], row[WATER], **store)
    return {
        "rise_ds_m": rise,
        "flushing_needed_l_per_m2": float(needed),
        "flushing_stated_l_per_m2": stated,
        "end_ds_m": float(extract_of_salt_ds_m(left, saturation)),
    }


def _yield_left(row: Mapping[str, float], crop: str) -> dict[str, float]:
    tolerance = _tolerance(crop)
    least, greatest = (NAN, NAN) if tolerance is None else map(float, salt_loss_low_high(row[SOIL], tolerance))
    return {"yield_share_low": 1.0 - greatest, "yield_share_high": 1.0 - least}


def _burn(row: Mapping[str, float], crop: str, dressing_kg_per_m2: float) -> dict[str, float]:
    tolerance = _tolerance(crop)
    threshold = NAN if tolerance is None else tolerance.threshold_low_ds_m
    saturation = saturation_water_l_per_m2(row[DEPTH], row[SATURATION] / PER_METRE)
    rise = fertiliser_extract_ds_m(dressing_kg_per_m2, row[FERTILISER], saturation)
    most = most_fertiliser_kg_per_m2(threshold, row[SOIL], row[FERTILISER], saturation)
    return {
        "dressing_kg_per_m2": dressing_kg_per_m2,
        "dressing_rise_ds_m": float(rise),
        "most_fertiliser_kg_per_m2": float(most),
    }


def salt_notes(appraisal: Appraisal) -> tuple[str, ...]:
    """Return the sentences on salt: what is not stated and not known for it, sources, and what is left out."""
    seasons = salt_seasons(appraisal)
    if not any(one.water_ds_m == one.water_ds_m or one.soil_ds_m == one.soil_ds_m for one in seasons):
        return (
            f"Salt is not looked at: the book states neither the salt in the water ({WATER}) nor that in the soil "
            f"({SOIL}).",
        )
    return (*_missing(appraisal), *_without_room(seasons), *_tolerances(one.crop for one in seasons), SALT_LEFT_OUT)


def _missing(appraisal: Appraisal) -> list[str]:
    """Return a sentence for each row that some season lacks, with its systems and, where only some lack it, seasons."""
    places: dict[str, list[str]] = {}
    methods = {system.id: system.water_method for system in appraisal.case.settings.systems}
    for plan in appraisal.layout.structure.systems:
        stated = {season.season: _stated(appraisal.case, plan, season) for season in plan.seasons}
        for name in (one for one in ROWS if one not in ONLY_RISING or methods[plan.id] == RISING):
            lacking = [season for season, numbers in stated.items() if math.isnan(numbers[name])]
            if lacking:
                when = "" if len(lacking) == len(stated) else f" in {' and '.join(lacking)}"
                places.setdefault(name, []).append(f"{plan.label}{when}")
    return [
        f"{GLOSSARY[name].label} ({name}) is not stated for {', '.join(where)}; not known without it: {ROWS[name]}."
        for name, where in places.items()
    ]


def _without_room(seasons: Iterable[SaltSeason]) -> list[str]:
    """Return where the water cannot hold or reach the salinity stated, and where that leaves no room for fertiliser."""
    found = []
    for one in seasons:
        place = f"{one.label} in {one.season}"
        known = one.water_ds_m == one.water_ds_m and one.soil_ds_m == one.soil_ds_m
        if known and not one.rises and one.leaching_share != one.leaching_share:
            found.append(f"{place}: no amount of this water, leached from above, holds the soil at the salt stated.")
        if known and one.rises and one.soil_ds_m <= one.water_ds_m:
            found.append(f"{place}: flushing with this water cannot reach the salt stated; it is as salty itself.")
    full = dict.fromkeys(one.crop for one in seasons if one.most_fertiliser_kg_per_m2 == 0)
    found += [
        f"The soil is held at the threshold of {crop} or above, so that there is no room for salt of fertiliser."
        for crop in full
    ]
    return found


def _tolerances(crops: Iterable[str]) -> list[str]:
    found = []
    for crop in dict.fromkeys(crops):
        try:
            row = find_salt_tolerance(crop)
        except HandbookError as error:
            found.append(f"Yield that salt leaves: {error}.")
        else:
            found.append(f"Salt tolerance of {crop}: {row.source}, {row.table}; {row.condition}.")
    return [*found, FACTOR]
