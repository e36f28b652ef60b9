"""Why the answer moved: the difference of an outcome between two sets of values, shared out to the inputs that moved.

Inputs act together, so that what one of them does depends on which others have moved before. Each is given the mean
of what it does over all orders, its Shapley value: no order is preferred, and the parts add up to the difference.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plotworth.case.scenarios import Scenario, scenario_faults
from plotworth.choose.computed import with_computed
from plotworth.choose.evaluate import evaluate
from plotworth.choose.input_names import input_name
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.simulated import with_simulated
from plotworth.choose.simulated_each import with_simulated_each
from plotworth.ground.amounts import amount_text, figures_text, unit_words
from plotworth.ground.arrays import Array, cell
from plotworth.ground.errors import FaultsError, PlotworthError
from plotworth.ground.glossary import GLOSSARY, unit_text

Values = Mapping[str, Array]
Masks = NDArray[np.bool_]
INPUT, GROUP = "input", "group"
MOST_EXACT = 12
"""More moved inputs or groups than this are shared out over orders drawn by lot: 2^12 sets are one block of draws."""
PAIRS = 512
"""Orders drawn by lot, each with its reverse, which takes out most of the chance in the mean."""
SEED = 1


@dataclass(frozen=True)
class Moved:
    """An input that differs between two sets of values: address, label, unit, group, its value before and after."""

    address: str
    label: str
    unit: str
    group: str
    before: float
    after: float


@dataclass(frozen=True)
class Part:
    """What one input, or the inputs of one group, adds to the difference, in the outcome's unit.

    `amounts` by path of the outcome; `errors`, their Monte Carlo standard errors, 0 where all orders were counted;
    `moved`, the inputs of the part: one, or those of the group.
    """

    label: str
    moved: tuple[Moved, ...]
    amounts: Mapping[str, float]
    errors: Mapping[str, float]


@dataclass(frozen=True)
class Bridge:
    """A difference shared out: by path of an outcome its value before and after, its unit, and the parts.

    `parts` from the input that does most to the first outcome; `orders` [1], 0 where every order was counted exactly.
    """

    before: Mapping[str, float]
    after: Mapping[str, float]
    units: Mapping[str, str]
    parts: tuple[Part, ...]
    by: str
    orders: int

    @property
    def moved(self) -> tuple[Moved, ...]:
        """Every input that differs, in the order of the parts."""
        return tuple(one for part in self.parts for one in part.moved)


def scenario_values(layout: Layout, scenario: Scenario | None) -> Values:
    """Return the values of a case, shapes (1, 1), with a scenario's in their place; the book's own for None.

    What is worked out from others follows. Errors: FaultsError with everything in the scenario the case does not allow.
    """
    if scenario is None:
        return layout.values
    if faults := scenario_faults(scenario, layout.inputs):
        raise FaultsError(faults)
    put = {**layout.values, **{at: cell(value) for at, value in scenario.values.items()}}
    return with_computed(layout.structure.computed, with_simulated(layout, put))


def npv_paths(layout: Layout) -> tuple[str, ...]:
    """Return the paths of every system's net present value, in the order of the case."""
    return tuple(f"systems/{plan.id}/npv" for plan in layout.structure.systems)


def moved_inputs(layout: Layout, before: Values, after: Values) -> tuple[Moved, ...]:
    """Return the inputs that differ between two sets of values, in the order of the case.

    What is worked out from others is left out: its move is that of what it stands on.
    """
    structure = layout.structure
    worked_out = {one.address for one in structure.computed} | {one.address for one in structure.simulated}
    moved = []
    for at, one in layout.inputs.items():
        old, new = float(before[at].flat[0]), float(after[at].flat[0])
        if at not in worked_out and old != new and not (old != old and new != new):
            moved.append(Moved(at, one.label, one.unit, one.group, old, new))
    return tuple(moved)


def usual_grouping(moved: Sequence[Moved]) -> str:
    """Return how so many moved inputs are told apart at best: each by itself up to `MOST_EXACT`, else by group."""
    return INPUT if len(moved) <= MOST_EXACT else GROUP


