"""The one result schema: outcomes by system, against the baseline, against today, and by season.

Chart, table, report, spreadsheet and JSON are all filled from an `Outcome`. Names, units and labels are the
glossary's. Not a number means: no value, and `Appraisal.why` says the reason.
"""

from collections.abc import Mapping, Sequence
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


def join(blocks: Sequence[Outcome], widths: Sequence[int]) -> Outcome:
    """Return blocks of so many draws each as one outcome; one block alone is returned as it is."""
    if len(blocks) == 1:
        return blocks[0]
    joined = {}
    for part in (field.name for field in fields(Outcome)):
        parts: list[Mapping[str, Figures]] = [getattr(block, part) for block in blocks]
        joined[part] = {
            key: {name: _join_arrays([one[key][name] for one in parts], widths) for name in figures}
            for key, figures in parts[0].items()
        }
    return Outcome(**joined)


def _join_arrays(arrays: Sequence[Array], widths: Sequence[int]) -> Array:
    wide = [np.broadcast_to(array, (array.shape[0], width)) for array, width in zip(arrays, widths, strict=True)]
    return np.concatenate(wide, axis=1)
