"""What a trial's comparison found, as tables to read: means, differences, ratios, families, the analysis of variance.

Every table is of one outcome of one season at one site; intervals are 95 % and two-sided. A missing number is a dash,
and `comparison_notes` says why.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from plotworth.case.schema import FACTOR_PREFIX
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.trial_outcomes import OutcomeFit, treatment_margin
from plotworth.field.analysis_of_variance import analysis_of_variance
from plotworth.field.block_model import BlockModel, covariances, label
from plotworth.field.compare import (
    Family,
    JointContrast,
    differences,
    dunnett,
    new_plots,
    ratios,
    treatment_means,
    tukey,
)
from plotworth.field.contrast import Contrast, Margin
from plotworth.field.factor_effects import interactions, main_effects, split_plot_comparisons
from plotworth.field.multiplicity import product_structure
from plotworth.field.power import POWER, cv_interval, detectable_noncentrality
from plotworth.ground.amounts import UNKNOWN, decimals_for, figures_text, number_text, share_text

NOT_JUDGED = "together: not judged yet; the single intervals hold one at a time"
P_DECIMALS, SMALLEST_P = 3, 0.001
ENDS = ("Low", "High")  # of the 95 % interval, as the titles say
LESS = " less "
KINDS = {
    "whole": "{whole}, over all levels of {sub}",
    "sub": "{sub}, over all levels of {whole}",
    "sub_in_whole": "{sub} at one level of {whole}",
    "whole_at_sub": "{whole} at one level of {sub}",
    "whole_across_sub": "{whole} at different levels of {sub}",
}
"""The four kinds of comparison of a split plot; the last two have one error."""


def p_text(p: float) -> str:
    """Return a probability as people write it: three decimals, or `< 0.001`."""
    if math.isnan(p):
        return DASH
    return f"< {SMALLEST_P}" if p < SMALLEST_P else number_text(p, decimals=P_DECIMALS)


def factor_words(name: str) -> str:
    """Return a column of the plots as a word: `factor_water` is `water`, terms of several are kept apart."""
    return " x ".join(part.removeprefix(FACTOR_PREFIX) for part in name.split(" x "))


def _number(value: float) -> str:
    text = figures_text(value)
    return DASH if text == UNKNOWN else text


def _numbers(*values: float) -> tuple[str, ...]:
    return tuple(map(_number, values))


def about_texts(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return an estimate and its interval, all to the decimals that give the interval's width two figures."""
    if math.isnan(low) or math.isnan(high):
        return _number(value), DASH, DASH
    decimals = decimals_for(high - low, digits=2)
    first, *ends = (number_text(number, decimals=decimals) for number in (value, low, high))
    return first, ends[0], ends[1]


def _shown(fit: OutcomeFit, model: BlockModel) -> Margin:
    """Return the treatments under their labels."""
    chosen = treatment_margin(fit, model)
    return replace(chosen, labels=tuple(fit.labels[name] for name in chosen.labels))


@dataclass(frozen=True)
class Families:
    """Differences judged together: those to the reference (Dunnett) and all pairs (Tukey), under labels."""

    to_reference: Family
    pairs: Family


def judge_together(fit: OutcomeFit, reference: str) -> Families | None:
    """Return both families of a trial; None without a model or with one treatment.

    Errors: ValueError where the reference is no treatment of this trial.
    """
    if fit.model is None or len(fit.labels) == 1:
        return None
    shown = _shown(fit, fit.model)
    return Families(dunnett(fit.model, shown, control=fit.labels[reference]), tukey(fit.model, shown))


def takes_long(fit: OutcomeFit, reference: str) -> bool:
    """Say whether `judge_together` takes seconds: where strata mix or plots are missing, Dunnett's is simulated."""
    if fit.model is None or len(fit.labels) == 1:
        return False
    weights, base = _shown(fit, fit.model).weights, list(fit.labels).index(reference)
    covariance = covariances(fit.model, np.delete(weights, base, axis=0) - weights[base])
    scale = np.sqrt(np.diag(covariance))
    if not (np.isfinite(covariance).all() and np.all(scale > 0)):
        return False
    return product_structure(covariance / np.outer(scale, scale)) is None


def comparison_tables(fit: OutcomeFit, reference: str, families: Families | None) -> list[FigureTable]:
    """Return the tables of one outcome against a reference treatment; none without a model."""
    if fit.model is None:
        return []
    tables = [means_table(fit, fit.model)]
    if len(fit.labels) > 1:
        tables += [against_table(fit, fit.model, reference, families), ratio_table(fit, fit.model, reference)]
    if families is not None:
        tables.append(pairs_table(fit, families.pairs))
    tables += [*effect_tables(fit, fit.model), anova_table(fit, fit.model), precision_table(fit, fit.model, reference)]
    return tables