def bridge(
    layout: Layout,
    before: Values,
    after: Values,
    *,
    paths: Sequence[str] | None = None,
    by: str | None = None,
    pairs: int = PAIRS,
    seed: int = SEED,
) -> Bridge:
    """Return why outcomes moved between two sets of values of a case.

    Parameters: layout; before and after, values by address, shapes (1, 1), as `scenario_values` gives them; paths of
    the outcomes, every system's NPV if left out; by, `input` or `group` (market, costs, labour ...), `usual_grouping`
    if left out; pairs of orders and the seed they are drawn from, where the parts are more than `MOST_EXACT`.
    Returns: a Bridge. Amounts are NaN where the outcome has no value at one of the ends or at a step between.
    Equation: part i = sum over sets S without i of |S|! (k - |S| - 1)! / k! x (f(S with i) - f(S)), f the outcome with
    the inputs of S at their values after and the rest before; sampled: the mean over orders of the step at i. Either
    way the parts add up to f(all) - f(none).
    Errors: PlotworthError where a daily simulation is refused at a step between; KeyError for an unknown path.
    Source: Shapley (1953), A value for n-person games; Castro, Gomez and Tejada (2009) for the sampling.
    """
    moved = moved_inputs(layout, before, after)
    by = usual_grouping(moved) if by is None else by
    paths = npv_paths(layout) if paths is None else tuple(paths)
    players = list(_players(layout, moved, by))

    def outcomes(masks: Masks) -> Array:
        return _outcomes(layout, before, players, masks, paths)

    count = len(players)
    if count <= MOST_EXACT:
        ends, amounts, errors = _exact(outcomes, count)
    else:
        ends, amounts, errors = _sampled(outcomes, count, pairs=pairs, seed=seed)
    parts = [
        Part(label, ones, dict(zip(paths, amount, strict=True)), dict(zip(paths, error, strict=True)))
        for (label, ones), amount, error in zip(players, amounts.tolist(), errors.tolist(), strict=True)
    ]
    first = paths[0]
    parts.sort(key=lambda part: -abs(part.amounts[first]) if math.isfinite(part.amounts[first]) else 0.0)
    start, end = (dict(zip(paths, side.tolist(), strict=True)) for side in ends)
    orders = 0 if count <= MOST_EXACT else 2 * pairs
    return Bridge(start, end, _units(layout, paths), tuple(parts), by, orders)


def _players(layout: Layout, moved: Sequence[Moved], by: str) -> Iterator[tuple[str, tuple[Moved, ...]]]:
    if by == INPUT:
        yield from ((_told_apart(layout, one, moved), (one,)) for one in moved)
        return
    for group in dict.fromkeys(one.group for one in moved):
        yield group, tuple(one for one in moved if one.group == group)


def _told_apart(layout: Layout, one: Moved, moved: Sequence[Moved]) -> str:
    """Return an input's label, with whose it is where another moved input has the same."""
    is_alone = sum(other.label == one.label for other in moved) == 1
    return one.label if is_alone else input_name(layout, one.address)


def _outcomes(
    layout: Layout,
    before: Values,
    players: Sequence[tuple[str, tuple[Moved, ...]]],
    masks: Masks,
    paths: Sequence[str],
) -> Array:
    """Return the outcomes (set, path) with the players of each set, masks (set, player), at their values after."""
    grid: dict[str, Array] = dict(before)
    for place, (_, ones) in enumerate(players):
        for one in ones:
            grid[one.address] = np.where(masks[:, place], one.after, one.before)[None]
    filled, refused = with_simulated_each(layout, grid, [one.address for _, ones in players for one in ones])
    if refused:
        raise PlotworthError(f"On the way from one to the other: {next(iter(refused.values()))}")
    structure = layout.structure
    known = with_computed(structure.computed, filled)
    outcome = evaluate(structure, known, expected_shocks(structure, known))
    columns = [np.broadcast_to(outcome.at(path), (1, len(masks)))[0] for path in paths]
    return np.stack(columns, axis=1)


Ends = tuple[Array, Array]
Outcomes = Callable[[Masks], Array]


