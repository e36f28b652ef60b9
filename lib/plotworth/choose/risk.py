"""How sure the answer is: a case drawn many times from its book's ranges, its trial and the events of its years.

Seeded: the same case, seed and number of draws give the same figures. All systems meet the same prices, weather and
trial in a draw, so that their difference is that of one world.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.choose.computed import with_computed
from plotworth.choose.distribution import (
    Chance,
    Distribution,
    chance_above_zero,
    chance_below_zero,
    distribution,
)
from plotworth.choose.drawn_rows import CONSTANT, YEARLY, held_notes
from plotworth.choose.draws import BLOCK, DrawPlan, Draws, draw_block, draw_plan
from plotworth.choose.events import Events
from plotworth.choose.layout import Layout
from plotworth.choose.present_worth import net_present_values, yearly_margins
from plotworth.choose.simulated import with_simulated
from plotworth.choose.structure import AREA, Structure
from plotworth.choose.trial_draws import held_of_trial
from plotworth.ground.arrays import Array
from plotworth.ground.errors import PlotworthError

DRAWS, SEED = 10_000, 1
MOST_DRAWS = 10_000_000
AREA_DRAWS = 2048
TEN = 10.0
TODAY, BASELINE = "today", "baseline"
ALL_EVENTS = Events()
Values = Mapping[str, Array]
Report = Callable[[int, int], None]
"""Told after each block: draws done, draws in all."""


@dataclass(frozen=True)
class Against:
    """A system's NPV less a reference's [money]: its distribution, and the chance that it is above 0."""

    reference: str
    difference: Distribution
    chance_better: Chance


@dataclass(frozen=True)
class YearsOutOfTen:
    """Of ten years past learning, how many leave money over: running costs, capital as well, more than references.

    `covers_running` and `covers_all` [years of ten]: what is harvested against running costs, and against those and the
    year's share of capital; `beats_today`, `beats_baseline`: leaves more after all costs, NaN against itself.
    """

    covers_running: float
    covers_all: float
    beats_today: float
    beats_baseline: float


@dataclass(frozen=True)
class SystemRisk:
    """One system's risk; `against` by `today` and `baseline`, without the system's own."""

    system: str
    label: str
    npv: Distribution
    chance_of_loss: Chance
    chance_of_best: Chance
    against: Mapping[str, Against]
    years: YearsOutOfTen


@dataclass(frozen=True, repr=False)
class Risk:
    """A case drawn many times.

    `systems` by id; `npv` by id: the draws themselves [money], shape (draw,); `constants` and `yearly`, how many rows
    were drawn once a case and once a year, `measured`, how many jointly from the trial; `correlated`, how many move
    together; `notes` say what was held.
    """

    layout: Layout
    draws: int
    seed: int
    events: Events
    quasi_random: bool
    systems: Mapping[str, SystemRisk]
    npv: Mapping[str, Array]
    constants: int
    yearly: int
    measured: int
    correlated: int
    notes: tuple[str, ...]

    def __repr__(self) -> str:
        return f"<Risk of {self.layout.case.settings.title}: {self.draws} draws, seed {self.seed}>"

    def reference(self, which: str) -> str:
        """Return the id of the system that is `today` or `baseline`."""
        return {TODAY: self.layout.structure.today, BASELINE: self.layout.structure.baseline}[which]


def risk(
    layout: Layout,
    values: Values,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    events: Events = ALL_EVENTS,
    quasi_random: bool = True,
    report: Report | None = None,
) -> Risk:
    """Return how sure a case is.

    Parameters: layout; values by address, shapes (1, 1), the case's or a dial's; draws, 2 to 10,000,000; seed, 0 or
    more; events drawn as they happen; report, told of progress after each block of draws.
    Raises: PlotworthError where draws or seed are out of bounds.
    """
    _check(draws, seed)
    plan = draw_plan(layout, _filled(layout, values), seed=seed, events=events, quasi_random=quasi_random)
    npv: dict[str, list[Array]] = {system.id: [] for system in layout.structure.systems}
    margins: dict[str, list[Array]] = {system.id: [] for system in layout.structure.systems}
    for block in _blocks(plan, draws, report):
        width = block.draws
        worth = net_present_values(layout.structure, block.drawn.values, block.drawn.shocks)
        years = yearly_margins(layout.structure, block.drawn.year_values, block.drawn.year_shocks)
        for system in npv:
            npv[system].append(_wide(worth[system], width)[0])
            margins[system].append(np.stack([_wide(one, width)[0] for one in years[system]]))
    joined = {system: np.concatenate(parts) for system, parts in npv.items()}
    yearly = {system: np.concatenate(parts, axis=1) for system, parts in margins.items()}
    return Risk(
        layout=layout,
        draws=draws,
        seed=seed,
        events=events,
        quasi_random=quasi_random,
        systems=_systems(layout.structure, joined, yearly),
        npv=joined,
        constants=len(plan.of_nature(CONSTANT)),
        yearly=len(plan.of_nature(YEARLY)),
        measured=sum(len(figure.addresses) for figure in plan.figures),
        correlated=sum(len(cluster.addresses) for cluster in plan.clusters),
        notes=(*held_notes(layout), *held_of_trial(layout, plan.addresses)),
    )


def _check(draws: int, seed: int) -> None:
    if not 2 <= draws <= MOST_DRAWS:
        raise PlotworthError(f"{draws} draws: take 2 to {MOST_DRAWS:,}.")
    if seed < 0:
        raise PlotworthError(f"seed {seed}: take a whole number, 0 or more.")


def _filled(layout: Layout, values: Values) -> Values:
    return with_computed(layout.structure.computed, with_simulated(layout, values))


@dataclass(frozen=True)
class _Block:
    drawn: Draws
    draws: int


def _blocks(plan: DrawPlan, draws: int, report: Report | None) -> Iterator[_Block]:
    for start in range(0, draws, BLOCK):
        width = min(BLOCK, draws - start)
        yield _Block(draw_block(plan, start // BLOCK, width), width)
        if report is not None:
            report(start + width, draws)


def _wide(array: Array, width: int) -> Array:
    return np.broadcast_to(array, (array.shape[0], width))


def _systems(structure: Structure, npv: Mapping[str, Array], margins: Mapping[str, Array]) -> dict[str, SystemRisk]:
    best = np.max(list(npv.values()), axis=0)
    return {
        plan.id: SystemRisk(
            system=plan.id,
            label=plan.label,
            npv=distribution(npv[plan.id]),
            chance_of_loss=chance_below_zero(npv[plan.id]),
            chance_of_best=_chance_of_best(npv[plan.id], best),
            against=_against(structure, npv, plan.id),
            years=_years(structure, margins, plan.id),
        )
        for plan in structure.systems
    }


def _chance_of_best(own: Array, best: Array) -> Chance:
    return chance_above_zero(np.where(np.isnan(best), np.nan, np.where(own >= best, 1.0, -1.0)))


def _against(structure: Structure, npv: Mapping[str, Array], system: str) -> dict[str, Against]:
    found = {}
    for which, reference in ((TODAY, structure.today), (BASELINE, structure.baseline)):
        if reference != system:
            difference = npv[system] - npv[reference]
            found[which] = Against(reference, distribution(difference), chance_above_zero(difference))
    return found


def _years(structure: Structure, margins: Mapping[str, Array], system: str) -> YearsOutOfTen:
    running, after_all = margins[system]
    beats = [
        np.nan if reference == system else _of_ten(after_all - margins[reference][1])
        for reference in (structure.today, structure.baseline)
    ]
    return YearsOutOfTen(_of_ten(running), _of_ten(after_all), *beats)


def _of_ten(money: Array) -> float:
    return TEN * chance_above_zero(money).share


@dataclass(frozen=True)
class AreaRisk:
    """One system at one gross area [m2]: chance of loss and of being best, and its NPV against a reference [money]."""

    area_m2: float
    system: str
    label: str
    npv: Distribution
    chance_of_loss: Chance
    chance_of_best: Chance
    against: Mapping[str, Against]


def risk_by_area(
    layout: Layout,
    values: Values,
    areas_m2: Sequence[float],
    *,
    draws: int = AREA_DRAWS,
    seed: int = SEED,
    events: Events = ALL_EVENTS,
    report: Report | None = None,
) -> list[AreaRisk]:
    """Return every system at several gross areas [m2], area by area, the same draws at each.

    Parameters as in `risk`; memory grows with areas x draws.
    """
    _check(draws, seed)
    areas = np.array(areas_m2, dtype=np.float64)[:, None]
    plan = draw_plan(layout, {**_filled(layout, values), AREA: areas}, seed=seed, events=events)
    parts: dict[str, list[Array]] = {system.id: [] for system in layout.structure.systems}
    for block in _blocks(plan, draws, report):
        worth = net_present_values(layout.structure, block.drawn.values, block.drawn.shocks)
        for system, found in parts.items():
            found.append(np.broadcast_to(worth[system], (len(areas), block.draws)))
    npv = {system: np.concatenate(found, axis=1) for system, found in parts.items()}
    return [row for place, area in enumerate(areas[:, 0]) for row in _at_area(layout.structure, npv, place, area)]


def _at_area(structure: Structure, npv: Mapping[str, Array], place: int, area_m2: float) -> Iterator[AreaRisk]:
    here = {system: draws[place] for system, draws in npv.items()}
    best = np.max(list(here.values()), axis=0)
    for plan in structure.systems:
        yield AreaRisk(
            area_m2=float(area_m2),
            system=plan.id,
            label=plan.label,
            npv=distribution(here[plan.id]),
            chance_of_loss=chance_below_zero(here[plan.id]),
            chance_of_best=_chance_of_best(here[plan.id], best),
            against=_against(structure, here, plan.id),
        )
