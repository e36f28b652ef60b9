"""How small a difference a trial can show, and how many blocks a given difference needs.

A difference is a share of the overall mean, the CV (standard deviation of a plot within its block over the mean) is
a share too. Pairwise, two-sided 5 %, 80 % power, no multiplicity, by the noncentral t, both tails counted; several
treatments at once by the noncentral F. Valid where plot errors are about normal and alike; fractional degrees of
freedom (Satterthwaite) make the t an approximation. Sources: Cohen (1988) *Statistical Power Analysis*; Gomez & Gomez
(1984), chapters 3 and 4 for the standard errors.
"""

import math
from dataclasses import dataclass

from plotworth.field.design import FACTORIAL, SPLIT, Design

SIGNIFICANCE = 0.05
POWER = 0.80
MOST_BLOCKS = 200
FEWEST_FREEDOM = 12
FEWEST_BLOCKS = 4
EXACT = 1e-12  # of the noncentrality that is sought


@dataclass(frozen=True)
class Comparison:
    """A difference that the design can look at.

    Attributes: name in words; standard error of the difference, as a share of the mean; degrees of freedom of
    that error; plots in each of the two means.
    """

    name: str
    standard_error: float
    error_freedom: float
    plots: int


def power_of_t(noncentrality: float, error_freedom: float, *, significance: float = SIGNIFICANCE) -> float:
    """Return the chance that a two-sided t test finds a difference of this many standard errors.

    Equation: P(|T| > t) for T noncentral t with this noncentrality, t the (1 - significance/2) quantile of t. 0 degrees
    of freedom give 0.
    """
    if error_freedom <= 0:
        return 0.0
    from scipy.stats import nct, t

    limit = float(t.ppf(1 - significance / 2, error_freedom))
    shift = abs(noncentrality)
    below = float(nct.cdf(-limit, error_freedom, shift))
    # Far below the shift scipy gives NaN for a chance that is under 1e-15: with 1 degree of freedom from a shift of 8.
    return float(nct.sf(limit, error_freedom, shift)) + (0.0 if math.isnan(below) else below)


def detectable_noncentrality(
    error_freedom: float, *, significance: float = SIGNIFICANCE, power: float = POWER
) -> float:
    """Return the difference in standard errors that is found with this power; NaN without degrees of freedom."""
    if error_freedom <= 0:
        return math.nan
    from scipy.optimize import brentq

    def short(shift: float) -> float:
        return power_of_t(shift, error_freedom, significance=significance) - power

    above = 1.0
    while short(above) < 0:
        above *= 2
    return float(brentq(short, 0.0, above, xtol=EXACT))


def detectable_difference(comparison: Comparison, *, significance: float = SIGNIFICANCE, power: float = POWER) -> float:
    """Return the least difference, as a share of the mean, that the comparison shows with this power.

    Equation: noncentrality x standard error. NaN where no degrees of freedom are left for error.
    """
    shift = detectable_noncentrality(comparison.error_freedom, significance=significance, power=power)
    return shift * comparison.standard_error


def power_of_difference(difference: float, comparison: Comparison, *, significance: float = SIGNIFICANCE) -> float:
    """Return the chance that the comparison shows a difference of this share of the mean."""
    return power_of_t(difference / comparison.standard_error, comparison.error_freedom, significance=significance)


