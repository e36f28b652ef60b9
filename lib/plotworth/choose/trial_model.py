"""The block models of a case's trial: how it was drawn by lot, and its treatment means cleared of block differences.

Plots of another crop, site or season are never replicates: each has a model of its own. A treatment that several of
them hold has the mean of its means, each with equal weight; its interval speaks of these seasons and sites alone.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plotworth.case.folder import Case
from plotworth.case.schema import FACTOR_PREFIX
from plotworth.field.arrangement import Arrangement, complete_blocks, completely_randomised, split_plot
from plotworth.field.block_model import NO_SPREAD, NOT_LINKED, ONE_TRIAL, BlockModel, fit, is_linked, spread
from plotworth.field.contrast import CONFIDENCE
from plotworth.field.weighing_error import with_weighing_error
from plotworth.ground.errors import Fault, FaultsError

YIELD = "yield_kg_per_m2"
TREATMENT, BLOCK = "treatment", "block"
SPLIT, FACTORIAL, RANDOM = "split", "factorial", "random"
TrialKey = tuple[str, str, str]
"""Crop, site and trial year."""


@dataclass(frozen=True)
class TrialDesign:
    """How the trial was drawn by lot, and in words how that is known."""

    arrangement: Arrangement
    told_by: str


@dataclass(frozen=True)
class TreatmentMean:
    """A treatment's mean over blocks [unit of the value] with its 95 % interval, NaN where there is none.

    `degrees_of_freedom` by Satterthwaite; `reason` in words where the interval or the mean is missing.
    """

    mean: float
    standard_error: float
    degrees_of_freedom: float
    low: float
    high: float
    reason: str


def trial_design(case: Case) -> TrialDesign:
    """Return how the plots of a case were drawn: by its frozen plan, its settings, or as its blocks let one suppose.

    Errors: FaultsError where case.toml states a split plot and the plots have no such factor, or no other.
    """
    plots = case.table("plots")
    if case.plan is not None:
        names = [f"{FACTOR_PREFIX}{factor.name}" for factor in case.plan.factors]
        factors = names if set(names) <= set(plots.columns) else [TREATMENT]
        return TrialDesign(_arrangement(case.plan.design, factors, factors[:1]), "the frozen plan")
    stated = case.settings.trial
    factors = [name for name in plots.columns if name.startswith(FACTOR_PREFIX)] or [TREATMENT]
    if stated.design:
        whole = [f"{FACTOR_PREFIX}{stated.whole_plots}"]
        if stated.design == SPLIT and not set(whole) < set(factors):
            raise FaultsError([_no_split(stated.whole_plots, factors)])
        return TrialDesign(_arrangement(stated.design, factors, whole), "case.toml")
    if _is_blocked(plots):
        return TrialDesign(complete_blocks(TREATMENT), "nothing; taken as drawn by lot within the blocks")
    return TrialDesign(completely_randomised(TREATMENT), "nothing; taken as drawn by lot over all plots")


def _is_blocked(plots: pd.DataFrame) -> bool:
    """Whether every plot lies in one of several blocks, and one of them links treatments where there are several."""
    if (plots[BLOCK] == "").any() or plots[BLOCK].nunique() < 2:
        return False
    return bool(plots[TREATMENT].nunique() == 1 or plots.groupby(BLOCK)[TREATMENT].nunique().max() > 1)


def _no_split(whole: str, factors: list[str]) -> Fault:
    """A split plot needs the factor of its whole plots and another within them, each in a column of its own."""
    names = [name.removeprefix(FACTOR_PREFIX) for name in factors if name.startswith(FACTOR_PREFIX)]
    rule = "plots.csv has no column of this factor and one of another within its plots"
    held = (
        f"it has {', '.join(FACTOR_PREFIX + name for name in names)}" if names else f"it has no {FACTOR_PREFIX} column"
    )
    return Fault(
        "case.toml", 0, "whole_plots", whole, rule, f"{held}; name one of two or more, or state another design"
    )


def _arrangement(design: str, factors: list[str], whole: list[str]) -> Arrangement:
    if design == SPLIT:
        sub = tuple(name for name in factors if name not in whole)
        return split_plot(whole=tuple(whole), sub=sub)
    if design == RANDOM:
        return completely_randomised(TREATMENT)
    return complete_blocks(*(factors if design == FACTORIAL else [TREATMENT]))


def block_models(plots: pd.DataFrame, arrangement: Arrangement, *, value: str) -> dict[TrialKey, BlockModel]:
    """Return the block model of every crop, site and season of a trial in which some plot has a value.

    Parameters: one row a plot with crop, site, trial_year and the columns of the arrangement; value, a column of
    figures by plot [its own unit], NaN where a plot is missing. Yields carry the error of shared weighings.
    """
    models = {}
    for key, rows in plots.groupby(list(ONE_TRIAL), sort=False, dropna=False):
        if rows[value].notna().any():
            model = fit(rows, arrangement, value=value)
            crop, site, year = (str(part) for part in key)
            models[crop, site, year] = with_weighing_error(model, rows) if value == YIELD else model
    return models


def adjusted_means(
    plots: pd.DataFrame, models: Mapping[TrialKey, BlockModel], *, confidence: float = CONFIDENCE
) -> dict[str, TreatmentMean]:
    """Return the mean of every treatment over blocks and, with equal weights, over its seasons and sites.

    Parameters: the plots that `block_models` fitted, and its models of one figure. A treatment that stands for
    several cells (levels of other factors) is their mean. Variances add by the squares of the weights; degrees of
    freedom by Satterthwaite.
    """
    trials = {str(name): rows for name, rows in plots.groupby(TREATMENT, sort=False)}
    return {name: _mean_of(rows, models, confidence) for name, rows in trials.items()}


def _mean_of(own: pd.DataFrame, models: Mapping[TrialKey, BlockModel], confidence: float) -> TreatmentMean:
    parts = [part for key, model in models.items() for part in _parts(own, key, model)]
    if not parts:
        return TreatmentMean(math.nan, math.nan, math.nan, math.nan, math.nan, NOT_LINKED)
    means, variances, freedoms, reasons = (np.array(column) for column in zip(*parts, strict=True))
    mean, share = float(means.mean()), 1.0 / len(parts) ** 2
    reason = next((str(one) for one in reasons if one), "")
    if reason:
        alike = all(one == NO_SPREAD for one in reasons)
        ends = (0.0, mean, mean) if alike else (math.nan,) * 3
        return TreatmentMean(mean, ends[0], math.nan, ends[1], ends[2], reason)
    variance = float((share * variances).sum())
    freedom = variance**2 / float(((share * variances) ** 2 / freedoms).sum())
    half = _quantile(freedom, confidence) * math.sqrt(variance)
    return TreatmentMean(mean, math.sqrt(variance), freedom, mean - half, mean + half, "")


def _parts(own: pd.DataFrame, key: TrialKey, model: BlockModel) -> Iterator[tuple[float, float, float, str]]:
    """Yield mean, variance, degrees of freedom and reason of a treatment in one season at one site, if it was there."""
    here = own[(own[list(ONE_TRIAL)].astype(str) == list(key)).all(axis=1)]
    weights = cell_weights(model, here)
    if weights.any() and is_linked(model, weights):
        error = spread(model, weights)
        yield float(weights @ model.estimates), error.variance, error.degrees_of_freedom, error.reason


def cell_weights(model: BlockModel, plots: pd.DataFrame) -> NDArray[np.float64]:
    """Return equal weights, shape (c,), for the cells of a model that some plots hold; zeros where they hold none."""
    held = set(plots[list(model.arrangement.factors)].astype(str).itertuples(index=False, name=None))
    chosen = np.array([cell in held for cell in model.cells], dtype=np.float64)
    return np.asarray(chosen / max(chosen.sum(), 1.0))


def _quantile(freedom: float, confidence: float) -> float:
    from scipy.stats import t

    return float(t.ppf((1 + confidence) / 2, freedom))
