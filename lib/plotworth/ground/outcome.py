"""The one result schema: outcomes by system, against the baseline, against today, and by season.

Chart, table, report, spreadsheet and JSON are all filled from an `Outcome`. Names, units and labels are the
glossary's. Not a number means: no value, and `Appraisal.why` says the reason.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np

from plotworth.ground.arrays import Array

Figures = Mapping[str, Array]


@dataclass(frozen=True)
class Outcome:
    """What an evaluation returns; arrays (site, draw), length 1 where nothing varies.

    `systems[id][name]`, `against_baseline[id][name]` and `against_today[id][name]` (system less reference),
    `seasons["id/season"][name]`; `facts` holds what reasons are told from: `root_count` and `first_flow`
    [money in year 0] by "systems/id", "against_baseline/id" and "against_today/id".
    """

    systems: Mapping[str, Figures]
    against_baseline: Mapping[str, Figures]
    against_today: Mapping[str, Figures]
    seasons: Mapping[str, Figures]
    facts: Mapping[str, Figures]

    def at(self, path: str) -> Array:
        """Return the array at a path such as `systems/drip/npv` or `seasons/drip/wet/water_l_per_m2`."""
        part, *rest = path.split("/")
        return getattr(self, part)["/".join(rest[:-1])][rest[-1]]  # type: ignore[no-any-return]


def join(blocks: Iterable[Outcome], widths: Sequence[int]) -> Outcome:
    """Return blocks of so many draws each as one outcome; one block alone is returned as it is.

    Each block is put in its place before the next is asked for, so that none but the last is held beside the whole.
    """
    following = iter(blocks)
    block = next(following)
    if len(widths) == 1:
        return block
    whole, start = _room(block, sum(widths)), widths[0]
    _put(block, whole, slice(0, start))
    for width in widths[1:]:
        del block
        block = next(following)
        _put(block, whole, slice(start, start + width))
        start += width
    return whole


def _room(block: Outcome, draws: int) -> Outcome:
    """Return an outcome like a block, but for so many draws, its numbers not yet set.

    All of it is one piece of memory; what is one array in the block is one in the whole.
    """
    arrays = {id(array): array for array in _arrays(block)}
    numbers = np.empty((sum(len(array) for array in arrays.values()), draws))
    ends = np.cumsum([len(array) for array in arrays.values()])
    rows = dict(zip(arrays, np.split(numbers, ends[:-1]), strict=True))
    return Outcome(
        **{
            part: {key: {name: rows[id(a)] for name, a in figures.items()} for key, figures in keys.items()}
            for part, keys in _parts(block)
        }
    )


def _put(block: Outcome, whole: Outcome, draws: slice) -> None:
    """Copy a block into its draws of the whole."""
    for array, place in {
        id(place): (a, place) for a, place in zip(_arrays(block), _arrays(whole), strict=True)
    }.values():
        place[:, draws] = array


def _parts(outcome: Outcome) -> Iterator[tuple[str, Mapping[str, Figures]]]:
    for field in fields(Outcome):
        yield field.name, getattr(outcome, field.name)


def _arrays(outcome: Outcome) -> Iterator[Array]:
    for _, keys in _parts(outcome):
        for figures in keys.values():
            yield from figures.values()
