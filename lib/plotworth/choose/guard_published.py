"""Yields and kilograms per m3 of water beside the highest that the handbook has in print."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from plotworth.case.settings import System
from plotworth.choose.appraise import Appraisal
from plotworth.choose.flag import OPEN_COVERS, Findings, Flag, ended, figure, patches, said, together
from plotworth.choose.season import grow
from plotworth.ground.handbook import HandbookError, Published, find_published, handbook_name

YIELD = "yield_kg_per_m2"
YIELD_UNIT = "kg/m2"
FIELD = "field"
AVERAGE = "average"
CLOSED_GREENHOUSE = "closed greenhouse"
CEILING_CROP = "tomato"
PER_M3_UNIT = "kg/m3"
PER_KG_UNIT = "l/kg"
IRRIGATED = "irrigation_productivity_kg_per_m3"
INFLOW = "inflow_productivity_kg_per_m3"
PER_KG = "water_l_per_kg"
PER_M3_RANGE = "water_productivity_kg_per_m3"
DENOMINATORS = {IRRIGATED: "irrigated", INFLOW: "of all inflow"}


@dataclass(frozen=True)
class Claim:
    """A figure to be held against print: place, who (in a sentence), crop, cover, value."""

    place: str
    label: str
    crop: str
    cover: str
    value: float


def yields_against_print(appraisal: Appraisal) -> Findings:
    """Return a flag on each yield [kg/m2] above the highest published for its crop.

    In the open (no cover, or a net) the highest of the field is taken where one is in print that is no average.
    """
    return together(_yield_finding(claim) for claim in _yield_claims(appraisal) if math.isfinite(claim.value))


def _yield_claims(appraisal: Appraisal) -> Iterator[Claim]:
    yield from _system_claims(appraisal, YIELD)
    yield from _other_crops(appraisal)
    yield from _treatment_claims(appraisal, YIELD)


def _systems(appraisal: Appraisal) -> tuple[System, ...]:
    return appraisal.case.settings.systems


def _system_claims(appraisal: Appraisal, name: str) -> list[Claim]:
    """Return a figure of the main crop of every system."""
    crop = appraisal.layout.structure.main_crop
    return [
        Claim(f"systems/{system.id}", system.label, crop, system.cover, appraisal.systems[system.id][name])
        for system in _systems(appraisal)
    ]


def _other_crops(appraisal: Appraisal) -> Iterator[Claim]:
    """Yield the yields of the seasons that grow another crop than the main one."""
    structure = appraisal.layout.structure
    for system in structure.systems:
        for season in system.seasons:
            if season.crop != structure.main_crop:
                value = grow(season, appraisal.values).yield_kg_per_m2.item()
                cover = appraisal.case.settings.system(system.id).cover
                yield Claim(f"seasons/{system.id}/{season.season}", system.label, season.crop, cover, value)


def _treatment_claims(appraisal: Appraisal, name: str) -> list[Claim]:
    """Return a figure of every treatment but those whose system already stands for it with the same number."""
    trial = appraisal.layout.trial
    if trial is None:
        return []
    table = trial.treatments if name == YIELD else trial.productivities
    told = [(system.treatment, appraisal.systems[system.id].get(name, math.nan)) for system in _systems(appraisal)]
    return [
        Claim(patch.place, patch.label, patch.crop, patch.cover, value)
        for patch in patches(appraisal)
        if patch.crop
        for value in (figure(table, patch.name, name),)
        if not any(patch.name == treatment and math.isclose(value, other) for treatment, other in told)
    ]


def _yield_finding(claim: Claim) -> Findings:
    try:
        rows = find_published(claim.crop, YIELD)
    except HandbookError as error:
        return Findings(unchecked=(f"Yield of {claim.crop} [{YIELD_UNIT}]: {ended(error)}",))
    highest = highest_yield(claim.cover, rows)
    return Findings((_yield_flag(claim, highest),) if claim.value > highest.high else ())


def highest_yield(cover: str, rows: Sequence[Published]) -> Published:
    """Return the highest published yield: of the field for open ground where one is more than an average, else of all.

    Parameters: the cover over the crop; the handbook's rows of its yields.
    """
    outdoors = [row for row in rows if FIELD in row.condition and AVERAGE not in row.condition]
    return max(outdoors if cover in OPEN_COVERS and outdoors else rows, key=lambda row: row.high)


def _yield_flag(claim: Claim, row: Published) -> Flag:
    where = " in the field" if FIELD in row.condition else ""
    average = ", an average that a good grower passes" if AVERAGE in row.condition else ""
    sentence = (
        f"{claim.label}: {said(claim.value, YIELD_UNIT)} of {claim.crop} is above the highest published yield that the "
        f"handbook has for it{where}, {said(row.high, YIELD_UNIT)} ({row.condition}; {row.source}){average}. Check "
        f"that the area is the net planted one, the kilograms one season's, and how they were counted or weighed."
    )
    return Flag(claim.place, YIELD, claim.value, YIELD_UNIT, None, row.high, row.source, sentence)


def water_against_print(appraisal: Appraisal) -> Findings:
    """Return a flag on each productivity above that of a closed greenhouse [kg/m3], and each l/kg below it.

    A crop without a closed greenhouse in print takes the tomato's as its ceiling, and the sentence says so. A system
    that draws no water at all lives on rain and is not asked.
    """
    per_m3 = [
        _per_m3_finding(claim, name)
        for name, claims in (
            (IRRIGATED, [*_system_claims(appraisal, IRRIGATED), *_treatment_claims(appraisal, IRRIGATED)]),
            (INFLOW, _treatment_claims(appraisal, INFLOW)),
        )
        for claim in claims
    ]
    return together([*per_m3, *(_per_kg_finding(claim) for claim in _system_claims(appraisal, PER_KG))])


def _closed_greenhouse(crop: str, what: str) -> tuple[Published, ...]:
    try:
        rows = [row for row in find_published(crop, what) if CLOSED_GREENHOUSE in row.condition]
    except HandbookError:
        rows = []
    return tuple(rows) if rows else _closed_greenhouse(CEILING_CROP, what)


def _per_m3_finding(claim: Claim, name: str) -> Findings:
    row = max(_closed_greenhouse(claim.crop, PER_M3_RANGE), key=lambda row: row.high)
    if not claim.value > row.high:
        return Findings()
    rain = " Rain that fed the crop is not in it: look at all inflow as well." if name == IRRIGATED else ""
    sentence = (
        f"{claim.label}: {said(claim.value, PER_M3_UNIT)} {DENOMINATORS[name]} is more than the highest published, "
        f"{said(row.high, PER_M3_UNIT)} {_whose(claim, row)}. Check that every refill was written down, litres and m3, "
        f"and the areas of yield and water.{rain}"
    )
    return Findings((Flag(claim.place, name, claim.value, PER_M3_UNIT, None, row.high, row.source, sentence),))


def _per_kg_finding(claim: Claim) -> Findings:
    row = min(_closed_greenhouse(claim.crop, PER_KG), key=lambda row: row.low)
    if not 0.0 < claim.value < row.low:
        return Findings()
    sentence = (
        f"{claim.label}: {said(claim.value, PER_KG_UNIT)} of {claim.crop} is less water than the lowest published, "
        f"{said(row.low, PER_KG_UNIT)} {_whose(claim, row)}. Check that every refill was written down, what rain gave, "
        f"and the share of the trial's yield that the farm reaches."
    )
    return Findings((Flag(claim.place, PER_KG, claim.value, PER_KG_UNIT, row.low, None, row.source, sentence),))


def _whose(claim: Claim, row: Published) -> str:
    """Return what a ceiling was published for, and that another crop's stands in where it does."""
    stand_in = "" if _is_named(claim.crop, row.crop) else f"; {claim.crop} has none of its own, so it stands in"
    return f"for {row.crop} in a closed greenhouse ({row.condition}; {row.source}{stand_in})"


def _is_named(crop: str, name: str) -> bool:
    """Whether the handbook has a crop under this name; a crop it does not know is under none."""
    try:
        return handbook_name(crop) == name
    except HandbookError:
        return False
