"""The one result schema: outcomes by system, against the baseline, against today, and by season.

Chart, table, report, spreadsheet and JSON are all filled from an `Outcome`. Names, units and labels are the
glossary's. Not a number means: no value, and `Appraisal.why` says the reason.
"""

from collections.abc import Callable, Mapping, Sequence
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


def join(blocks: Sequence[Outcome]) -> Outcome:
    """Return blocks of draws as one outcome; an array of length 1 in every block varies with no draw."""
    if len(blocks) == 1:
        return blocks[0]
    parts = (field.name for field in fields(Outcome))
    return Outcome(**{part: _join_part([getattr(block, part) for block in blocks]) for part in parts})


def _join_part(parts: Sequence[Mapping[str, Figures]]) -> dict[str, dict[str, Array]]:
    first = parts[0]
    return {key: {name: _join_arrays([part[key][name] for part in parts]) for name in first[key]} for key in first}


def _join_arrays(arrays: Sequence[Array]) -> Array:
    return arrays[0] if arrays[0].shape[1] == 1 else np.concatenate(arrays, axis=1)


def mapped(figures: Figures, change: Callable[[Array], Array]) -> dict[str, Array]:
    """Return figures with a function applied to every array."""
    return {name: change(array) for name, array in figures.items()}
