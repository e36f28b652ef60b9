"""An appraisal as JSON, for other programs: numbers as computed, null with its reason, no clock."""

import json
import math
from collections.abc import Mapping
from typing import Any

from plotworth.choose.appraise import PARTS, Appraisal, units

Number = float | None


def appraisal_json(appraisal: Appraisal) -> str:
    """Return an appraisal as JSON text; the same case gives the same bytes."""
    return json.dumps(appraisal_data(appraisal), ensure_ascii=False, allow_nan=False, indent=2)


def appraisal_data(appraisal: Appraisal) -> dict[str, Any]:
    """Return what the JSON holds: case, parts by system and outcome, seasons, flows, units, reasons."""
    return {
        "case": _case_data(appraisal),
        **{part: _with_roots(appraisal, part) for part in PARTS},
        "seasons": {key: _numbers(figures) for key, figures in appraisal.seasons.items()},
        "flows": {system: [float(flow) for flow in flows] for system, flows in appraisal.flows.items()},
        "units": units(appraisal.case.settings.currency),
        "checks": {check.sentence: check.holds for check in appraisal.checks},
        "why": dict(sorted(appraisal.why.items())),
    }


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
    return {name: None if math.isnan(value) else value for name, value in figures.items()}
