"""A case laid out for the composition: its structure, its values by address, and where each came from."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from plotworth.case.folder import Case
from plotworth.choose.input import Input
from plotworth.choose.measured import Trial
from plotworth.choose.structure import Structure
from plotworth.ground.arrays import Array


@dataclass(frozen=True, repr=False)
class Layout:
    """A case laid out: `evaluate(structure, values, expected_shocks(structure, values))` appraises it.

    `inputs` by address says of every value what it is, where it stands and how far it may go; `trial` holds
    the measured tables, None where there is no trial. `memory` keeps the last daily simulation of each season, so
    that a dial runs again only what it moves; it changes no result.
    """

    case: Case
    structure: Structure
    values: Mapping[str, Array]
    inputs: Mapping[str, Input]
    trial: Trial | None
    memory: dict[Any, Any] = field(default_factory=dict, compare=False)

    def __repr__(self) -> str:
        return f"<Layout of {self.case.settings.title}: {len(self.inputs)} inputs>"
