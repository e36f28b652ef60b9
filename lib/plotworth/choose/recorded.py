"""What each outcome stands on, recorded by the composition itself: which inputs move it, which enter and do not."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plotworth.choose.evaluate import evaluate, flows_by_year
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.probes import DOWN, HIGH, LOW, NONE, UP, Probes, probes
from plotworth.choose.structure import Structure
from plotworth.ground.arrays import Array

ALONE, SEASONS, FLOWS = "systems", "seasons", "flows"
DIFFERENCES = ("against_baseline", "against_today")
PARTS = (ALONE, *DIFFERENCES, SEASONS)
FROM_FLOWS = ("irr", "simple_payback_years")
FROM_WORTH = ("mirr", "benefit_cost_ratio", "discounted_payback_years")
MONEY_OF_ALL_YEARS = ("npv", "equivalent_annual_value")
LESS_WATER, WATER = "less_water_share", "water_l_per_m2"
INTERVAL = ("less_water_share_low", "less_water_share_high")
ROUNDING = 1e-9
"""Part of a figure's size by which it must differ to count as moved: what is less is a left-over of adding."""
CANCELS = "moves both systems alike, so that it falls out of the difference"
AT_AN_END = "enters, but the figure moves only when it goes as far as {ends}"
NO_TRACE = "enters, but at the values in force it is multiplied by 0 or stands behind a bound or step"
Values = Mapping[str, Array]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Recorded:
    """What the outcomes of a case stand on at given values.

    `moves` by path of an outcome: addresses of the inputs that move it, values worked out from others among them;
    `still` by path: addresses that enter and do not move it, each with why; `simulated_from` by address of a
    simulated value: the addresses it is moved by.
    """

    moves: Mapping[str, tuple[str, ...]]
    still: Mapping[str, Mapping[str, str]]
    simulated_from: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class _Reaction:
    """How one figure answers the probes, shape (n,): moved a little, moved at an end, lost without the value."""

    near: Flags
    low: Flags
    high: Flags
    lost: Flags


def record(layout: Layout, values: Values) -> Recorded:
    """Return what every outcome of a case stands on at values by address, shapes (1, 1).

    One call of the composition with draws in each of which one number is moved and all others stay. An outcome
    without value stands on what it is made from: a rate of return on the flows, a ratio on both present values.
    """
    made = probes(layout, values)
    hooks = {address: array for address, array in values.items() if address not in layout.inputs}
    figures = _figures(replace(layout.structure, computed=()), {**made.values, **hooks})
    references = dict(zip(DIFFERENCES, (layout.structure.baseline, layout.structure.today), strict=True))
    reactions = {path: _reaction(figures, made, path, references) for path in figures}
    moves: dict[str, tuple[str, ...]] = {}
    still: dict[str, dict[str, str]] = {}
    for path in (path for path in figures if not path.startswith(FLOWS)):
        seen = _seen_in(path, figures)
        for shown in (path, *_ends_of_interval(path)):
            moves[shown] = _chosen(made, reactions[seen].near)
            still[shown] = _still(layout, made, reactions, seen)
    return Recorded(moves, still, made.simulated_from)


def _figures(structure: Structure, values: Values) -> dict[str, Array]:
    """Return every outcome by path, shape (1, draws), and the flows behind them, shape (year, draws)."""
    shocks = expected_shocks(structure, values)
    with np.errstate(all="ignore"):  # a number moved by itself may not go with the others, and then there is no figure
        outcome, flows = evaluate(structure, values, shocks), flows_by_year(structure, values, shocks)
    draws = max(array.shape[-1] for array in values.values())
    found = {f"{part}/{path}": array for part in PARTS for path, array in _named(getattr(outcome, part))}
    for part, reference in (
        (ALONE, None),
        ("against_baseline", structure.baseline),
        ("against_today", structure.today),
    ):
        for system in getattr(outcome, part):
            less = 0.0 if reference is None else flows[reference]
            found[f"{FLOWS}/{part}/{system}"] = (flows[system] - less)[:, 0]
    return {path: np.broadcast_to(array, (array.shape[0], draws)) for path, array in found.items()}


