"""Rows for the charts of a trial that is being planned: what more blocks, larger plots and more weighing bring."""

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from plotworth.choose.trial_outline import TrialOutline
from plotworth.field.design import Design
from plotworth.field.power import blocks_needed, comparisons, detectable_difference
from plotworth.field.sampling import fruit_to_weigh

Row = Mapping[str, Any]
LEAST_SHOWN, MOST_SHOWN, BEYOND = 10, 30, 2
PAST_CHOICE, MOST_PAST = 0.6, 20  # how far past the choice the rows go, so that more blocks can be seen beside it
MOST_SPLITS = 24
FEWEST_PLANTS = 4  # common practice, no source: on fewer, one lost plant is a lost plot
PRECISIONS = tuple(step / 200 for step in range(4, 41))  # 2 % to 20 % by half a per cent


@lru_cache(maxsize=1024)
def _unit_difference(design: Design, comparison: str, ratio: float) -> float:
    """Return the detectable difference for a CV of 1; others are in proportion, as both strata's errors are."""
    found = {one.name: one for one in comparisons(design, plot_cv=1.0, whole_plot_cv=ratio)}
    return detectable_difference(found[comparison])


def detectable(outline: TrialOutline, comparison: str, *, blocks: int, cv: float) -> float:
    """Return the least difference that shows with 80 % power [share of the mean] for so many blocks and a plot CV."""
    return cv * _unit_difference(replace(outline.design, blocks=blocks), comparison, outline.whole_plot_ratio)


def blocks_for_gain(outline: TrialOutline, comparison: str) -> int | None:
    """Return the fewest blocks that show the smallest gain worth having; None where 200 are too few."""
    return blocks_needed(
        outline.gain,
        outline.design,
        plot_cv=outline.plot_cv,
        whole_plot_cv=outline.whole_plot_ratio * outline.plot_cv,
        comparison=comparison,
    )


def block_rows(outline: TrialOutline, comparison: str) -> list[Row]:
    """Return a row for each number of blocks: the detectable difference for the expected CV and for its two ends.

    From 2 blocks to a few more than are chosen, or than the smallest gain needs where that is not far.
    """
    scale = outline.plot_cv / outline.stated_cv
    return [
        {
            "blocks": blocks,
            "detectable": detectable(outline, comparison, blocks=blocks, cv=outline.plot_cv),
            "low": detectable(outline, comparison, blocks=blocks, cv=scale * outline.cv_low),
            "high": detectable(outline, comparison, blocks=blocks, cv=scale * outline.cv_high),
            "plots": blocks * outline.design.plots_per_block,
            "chosen": blocks == outline.design.blocks,
        }
        for blocks in range(2, _last_shown(outline, comparison) + 1)
    ]


def _last_shown(outline: TrialOutline, comparison: str) -> int:
    needed = blocks_for_gain(outline, comparison) or 0
    wanted = max(LEAST_SHOWN, needed + BEYOND if needed + BEYOND <= MOST_SHOWN else 0)
    chosen = outline.design.blocks
    return max(wanted, chosen + min(max(BEYOND, math.ceil(chosen * PAST_CHOICE)), MOST_PAST))


def split_rows(outline: TrialOutline, comparison: str) -> list[Row]:
    """Return the ways to part the plants of a treatment into blocks: plants of a plot, its CV, what then shows.

    Every number of blocks, up to 24, that leaves whole plants and no fewer than 4 a plot; the one chosen among them.
    """
    total = outline.size.plants * outline.design.blocks
    chosen = outline.design.blocks
    usual = range(2, min(MOST_SPLITS, total // FEWEST_PLANTS) + 1)
    counts = sorted({chosen, *(blocks for blocks in usual if total % blocks == 0)})
    return [
        {
            "blocks": blocks,
            "plants": total // blocks,
            "plants_per_treatment": total,
            "plot_cv": outline.cv_for(total // blocks),
            "detectable": detectable(outline, comparison, blocks=blocks, cv=outline.cv_for(total // blocks)),
            "chosen": blocks == chosen,
        }
        for blocks in counts
    ]


def weighing_rows(outline: TrialOutline) -> list[Row]:
    """Return the fruit to weigh for each precision from 2 to 20 %, and for the one wanted: of so many, and of any."""
    wanted = sorted({*PRECISIONS, outline.precision})
    return [
        {
            "precision": precision,
            "weigh": fruit_to_weigh(outline.fruit_cv, precision, population=outline.fruits),
            "weigh_of_many": fruit_to_weigh(outline.fruit_cv, precision, population=math.inf),
            "fruits": outline.fruits,
            "chosen": precision == outline.precision,
        }
        for precision in wanted
    ]
