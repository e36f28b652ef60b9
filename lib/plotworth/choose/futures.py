"""Many futures of a case in one go: risk, chances by area, what moves it; progress is told, and it can be ended."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from plotworth.choose.draws import BLOCK
from plotworth.choose.events import Events
from plotworth.choose.influence import Influence, influence
from plotworth.choose.layout import Layout
from plotworth.choose.risk import ALL_EVENTS, AREA_DRAWS, DRAWS, SEED, AreaRisk, Risk, Values, risk, risk_by_area
from plotworth.choose.risk_rows import area_ladder_m2
from plotworth.choose.structure import AREA

SLICE = 12
"""Areas drawn in one call: few enough that the work can be ended within half a second."""
LEAST_FOR_INFLUENCE = 1024
"""Draws below which shares of variance and values of knowing say little."""
LADDER = (0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
"""Multiples of the case's own area at which chances are told in a table."""
Told = Callable[[float], None]
"""Told the share of the work that is done, 0 to 1; an exception that it raises ends the work."""


@dataclass(frozen=True)
class Futures:
    """A case drawn many times.

    `risk` at its own area `own_m2` [m2]; `areas`, every system at every area around it; `influences`, what moves the
    difference between the system in question and each reference, by id of the reference.
    """

    own_m2: float
    risk: Risk
    areas: tuple[AreaRisk, ...]
    influences: Mapping[str, Influence]

    @property
    def table_areas(self) -> list[AreaRisk]:
        """The rows of `areas` at an eighth of the case's own area, a quarter and so on up to eight times it."""
        areas = [row.area_m2 for row in self.areas]
        near = {min(areas, key=lambda area: abs(area - self.own_m2 * step)) for step in LADDER}
        return [row for row in self.areas if row.area_m2 in near]


def draw_futures(
    layout: Layout,
    values: Values,
    system: str,
    references: Sequence[str],
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    events: Events = ALL_EVENTS,
    told: Told | None = None,
) -> Futures:
    """Return a case drawn many times: at its own area, along a ladder of areas, and what moves it.

    Parameters as in `risk`; system in question and references by id (`OWN_WORTH` for none); by area at most AREA_DRAWS
    draws are taken, for influence at least LEAST_FOR_INFLUENCE; told of progress after each block, slice and reference.
    Raises: PlotworthError where draws or seed are out of bounds, and whatever `told` raises.
    """
    areas = area_ladder_m2(layout, values)
    slices = [areas[k : k + SLICE] for k in range(0, len(areas), SLICE)]
    blocks = -(-draws // BLOCK)
    steps = _Steps(told, blocks + len(slices) + len(references))
    found = risk(
        layout, values, draws=draws, seed=seed, events=events, report=lambda done, _draws: steps.show(-(-done // BLOCK))
    )
    rows: list[AreaRisk] = []
    for place, some in enumerate(slices, 1):
        fewer = min(draws, AREA_DRAWS)
        rows += risk_by_area(layout, values, some, draws=fewer, seed=seed, events=events)
        steps.show(blocks + place)
    influences = {}
    for place, reference in enumerate(references, 1):
        more = max(draws, LEAST_FOR_INFLUENCE)
        influences[reference] = influence(layout, values, system, reference, draws=more, seed=seed, events=events)
        steps.show(blocks + len(slices) + place)
    return Futures(float(values[AREA].flat[0]), found, tuple(rows), influences)


@dataclass(frozen=True)
class _Steps:
    told: Told | None
    steps: int

    def show(self, done: int) -> None:
        if self.told is not None:
            self.told(done / self.steps)
