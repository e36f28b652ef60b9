"""Treatments compared: means, differences and ratios of a fitted trial, alone or several together.

All of it stands on the block model: blocks are taken out, the error is that of the plots (in a split
plot of the stratum a comparison belongs to), degrees of freedom are its own. Units are those of the
value fitted.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from plotworth.field.block_model import NO_ERROR_LEFT, BlockModel, covariances, is_linked, spread
from plotworth.field.contrast import CONFIDENCE, Contrast, Margin, contrast, margin, with_interval
from plotworth.field.model_matrices import Floats
from plotworth.field.multiplicity import dunnett_critical, dunnett_method, dunnett_p, tukey_critical, tukey_p
from plotworth.field.ratio import NO_RATIO, Ratio, ratio_of_adjusted_means

TUKEY = "studentised range (Tukey, Kramer)"
ONE_LEVEL = "nothing to compare"


@dataclass(frozen=True)
class JointContrast:
    """A difference judged together with others.

    Attributes: single, the difference on its own; p, the chance that the largest of the family is as
    large; low and high, ends of the intervals that hold all together [unit of the value].
    """

    single: Contrast
    p: float
    low: float
    high: float


@dataclass(frozen=True)
class Family:
    """Differences judged together.

    Attributes: comparisons; critical, the t that they are held to; method in words; reason in words
    where the family has none, else "".
    """

    comparisons: tuple[JointContrast, ...]
    critical: float
    method: str
    reason: str


def treatment_means(
    model: BlockModel, levels: Margin | None = None, *, confidence: float = CONFIDENCE
) -> tuple[Contrast, ...]:
    """Return the mean of each level over blocks of equal weight (least-squares means) with interval.

    `levels` comes from `margin`; all cells without it. The interval is over plots of these blocks.
    """
    chosen = levels or margin(model)
    rows = zip(chosen.labels, chosen.weights, strict=True)
    return tuple(contrast(model, weights, name=name, confidence=confidence) for name, weights in rows)


def differences(
    model: BlockModel, levels: Margin | None = None, *, baseline: str, confidence: float = CONFIDENCE
) -> tuple[Contrast, ...]:
    """Return each other level less the baseline. Errors: ValueError for an unknown baseline."""
    chosen = levels or margin(model)
    base = chosen.position(baseline)
    pairs = [(i, base) for i in range(len(chosen.labels)) if i != base]
    return tuple(_difference(model, chosen, pair, confidence) for pair in pairs)


def all_differences(
    model: BlockModel, levels: Margin | None = None, *, confidence: float = CONFIDENCE
) -> tuple[Contrast, ...]:
    """Return the later less the earlier level of every pair."""
    chosen = levels or margin(model)
    pairs = [(j, i) for i, j in combinations(range(len(chosen.labels)), 2)]
    return tuple(_difference(model, chosen, pair, confidence) for pair in pairs)


def _difference(model: BlockModel, levels: Margin, pair: tuple[int, int], confidence: float) -> Contrast:
    """Return one level less another."""
    name = f"{levels.labels[pair[0]]} - {levels.labels[pair[1]]}"
    mix = levels.weights[pair[0]] - levels.weights[pair[1]]
    return contrast(model, mix, name=name, confidence=confidence)


def ratios(
    model: BlockModel, levels: Margin | None = None, *, baseline: str, confidence: float = CONFIDENCE
) -> dict[str, Ratio]:
    """Return each other level over the baseline, by level, with Fieller's interval.

    The covariance is the block model's, so that block differences do not widen it; t has the degrees
    of freedom of level - ratio x baseline. Errors: ValueError for an unknown baseline.
    """
    chosen = levels or margin(model)
    base = chosen.position(baseline)
    rest = [i for i in range(len(chosen.labels)) if i != base]
    return {chosen.labels[i]: _ratio(model, chosen.weights[[i, base]], confidence) for i in rest}


def _ratio(model: BlockModel, weights: Floats, confidence: float) -> Ratio:
    """Return the ratio of two mixes of cell means, rows of `weights`, shape (2, c)."""
    means = weights @ model.estimates
    ratio = means[0] / means[1] if means[1] != 0 else math.nan
    if not (math.isfinite(ratio) and all(is_linked(model, mix) for mix in weights)):
        return _no_ratio(math.nan, NO_RATIO)
    error = spread(model, weights[0] - ratio * weights[1])
    if error.reason:
        return _no_ratio(float(ratio), error.reason)
    covariance = covariances(model, weights)
    if not np.isfinite(covariance).all():
        return _no_ratio(float(ratio), NO_ERROR_LEFT)
    return ratio_of_adjusted_means(
        means, covariance, degrees_of_freedom=error.degrees_of_freedom, confidence=confidence
    )


def _no_ratio(ratio: float, reason: str) -> Ratio:
    """Return a ratio without an interval."""
    return Ratio(ratio, math.nan, math.nan, math.nan, math.nan, math.nan, "Fieller, block model", reason)


def dunnett(model: BlockModel, levels: Margin | None = None, *, control: str, confidence: float = CONFIDENCE) -> Family:
    """Compare every other level with a control, all intervals holding together.

    Two-sided, from the multivariate t with the block model's covariance; where degrees of freedom
    differ between comparisons the fewest serve for all. Errors: ValueError for an unknown control.
    """
    chosen = levels or margin(model)
    base = chosen.position(control)
    mixes = np.delete(chosen.weights, base, axis=0) - chosen.weights[base]
    singles = differences(model, chosen, baseline=control, confidence=confidence)
    reason = _why_not(singles)
    if reason:
        return _without_family(singles, reason)
    freedom = min(single.degrees_of_freedom for single in singles)
    correlation = _correlation(model, mixes)
    critical = dunnett_critical(correlation, freedom, confidence=confidence)
    return _family(singles, critical, lambda t: dunnett_p(t, correlation, freedom), dunnett_method(correlation))


def tukey(model: BlockModel, levels: Margin | None = None, *, confidence: float = CONFIDENCE) -> Family:
    """Compare all pairs of levels, all intervals holding together, by the studentised range.

    Exact where all differences have the same error, a little too wide otherwise (Kramer).
    """
    chosen = levels or margin(model)
    singles = all_differences(model, chosen, confidence=confidence)
    reason = _why_not(singles)
    if reason:
        return _without_family(singles, reason)
    freedom, means = min(single.degrees_of_freedom for single in singles), len(chosen.labels)
    critical = tukey_critical(means, freedom, confidence=confidence)
    return _family(singles, critical, lambda t: tukey_p(t, means, freedom), TUKEY)


def _why_not(singles: tuple[Contrast, ...]) -> str:
    """Return why differences cannot be judged together, "" where they can."""
    return next((single.reason for single in singles if single.reason), "" if singles else ONE_LEVEL)


def _without_family(singles: tuple[Contrast, ...], reason: str) -> Family:
    """Return differences on their own."""
    rows = tuple(JointContrast(single, math.nan, math.nan, math.nan) for single in singles)
    return Family(rows, math.nan, "", reason)


def _family(singles: tuple[Contrast, ...], critical: float, chance: Callable[[float], float], method: str) -> Family:
    """Return differences with joint p and intervals."""
    halves = [critical * single.standard_error for single in singles]
    rows = zip(singles, halves, strict=True)
    joint = (JointContrast(s, chance(s.t), s.estimate - half, s.estimate + half) for s, half in rows)
    return Family(tuple(joint), critical, method, "")


def _correlation(model: BlockModel, mixes: Floats) -> Floats:
    """Return how the errors of mixes of cell means go together."""
    covariance = covariances(model, mixes)
    scale = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(scale, scale))


def new_plots(
    model: BlockModel, levels: Margin | None = None, *, confidence: float = CONFIDENCE
) -> tuple[Contrast, ...]:
    """Return for each level the interval that one more plot of an average block would fall into.

    Wider than that of the mean: the plot's own deviation is added. It speaks of these blocks and this
    season, not of another farm. t and p are NaN: there is nothing to test.
    """
    chosen = levels or margin(model)
    rows = []
    for name, weights in zip(chosen.labels, chosen.weights, strict=True):
        mean = contrast(model, weights, name=name, confidence=confidence)
        plot = with_interval(name, mean.estimate, spread(model, weights, new_plots=1), confidence)
        rows.append(replace(plot, t=math.nan, p=math.nan))
    return tuple(rows)
