"""An appraisal as JSON, for other programs: numbers as computed, null with its reason, no clock.

The text is ASCII, other characters escaped, so that no console, pipe or shell can change it on its way.
"""

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from plotworth.choose.appraise import PARTS, Appraisal, units
from plotworth.choose.guard import Flag, flags, unchecked
from plotworth.choose.reasons import unknown_sentence
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.trial_sentences import trial_sentences
from plotworth.report.soil_exchange import nutrient_data, salt_data, why_of_soil
from plotworth.report.view_exchange import other_data, why_of_others

Number = float | None


def appraisal_json(appraisal: Appraisal) -> str:
    """Return an appraisal as JSON text; the same case gives the same bytes."""
    return json.dumps(appraisal_data(appraisal), allow_nan=False, indent=2)


def appraisal_data(appraisal: Appraisal) -> dict[str, Any]:
    """Return what the JSON holds: case, parts by system and outcome, seasons, flows, units, reasons."""
    nutrients, salt = nutrient_data(appraisal), salt_data(appraisal)
    others = other_data(appraisal)
    reasons = [*_why(appraisal), *why_of_soil(nutrients, salt), *why_of_others(appraisal, others)]
    return {
        "case": _case_data(appraisal),
        **{part: _with_roots(appraisal, part) for part in PARTS},
        "seasons": {key: _numbers(figures) for key, figures in appraisal.seasons.items()},
        "flows": {system: [_number(float(flow)) for flow in flows] for system, flows in appraisal.flows.items()},
        "trial": trial_data(appraisal),
        "nutrients": nutrients,
        "salt": salt,
        **others,
        "units": units(appraisal.case.settings.currency),
        "flags": [_flag_data(flag) for flag in flags(appraisal)],
        "unchecked": list(unchecked(appraisal)),
        "checks": {check.sentence: check.holds for check in appraisal.checks},
        "why": dict(sorted(reasons)),
    }


def trial_data(appraisal: Appraisal) -> dict[str, Any] | None:
    """Return what the trial allows one to say: audit findings, claims by pair of systems; None without one."""
    said = trial_sentences(appraisal)
    if said is None:
        return None
    findings = [{"kind": f.kind, "severity": f.severity, "sentence": f.sentence, "cure": f.cure} for f in said.findings]
    claims = [{"pair": pair, "kind": c.kind, "sentence": c.sentence, "why": c.why} for pair, c in said.claims]
    return {"findings": findings, "claims": claims}


def _why(appraisal: Appraisal) -> Iterator[tuple[str, str]]:
    yield from appraisal.why.items()
    yield from _why_of_seasons(appraisal)
    yield from _why_of_flows(appraisal)


def _flag_data(flag: Flag) -> dict[str, Any]:
    return {**asdict(flag), **{end: _finite(getattr(flag, end)) for end in ("value", "low", "high")}}


def _finite(value: float | None) -> Number:
    return None if value is None else _number(value)


def _why_of_seasons(appraisal: Appraisal) -> Iterator[tuple[str, str]]:
    for plan in appraisal.layout.structure.systems:
        for season in plan.seasons:
            key = f"{plan.id}/{season.season}"
            figures = appraisal.seasons[key]
            for name in (name for name, value in figures.items() if _number(value) is None):
                yield f"seasons/{key}/{name}", _why_of_season(appraisal, season, name, figures)


def _why_of_season(appraisal: Appraisal, season: SeasonPlan, name: str, figures: Mapping[str, float]) -> str:
    if name == "irrigation_productivity_kg_per_m3" and figures["water_applied_l_per_m2"] == 0:
        return "no water was applied"
    if name == "water_l_per_kg" and figures["yield_kg_per_m2"] == 0:
        return f"no {season.crop} is harvested"
    used = (appraisal.layout.inputs[address] for address in dict.fromkeys(season.addresses.values()))
    return unknown_sentence([one for one in used if one.origin == "unknown"])


def _why_of_flows(appraisal: Appraisal) -> Iterator[tuple[str, str]]:
    """Yield why a system's flows are not known: the reason its NPV has none."""
    for system, flows in appraisal.flows.items():
        if any(_number(float(flow)) is None for flow in flows):
            yield f"flows/{system}", appraisal.why[f"systems/{system}/npv"]


def _case_data(appraisal: Appraisal) -> dict[str, Any]:
    settings = appraisal.case.settings
    return {
        "title": settings.title,
        "question": settings.question,
        "invented": settings.invented,
        "currency": settings.currency,
        "price_year": settings.price_year,
        "as_of": settings.as_of.isoformat(),
        "area_m2": settings.area_m2,
        "horizon_years": settings.horizon_years,
        "today": settings.today,
        "baseline": settings.baseline,
        "main_crop": appraisal.layout.structure.main_crop,
        "view": "full",
        "labels": {system.id: system.label for system in settings.systems},
        "headline": appraisal.headline,
        "verdicts": {v.system: {"standing": v.standing, "sentence": v.sentence} for v in appraisal.verdicts},
    }


def _with_roots(appraisal: Appraisal, part: str) -> dict[str, dict[str, Any]]:
    return {
        system: {**_numbers(figures), "irr_roots": list(appraisal.irr_roots[f"{part}/{system}"])}
        for system, figures in appraisal.part(part).items()
    }


def _numbers(figures: Mapping[str, float]) -> dict[str, Number]:
    return {name: _number(value) for name, value in figures.items()}


def _number(value: float) -> Number:
    return value if math.isfinite(value) else None
