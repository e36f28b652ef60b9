"""The power card of a trial: for each kind of difference, the least that it can show, and what a wanted one needs.

Made before planting from an expected CV, and again after the trial from the one that was achieved.
"""

import math
from dataclasses import dataclass

from plotworth.field.design import SPLIT, Design
from plotworth.field.power import (
    POWER,
    SIGNIFICANCE,
    Comparison,
    blocks_needed,
    comparisons,
    cv_interval,
    design_warnings,
    detectable_difference,
    power_among,
    power_of_difference,
)
from plotworth.ground.amounts import share_text

EXPECTED, ACHIEVED = "expected", "achieved"
CARD_DIGITS = 2
SURE = 0.99  # power above is not told apart, so that none reads as certainty


@dataclass(frozen=True)
class CardRow:
    """A kind of difference on the card.

    Attributes: the comparison; the least difference it shows with 80 % power, a share of the mean, with the values
    for the ends of the CV's interval (equal to it where the CV is no estimate); chance of showing the smallest gain
    worth having; blocks that this gain needs, None where 200 are too few.
    """

    comparison: Comparison
    detectable: float
    detectable_low: float
    detectable_high: float
    power_for_gain: float
    blocks_for_gain: int | None


@dataclass(frozen=True)
class PowerCard:
    """Design, CV (a share, `expected` or `achieved`), smallest gain (a share), rows, power of the F test, warnings.

    The F test is that among all treatments, two of them apart by the gain and the others midway; NaN in a split plot.
    """

    design: Design
    plot_cv: float
    cv_kind: str
    gain: float
    rows: tuple[CardRow, ...]
    f_power: float
    warnings: tuple[str, ...]


def power_card(design: Design, *, plot_cv: float, gain: float, whole_plot_cv: float = math.nan) -> PowerCard:
    """Return the card before planting.

    Parameters: design; expected CV of plots in a block, in a split plot of sub-plots, and of whole plots as in
    `power.comparisons`; smallest gain worth having. All are shares of the mean.
    """
    whole = plot_cv if math.isnan(whole_plot_cv) else whole_plot_cv
    return _card(design, (plot_cv, plot_cv, plot_cv), (whole, whole, whole), gain, EXPECTED)


def achieved_card(design: Design, *, error_mean_squares: tuple[float, ...], mean: float, gain: float) -> PowerCard:
    """Return the card after the trial.

    Parameters: design as it was planted; error mean squares of its analysis of variance, one, in a split plot those
    of whole plots and of sub-plots; the trial's mean in the root of their unit; gain, a share of the mean.
    The CV's chi-square interval gives the ends of each detectable difference.
    """
    spans = []
    for square, freedom in zip(error_mean_squares, design.error_freedom, strict=True):
        cv = math.sqrt(square) / mean
        spans.append((cv, *cv_interval(cv, freedom)))
    return _card(design, spans[-1], spans[0], gain, ACHIEVED)


Span = tuple[float, float, float]


def _card(design: Design, plot_cvs: Span, whole_cvs: Span, gain: float, kind: str) -> PowerCard:
    sets = [comparisons(design, plot_cv=p, whole_plot_cv=w) for p, w in zip(plot_cvs, whole_cvs, strict=True)]
    rows = []
    for comparison, low, high in zip(*sets, strict=True):
        needed = blocks_needed(
            gain, design, plot_cv=plot_cvs[0], whole_plot_cv=whole_cvs[0], comparison=comparison.name
        )
        least, least_low, least_high = (detectable_difference(each) for each in (comparison, low, high))
        rows.append(CardRow(comparison, least, least_low, least_high, power_of_difference(gain, comparison), needed))
    among = math.nan if design.kind == SPLIT else power_among(gain, design.plots_per_block, sets[0][-1])
    return PowerCard(design, plot_cvs[0], kind, gain, tuple(rows), among, design_warnings(design))


def card_lines(card: PowerCard) -> tuple[str, ...]:
    """Return the card as sentences: one a comparison, then the F test and the warnings."""
    head = (
        f"{card.cv_kind.capitalize()} CV of a plot within its block: {share_text(card.plot_cv, digits=CARD_DIGITS)}. "
        f"Differences are shares of the mean, shown with {share_text(POWER)} power at the two-sided "
        f"{share_text(SIGNIFICANCE)} level, one at a time."
    )
    lines = [head, *(_row_line(card, row) for row in card.rows)]
    if len(card.design.treatments) > 2 and math.isfinite(card.f_power):
        lines.append(
            f"Among all {len(card.design.treatments)} treatments, two of them {share_text(card.gain)} apart and the "
            f"others midway, the F test finds that they differ with {_power_text(card.f_power)} power."
        )
    return (*lines, *card.warnings)


def _row_line(card: PowerCard, row: CardRow) -> str:
    name = row.comparison.name.capitalize()
    if not math.isfinite(row.detectable):
        return f"{name}: no degrees of freedom are left for error, so nothing can be shown."
    span = ""
    if card.cv_kind == ACHIEVED:
        low, high = (share_text(end, digits=CARD_DIGITS) for end in (row.detectable_low, row.detectable_high))
        span = f" ({low} to {high}, as the CV itself is an estimate)"
    needed = f"{row.blocks_for_gain} blocks" if row.blocks_for_gain else "more than 200 blocks"
    return (
        f"{name}: {share_text(row.detectable, digits=CARD_DIGITS)} or more shows{span}; the smallest gain worth "
        f"having, {share_text(card.gain)}, shows with {_power_text(row.power_for_gain)} power and needs {needed}."
    )


def _power_text(power: float) -> str:
    return f"over {share_text(SURE)}" if power > SURE else share_text(power, digits=CARD_DIGITS)
