"""The power card of a planned trial as a table and sentences, beside the card of what was achieved."""

import math
from collections.abc import Sequence

from plotworth.choose.achieved_trial import AchievedTrial
from plotworth.choose.plan_chart_rows import blocks_for_gain, detectable
from plotworth.choose.trial_outline import TrialOutline
from plotworth.field.design import SPLIT
from plotworth.field.power import MOST_BLOCKS, POWER, SIGNIFICANCE, design_warnings
from plotworth.field.power_card import CARD_DIGITS, SURE, CardRow, PowerCard, card_lines, power_card
from plotworth.ground.amounts import amount_text, figures_text, share_text

Columns = list[tuple[str, bool]]
Cells = list[tuple[str, ...]]


def outline_card(outline: TrialOutline) -> PowerCard:
    """Return the power card of an outline."""
    whole = outline.whole_plot_ratio * outline.plot_cv
    return power_card(outline.design, plot_cv=outline.plot_cv, whole_plot_cv=whole, gain=outline.gain)


def card_cells(card: PowerCard) -> tuple[Columns, Cells]:
    """Return the card as columns, each a heading and whether it holds numbers, and rows of text."""
    gain = share_text(card.gain)
    columns = [
        ("Difference between", False),
        ("Shows from", True),
        (f"Power at {gain}", True),
        (f"Blocks for {gain}", True),
        ("Degrees of freedom", True),
    ]
    return columns, [_cells(row) for row in card.rows]


def _cells(row: CardRow) -> tuple[str, ...]:
    least = share_text(row.detectable, digits=CARD_DIGITS)
    if row.detectable_low != row.detectable_high:
        ends = (share_text(end, digits=CARD_DIGITS) for end in (row.detectable_low, row.detectable_high))
        least = f"{least} ({' to '.join(ends)})"
    needed = str(row.blocks_for_gain) if row.blocks_for_gain else f"over {MOST_BLOCKS}"
    freedom = figures_text(row.comparison.error_freedom)
    return row.comparison.name, least, power_words(row.power_for_gain), needed, freedom


def power_words(power: float) -> str:
    """Return a power in per cent, none of which reads as certainty."""
    return f"over {share_text(SURE)}" if power > SURE else share_text(power, digits=CARD_DIGITS)


def headline(outline: TrialOutline, comparison: str) -> str:
    """Return in one sentence what the trial can show of one kind of difference, and what the smallest gain needs."""
    blocks = outline.design.blocks
    least = detectable(outline, comparison, blocks=blocks, cv=outline.plot_cv)
    shows = f"{blocks} blocks show a difference between {comparison} from {share_text(least, digits=CARD_DIGITS)} on"
    needed = blocks_for_gain(outline, comparison)
    gain = f"the smallest gain worth having, {share_text(outline.gain)}"
    if needed is None:
        return f"{shows}; {gain}, would need more than {MOST_BLOCKS}."
    return f"{shows}; {gain}, needs {needed}." if needed > blocks else f"{shows}: enough for {gain}."


def card_notes(outline: TrialOutline, card: PowerCard) -> list[str]:
    """Return what stands under the card: the CV used, the F test, what may go wrong."""
    notes = [_cv_note(outline)]
    if outline.design.kind == SPLIT and outline.whole_plot_ratio == 1:
        notes.append("Whole plots are taken to vary as sub-plots do, which is the least: usually they vary more.")
    among = [line for line in card_lines(card) if line.startswith("Among all")]
    return [*notes, *among, *_size_notes(outline)]


def card_warnings(outline: TrialOutline) -> tuple[str, ...]:
    """Return a sentence for each reason to mistrust so small a trial, and for a CV outside its own ends."""
    if outline.cv_low <= outline.stated_cv <= outline.cv_high:
        return design_warnings(outline.design)
    stated, low, high = (
        share_text(cv, digits=CARD_DIGITS) for cv in (outline.stated_cv, outline.cv_low, outline.cv_high)
    )
    outside = (
        f"The CV expected, {stated}, lies outside its own ends, {low} at best and {high} at worst: move those too."
    )
    return (*design_warnings(outline.design), outside)


def _cv_note(outline: TrialOutline) -> str:
    used = share_text(outline.plot_cv, digits=CARD_DIGITS)
    shown = (
        f"Differences are shares of the mean; one shows when it is found with {share_text(POWER)} power at the "
        f"two-sided {share_text(SIGNIFICANCE)} level, one at a time. The smallest gain worth having is "
        f"{share_text(outline.gain)}."
    )
    if outline.size.plants == outline.stated_plants:
        return f"CV of a plot within its block: {used}. {shown}"
    stated = f"{share_text(outline.stated_cv, digits=CARD_DIGITS)} for plots of {outline.stated_plants}"
    b = figures_text(outline.smith_index)
    return f"CV of a plot of {outline.size.plants} plants within its block: {used}, by b = {b} from {stated}. {shown}"


def _size_notes(outline: TrialOutline) -> list[str]:
    size, plots = outline.size, outline.design.blocks * outline.design.plots_per_block
    ground = amount_text(plots * size.gross_area_m2, "m²")
    return [
        f"{plots} plots of {size.plants} recorded plants and {size.guards} guards: "
        f"{figures_text(plots * size.gross_plants, digits=4)} plants on {ground} without paths."
    ]


def achieved_sentences(achieved: Sequence[AchievedTrial], reasons: Sequence[str]) -> list[str]:
    """Return for each harvested trial the CV that it had, and why another is left out."""
    return [*(_achieved_sentence(one) for one in achieved), *reasons]


def _achieved_sentence(one: AchievedTrial) -> str:
    cvs = [share_text(math.sqrt(square) / one.mean_kg_per_m2, digits=CARD_DIGITS) for square in one.error_mean_squares]
    spread = f"{cvs[0]} between whole plots, {cvs[1]} between sub-plots" if len(cvs) > 1 else f"{cvs[0]} between plots"
    lost = f"; {one.plots_planted - one.plots} of {one.plots_planted} plots without a yield" if _lost(one) else ""
    mean = amount_text(one.mean_kg_per_m2, "kg/m²")
    return f"{one.name}: achieved CV {spread} of a block, at a mean of {mean}{lost}."


def _lost(one: AchievedTrial) -> bool:
    return one.plots < one.plots_planted
