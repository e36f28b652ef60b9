"""Draws kept beside what they come to: the rows drawn and the NPV of every system, for shares and values from them."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.draws import BLOCK, DrawPlan, draw_block, draw_plan
from plotworth.choose.events import Events
from plotworth.choose.layout import Layout
from plotworth.choose.lines import OWN_WORTH, worked_out
from plotworth.choose.present_worth import net_present_values
from plotworth.choose.risk import ALL_EVENTS, SEED
from plotworth.ground.arrays import Array

SAMPLE_DRAWS = 16_384
MOST_KEPT = 131_072
"""Draws kept at the most: a hundred rows of them take 100 MB."""
Values = Mapping[str, Array]


@dataclass(frozen=True, repr=False)
class DrawnSample:
    """Draws of a case: `addresses` of k rows, `drawn` (k, draw) [their units], `npv` by system [money], (draw,).

    A yearly row stands with the one level of its years; `plan`, what was drawn and how.
    """

    plan: DrawPlan
    addresses: tuple[str, ...]
    drawn: Array
    npv: Mapping[str, Array]

    @property
    def outcomes(self) -> Array:
        """NPV of every system in the order of the case, shape (system, draw)."""
        return np.array([self.npv[system.id] for system in self.plan.structure.systems])

    def difference(self, system: str, reference: str) -> Array:
        """Return NPV of a system less that of its reference, its own with `OWN_WORTH` [money], shape (draw,)."""
        return self.npv[system] if reference == OWN_WORTH else self.npv[system] - self.npv[reference]

    def of_rows(self, addresses: tuple[str, ...]) -> Array:
        """Return the draws of some rows, shape (row, draw)."""
        return self.drawn[[self.addresses.index(at) for at in addresses]]


def drawn_sample(
    layout: Layout, values: Values, *, draws: int = SAMPLE_DRAWS, seed: int = SEED, events: Events = ALL_EVENTS
) -> DrawnSample:
    """Return draws of a case with the rows drawn, at most 131,072 of them.

    Parameters as in `risk`. The draws are independent, not quasi-random: shares of variance and errors of values take
    off what chance alone would show, and quasi-random points show less of it. A row that does not vary is left out.
    """
    plan = draw_plan(layout, worked_out(layout, values), seed=seed, events=events, quasi_random=False)
    addresses = plan.addresses
    drawn, parts = [], []
    for start in range(0, min(draws, MOST_KEPT), BLOCK):
        width = min(BLOCK, min(draws, MOST_KEPT) - start)
        block = draw_block(plan, start // BLOCK, width)
        worth = net_present_values(layout.structure, block.values, block.shocks)
        drawn.append(_rows(block.values, addresses, width))
        parts.append({system: np.broadcast_to(found[0], (width,)) for system, found in worth.items()})
    rows = np.concatenate(drawn, axis=1)
    varies = np.ptp(rows, axis=1) > 0
    npv = {system: np.concatenate([part[system] for part in parts]) for system in parts[0]}
    kept = tuple(at for at, is_kept in zip(addresses, varies, strict=True) if is_kept)
    return DrawnSample(plan, kept, rows[varies], npv)


def _rows(values: Values, addresses: tuple[str, ...], draws: int) -> Array:
    rows = np.empty((len(addresses), draws))
    for place, address in enumerate(addresses):
        rows[place] = values[address][0]
    return rows
