"""Claims, and the evidence that they are judged by."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from plotworth.field.block_model import BlockModel
from plotworth.field.compare import ratios, treatment_means
from plotworth.field.contrast import CONFIDENCE, Contrast, Margin, contrast, margin
from plotworth.field.finding import Finding
from plotworth.field.ratio import Ratio
from plotworth.field.seasons_and_sites import AcrossLevels
from plotworth.field.water import LessWater
from plotworth.ground.amounts import INTERVAL_DIGITS, NO_BREAK, decimals_for, number_text

OBSERVED, DEMONSTRATION = "observed", "demonstration"
BETTER, WORSE, NOT_SHOWN = "better", "worse", "no difference shown"
WORTH_HAVING, AT_LEAST_AS_GOOD, EQUAL, NO_EFFECT = "worth having", "at least as good", "equal", "no effect"
CAUSE, PACKAGES = "one cause", "package against package"
SCOPE, FARMS, SIDE_BY_SIDE, POOLED = "scope", "other farms or seasons", "side by side", "pooled"
LESS_WATER, MORE_WATER, WATER_NOT_SHOWN = "less water applied", "more water applied", "no difference in water shown"
WATER_SEEN, SAVED = "water seen", "water saved"
DEPENDS, DEPENDS_NOT_SHOWN, WHATEVER = "depends", "dependence not shown", "whatever the other factor"
CAVEAT = "caveat"
ONE_SIDED = 0.90  # the two-sided confidence whose ends are tests at 5 % on one side


@dataclass(frozen=True)
class Claim:
    """A sentence that somebody might say of a trial.

    Attributes: kind, one of the words above; sentence; allowed, whether the evidence bears it; why, what it rests
    on or what stands against it.
    """

    kind: str
    sentence: str
    allowed: bool
    why: str


@dataclass(frozen=True)
class Comparison:
    """One treatment, or level of a factor, against a reference in one trial.

    Attributes: treatment and reference, as readers call them; concerned, the treatments of plots.csv on both sides;
    differing, the features in which the two differ; outcome in words; unit as people read it; means [unit]; difference;
    ratio over the reference with its 95 % interval, and with the 90 % one, whose ends are one-sided tests at 5 %;
    smallest_gain_share, the smallest gain worth having [share of the reference's mean], None where nobody said.
    """

    treatment: str
    reference: str
    concerned: tuple[str, ...]
    differing: tuple[str, ...]
    outcome: str
    unit: str
    treatment_mean: float
    reference_mean: float
    difference: Contrast
    ratio: Ratio
    one_sided_ratio: Ratio
    smallest_gain_share: float | None = None

    @property
    def direction(self) -> int:
        """Return 1 where more is shown, -1 where less is, 0 where neither is or there is no interval.

        Difference and ratio must agree: in a split plot their degrees of freedom differ a little.
        """
        low, high = self.difference.low, self.difference.high
        if low > 0 and not self.ratio.low <= 1:
            return 1
        return -1 if high < 0 and not self.ratio.high >= 1 else 0


@dataclass(frozen=True)
class Interplay:
    """Whether one factor's effect depends on another: its name, the other's, p of the F test of their interaction."""

    factor: str
    other: str
    p: float


@dataclass(frozen=True)
class Evidence:
    """What claims are judged by.

    Attributes: findings of the audit; comparison; where, the trial in words (`Sarvane, 2026`); water, the water drawn
    against the reference; drainage_measured, on the plots of both; interplay, interactions of the factor compared;
    trials, seasons or sites in words, where there are several; across, the comparison over several of them.
    """

    findings: tuple[Finding, ...]
    comparison: Comparison
    where: str = ""
    water: LessWater | None = None
    drainage_measured: bool = False
    interplay: tuple[Interplay, ...] = ()
    trials: tuple[str, ...] = ()
    across: AcrossLevels | None = None


def span_text(low: float, high: float, unit: str) -> str:
    """Return two limits [unit] as `0.39 to 0.81 kg/m²`, to the decimals that give their width two figures."""
    decimals = decimals_for(high - low, digits=INTERVAL_DIGITS)
    start, end = (number_text(limit, decimals=decimals) for limit in (low, high))
    return f"{start} to {end}{NO_BREAK}{unit}"


def percent_span(low: float, high: float) -> str:
    """Return two shares [0-1] as `12 to 34 %`."""
    return span_text(100 * low, 100 * high, "%")


def comparison(
    model: BlockModel,
    treatment: str,
    reference: str,
    *,
    levels: Margin | None = None,
    concerned: tuple[str, ...] = (),
    differing: tuple[str, ...] = (),
    outcome: str = "marketable yield",
    unit: str = "kg/m²",
    smallest_gain_share: float | None = None,
    names: Mapping[str, str] | None = None,
) -> Comparison:
    """Return one level against another of a fitted trial.

    Parameters: model; treatment and reference, labels of `levels` (of all cells without it); the rest as in
    `Comparison`, whose means come out in the unit of the value fitted [unit]; names, what readers call the labels.

    Errors: ValueError for a label that is none.
    """
    chosen = levels or margin(model)
    first, second = chosen.position(treatment), chosen.position(reference)
    means = treatment_means(model, chosen)
    mix = chosen.weights[first] - chosen.weights[second]
    called = {treatment: treatment, reference: reference, **(names or {})}
    both = {share: ratios(model, chosen, baseline=reference, confidence=share) for share in (CONFIDENCE, ONE_SIDED)}
    return Comparison(
        called[treatment],
        called[reference],
        concerned or (treatment, reference),
        differing,
        outcome,
        unit,
        means[first].estimate,
        means[second].estimate,
        contrast(model, mix, name=f"{treatment} - {reference}"),
        both[CONFIDENCE][treatment],
        both[ONE_SIDED][treatment],
        smallest_gain_share,
    )


def without_model(
    treatment: str, reference: str, *, reason: str, differing: tuple[str, ...] = (), means: tuple[float, float]
) -> Comparison:
    """Return a comparison that could not be fitted: two means [kg/m2], NaN where unknown, and why no more."""
    gaps = (math.nan,) * 6
    missing = Contrast(f"{treatment} - {reference}", means[0] - means[1], *gaps, reason)
    ratio = Ratio(math.nan, math.nan, math.nan, math.nan, math.nan, math.nan, "", reason)
    pair = (treatment, reference)
    return Comparison(*pair, pair, differing, "marketable yield", "kg/m²", *means, missing, ratio, ratio)
