"""Master checks of an appraisal: what must hold whatever the case says, each found by a second route."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Figures = Mapping[str, Mapping[str, float]]
TOLERANCE = 1e-9


@dataclass(frozen=True)
class Check:
    """A check: what must hold, in words, and whether it does."""

    sentence: str
    holds: bool


def master_checks(
    systems: Figures,
    differences: Mapping[str, Figures],
    references: Mapping[str, str],
    seasons: Figures,
    flows: Mapping[str, NDArray[np.float64]],
    rate: float,
) -> tuple[Check, ...]:
    """Return the checks of one appraisal.

    Parameters: figures of systems and of differences by part; the reference of each part; figures by season;
    flows by system [money], year 0..T; discount rate [share/year].
    """
    return (
        Check("NPV of every system, by totals and year by year", _npv_agrees(systems, flows, rate)),
        Check("every difference in NPV is with less without", _differences_agree(systems, differences, references)),
        Check("marketable kilograms are lost, eaten and sold kilograms", _chain_conserves(seasons)),
    )


def _npv_agrees(systems: Figures, flows: Mapping[str, NDArray[np.float64]], rate: float) -> bool:
    """Whether the present values by totals equal the flows discounted one by one by a library of finance."""
    import numpy_financial as npf

    return all(
        _same(figures["npv"], float(npf.npv(rate, flows[name])), float(np.abs(flows[name]).sum()))
        for name, figures in systems.items()
    )


def _differences_agree(systems: Figures, differences: Mapping[str, Figures], references: Mapping[str, str]) -> bool:
    return all(
        _same(figures["npv"], systems[name]["npv"] - systems[references[part]]["npv"], abs(systems[name]["npv"]))
        for part, by_system in differences.items()
        for name, figures in by_system.items()
    )


def _chain_conserves(seasons: Figures) -> bool:
    return all(
        _same(s["marketable_kg"], s["lost_kg"] + s["eaten_kg"] + s["sold_kg"], abs(s["marketable_kg"]))
        for s in seasons.values()
    )


def _same(one: float, other: float, size: float) -> bool:
    """Whether two numbers agree to rounding; two gaps agree."""
    return bool(np.isnan(one) and np.isnan(other)) or abs(one - other) <= TOLERANCE * (1.0 + size)