def _exact(outcomes: Outcomes, count: int) -> tuple[Ends, Array, Array]:
    """Return the ends, and every player's part over all orders, (player, path), with errors of 0."""
    sets = np.arange(2**count)
    masks = (sets[:, None] >> np.arange(count)) & 1 == 1
    found = outcomes(masks)
    sizes = masks.sum(axis=1)
    weights = np.array([1 / (count * math.comb(count - 1, size)) for size in range(count)])
    parts = np.zeros((count, found.shape[1]))
    for place in range(count):
        without = sets[~masks[:, place]]
        steps = found[without | 1 << place] - found[without]
        parts[place] = (weights[sizes[without]][:, None] * steps).sum(axis=0)
    return (found[0], found[-1]), parts, np.zeros_like(parts)


def _sampled(outcomes: Outcomes, count: int, *, pairs: int, seed: int) -> tuple[Ends, Array, Array]:
    """Return the ends, and every player's mean step over orders drawn by lot, (player, path), with its error."""
    random = np.random.default_rng(seed)
    forward = np.array([random.permutation(count) for _ in range(pairs)])
    orders = np.concatenate([forward, forward[:, ::-1]])
    ranks = np.argsort(orders, axis=1)
    masks = ranks[:, None, :] < np.arange(count + 1)[None, :, None]
    found = outcomes(masks.reshape(-1, count)).reshape(2 * pairs, count + 1, -1)
    steps = np.diff(found, axis=1)
    by_player = np.take_along_axis(steps, ranks[:, :, None], axis=1)
    of_pairs = (by_player[:pairs] + by_player[pairs:]) / 2
    errors = of_pairs.std(axis=0, ddof=1) / math.sqrt(pairs)
    return (found[0, 0], found[0, -1]), of_pairs.mean(axis=0), errors


def _units(layout: Layout, paths: Sequence[str]) -> dict[str, str]:
    currency = layout.case.settings.currency
    return {path: unit_text(GLOSSARY[path.rsplit("/", 1)[1]].unit, currency) for path in paths}


BEFORE, PART, REST, AFTER = "before", "part", "rest", "after"
MOST_BARS = 8


def bridge_rows(found: Bridge, path: str, *, names: tuple[str, str], most: int = MOST_BARS) -> list[dict[str, object]]:
    """Return one outcome's bridge as the rows of a waterfall: before, the parts from the greatest, after.

    Parameters: the bridge; path of the outcome; names of the two sides; most, bars of their own at the most, the
    smaller ones together as `rest`. Each row: kind, label, detail (the value before and after of a single input),
    amount, start and end of its bar, in the outcome's unit. A part of 0 has no bar; no rows where the difference is not
    known.
    """
    amounts = [part.amounts[path] for part in found.parts]
    if not all(math.isfinite(number) for number in (*amounts, found.before[path], found.after[path])):
        return []
    doing = [part for part in found.parts if part.amounts[path]]
    ordered = sorted(doing, key=lambda part: -abs(part.amounts[path]))
    shown, rest = (ordered, []) if len(ordered) <= most else (ordered[: most - 1], ordered[most - 1 :])
    bars = [(PART, part.label, _detail(part), part.amounts[path]) for part in shown]
    if rest:
        bars.append((REST, f"{len(rest)} others together", "", math.fsum(part.amounts[path] for part in rest)))
    levels = found.before[path] + np.concatenate([[0.0], np.cumsum([bar[3] for bar in bars])])
    spans = pairwise(levels.tolist())
    ends = [_row(BEFORE, names[0], "", found.before[path], 0.0, found.before[path])]
    ends += [_row(*bar, *span) for bar, span in zip(bars, spans, strict=True)]
    return [*ends, _row(AFTER, names[1], "", found.after[path], 0.0, found.after[path])]


def _row(kind: str, label: str, detail: str, amount: float, start: float, end: float) -> dict[str, object]:
    return {"kind": kind, "label": label, "detail": detail, "amount": amount, "start": start, "end": end}


def _detail(part: Part) -> str:
    """Return where a single input went from and to, or how many inputs a group holds."""
    if len(part.moved) > 1:
        return f"{len(part.moved)} inputs"
    one = part.moved[0]
    return f"{figures_text(one.before)} to {amount_text(one.after, unit_words(one.unit))}"
