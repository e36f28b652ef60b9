"""Yields beside what nitrogen and water could have carried: balances that do not close without a question."""

import math

from plotworth.choose.appraise import Appraisal
from plotworth.choose.flag import PRACTICE, Findings, Flag, Patch, ended, figure, patches, said, together
from plotworth.choose.measured import Trial
from plotworth.ground.amounts import share_text
from plotworth.ground.conversions import GRAMS_PER_KG
from plotworth.ground.handbook import HandbookError, YieldResponse, find_removal, find_yield_response
from plotworth.supply.nutrients import removed_kg_per_m2, treatment_supply

NITROGEN = "nitrogen_removed_g_per_m2"
NITROGEN_UNIT = "g/m2"
RELATIVE_YIELD = "relative_yield_share"
MOST_UNEXPLAINED = 0.10
"""Yield above what the water ratio explains, of the reference yield [share]: common practice, no source."""
KY_HOLDS_FROM = 0.5
"""Ratio of evapotranspirations [share] down to which Ky was fitted, by the condition of the handbook's rows."""
YIELD = "yield_kg_per_m2"
EVAPORATED = "evapotranspiration_l_per_m2"
INFLOW = "inflow_l_per_m2"


def nitrogen_removed(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment whose harvest took more N [g/m2] than it was given, by the lowest removal."""
    trial = appraisal.layout.trial
    if trial is None:
        return Findings()
    case = appraisal.case
    supply = treatment_supply(case.table("plots"), case.table("inputs"), ())
    nitrogen = supply[supply["nutrient"] == "n"].set_index("treatment")
    given = dict(zip(nitrogen.index, nitrogen["total_kg_per_m2"], strict=True))
    gaps = dict(zip(nitrogen.index, nitrogen["gap"], strict=True))
    return together(
        _nitrogen_finding(
            patch, figure(trial.treatments, patch.name, YIELD), float(given[patch.name]), gaps[patch.name]
        )
        for patch in patches(appraisal)
        if patch.crop
    )


def _nitrogen_finding(patch: Patch, yield_kg_per_m2: float, given_kg_per_m2: float, gap: str) -> Findings:
    if math.isnan(yield_kg_per_m2):
        return Findings()
    if math.isnan(given_kg_per_m2):
        return Findings(unchecked=(f"{patch.label}: nitrogen removed against given: {gap}.",))
    try:
        removed = removed_kg_per_m2(yield_kg_per_m2, find_removal(patch.crop), nutrient="n")
    except HandbookError as error:
        return Findings(unchecked=(f"Nitrogen removed by {patch.crop}: {ended(error)}",))
    if removed.low <= given_kg_per_m2:
        return Findings()
    low, high, given = (GRAMS_PER_KG * float(mass) for mass in (removed.low, removed.high, given_kg_per_m2))
    return Findings((_nitrogen_flag(patch, low, high, given, "; ".join(removed.sources)),))


def _nitrogen_flag(patch: Patch, low: float, high: float, given: float, sources: str) -> Flag:
    between = said(low, NITROGEN_UNIT) if low == high else f"{said(low, NITROGEN_UNIT)} to {said(high, NITROGEN_UNIT)}"
    sentence = (
        f"{patch.label}: its harvest took {between} of nitrogen ({sources}), more than the "
        f"{said(given, NITROGEN_UNIT)} that all its inputs gave; the soil gave the rest, and such a yield "
        f"may not last. Check that every input was written down with its nitrogen, and the yield."
    )
    return Flag(patch.place, NITROGEN, low, NITROGEN_UNIT, 0.0, given, sources, sentence)


def yield_against_water(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment that yields more than its water explains beside the best-watered one.

    Equation: Y/Yref expected = 1 - Ky_low (1 - W/Wref), FAO-56 Table 24 after FAO Paper 33; W is evapotranspiration by
    balance where drainage was measured on both, else inflow. Flagged above it by more than MOST_UNEXPLAINED. Ky holds
    for evapotranspiration; by inflow it is a question only, for the reference may have drained what it did not use.
    """
    trial = appraisal.layout.trial
    if trial is None:
        return Findings()
    everyone = patches(appraisal)
    return together(
        _crop_finding(trial, crop, everyone) for crop in dict.fromkeys(patch.crop for patch in everyone if patch.crop)
    )


def _crop_finding(trial: Trial, crop: str, everyone: tuple[Patch, ...]) -> Findings:
    """Compare the treatments of one crop that have both yield and water."""
    table = trial.productivities
    measured = [
        patch
        for patch in everyone
        if patch.crop == crop and figure(table, patch.name, YIELD) > 0 and figure(table, patch.name, INFLOW) > 0
    ]
    if len(measured) < 2:
        return Findings(unchecked=(f"Yield of {crop} against water: fewer than two treatments have both.",))
    try:
        response = find_yield_response(crop)
    except HandbookError as error:
        return Findings(unchecked=(f"Yield of {crop} against water: {ended(error)}",))
    reference = max(measured, key=lambda patch: figure(table, patch.name, INFLOW))
    return together(_water_finding(trial, patch, reference, response) for patch in measured if patch is not reference)


def _water_finding(trial: Trial, patch: Patch, reference: Patch, response: YieldResponse) -> Findings:
    table = trial.productivities
    basis = INFLOW if math.isnan(_ratio(trial, EVAPORATED, patch, reference)) else EVAPORATED
    water = _ratio(trial, basis, patch, reference)
    if water > 1.0:
        return Findings()
    share = figure(table, patch.name, YIELD) / figure(table, reference.name, YIELD)
    explained = 1.0 - response.ky_low * (1.0 - water)
    if share - explained <= MOST_UNEXPLAINED:
        return Findings()
    low, high = (max(1.0 - ky * (1.0 - water), 0.0) for ky in (response.ky_high, response.ky_low))
    sentence = _water_sentence(patch, reference, response, (share, water, low, high), basis)
    source = f"{response.source}, {response.table}; tolerance: {PRACTICE}"
    return Findings((Flag(patch.place, RELATIVE_YIELD, share, "share", low, high, source, sentence),))


def _ratio(trial: Trial, name: str, patch: Patch, reference: Patch) -> float:
    ours, theirs = (figure(trial.productivities, one.name, name) for one in (patch, reference))
    return ours / theirs if theirs > 0 else math.nan


def _water_sentence(
    patch: Patch,
    reference: Patch,
    response: YieldResponse,
    shares: tuple[float, float, float, float],
    basis: str,
) -> str:
    share, water, low, high = shares
    upto = share_text(high) if low == high else f"{share_text(low)} to {share_text(high)}"
    noun, caveat = _basis_words(reference, basis)
    beyond = " Ky is stretched beyond the half of the water down to which it holds." if water < KY_HOLDS_FROM else ""
    return (
        f"{patch.label}: is its yield, {share_text(share)} of that of the best-watered treatment {reference.name}, "
        f"more than its water explains? It had {share_text(water)} of that treatment's {noun}, on which the yield "
        f"response of {response.crop} lets one expect {upto} ({response.source}, {response.table}); more by up to "
        f"{share_text(MOST_UNEXPLAINED)} of the reference is let pass ({PRACTICE}). {caveat}{beyond} Check the water "
        f"records of both, and what else differs between them: soil, inputs, mulch or lid."
    )


def _basis_words(reference: Patch, basis: str) -> tuple[str, str]:
    """Return what the water is, and what it leaves open."""
    if basis == EVAPORATED:
        return "evapotranspiration", "Evapotranspiration is by balance, with drainage or runoff measured."
    caveat = (
        f"Inflow is only an upper bound of evapotranspiration: {reference.name} may have drained, or evaporated from "
        f"bare soil, what its plants did not use, and then nothing is wrong; drainage was not measured on both."
    )
    return "inflow", caveat
