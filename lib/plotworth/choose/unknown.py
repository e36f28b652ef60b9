"""Which outcomes wait for an assumption stated as unknown: found by leaving each alone unknown."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.evaluate import evaluate, flows_by_year
from plotworth.choose.input import Input
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.ground.arrays import Array, cell
from plotworth.ground.outcome import Outcome

GUESS = 0.5
"""Stands for the other unknowns: a share, rate, price or size that every assumption allows."""
FROM_FLOWS = ("irr", "simple_payback_years")
FROM_WORTH = ("mirr", "benefit_cost_ratio", "discounted_payback_years")
Values = Mapping[str, Array]
Figures = Mapping[str, Mapping[str, Mapping[str, float]]]


@dataclass(frozen=True)
class _Attempt:
    outcome: Outcome
    flows: Mapping[str, Array]
    references: Mapping[str, str]

    def lacks(self, path: str) -> bool:
        """Whether an outcome has no value."""
        return bool(np.isnan(self.outcome.at(path)).any())

    def lacks_source(self, path: str) -> bool:
        """Whether a measure has no value because what it is made from has none."""
        part, system, name = path.split("/")
        streams = [self.flows[one] for one in (system, self.references.get(part)) if one]
        flows_lack = name in FROM_FLOWS and any(np.isnan(stream).any() for stream in streams)
        return flows_lack or (name in FROM_WORTH and self.lacks(f"{part}/{system}/npv"))


def waiting(layout: Layout, values: Values, figures: Figures) -> dict[str, list[Input]]:
    """Return the unknown assumptions that each outcome without value waits for, by part/system/name.

    `values` by address, shapes (1, 1); `figures` by part, in their own units, NaN where there is no value. An
    outcome that has none whatever the assumption is, such as a rate of flows that never change sign, waits for none.
    """
    unknown = [one for one in layout.inputs.values() if one.origin == "unknown" and np.isnan(values[one.address]).any()]
    if not unknown:
        return {}
    guessed = {**values, **{one.address: cell(GUESS) for one in unknown}}
    known, gaps = _attempt(layout, guessed), _gaps(figures)
    found: dict[str, list[Input]] = {}
    for one in unknown:
        tried = _attempt(layout, {**guessed, one.address: values[one.address]})
        for path in gaps:
            if tried.lacks(path) and (tried.lacks_source(path) or not known.lacks(path)):
                found.setdefault(path, []).append(one)
    return found


def _attempt(layout: Layout, values: Values) -> _Attempt:
    structure, shocks = layout.structure, expected_shocks(layout.structure, values)
    references = {"against_baseline": structure.baseline, "against_today": structure.today}
    return _Attempt(evaluate(structure, values, shocks), flows_by_year(structure, values, shocks), references)


def _gaps(figures: Figures) -> list[str]:
    return [
        f"{part}/{system}/{name}"
        for part, systems in figures.items()
        for system, values in systems.items()
        for name, value in values.items()
        if math.isnan(value)
    ]