def means_table(fit: OutcomeFit, model: BlockModel) -> FigureTable:
    """Return each treatment's mean over blocks with its interval, and where one more plot would lie."""
    shown = _shown(fit, model)
    rows = []
    for mean, plot, count in zip(treatment_means(model, shown), new_plots(model, shown), shown.plots, strict=True):
        cells = (
            str(count),
            *about_texts(mean.estimate, mean.low, mean.high),
            *about_texts(plot.estimate, plot.low, plot.high)[1:],
        )
        rows.append(FigureRow(mean.label, fit.outcome.unit_text, cells))
    title = f"{fit.outcome.label}: means cleared of block differences, 95 % intervals"
    return FigureTable(title, ("Plots", "Mean", *ENDS, "A new plot: low", "A new plot: high"), tuple(rows))


def against_table(fit: OutcomeFit, model: BlockModel, reference: str, families: Families | None) -> FigureTable:
    """Return each treatment less the reference: on its own, and by Dunnett with all such differences together."""
    singles = differences(model, _shown(fit, model), baseline=fit.labels[reference])
    joint = [None] * len(singles) if families is None else families.to_reference.comparisons
    columns = ("Difference", *ENDS, "p", "Together: low", "Together: high", "Together: p")
    names = [name for key, name in fit.labels.items() if key != reference]
    unit, rows = fit.outcome.unit_text, []
    for name, single, both in zip(names, singles, joint, strict=True):
        rows.append(FigureRow(name, unit, _joint_cells(single, both)))
    title = f"less {fit.labels[reference]}, 95 % intervals singly and together (Dunnett)"
    return FigureTable(f"{fit.outcome.label}: {title}", columns, tuple(rows))


def _joint_cells(single: Contrast, joint: JointContrast | None) -> tuple[str, ...]:
    cells = (*about_texts(single.estimate, single.low, single.high), p_text(single.p))
    if joint is None:
        return (*cells, DASH, DASH, DASH)
    together = about_texts(single.estimate, joint.low, joint.high)[1:]
    return (*cells, *together, p_text(joint.p))


def _less(label: str) -> str:
    """Return the name of a difference in words."""
    return label.replace(" - ", LESS).replace(" | ", ", ")


def ratio_table(fit: OutcomeFit, model: BlockModel, reference: str) -> FigureTable:
    """Return each treatment over the reference, with Fieller's interval."""
    found = ratios(model, _shown(fit, model), baseline=fit.labels[reference])
    rows = tuple(FigureRow(name, "", about_texts(r.ratio, r.low, r.high)) for name, r in found.items())
    title = f"{fit.outcome.label}: ratios to {fit.labels[reference]}, 95 % intervals"
    return FigureTable(title, ("Ratio", *ENDS), rows)


def pairs_table(fit: OutcomeFit, family: Family) -> FigureTable:
    """Return all pairs of treatments, all intervals holding together, by Tukey."""
    unit = fit.outcome.unit_text
    rows = []
    for one in family.comparisons:
        cells = (*about_texts(one.single.estimate, one.low, one.high), p_text(one.p))
        rows.append(FigureRow(_less(one.single.label), unit, cells))
    title = f"{fit.outcome.label}: all pairs, 95 % intervals that hold together (Tukey)"
    return FigureTable(title, ("Difference", *ENDS, "p"), tuple(rows))


def effect_tables(fit: OutcomeFit, model: BlockModel) -> Iterator[FigureTable]:
    """Yield main effects and interactions, and the four kinds of a split plot, where there are several factors."""
    factors = model.arrangement.factors
    if len(factors) > 1:
        groups = {f"{factor_words(f)}, over the others": main_effects(model, f) for f in factors}
        for first, second in combinations(factors, 2):
            title = f"{factor_words(first)} x {factor_words(second)}: do they act together?"
            groups[title] = interactions(model, first, second)
        yield _grouped(fit, "main effects and interactions", groups)
    if model.arrangement.whole_factors:
        names = {"whole": model.arrangement.whole_factors, "sub": model.arrangement.sub_factors}
        words = {kind: " and ".join(map(factor_words, own)) for kind, own in names.items()}
        found = split_plot_comparisons(model)
        groups = {title.format(**words): getattr(found, kind) for kind, title in KINDS.items()}
        yield _grouped(fit, "the comparisons of a split plot, each with its own error", groups)


def _grouped(fit: OutcomeFit, title: str, groups: dict[str, tuple[Contrast, ...]]) -> FigureTable:
    unit, rows, treatments = fit.outcome.unit_text, [], cell_treatments(fit)
    for name, contrasts in groups.items():
        rows.append(FigureRow(f"{name[0].upper()}{name[1:]}", "", ("",) * 6))
        for one in contrasts:
            spread = _numbers(one.standard_error, one.degrees_of_freedom)
            cells = (*about_texts(one.estimate, one.low, one.high), *spread, p_text(one.p))
            words = [treatments.get(part, part) for part in one.label.split(" - ")]
            rows.append(FigureRow(_less(" - ".join(words)), unit, cells))
    columns = ("Difference", *ENDS, "Standard error", "Degrees of freedom", "p")
    return FigureTable(f"{fit.outcome.label}: {title}, 95 % intervals", columns, tuple(rows))


