"""Whether blocks can take differences of the ground out: there, complete, and not one with a treatment."""

from collections.abc import Iterable, Iterator
from itertools import combinations

import pandas as pd

from plotworth.field.arrangement import Arrangement
from plotworth.field.audit_units import FEWEST_PLOTS, blocks_of, unreplicated
from plotworth.field.features import FACTOR_PREFIX, TREATMENT, factor_names
from plotworth.field.finding import (
    BLOCK_BLANK,
    BLOCK_IS_TREATMENT,
    FACTOR_BY_BLOCK,
    FEW_BLOCKS,
    INCOMPLETE_BLOCKS,
    LIMITS,
    NEVER_TOGETHER,
    NO_BLOCKS,
    NOTE,
    ONE_TREATMENT_BLOCK,
    REFUSES,
    SEGREGATED,
    Finding,
    listed,
    texts,
)
from plotworth.field.interspersion import Standing, segregated

FEWEST_BLOCKS = 4  # practice.md's warning: with fewer, the interval of a difference is very wide
ALL_IN_EACH = "Put every treatment into every block, its place drawn by lot."


def block_findings(plots: pd.DataFrame, arrangement: Arrangement | None) -> Iterator[Finding]:
    """Yield what is wrong with the blocks of one trial."""
    blocks = blocks_of(plots, arrangement)
    if (blocks == "").all():
        yield _no_blocks(arrangement)
        return
    yield from _blank(plots, blocks)
    used, names = plots[blocks != ""], blocks[blocks != ""]
    if arrangement is not None and len(arrangement.blocks) > 1:
        return  # a square's crossings hold one plot each
    treatments = texts(used, TREATMENT)
    held = {str(block): set(treatments[names == block]) for block in dict.fromkeys(names)}
    if treatments.nunique() > 1:
        yield from _one_treatment(used, names, held)
        yield from _incomplete(held, tuple(dict.fromkeys(treatments)))
    yield from _factors(used, names, arrangement)
    if len(held) < FEWEST_BLOCKS:
        sentence = f"There are {len(held)} blocks: only a large difference could show."
        if len(held) == 1:
            sentence = "There is one block: nothing was repeated over the ground."
        yield Finding(FEW_BLOCKS, NOTE, sentence, "Take four blocks or more next time.")


def _no_blocks(arrangement: Arrangement | None) -> Finding:
    """Without blocks a trial is weaker; where nothing says that the draw was over all plots it may be none."""
    severity = NOTE if arrangement is not None and not arrangement.blocks else LIMITS
    sentence = "The plots lie in no blocks, so differences of the ground stay in the error."
    return Finding(NO_BLOCKS, severity, sentence, f"Lay the plots in blocks of like ground. {ALL_IN_EACH}")


def _blank(plots: pd.DataFrame, blocks: pd.Series) -> Iterator[Finding]:
    names = tuple(texts(plots, "plot")[blocks == ""])
    if names:
        sentence = f"{listed(names)} {'has' if len(names) == 1 else 'have'} no block while other plots have one."
        yield Finding(BLOCK_BLANK, LIMITS, sentence, "Write the block of every plot.", names)


def _one_treatment(plots: pd.DataFrame, blocks: pd.Series, held: dict[str, set[str]]) -> Iterator[Finding]:
    alone = [block for block, treatments in held.items() if len(treatments) == 1]
    if len(alone) == len(held):
        counts = {t: sum(held[b] == {t} for b in held) for t in dict.fromkeys(texts(plots, TREATMENT))}
        blocks_each = listed(f"{number} of {name}" for name, number in counts.items())
        yield Finding(
            BLOCK_IS_TREATMENT,
            REFUSES,
            f"Every block holds one treatment only, so the blocks are the units ({blocks_each}) and what differs may "
            "be the ground.",
            ALL_IN_EACH,
            tuple(texts(plots, "plot")),
        )
        if max(counts.values()) < FEWEST_PLOTS:
            yield unreplicated(plots, "Each treatment stands in one block")
        return
    for block in alone:
        names = tuple(texts(plots, "plot")[blocks == block])
        if len(names) > 1:
            name = next(iter(held[block]))
            sentence = f"All plots of block {block} have {name}: the block says nothing about differences."
            yield Finding(ONE_TREATMENT_BLOCK, LIMITS, sentence, ALL_IN_EACH, names, (name,))


def _incomplete(held: dict[str, set[str]], treatments: tuple[str, ...]) -> Iterator[Finding]:
    if all(len(inside) == 1 for inside in held.values()):
        return
    gaps = {block: [t for t in treatments if t not in inside] for block, inside in held.items()}
    lacking = [f"{block} lacks {listed(missing)}" for block, missing in gaps.items() if missing]
    if lacking:
        concerned = tuple(t for t in treatments if any(t in missing for missing in gaps.values()))
        sentence = f"Blocks are incomplete: {'; '.join(lacking)}. Means are adjusted for it by least squares."
        yield Finding(INCOMPLETE_BLOCKS, NOTE, sentence, ALL_IN_EACH, (), concerned)
    for first, second in combinations(treatments, 2):
        if not any({first, second} <= inside for inside in held.values()):
            sentence = f"No block holds both {first} and {second}: they are compared through others, if at all."
            yield Finding(NEVER_TOGETHER, LIMITS, sentence, ALL_IN_EACH, (), (first, second))


def _factors(plots: pd.DataFrame, blocks: pd.Series, arrangement: Arrangement | None) -> Iterator[Finding]:
    """Yield the factors of which no block holds two levels, in blocks that do hold several treatments."""
    if texts(plots, TREATMENT).groupby(blocks).nunique().max() < 2:
        return
    for column in factor_names(plots, arrangement):
        levels = texts(plots, column)
        if levels.nunique() > 1 and levels.groupby(blocks).nunique().max() == 1:
            factor = column.removeprefix(FACTOR_PREFIX)
            each = blocks.groupby(levels).nunique()
            counts = listed(f"{number} of {level}" for level, number in each.items())
            sentence = (
                f"No block holds two levels of {factor}, so its units are the blocks ({counts}) and what differs "
                "between its levels may be the ground."
            )
            cure = (
                f"Put every level of {factor} into every block; if the blocks were drawn by lot, say so in the design."
            )
            yield Finding(FACTOR_BY_BLOCK, REFUSES, sentence, cure, features=(factor,))


def standing_findings(standings: Iterable[Standing]) -> Iterator[Finding]:
    """Yield each treatment that stands on one side of every block."""
    for sentence in segregated(standings):
        cure = "Draw the places by lot again next time; this time look at the ground on that side."
        yield Finding(SEGREGATED, LIMITS, sentence, cure)
