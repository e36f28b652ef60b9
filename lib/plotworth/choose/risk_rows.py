"""Rows for the charts of risk: the spread of a difference, chances by area, years out of ten, how draws settle."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from plotworth.choose.distribution import PERCENTS, running_means
from plotworth.choose.layout import Layout
from plotworth.choose.risk import BASELINE, AreaRisk, Risk
from plotworth.choose.scale_ladder import JUST_ABOVE, steps_m2
from plotworth.choose.structure import AREA
from plotworth.ground.arrays import Array

BARS = 40
FIRST_DRAWS = 50.0
SETTLING_POINTS = 60
AREA_POINTS = 41
AREA_SPAN = 16.0
"""How many times smaller and greater than the case's own area the areas shown reach."""
NORMAL_95 = 1.959963984540054
YEAR_MEASURES: Mapping[str, str] = {
    "covers_running": "cover running costs",
    "covers_all": "cover all costs",
    "beats_today": "leave more than present practice",
    "beats_baseline": "leave more than the baseline",
}
Rows = list[dict[str, Any]]


def new_system(risk: Risk) -> str:
    """Return the id of the first system that is neither present practice nor the baseline; else present practice."""
    structure = risk.layout.structure
    others = [plan.id for plan in structure.systems if plan.id not in (structure.today, structure.baseline)]
    return others[0] if others else next(p.id for p in structure.systems if p.id != structure.baseline)


def difference_draws(risk: Risk, system: str, which: str) -> Array:
    """Return the draws of a system's NPV less that of `today` or `baseline` [money], shape (draw,)."""
    return np.asarray(risk.npv[system] - risk.npv[risk.reference(which)])


def difference_rows(risk: Risk, system: str, which: str = BASELINE) -> Rows:
    """Return the share of draws in even steps of a difference: low, high [money], share, is_gain; [] if unknown."""
    draws = difference_draws(risk, system, which)
    if np.isnan(draws).any():
        return []
    edges = _edges(draws)
    counts, _ = np.histogram(draws, edges)
    return [
        {"low": float(low), "high": float(high), "share": count / len(draws), "is_gain": bool(low >= 0)}
        for low, high, count in zip(edges[:-1], edges[1:], counts, strict=True)
    ]


def _edges(draws: Array) -> Array:
    """Return about forty even steps over the draws of which one begins at 0, so that no bar is both gain and loss."""
    reach = float(draws.max() - draws.min()) or 1.0
    step = reach / BARS
    first, last = np.floor(draws.min() / step), np.floor(draws.max() / step) + 1.0
    return np.arange(first, last + 1.0) * step


def percentile_rows(risk: Risk, system: str, which: str = BASELINE) -> Rows:
    """Return P10, P50 and P90 of a difference: name, value [money]."""
    one = risk.systems[system].against[which].difference
    names = (f"P{percent:g}" for percent in PERCENTS)
    return [{"name": name, "value": value} for name, value in zip(names, (one.p10, one.p50, one.p90), strict=True)]


def area_ladder_m2(layout: Layout, values: Mapping[str, Array]) -> list[float]:
    """Return areas [m2] from a sixteenth of the case's own to sixteen times it, both sides of each step among them."""
    own = float(values[AREA].flat[0])
    low, high = own / AREA_SPAN, own * AREA_SPAN
    steps = {step for ones in steps_m2(layout, values, up_to_m2=high).values() for step in ones if step > low}
    sides = [side for step in steps for side in (step, step * (1.0 + JUST_ABOVE))]
    points = [area for area in np.geomspace(low, high, AREA_POINTS).tolist() if not math.isclose(area, own)]
    return sorted({own, *points, *sides})


def area_chance_rows(rows: Sequence[AreaRisk], which: str = BASELINE) -> Rows:
    """Return the chance of being better than a reference by area: system, label, area_m2, chance, low, high [share].

    `low` and `high`: 95 % of what as many draws could have given (Wilson 1927); not what is unknown of the case.
    """
    return [
        {
            "system": row.system,
            "label": row.label,
            "area_m2": row.area_m2,
            "chance": row.against[which].chance_better.share,
            **_wilson(row.against[which].chance_better.share, row.against[which].chance_better.draws),
            "p10": row.against[which].difference.p10,
            "p50": row.against[which].difference.p50,
            "p90": row.against[which].difference.p90,
        }
        for row in rows
        if which in row.against
    ]


def _wilson(share: float, draws: int) -> dict[str, float]:
    z2 = NORMAL_95**2 / draws
    middle = (share + z2 / 2.0) / (1.0 + z2)
    half = np.sqrt(z2 * (share * (1.0 - share) + z2 / 4.0)) / (1.0 + z2)
    return {"low": float(max(middle - half, 0.0)), "high": float(min(middle + half, 1.0))}


def year_rows(risk: Risk) -> Rows:
    """Return years out of ten of every system by measure: system, label, measure, of_ten; none against itself."""
    return [
        {"system": one.system, "label": one.label, "measure": words, "of_ten": of_ten}
        for name, words in YEAR_MEASURES.items()
        for one in risk.systems.values()
        if (of_ten := getattr(one.years, name)) == of_ten
    ]


def settling_rows(risk: Risk, system: str, which: str = BASELINE) -> Rows:
    """Return how a chance and a mean settle with the draws: draws, chance, chance_low, chance_high, mean, low, high.

    Ends are two-sided 95 % of what as many independent draws could have given.
    """
    draws = difference_draws(risk, system, which)
    if np.isnan(draws).any():
        return []
    counts = np.unique(np.round(np.geomspace(min(FIRST_DRAWS, len(draws)), len(draws), SETTLING_POINTS)))
    means, errors = running_means(draws, counts)
    chances, _ = running_means((draws > 0).astype(np.float64), counts)
    return [
        {
            "draws": int(count),
            "mean": mean,
            "low": mean - NORMAL_95 * error,
            "high": mean + NORMAL_95 * error,
            "chance": chance,
            **{f"chance_{end}": value for end, value in _wilson(chance, int(count)).items()},
        }
        for count, mean, error, chance in zip(
            counts.tolist(), means.tolist(), errors.tolist(), chances.tolist(), strict=True
        )
    ]