def cell_treatments(fit: OutcomeFit) -> dict[str, str]:
    """Return the label of the treatment that a cell of several factors is, where each treatment is one cell."""
    if fit.model is None or len(fit.model.cells) != len(fit.labels):
        return {}
    levels = fit.plots[[*fit.model.arrangement.factors]].astype(str).itertuples(index=False, name=None)
    names = fit.plots["treatment"].astype(str)
    return {label(cell): fit.labels[name] for cell, name in zip(levels, names, strict=True)}


def anova_table(fit: OutcomeFit, model: BlockModel) -> FigureTable:
    """Return the analysis of variance, its squares in the square of the outcome's unit."""
    found, several = analysis_of_variance(model), len(model.plot_strata) > 1
    rows = []
    for line in found.lines:
        judged = f" ({line.stratum})" if several else ""
        squares = _numbers(line.sum_of_squares, line.mean_square, line.f)
        name = f"{factor_words(line.term)}{judged}"
        rows.append(FigureRow(name, "", (str(line.degrees_of_freedom), *squares, p_text(line.p))))
    rows.append(FigureRow("total", "", (str(found.plots - 1), _number(found.total_sum_of_squares), DASH, DASH, DASH)))
    columns = ("Degrees of freedom", "Sum of squares", "Mean square", "F", "p")
    unit = fit.outcome.unit_text
    return FigureTable(f"{fit.outcome.label}: analysis of variance, squares in ({unit})²", columns, tuple(rows))


def precision_table(fit: OutcomeFit, model: BlockModel, reference: str) -> FigureTable:
    """Return the CV of plots, and how large a difference to the reference this trial would most likely have shown.

    Difference = noncentrality at 80 % power, two-sided 5 %, x the standard error found, as a share of the mean.
    """
    found = analysis_of_variance(model)
    rows = []
    for one in found.variation:
        freedom = next(s.degrees_of_freedom for s in model.plot_strata if s.name == one.stratum)
        ends = cv_interval(one.share, freedom)
        rows.append(FigureRow(f"CV of {one.stratum}", "%", tuple(_percent(share) for share in (one.share, *ends))))
    if len(fit.labels) > 1:
        for single in differences(model, _shown(fit, model), baseline=fit.labels[reference]):
            least = detectable_share(single, found.grand_mean)
            rows.append(
                FigureRow(f"Least difference: {_less(single.label)}", "% of mean", (_percent(least), DASH, DASH))
            )
    power = f"least difference shown with {share_text(POWER)} power"
    title = f"{fit.outcome.label}: CV of plots with its 95 % interval, and the {power}"
    return FigureTable(title, ("Found", *ENDS), tuple(rows))


def detectable_share(difference: Contrast, mean: float) -> float:
    """Return the least difference that its error lets be shown with 80 % power, a share of the mean; NaN without."""
    if difference.reason or not mean > 0:
        return math.nan
    return detectable_noncentrality(difference.degrees_of_freedom) * difference.standard_error / mean


def _percent(share: float) -> str:
    return DASH if math.isnan(share) else figures_text(100 * share, digits=2)


def comparison_notes(fit: OutcomeFit, reference: str, families: Families | None) -> list[str]:
    """Return why numbers of the tables are missing or approximate, and how families were judged, each once."""
    if fit.model is None:
        return [f"{fit.outcome.label}: no comparison, because {fit.reason}."]
    reasons = [*_line_reasons(fit.model), *_contrast_reasons(fit, fit.model, reference, families)]
    return [f"{reason[0].upper()}{reason[1:]}." for reason in dict.fromkeys(reasons) if reason]


def _line_reasons(model: BlockModel) -> list[str]:
    found = analysis_of_variance(model)
    lines = [f"{factor_words(line.term)}: {line.reason}" for line in found.lines if line.reason]
    return [*lines, *(one.reason for one in found.variation)]


def _contrast_reasons(fit: OutcomeFit, model: BlockModel, reference: str, families: Families | None) -> list[str]:
    shown = _shown(fit, model)
    singles = [mean.reason for mean in treatment_means(model, shown)]
    if len(fit.labels) == 1:
        return [*singles, "one treatment: there is nothing to compare"]
    found = ratios(model, shown, baseline=fit.labels[reference]).values()
    judged = () if families is None else (families.to_reference, families.pairs)
    together = [_family_words(family) for family in judged] or [NOT_JUDGED]
    return [*singles, *(ratio.reason for ratio in found), *together]


def _family_words(family: Family) -> str:
    return family.reason or f"together: {family.method}, held to t = {figures_text(family.critical)}"
