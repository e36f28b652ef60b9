"""The three views of a case, which are sets of prices: in hand, in full, and to the economy; and three wage views.

A view changes values at addresses and nothing else; the composition and its outcomes stay the same.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.choose.appraise import PARTS, Plain
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.season import EATEN_COUNTED
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.system import WATER_VALUE
from plotworth.ground.arrays import Array, cell

Values = Mapping[str, Array]
CASH, FULL, ECONOMIC = "cash", "full", "economic"
VIEWS = (CASH, FULL, ECONOMIC)
FAMILY_WAGE, HIRED_WAGE = "family_wage_per_hour", "hired_wage_per_hour"
WAGE_FACTORS: Mapping[str, str] = {
    FAMILY_WAGE: "economic_family_wage_factor",
    HIRED_WAGE: "economic_hired_wage_factor",
}
ZERO_WAGE, OFF_SEASON_WAGE, FULL_WAGE = "zero", "off season", "full"
OFF_SEASON_SHARE = "off_season_wage_share"
VIEWED = ("npv", "equivalent_annual_value", "benefit_cost_ratio", "return_per_family_day")
"""Outcomes that are set side by side."""


@dataclass(frozen=True)
class Seen:
    """What a case comes to in one view: `figures[part][system][name]` as in an appraisal, NaN without a value."""

    view: str
    figures: Mapping[str, Plain]

    def ranking(self) -> tuple[str, ...]:
        """Return the systems from the greatest NPV to the least; none where one is not known."""
        worth = {system: figures["npv"] for system, figures in self.figures["systems"].items()}
        if any(npv != npv for npv in worth.values()):
            return ()
        return tuple(sorted(worth, key=lambda system: -worth[system]))

    def is_as(self, other: "Seen") -> bool:
        """Return whether every figure is that of another view to the last digit."""
        return np.array_equal(self._numbers(), other._numbers(), equal_nan=True)

    def _numbers(self) -> list[float]:
        return [value for part in self.figures.values() for own in part.values() for value in own.values()]


def in_view(layout: Layout, values: Values, view: str) -> dict[str, Array]:
    """Return `values` with the prices of a view put in their place.

    Parameters: layout; values by address, of any (site, draw) shape, in the full view; view, one of `VIEWS`.
    Returns: values by address for `evaluate`. Cash: family work at 0, nothing for what is eaten at home. Full: as
    they are. Economic: the price of each cost line x its economic factor (0 for a transfer), family and hired
    wage x theirs, the farm-gate price x economic_price_factor, water_scarcity_value_per_m3 on every cubic metre
    drawn, economic_discount_rate for the discount rate. With all factors at 1, no value of water and one rate the
    economic view is the full one to the last digit.
    Errors: KeyError for another view.
    """
    return {**values, **_CHANGES[view](layout, values)}


def _cash(layout: Layout, _values: Values) -> dict[str, Array]:
    return {**{at: cell(0.0) for at in _addresses(layout, FAMILY_WAGE)}, EATEN_COUNTED: cell(0.0)}


def _full(_layout: Layout, _values: Values) -> dict[str, Array]:
    return {}


def _economic(layout: Layout, values: Values) -> dict[str, Array]:
    changed = {at: values[at] * factor for at, factor in _line_factors(layout)}
    for season in _seasons(layout):
        at = season.addresses
        for wage, factor in WAGE_FACTORS.items():
            changed[at[wage]] = values[at[wage]] * values[at[factor]]
        changed[season.value_factor] = values[at["economic_price_factor"]]
        changed[at["discount_rate"]] = values[at["economic_discount_rate"]]
        changed[WATER_VALUE] = values[at["water_scarcity_value_per_m3"]]
    return changed


_CHANGES: Mapping[str, Callable[[Layout, Values], dict[str, Array]]] = {
    CASH: _cash,
    FULL: _full,
    ECONOMIC: _economic,
}


def _line_factors(layout: Layout) -> Iterator[tuple[str, float]]:
    """Yield the price address of each cost line and its factor; a line counted in hours follows the hired wage."""
    for line in layout.case.costs:
        if line.unit_price is not None:
            yield f"{line.address}/unit_price", line.economic_factor


def _seasons(layout: Layout) -> Iterator[SeasonPlan]:
    for plan in layout.structure.systems:
        yield from plan.seasons


def _addresses(layout: Layout, name: str) -> Sequence[str]:
    return list(dict.fromkeys(season.addresses[name] for season in _seasons(layout)))


def wage_views(layout: Layout, values: Values) -> dict[str, dict[str, Array]]:
    """Return `values` with family work at 0, at its off-season wage where the book states one, and at its full wage.

    off-season wage = family wage x off_season_wage_share. Food eaten at home counts in all three.
    """
    shares: dict[str, Array] = {ZERO_WAGE: cell(0.0)}
    share = values[_addresses(layout, OFF_SEASON_SHARE)[0]]
    if (share == share).all():
        shares[OFF_SEASON_WAGE] = share
    wages = _addresses(layout, FAMILY_WAGE)
    changed = {
        view: {**values, **{at: cell(0.0) if view == ZERO_WAGE else values[at] * share for at in wages}}
        for view, share in shares.items()
    }
    return {**changed, FULL_WAGE: dict(values)}


def see(layout: Layout, values: Values, view: str) -> Seen:
    """Return what a case comes to with `values`, shapes (1, 1), under the name of a view."""
    outcome = evaluate(layout.structure, values, expected_shocks(layout.structure, values))
    figures = {
        part: {
            system: {name: float(own[name][0, 0]) for name in VIEWED if name in own}
            for system, own in getattr(outcome, part).items()
        }
        for part in PARTS
    }
    return Seen(view, figures)


def three_views(layout: Layout, values: Values) -> tuple[Seen, ...]:
    """Return what a case comes to in hand, in full and to the economy, in the order of `VIEWS`."""
    return tuple(see(layout, in_view(layout, values, view), view) for view in VIEWS)


def three_wages(layout: Layout, values: Values) -> tuple[Seen, ...]:
    """Return what a case comes to with family work at 0, at its off-season wage where stated, at its wage."""
    return tuple(see(layout, seen, view) for view, seen in wage_views(layout, values).items())
