"""Whether chance has pushed a treatment to one side: the rule by which a layout is drawn again."""

from collections.abc import Iterable
from dataclasses import dataclass

FEWEST_BLOCKS = 3  # with two blocks, chance puts some treatment into the same place every other time
OUTER_SHARE = 3  # an outer part of a block is a third of its columns


@dataclass(frozen=True)
class Standing:
    """Where something stands: name; its place in each block, from 0; width of a block [places]."""

    name: str
    places: tuple[int, ...]
    width: int


def segregated(standings: Iterable[Standing]) -> tuple[str, ...]:
    """Return a sentence for each treatment that stands in the same place, or the same outer third, of every block.

    The outer third is a third of the columns, at least one. Nothing is said under three blocks or of a
    block with one place, where there is no choice.
    """
    return tuple(sentence for standing in standings if (sentence := _sentence(standing)))


def _sentence(standing: Standing) -> str:
    if len(standing.places) < FEWEST_BLOCKS or standing.width <= 1:
        return ""
    if len(set(standing.places)) == 1:
        return f"{standing.name} has the same place, number {standing.places[0] + 1}, in every block."
    outer = max(1, standing.width // OUTER_SHARE)
    columns = [place % standing.width for place in standing.places]
    if max(columns) < outer:
        return f"{standing.name} lies in the first columns of every block."
    if min(columns) >= standing.width - outer:
        return f"{standing.name} lies in the last columns of every block."
    return ""