def _named(part: Mapping[str, Mapping[str, Array]]) -> Iterator[tuple[str, Array]]:
    for key, figures in part.items():
        for name, array in figures.items():
            yield f"{key}/{name}", array


def _reaction(figures: Mapping[str, Array], made: Probes, path: str, references: Mapping[str, str]) -> _Reaction:
    array = figures[path]
    least = ROUNDING * max((_size(figures[one]) for one in _beside(path, references) if one in figures), default=0.0)
    up, down, low, high, none = (
        _differs(array[:, made.draws(kind)], array[:, :1], least) for kind in (UP, DOWN, LOW, HIGH, NONE)
    )
    return _Reaction(up | down, low, high, none)


def _differs(moved: Array, base: Array, least: float) -> Flags:
    """Whether a figure is another than at the values in force, in any of its years; two gaps are the same."""
    same = (np.abs(moved - base) <= least) | (np.isnan(moved) & np.isnan(base)) | (moved == base)
    return np.asarray(~same.all(axis=0))


def _size(array: Array) -> float:
    """Return the greatest figure at the values in force, 0 where there is none."""
    return float(np.nan_to_num(np.abs(array[:, 0])).max())


def _beside(path: str, references: Mapping[str, str]) -> Iterator[str]:
    """Yield the path and those of the figures it is a difference of, whose rounding it bears."""
    yield path
    part, *keys = path.removeprefix(f"{FLOWS}/").split("/")
    head = f"{FLOWS}/" if path.startswith(FLOWS) else ""
    for system in (keys[0], references.get(part, keys[0])):
        rest = "/".join(keys[1:])
        yield "/".join(filter(None, (f"{head}{ALONE}", system, rest)))
        if rest in MONEY_OF_ALL_YEARS:
            yield f"{ALONE}/{system}/present_value_costs"


def _seen_in(path: str, figures: Mapping[str, Array]) -> str:
    """Return the path of the figure in which it shows what an outcome stands on: itself, or what it is made from."""
    if not np.isnan(figures[path][:, 0]).any():
        return path
    stream, name = path.rsplit("/", 1)
    if name in FROM_FLOWS:
        return f"{FLOWS}/{stream}"
    return f"{stream}/npv" if name in FROM_WORTH else path


def _ends_of_interval(path: str) -> tuple[str, ...]:
    """Return the paths of an interval that stretches with an outcome and stands on the same."""
    stream, name = path.rsplit("/", 1)
    return tuple(f"{stream}/{end}" for end in INTERVAL) if name == LESS_WATER else ()


def _chosen(made: Probes, flags: Flags) -> tuple[str, ...]:
    return tuple(address for address, flag in zip(made.addresses, flags, strict=True) if flag)


def _still(layout: Layout, made: Probes, reactions: Mapping[str, _Reaction], path: str) -> dict[str, str]:
    """Return the addresses that enter a figure and do not move it, each with why."""
    own = reactions[path]
    alone = reactions.get(_alone(path), own).near
    entering = (own.lost | own.low | own.high) & ~own.near
    return {
        address: _why_still(layout, address, moves_alone=bool(alone[n]), low=bool(own.low[n]), high=bool(own.high[n]))
        for n, address in enumerate(made.addresses)
        if entering[n] and not np.isnan(layout.inputs[address].value)
    }


def _alone(path: str) -> str:
    """Return the path of the system's own figure behind a difference."""
    for part in DIFFERENCES:
        path = path.replace(f"{part}/", f"{ALONE}/", 1)
    return path.replace(LESS_WATER, WATER)


def _why_still(layout: Layout, address: str, *, moves_alone: bool, low: bool, high: bool) -> str:
    if moves_alone:
        return CANCELS
    one = layout.inputs[address]
    ends = [f"{end:g}" for end, is_moved in ((_end(one.low), low), (_end(one.high), high)) if is_moved and end == end]
    if low or high:
        return AT_AN_END.format(ends=" or ".join(ends) if ends else "half or twice its value")
    return NO_TRACE


def _end(stated: float | None) -> float:
    return np.nan if stated is None else stated
