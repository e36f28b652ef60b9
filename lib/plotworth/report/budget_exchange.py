"""The partial budgets of a case as JSON, for other programs: numbers as computed, null where there is none."""

import json
import math
from typing import Any

from plotworth.choose.appraise import Appraisal
from plotworth.choose.budget_moves import MovedBudget, moved_budgets
from plotworth.choose.budget_table import budget_notes, budget_sentences
from plotworth.choose.treatment_budget import Neighbours, TreatmentBudget, treatment_budgets

Number = float | None


def budget_json(appraisal: Appraisal) -> str:
    """Return the partial budgets of an appraised case as JSON text; the same case gives the same bytes."""
    return json.dumps(budget_data(appraisal), allow_nan=False, indent=2)


def budget_data(appraisal: Appraisal) -> dict[str, Any]:
    """Return what the JSON holds: case, a budget for every crop and season, notes. Money per planted m2 and season."""
    settings = appraisal.case.settings
    return {
        "case": {
            "title": settings.title,
            "invented": settings.invented,
            "currency": settings.currency,
            "price_year": settings.price_year,
            "area_m2": settings.area_m2,
            "view": "full",
        },
        "per": "planted m2 and season",
        "budgets": [_budget(appraisal, one) for one in treatment_budgets(appraisal.layout, appraisal.values)],
        "notes": budget_notes(appraisal),
    }


def _budget(appraisal: Appraisal, budget: TreatmentBudget) -> dict[str, Any]:
    moved = moved_budgets(appraisal.layout, appraisal.values, budget) if budget.is_comparison else ()
    return {
        "crop": budget.crop,
        "season": budget.season,
        "minimum_return_share": budget.minimum_return,
        "minimum_return_is_stated": budget.is_minimum_stated,
        "recommended": budget.recommended_system or None,
        "treatments": [_treatment(budget, place) for place in range(len(budget.columns))],
        "common_costs": {name: _number(amount) for name, amount in budget.common.items()},
        "extra_yield_required": [_neighbours(pair) for pair in budget.neighbours],
        "interval_ends": [_moved(one) for one in moved],
        "sentences": budget_sentences(appraisal.case.settings.currency, budget, moved),
    }


def _treatment(budget: TreatmentBudget, place: int) -> dict[str, Any]:
    column, found = budget.columns[place], budget.analysis
    return {
        "system": column.system,
        "label": column.label,
        "is_measured": column.is_measured,
        "planted_m2": column.planted_m2,
        "yield_kg_per_m2": _number(column.yield_kg_per_m2),
        "adjusted_yield_kg_per_m2": _number(column.adjusted_yield_kg_per_m2),
        "field_price_per_kg": _number(column.field_price_per_kg),
        "gross_field_benefit": _number(column.gross_benefit),
        "varying_costs": {name: _number(float(amounts[place])) for name, amounts in budget.varying.items()},
        "costs_that_vary": _number(float(budget.varying_costs[place])),
        "net_benefit": _number(float(budget.net_benefits[place])),
        "is_dominated": bool(found.is_dominated[place]),
        "compared_with": budget.before(place) or None,
        "marginal_rate_of_return": _number(float(found.rate[place])),
        "residual": _number(float(budget.residuals[place])),
    }


def _neighbours(pair: Neighbours) -> dict[str, Any]:
    return {
        "system": pair.system,
        "over": pair.before,
        "extra_cost": _number(pair.extra_cost),
        "required_kg_per_m2": _number(pair.required_kg_per_m2),
        "required_at_trial_kg_per_m2": _number(pair.required_at_trial_kg_per_m2),
        "found_kg_per_m2": _number(pair.measured_kg_per_m2),
    }


def _moved(moved: MovedBudget) -> dict[str, Any]:
    budget = moved.budget
    return {
        "quantity": moved.quantity,
        "end": moved.end,
        "value": _number(moved.value),
        "recommended": None if budget is None else budget.recommended_system or None,
        "net_benefits": None
        if budget is None
        else {
            column.system: _number(float(benefit))
            for column, benefit in zip(budget.columns, budget.net_benefits, strict=True)
        },
    }


def _number(value: float) -> Number:
    return value if math.isfinite(value) else None
