"""Several seasons and sites: each trial fitted on its own, then its differences laid side by side.

Seasons and sites are never replicates. Within one, plots are the unit; across them the unit is the
site (or the year), and what is compared is each one's own difference. From five of them on they stand
for others like them: their differences get a mean, an interval and a prediction for a new one. With
fewer there is a table and nothing more.
"""

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from plotworth.field.arrangement import Arrangement
from plotworth.field.block_model import BlockModel, Spread, fit
from plotworth.field.compare import differences, ratios, treatment_means
from plotworth.field.contrast import CONFIDENCE, Contrast, with_interval
from plotworth.field.ratio import Ratio

FEWEST_LEVELS = 5
TOO_FEW = "{levels} of {over}: fewer than {fewest} stand for no others, so each is shown on its own"
ALIKE = "no interval: the differences are all the same, so there is no spread to judge by"
NO_TRIAL = "no level holds both treatments with a value"


@dataclass(frozen=True)
class Trial:
    """One season at one site, fitted on its own.

    Attributes: levels, the season and site by column; model; means, differences and ratios against the
    baseline as in `compare` [unit of the value].
    """

    levels: dict[str, str]
    model: BlockModel
    means: tuple[Contrast, ...]
    differences: dict[str, Contrast]
    ratios: dict[str, Ratio]


@dataclass(frozen=True)
class AcrossLevels:
    """A treatment against the baseline over several sites, or over several years.

    Attributes [unit of the value]: treatment; over, the column; levels and values, the difference at
    each; mean over levels with its interval; new_level, where the difference found in one more trial
    like these, at a new level, would lie; own_variance, mean squared standard error of the differences
    [unit squared]; between_variance, of the true differences, as found: below 0 where the trials' own
    error explains more than all [unit squared]; reason in words where mean and new_level are missing.
    """

    treatment: str
    over: str
    levels: tuple[str, ...]
    values: tuple[float, ...]
    mean: Contrast
    new_level: Contrast
    own_variance: float
    between_variance: float
    reason: str


def trials(
    plots: pd.DataFrame,
    arrangement: Arrangement,
    *,
    levels: tuple[str, ...] = ("site", "trial_year"),
    baseline: str,
    value: str = "yield_kg_per_m2",
    confidence: float = CONFIDENCE,
) -> tuple[Trial, ...]:
    """Fit each season and site on its own, in order of first appearance.

    Parameters: plots of all of them; levels, the columns that tell them apart, all of them: two seasons
    in one level would be taken for replicates; baseline, a treatment. A level without the baseline, or
    without any value, has no differences and is left out.
    """
    found = []
    for names, rows in plots.groupby([*levels], sort=False, dropna=False):
        held = set(rows[[*arrangement.factors]].astype(str).agg(" | ".join, axis=1))
        if baseline in held and rows[value].notna().any():
            model = fit(rows, arrangement, value=value)
            key = dict(zip(levels, map(str, names), strict=True))
            found.append(_trial(key, model, baseline, confidence))
    return tuple(found)


def _trial(levels: dict[str, str], model: BlockModel, baseline: str, confidence: float) -> Trial:
    """Return what one season at one site says."""
    rows = differences(model, baseline=baseline, confidence=confidence)
    by_treatment = {row.label.removesuffix(f" - {baseline}"): row for row in rows}
    over_baseline = ratios(model, baseline=baseline, confidence=confidence)
    return Trial(levels, model, treatment_means(model, confidence=confidence), by_treatment, over_baseline)


def across(
    fitted_trials: tuple[Trial, ...], treatment: str, *, over: str, confidence: float = CONFIDENCE
) -> AcrossLevels:
    """Take the differences of a treatment over sites, or over years, as those of a sample of them.

    Parameters: what `trials` gives; treatment; over, the column whose levels are the sample: the trials
    of one level are averaged first. With L levels and s the spread of their differences: mean -+ t
    (L - 1) x s / sqrt(L); a new one: mean -+ t (L - 1) x s x sqrt(1 + 1 / L). Valid where levels were
    taken without regard to what they yield. Exact for trials of one size, cautious otherwise.
    """
    known = [t for t in fitted_trials if treatment in t.differences and _found(t, treatment)]
    names = tuple(dict.fromkeys(trial.levels[over] for trial in known))
    groups = [[t.differences[treatment] for t in known if t.levels[over] == name] for name in names]
    values = np.array([np.mean([row.estimate for row in rows]) for rows in groups])
    own = float(np.mean([_own_variance(rows) for rows in groups])) if groups else math.nan
    reason = _reason(len(names), over)
    square = float(values.var(ddof=1)) if len(values) > 1 else math.nan
    spreads = [
        _spread(square * share, len(names), reason) for share in (1 / max(len(names), 1), 1 + 1 / max(len(names), 1))
    ]
    mean = math.nan if reason else float(values.mean())
    rows = [with_interval(treatment, mean, spread, confidence) for spread in spreads]
    return AcrossLevels(treatment, over, names, tuple(map(float, values)), rows[0], rows[1], own, square - own, reason)


def _found(trial: Trial, treatment: str) -> bool:
    """Say whether a trial tells the treatment from the baseline."""
    return math.isfinite(trial.differences[treatment].estimate)


def _own_variance(rows: list[Contrast]) -> float:
    """Return the variance of the mean of independent differences."""
    return float(np.sum([row.standard_error**2 for row in rows])) / len(rows) ** 2


def _reason(levels: int, over: str) -> str:
    """Return why there is no mean over levels, "" where there is one."""
    if levels == 0:
        return NO_TRIAL
    return "" if levels >= FEWEST_LEVELS else TOO_FEW.format(levels=levels, over=over, fewest=FEWEST_LEVELS)


def _spread(variance: float, levels: int, reason: str) -> Spread:
    """Return the error of a mean, or of a new level, over so many levels."""
    why_not = reason or ("" if variance > 0 else ALIKE)
    return Spread(math.nan, math.nan, why_not) if why_not else Spread(variance, levels - 1.0, "")
