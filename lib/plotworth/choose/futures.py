"""Many futures of a case in one go: its risk, and its chances by area, with progress that can be followed and ended."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from plotworth.choose.draws import BLOCK
from plotworth.choose.events import Events
from plotworth.choose.layout import Layout
from plotworth.choose.risk import ALL_EVENTS, AREA_DRAWS, DRAWS, SEED, AreaRisk, Risk, Values, risk, risk_by_area
from plotworth.choose.risk_rows import area_ladder_m2
from plotworth.choose.structure import AREA

SLICE = 12
"""Areas drawn in one call: few enough that the work can be ended within half a second."""
LADDER = (0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
"""Multiples of the case's own area at which chances are told in a table."""
Told = Callable[[float], None]
"""Told the share of the work that is done, 0 to 1; an exception that it raises ends the work."""


@dataclass(frozen=True)
class Futures:
    """A case drawn many times: `risk` at its own area `own_m2` [m2], `areas`, every system at every area around it."""

    own_m2: float
    risk: Risk
    areas: tuple[AreaRisk, ...]

    @property
    def table_areas(self) -> list[AreaRisk]:
        """The rows of `areas` at an eighth of the case's own area, a quarter and so on up to eight times it."""
        return [row for row in self.areas if np.isclose(row.area_m2 / self.own_m2, LADDER).any()]


def draw_futures(
    layout: Layout,
    values: Values,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    events: Events = ALL_EVENTS,
    told: Told | None = None,
) -> Futures:
    """Return a case drawn many times, at its own area and along a ladder of areas.

    Parameters as in `risk`; by area at most AREA_DRAWS draws are taken, the first of the same; told of progress after
    each block of draws and each slice of areas.
    Raises: PlotworthError where draws or seed are out of bounds, and whatever `told` raises.
    """
    areas = area_ladder_m2(layout, values)
    slices = [areas[k : k + SLICE] for k in range(0, len(areas), SLICE)]
    blocks = -(-draws // BLOCK)
    steps = _Steps(told, blocks + len(slices))
    found = risk(
        layout, values, draws=draws, seed=seed, events=events, report=lambda done, _draws: steps.show(-(-done // BLOCK))
    )
    rows: list[AreaRisk] = []
    for place, some in enumerate(slices, 1):
        fewer = min(draws, AREA_DRAWS)
        rows += risk_by_area(layout, values, some, draws=fewer, seed=seed, events=events)
        steps.show(blocks + place)
    return Futures(float(values[AREA].flat[0]), found, tuple(rows))


@dataclass(frozen=True)
class _Steps:
    told: Told | None
    steps: int

    def show(self, done: int) -> None:
        if self.told is not None:
            self.told(done / self.steps)
