"""Rows for charts, from an appraisal and its trial: what is computed for a picture is computed here."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from plotworth.choose.appraise import Appraisal
from plotworth.choose.measured import Trial
from plotworth.money.measures import discount_factors

Rows = list[dict[str, Any]]
NO_PAYBACK = -1


def cumulative_rows(appraisal: Appraisal) -> Rows:
    """Return the added-up discounted flow of every system by year [money], which ends at its NPV.

    Rows: system, label, year, cumulative, deepest, payback. `deepest` marks the lowest year; `payback` the first
    year from which the sum stays at or above 0, with `payback_years` between the years.
    """
    return [row for system in appraisal.systems for row in _system_rows(appraisal, system)]


def _system_rows(appraisal: Appraisal, system: str) -> Rows:
    flows = appraisal.flows[system]
    factors = discount_factors(appraisal.values["discount_rate"][0, 0], len(flows) - 1)
    sums = np.cumsum(flows * factors)
    payback = appraisal.systems[system]["discounted_payback_years"]
    paid_in = NO_PAYBACK if np.isnan(payback) else int(np.ceil(payback))
    label = appraisal.case.settings.system(system).label
    return [
        {
            "system": system,
            "label": label,
            "year": year,
            "cumulative": float(value),
            "deepest": year == int(np.argmin(sums)) and value < 0,
            "payback": year == paid_in,
            **({"payback_years": payback} if year == paid_in else {}),
        }
        for year, value in enumerate(sums)
    ]


def difference_rows(appraisal: Appraisal, system: str, reference: str) -> Rows:
    """Return the yearly flow of a system less that of a reference [money]: year, flow."""
    difference = appraisal.flows[system] - appraisal.flows[reference]
    return [{"year": year, "flow": float(flow)} for year, flow in enumerate(difference)]


def treatment_order(appraisal: Appraisal, trial: Trial) -> list[str]:
    """Return the trial's treatments: those that measured a system first, in the order of the systems."""
    measured = [s.treatment for s in appraisal.case.settings.systems if s.treatment in trial.treatments.index]
    return [*measured, *sorted(str(name) for name in trial.treatments.index if name not in measured)]


def treatment_labels(appraisal: Appraisal, treatments: Sequence[str]) -> dict[str, str]:
    """Return a label for each treatment: the label of the system it measured, or its own name."""
    labels = {system.treatment: system.label for system in appraisal.case.settings.systems if system.treatment}
    return {name: labels.get(name, name) for name in treatments}


def plot_rows(trial: Trial, labels: dict[str, str]) -> Rows:
    """Return every plot's marketable yield [kg/m2 planted]: treatment, label, block, kg_per_m2."""
    columns = trial.plots[["treatment", "block", "yield_kg_per_m2"]]
    return [
        {"treatment": name, "label": labels[name], "block": block, "kg_per_m2": float(kg)}
        for name, block, kg in columns.itertuples(index=False)
    ]


def mean_rows(trial: Trial, labels: dict[str, str]) -> Rows:
    """Return each treatment's mean yield and 95 % interval over plots [kg/m2]: treatment, label, mean, low, high."""
    return [
        {
            "treatment": name,
            "label": label,
            "mean": float(trial.treatments.at[name, "yield_kg_per_m2"]),  # type: ignore[arg-type]
            "low": float(trial.treatments.at[name, "yield_low_kg_per_m2"]),  # type: ignore[arg-type]
            "high": float(trial.treatments.at[name, "yield_high_kg_per_m2"]),  # type: ignore[arg-type]
        }
        for name, label in labels.items()
    ]


def water_rows(appraisal: Appraisal, name: str) -> Rows:
    """Return one water outcome of the main crop by system: system, label, part, litres."""
    return [
        {"system": system, "label": appraisal.case.settings.system(system).label, "part": "", "litres": figures[name]}
        for system, figures in appraisal.systems.items()
    ]
