"""How far each row of a case may lie off: P10 and P90 of its own distribution, measured and judged rows alike."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.drawn_rows import CHOICE, DrawnRow, drawn_row, drawn_rows, is_drawn, used_addresses
from plotworth.choose.input import Input
from plotworth.choose.layout import Layout
from plotworth.choose.probes import WHOLE_NUMBERS, rows_of_simulations
from plotworth.choose.trial_draws import TrialFigure, follows_the_yield, moved, trial_figures
from plotworth.ground.arrays import Array

ENDS = (0.1, 0.9)
MEASURED_TOGETHER = "trial"


@dataclass(frozen=True)
class RowEnds:
    """A row with its two ends [its own unit] and what it is.

    `kind` constant, yearly (the ends are one year's, taken in every year alike), trial (P10 and P90 of the mean's t
    distribution), or choice: the ends of the range that the decider would look at, no distribution.
    """

    address: str
    low: float
    high: float
    kind: str


def row_ends(layout: Layout, values: Mapping[str, Array]) -> tuple[RowEnds, ...]:
    """Return the ends of every row that could move an outcome and whose two ends differ.

    Parameters: layout; values by address, worked out, shapes (1, 1). Rows that daily simulations stand on are among
    them; what a simulation or a closed formula gives is not, since its own rows are. P10 and P90: of the triangle with
    its top at the value, of the uniform, of the t distribution of the trial's means.
    """
    found = (*_of_rows(layout, values), *_of_trial(layout, values), *_of_choices(layout))
    return tuple(one for one in found if one.low < one.high)


def _of_rows(layout: Layout, values: Mapping[str, Array]) -> Iterator[RowEnds]:
    held = follows_the_yield(layout)
    drawn = [*drawn_rows(layout, values), *_under_simulations(layout, values)]
    for row in drawn:
        if row.address not in held:
            yield RowEnds(row.address, *_percentiles(row), row.nature)


def _under_simulations(layout: Layout, values: Mapping[str, Array]) -> Iterator[DrawnRow]:
    """Yield the rows with a range that a daily simulation reads and the composition itself does not."""
    for address in sorted(_read_by_simulations(layout) - used_addresses(layout.structure)):
        if is_drawn(layout, layout.inputs[address]):
            yield drawn_row(layout.inputs[address], values)


def _read_by_simulations(layout: Layout) -> set[str]:
    return set(rows_of_simulations(layout)) if layout.structure.simulated else set()


def _percentiles(row: DrawnRow) -> tuple[float, float]:
    low, high = row.at(np.array(ENDS))
    if row.address.split("/")[0] in WHOLE_NUMBERS:
        low, high = np.rint(low), np.rint(high)
    return float(low), float(high)


def _of_trial(layout: Layout, values: Mapping[str, Array]) -> Iterator[RowEnds]:
    for figure in trial_figures(layout):
        for address, ends in moved(figure, values, _errors_at_ends(figure)).items():
            yield RowEnds(address, float(ends[0, 0]), float(ends[0, 1]), MEASURED_TOGETHER)


def _errors_at_ends(figure: TrialFigure) -> Array:
    """Return P10 and P90 of the error of each mean, shape (r, 2): t with the degrees of freedom of its strata.

    Of several strata Satterthwaite's: (sum of v)^2 / sum of v^2 / f, v = mean square x loading.
    """
    from scipy.stats import t

    strata = [one for trial in figure.trials for one in trial]
    parts = np.array([one.mean_square * np.diag(one.loading) for one in strata])
    freedoms = np.array([one.degrees_of_freedom for one in strata])[:, None]
    variance = parts.sum(axis=0)
    freedom = variance**2 / (parts**2 / freedoms).sum(axis=0)
    return np.asarray(np.sqrt(variance)[:, None] * t.ppf(np.array(ENDS), freedom[:, None]))


def _of_choices(layout: Layout) -> Iterator[RowEnds]:
    read = used_addresses(layout.structure) | _read_by_simulations(layout)
    for address, one in layout.inputs.items():
        if address in read and one.nature == CHOICE and (ends := _range(one)) is not None:
            yield RowEnds(address, *ends, CHOICE)


def _range(one: Input) -> tuple[float, float] | None:
    return None if one.low is None or one.high is None else (one.low, one.high)
