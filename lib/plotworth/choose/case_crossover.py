"""The crossover of a case: areas of every pair that matters, the first inputs, switching values, least joint change."""

from collections.abc import Iterator
from dataclasses import dataclass

from plotworth.choose.appraise import Appraisal
from plotworth.choose.break_even_grid import POINTS, BreakEvenGrid, break_even_grid, grid_values
from plotworth.choose.controls import first_controls
from plotworth.choose.crossover import (
    BreakEven,
    break_even,
    break_even_area,
    break_evens,
    check_systems,
    search_range,
)
from plotworth.choose.joint_change import CHOICE, JointChange, joint_change
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH, Values
from plotworth.choose.structure import AREA
from plotworth.choose.switching import SwitchingValue, switching_values

FEW_COLUMNS = 4
"""Values of a grid side by side: numbers in cells must be readable on a narrow screen."""


@dataclass(frozen=True)
class CaseCrossover:
    """Where the decision between a system and its reference turns.

    `areas`: of the system against present practice, of the pair, of the reference against present practice, and of
    each by itself against 0; `inputs`: the pair along price, cost, rate and distance; `switching` values of every
    assumption; the least `joint` change; `grid` of two assumptions, None where there are not two.
    """

    system: str
    reference: str
    areas: tuple[BreakEven, ...]
    inputs: tuple[BreakEven, ...]
    switching: tuple[SwitchingValue, ...]
    joint: JointChange
    grid: BreakEvenGrid | None


def main_pair(layout: Layout) -> tuple[str, str]:
    """Return the system whose decision it is, and the baseline it is held against.

    The system is the first that is neither the baseline nor present practice; else the first that is not the baseline;
    in a case of one system it is held against nothing.
    """
    structure = layout.structure
    others = [plan.id for plan in structure.systems if plan.id != structure.baseline]
    if not others:
        return structure.baseline, OWN_WORTH
    new = [name for name in others if name != structure.today]
    return (new or others)[0], structure.baseline


def crossover_of(appraisal: Appraisal, system: str = "", reference: str = "") -> CaseCrossover:
    """Return the crossover of an appraised case, of its `main_pair` unless a pair is stated by id.

    Errors: PlotworthError for a system that the case has not.
    """
    layout, values = appraisal.layout, appraisal.values
    usual = main_pair(layout)
    pair = system or usual[0], reference or usual[1]
    check_systems(layout, *pair)
    switching = switching_values(layout, values, *pair)
    moving = {one.input.address for one in switching}
    return CaseCrossover(
        *pair,
        areas=areas_of(layout, values, *pair),
        inputs=tuple(break_even(layout, values, at, *pair) for at in first_addresses(layout) if at in moving),
        switching=tuple(switching),
        joint=joint_change(layout, values, *pair),
        grid=_grid(appraisal, pair, switching),
    )


def areas_of(layout: Layout, values: Values, system: str, reference: str) -> tuple[BreakEven, ...]:
    """Return the areas at which the order of every pair that matters turns, as `CaseCrossover.areas` has them."""
    return tuple(break_even_area(layout, values, *one) for one in _pairs(layout, (system, reference)))


def break_evens_of(layout: Layout, values: Values, system: str, reference: str) -> list[BreakEven]:
    """Return where the pair ties along what a panel offers first, area aside; rows of other systems are left out."""
    others = {plan.id for plan in layout.structure.systems} - {system, reference}
    addresses = [at for at in first_addresses(layout) if others.isdisjoint(at.split("/"))]
    ranges = [search_range(layout.inputs[at]) for at in addresses]
    return break_evens(layout, values, addresses, system, reference, ranges=ranges)


def _pairs(layout: Layout, pair: tuple[str, str]) -> Iterator[tuple[str, str]]:
    """Yield the system against present practice, since losing to it comes first, the pair, and what else there is."""
    today = layout.structure.today
    both = [name for name in dict.fromkeys(pair) if name != OWN_WORTH]
    against_today = [(name, today) for name in both if name != today]
    wanted = [*against_today[:1], pair, *against_today[1:], *((name, OWN_WORTH) for name in both)]
    yield from dict.fromkeys(wanted)


def first_addresses(layout: Layout) -> list[str]:
    """Return the addresses, without the area, of what a panel offers first: price, mass, cost, rate, wage, way."""
    return [control.input.address for control in first_controls(layout) if control.input.address != AREA]


def _grid(appraisal: Appraisal, pair: tuple[str, str], switching: list[SwitchingValue]) -> BreakEvenGrid | None:
    """Return the grid of the two inputs offered first that tie nearest, choices of the decider aside."""
    layout, values = appraisal.layout, appraisal.values
    offered = first_addresses(layout)
    told = [one.input.address for one in switching if one.input.nature != CHOICE]
    near = [at for at in told if at in offered] or told
    names = {at.split("/")[0]: at for at in reversed(near)}
    chosen = [at for at in near if at in names.values()][:2]
    if len(chosen) < 2:
        return None
    second, first = chosen
    across = grid_values(layout.inputs[first], float(values[first].flat[0]), points=FEW_COLUMNS)
    down = grid_values(layout.inputs[second], float(values[second].flat[0]), points=POINTS)
    return break_even_grid(layout, values, first, second, *pair, first_values=across, second_values=down)
