"""How sure a case is, as JSON for other programs: numbers as drawn, null where an assumption is unknown."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from plotworth.choose.influence import Influence
from plotworth.choose.risk import Against, AreaRisk, Risk
from plotworth.choose.risk_table import risk_notes, risk_sentences
from plotworth.report.influence_exchange import influence_data


def risk_json(risk: Risk, areas: Sequence[AreaRisk] = (), moving: Influence | None = None) -> str:
    """Return a case drawn many times as JSON text; the same case, draws and seed give the same bytes."""
    return json.dumps(risk_data(risk, areas, moving), allow_nan=False, indent=2)


def risk_data(risk: Risk, areas: Sequence[AreaRisk] = (), moving: Influence | None = None) -> dict[str, Any]:
    """Return what the JSON holds: case, draws, systems by id, areas, what moves it, units, sentences, notes."""
    settings, structure = risk.layout.case.settings, risk.layout.structure
    return {
        "case": {
            "title": settings.title,
            "invented": settings.invented,
            "currency": settings.currency,
            "price_year": settings.price_year,
            "area_m2": settings.area_m2,
            "horizon_years": settings.horizon_years,
            "today": structure.today,
            "baseline": structure.baseline,
        },
        "draws": risk.draws,
        "seed": risk.seed,
        "quasi_random": risk.quasi_random,
        "events": asdict(risk.events),
        "drawn": {
            "once_a_case": risk.constants,
            "once_a_year": risk.yearly,
            "jointly_from_the_trial": risk.measured,
            "correlated": risk.correlated,
        },
        "systems": {
            name: {
                "label": one.label,
                "npv": _plain(asdict(one.npv)),
                "chance_of_loss": _plain(asdict(one.chance_of_loss)),
                "chance_of_best": _plain(asdict(one.chance_of_best)),
                "against": _against(one.against),
                "years_out_of_ten": _plain(asdict(one.years)),
            }
            for name, one in risk.systems.items()
        },
        "areas": [
            {
                "area_m2": row.area_m2,
                "system": row.system,
                "npv": _plain(asdict(row.npv)),
                "chance_of_loss": _plain(asdict(row.chance_of_loss)),
                "chance_of_best": _plain(asdict(row.chance_of_best)),
                "against": _against(row.against),
            }
            for row in areas
        ],
        "influence": None if moving is None else influence_data(moving),
        "units": {"npv": settings.currency, "difference": settings.currency, "chance": "share of draws"},
        "sentences": risk_sentences(risk),
        "notes": risk_notes(risk),
        "why_null": "an assumption is unknown, or a system is set against itself",
    }


def _against(against: Mapping[str, Against]) -> dict[str, Any]:
    return {
        which: {
            "reference": one.reference,
            "difference": _plain(asdict(one.difference)),
            "chance_better": _plain(asdict(one.chance_better)),
        }
        for which, one in against.items()
    }


def _plain(numbers: Mapping[str, float]) -> dict[str, float | None]:
    return {name: value if math.isfinite(value) else None for name, value in numbers.items()}