def comparisons(design: Design, *, plot_cv: float, whole_plot_cv: float = math.nan) -> tuple[Comparison, ...]:
    """Return every kind of difference that the design can look at, with its standard error.

    Parameters: design; plot_cv, root of the error mean square over the mean (in a split plot that of the sub-plots);
    whole_plot_cv, root of the whole-plot error mean square over the mean, both on the basis of a sub-plot, as an
    analysis of variance prints them; taken as equal to plot_cv where left out, which is its least.

    With b blocks, a and s levels, Ea and Eb the squares of the two CVs, variances of a difference are 2 E/(b t') in
    complete blocks for means over t' plots a block; in a split plot 2 Ea/(b s) between whole-plot levels, 2 Eb/(a b)
    between sub-plot levels, 2 Eb/b between sub-plot levels on one whole-plot level, and
    2 ((s - 1) Eb + Ea)/(b s) between whole-plot levels on one sub-plot level, the last with Satterthwaite's degrees
    of freedom ((s - 1) Eb + Ea)^2 / (((s - 1) Eb)^2/fb + Ea^2/fa).
    """
    if design.kind == SPLIT:
        return _split_comparisons(design, plot_cv**2, (plot_cv if math.isnan(whole_plot_cv) else whole_plot_cv) ** 2)
    (freedom,) = design.error_freedom
    names = {f"two levels of {factor.name}": len(factor.levels) for factor in design.factors}
    names = names if design.kind == FACTORIAL else {}
    names["two treatments"] = design.plots_per_block
    return tuple(
        Comparison(name, plot_cv * math.sqrt(2 / plots), freedom, plots)
        for name, count in names.items()
        for plots in [design.blocks * design.plots_per_block // count]
    )


def _split_comparisons(design: Design, sub_error: float, whole_error: float) -> tuple[Comparison, ...]:
    whole, sub = design.factors
    blocks, a, s = design.blocks, len(whole.levels), len(sub.levels)
    whole_freedom, sub_freedom = design.error_freedom
    inner = (s - 1) * sub_error
    weight = inner**2 / max(sub_freedom, 1) + whole_error**2 / max(whole_freedom, 1)
    mixed_freedom = (inner + whole_error) ** 2 / weight if weight > 0 and design.blocks > 1 else 0.0
    rows = (
        (f"two levels of {whole.name}", whole_error, whole_freedom, blocks * s),
        (f"two levels of {sub.name}", sub_error, sub_freedom, blocks * a),
        (f"two levels of {sub.name} under one level of {whole.name}", sub_error, sub_freedom, blocks),
        (f"two levels of {whole.name} under one level of {sub.name}", (inner + whole_error) / s, mixed_freedom, blocks),
    )
    return tuple(Comparison(name, math.sqrt(2 * error / n), freedom, n) for name, error, freedom, n in rows)


def blocks_needed(
    difference: float,
    design: Design,
    *,
    plot_cv: float,
    comparison: str,
    whole_plot_cv: float = math.nan,
    power: float = POWER,
) -> int | None:
    """Return the fewest blocks (from 2) with which the named comparison shows a difference with this power.

    Parameters: difference, a share of the mean; design, its own number of blocks does not count; comparison, a name
    that `comparisons` gives; CVs as there. None where 200 blocks are too few. KeyError where no comparison has
    the name.
    """
    for blocks in range(2, MOST_BLOCKS + 1):
        repeated = Design(design.kind, design.factors, blocks)
        found = {c.name: c for c in comparisons(repeated, plot_cv=plot_cv, whole_plot_cv=whole_plot_cv)}
        if power_of_difference(difference, found[comparison]) >= power:
            return blocks
    return None


def power_of_f(noncentrality: float, groups: int, error_freedom: float, *, significance: float = SIGNIFICANCE) -> float:
    """Return the chance that an F test among several treatments finds that they differ.

    Equation: P(F > f) for F noncentral with (groups - 1, error_freedom) and this noncentrality: sum over the
    treatments of (mean - mean of means)^2 x plots in a mean / error variance. 0 without degrees of freedom.
    """
    if error_freedom <= 0:
        return 0.0
    from scipy.stats import f, ncf

    limit = float(f.ppf(1 - significance, groups - 1, error_freedom))
    return float(ncf.sf(limit, groups - 1, error_freedom, noncentrality))


def power_among(difference: float, groups: int, comparison: Comparison) -> float:
    """Return the power of the F test where the two extreme means differ by this share and the others lie midway.

    That is the spread of means hardest to see for its range: noncentrality = n d^2 / (2 E) = (d / standard error)^2.
    """
    return power_of_f((difference / comparison.standard_error) ** 2, groups, comparison.error_freedom)


def cv_interval(cv: float, error_freedom: float, *, confidence: float = 0.95) -> tuple[float, float]:
    """Return the interval of a CV that an analysis of variance found, by chi-square of its error mean square.

    Equation: cv sqrt(f / chi2), chi2 the quantiles at (1 +- confidence)/2 of f degrees of freedom; the error of the
    mean is left out, which is small beside it. NaN without degrees of freedom.
    """
    if error_freedom <= 0:
        return math.nan, math.nan
    from scipy.stats import chi2

    low, high = (float(chi2.ppf((1 + side * confidence) / 2, error_freedom)) for side in (1, -1))
    return cv * math.sqrt(error_freedom / low), cv * math.sqrt(error_freedom / high)


def design_warnings(design: Design) -> tuple[str, ...]:
    """Return a sentence for each reason to mistrust so small a trial: under 4 blocks, under 12 error degrees."""
    sentences = []
    if design.blocks < FEWEST_BLOCKS:
        sentences.append(
            f"{design.blocks} blocks are fewer than {FEWEST_BLOCKS}: one lost plot or odd block decides the result."
        )
    strata = ("whole plots", "sub-plots") if design.kind == SPLIT else ("plots",)
    for freedom, stratum in zip(design.error_freedom, strata, strict=True):
        if freedom < FEWEST_FREEDOM:
            sentences.append(
                f"{freedom} degrees of freedom for the error of {stratum} are fewer than {FEWEST_FREEDOM}: the error "
                "itself is poorly known, and only large differences show."
            )
    return tuple(sentences)
