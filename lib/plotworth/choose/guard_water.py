"""Yields beside what the water of their season could carry by the handbook, and dew beside its ceiling."""

import math
from dataclasses import dataclass

from plotworth.choose.appraise import Appraisal
from plotworth.choose.flag import PRACTICE, Findings, Flag, ended, said, together
from plotworth.choose.guard_published import YIELD, YIELD_UNIT, highest_yield
from plotworth.choose.season import grow
from plotworth.choose.simulated import could_take_mm
from plotworth.choose.structure import SeasonPlan, SystemPlan
from plotworth.choose.water_case import CaseWater, water_of_case
from plotworth.choose.watering import SeasonWater
from plotworth.ground.amounts import share_text
from plotworth.ground.handbook import HandbookError, Published, YieldResponse, find_published, find_yield_response
from plotworth.supply.deficit import GREATEST_DEFICIT_SHARE
from plotworth.supply.lid import HIGHEST_DEW_L_PER_M2

CARRIED_YIELD = "yield_by_water_kg_per_m2"
DEW = "dew_l_per_m2"
DEW_UNIT = "l/m2"


@dataclass(frozen=True)
class _Claimed:
    """A season of a system: place, label, plan, yield [kg/m2] and applied water [l/m2] that the case states."""

    place: str
    label: str
    plan: SeasonPlan
    yield_kg_per_m2: float
    applied_l_per_m2: float


def yields_against_supply(appraisal: Appraisal) -> Findings:
    """Return a flag on each yield above what its season's water could carry.

    Most that can be carried = highest published yield x (1 - Ky_low (1 - water / crop evapotranspiration)), FAO-56
    eq 90; water is all there was: what is stated as applied and came to the roots, all rain on open soil, all
    that a lid caught, the soil's store; or, where the applied water itself is worked out, what the tank's
    plants took up. So the doubt is the grower's.
    """
    water = water_of_case(appraisal.layout, appraisal.values)
    found = [
        _finding(appraisal, claimed, water.seasons[key].shown)
        for system in appraisal.layout.structure.systems
        for plan in system.seasons
        for key in (f"{system.id}/{plan.season}",)
        if key in water.seasons
        for claimed in (_claimed(appraisal, system, plan),)
        if math.isfinite(claimed.yield_kg_per_m2)
    ]
    return together([Findings(unchecked=_untold(water)), *found])


def _untold(water: CaseWater) -> tuple[str, ...]:
    """Return one sentence on the seasons whose water cannot be told, with the first reason."""
    if not water.gaps:
        return ()
    reason = next(iter(water.gaps.values()))[0]
    return (f"Yield against the water of the season, not told for {', '.join(water.gaps)}: {ended(reason)}",)


def _claimed(appraisal: Appraisal, system: SystemPlan, plan: SeasonPlan) -> _Claimed:
    season = grow(plan, appraisal.values)
    figures = (season.yield_kg_per_m2.item(), season.water_applied_l_per_m2.item())
    return _Claimed(f"seasons/{system.id}/{plan.season}", f"{system.label}, {plan.season}", plan, *figures)


def _finding(appraisal: Appraisal, claimed: _Claimed, water: SeasonWater) -> Findings:
    crop = claimed.plan.crop
    try:
        response, rows = find_yield_response(crop), find_published(crop, YIELD)
    except HandbookError as error:
        return Findings(unchecked=(f"Yield of {crop} against what its water could carry: {ended(error)}",))
    cover = appraisal.case.settings.system(water.system).cover
    highest = highest_yield(cover, rows)
    worked_out = any(
        item.address == claimed.plan.addresses["water_applied_l_per_m2"]
        for item in appraisal.layout.structure.simulated
    )
    share = _water_share(water, None if worked_out else claimed.applied_l_per_m2)
    most = highest.high * (1.0 - response.ky_low * (1.0 - share))
    if not math.isfinite(share) or claimed.yield_kg_per_m2 <= most:
        return Findings()
    return Findings((_flag(claimed, water, response, highest, (share, most)),))


def _water_share(water: SeasonWater, applied_l_per_m2: float | None) -> float:
    """Return all water there was over what the crop could take [share, at most 1]."""
    if water.tank is not None and applied_l_per_m2 is None:
        return float(water.tank.totals.uptake_share)
    applied = water.applied_l_per_m2 if applied_l_per_m2 is None else applied_l_per_m2
    had = applied * water.rows.application_share + float(water.demand.rain_mm.sum())
    if water.tank is not None and water.rows.tank is not None:
        had += float(water.tank.totals.caught_l) / water.rows.tank.planted_m2 + water.rows.tank.available_mm
    return min(had / could_take_mm(water), 1.0)


def _flag(
    claimed: _Claimed,
    water: SeasonWater,
    response: YieldResponse,
    highest: Published,
    shares: tuple[float, float],
) -> Flag:
    share, most = shares
    beyond = " Less than half the water is there, beyond which the factor was not measured."
    sentence = (
        f"{claimed.label}: {said(claimed.yield_kg_per_m2, YIELD_UNIT)} of {claimed.plan.crop} is more than its water "
        f"could carry, about {said(max(most, 0.0), YIELD_UNIT)}: rain, soil and what is applied come to at most "
        f"{share_text(share)} of the {said(could_take_mm(water), 'mm')} that the crop could use, and the highest "
        f"published yield is {said(highest.high, YIELD_UNIT)} ({highest.source}; yield response "
        f"{response.source}, {response.table}). Check the water records, the yield, and the season's rows of demand."
        f"{beyond if 1.0 - share > GREATEST_DEFICIT_SHARE else ''}"
    )
    yielded = claimed.yield_kg_per_m2
    return Flag(claimed.place, CARRIED_YIELD, yielded, YIELD_UNIT, None, max(most, 0.0), highest.source, sentence)


def dew_of_the_book(appraisal: Appraisal) -> Findings:
    """Return a flag on each system whose book counts more dew [l/m2 a night] than falls."""
    found = {
        plan.water[DEW]: f"systems/{system.id}"
        for system in appraisal.layout.structure.systems
        for plan in system.seasons
        if DEW in plan.water
    }
    return together(
        Findings((_dew_flag(place, dew),))
        for address, place in found.items()
        for dew in (float(appraisal.values[address].flat[0]),)
        if dew > HIGHEST_DEW_L_PER_M2
    )


def _dew_flag(place: str, dew: float) -> Flag:
    ceiling = said(HIGHEST_DEW_L_PER_M2, DEW_UNIT)
    sentence = (
        f"The book counts {said(dew, DEW_UNIT)} of dew a night, more than the {ceiling} that a clear night can bring "
        f"({PRACTICE}); no more than that is counted. Measure what the lid leads into the tank on nights without rain."
    )
    return Flag(place, DEW, dew, DEW_UNIT, None, HIGHEST_DEW_L_PER_M2, PRACTICE, sentence)
