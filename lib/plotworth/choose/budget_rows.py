"""Rows of the chart of net benefit against costs that vary."""

from typing import Any

import numpy as np

from plotworth.choose.budget_table import by_cost
from plotworth.choose.treatment_budget import TreatmentBudget

Rows = list[dict[str, Any]]


def net_benefit_rows(budget: TreatmentBudget) -> Rows:
    """Return a row a treatment with known costs and benefit, by rising costs [money per planted m2 and season].

    Rows: system, label, costs, benefit, rate (marginal rate of return over the one before [share], None where there is
    none), dominated, recommended.
    """
    return [_row(budget, k) for k in by_cost(budget) if np.isfinite(budget.net_benefits[k])]


def _row(budget: TreatmentBudget, k: int) -> dict[str, Any]:
    rate = float(budget.analysis.rate[k])
    return {
        "system": budget.columns[k].system,
        "label": budget.labels[k],
        "costs": float(budget.varying_costs[k]),
        "benefit": float(budget.net_benefits[k]),
        "rate": rate if np.isfinite(rate) else None,
        "dominated": bool(budget.analysis.is_dominated[k]),
        "recommended": k == budget.recommended,
    }
