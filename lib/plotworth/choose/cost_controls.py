"""Which inputs a panel on money offers: the largest cost lines, loans and grants, wages, sharing, contingencies."""

from collections.abc import Iterator, Sequence

import numpy as np

from plotworth.case.cost_lines import HOUR
from plotworth.choose.controls import Control, control_of
from plotworth.choose.evaluate import run_systems
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.labour_months import lines_with_items
from plotworth.choose.labour_peak import AT_HAND
from plotworth.choose.layout import Layout
from plotworth.choose.scale_ladder import has_shared_lines
from plotworth.choose.structure import AREA
from plotworth.choose.system import SystemYear
from plotworth.ground.arrays import Array
from plotworth.money.costs import CostItem, add_up, replacement_years
from plotworth.money.measures import discount_factors

FIRST_LINES, MORE_LINES = 3, 4
LOAN, GRANT = "loan/", "grant/"
FIRST = ("family_wage_per_hour", AT_HAND)
MORE = ("hired_wage_per_hour", "off_season_wage_share", "working_capital_share", "discount_rate")
ON_CAPITAL = ("physical_contingency_share", "price_contingency_share")
ON_SHARED = ("households_sharing", "other_use_share")
MOST_CONTINGENCY, MOST_SHARING, MOST_OTHER_USE = 0.5, 10.0, 0.9
SPANS = {
    "physical_contingency_share": (0.0, MOST_CONTINGENCY),
    "price_contingency_share": (0.0, MOST_CONTINGENCY),
    "households_sharing": (1.0, MOST_SHARING),
    "other_use_share": (0.0, MOST_OTHER_USE),
}
"""Where a slider runs for what the book need not state, so that it has no range of its own."""


def cost_controls(layout: Layout) -> list[Control]:
    """Return the controls of money that matter most: the dearest lines, loans and grants, family wage, hours at hand.

    A control whose number is not known is left out; each address comes once.
    """
    lines = [control for line in _dearest(layout)[:FIRST_LINES] for control in _of_line(layout, line)]
    return _once([*lines, *_financing(layout), *_named(layout, FIRST)])


def more_cost_controls(layout: Layout) -> list[Control]:
    """Return the other controls of money: area, further lines, wages, sharing where a line is shared, contingencies."""
    lines = _dearest(layout)[FIRST_LINES : FIRST_LINES + MORE_LINES]
    names = (*MORE, *(ON_SHARED if has_shared_lines(layout) else ()), *ON_CAPITAL)
    area = layout.inputs[AREA]
    found = [control_of(area, area.label), *_named(layout, names)]
    shown = {control.input.address for control in cost_controls(layout)}
    found += [control for line in lines for control in _of_line(layout, line)]
    return [control for control in _once(found) if control.input.address not in shown]


def line_worths(layout: Layout) -> dict[str, float]:
    """Return the present value of every cost line over the horizon [money], by its address, at the book's values.

    A line of all systems counts once, where it is dearest; lines in hours, which the wage prices, are left out.
    Equation: sum of capital x v^(years it is bought) + running amount x annuity factor; residuals not taken off.
    """
    values = layout.values
    systems = run_systems(layout.structure, values, expected_shocks(layout.structure, values))
    rate = values[layout.structure.systems[0].addresses["discount_rate"]]
    factors = discount_factors(rate, layout.structure.horizon_years)
    worths: dict[str, float] = {}
    for system in systems.values():
        for line, item in lines_with_items(layout, system.plan):
            if line.basis != HOUR:
                worth = _worth(layout, system, item, factors)
                worths[line.address] = max(worth, worths.get(line.address, -np.inf))
    return worths


def _worth(layout: Layout, system: SystemYear, item: CostItem, factors: Array) -> float:
    horizon = layout.structure.horizon_years
    bill = add_up((item,), layout.values, system.sizes, horizon)
    running = sum((*bill.seasonal, *bill.harvest), start=bill.yearly) * factors[1:].sum(axis=0)
    bought = (
        amount * sum(factors[year] for year in replacement_years(life, horizon))
        for life, amount in bill.capital.items()
    )
    return float(sum(bought, start=running).flat[0])


def _dearest(layout: Layout) -> list[str]:
    """Return the addresses of the cost lines whose present value is known, the dearest first."""
    worths = {address: worth for address, worth in line_worths(layout).items() if worth == worth}
    return sorted(worths, key=lambda address: -worths[address])


def _of_line(layout: Layout, line: str) -> Iterator[Control]:
    """Yield the control of a line's price, and of its quantity where the book gives that a range."""
    price, quantity = (layout.inputs[f"{line}/{end}"] for end in ("unit_price", "quantity"))
    owners = [plan.label for plan in layout.structure.systems if line.startswith(f"cost/{plan.id}/")]
    for one in (price, quantity):
        if one is price or (one.low is not None and one.high is not None and one.low < one.high):
            yield control_of(one, _owned(one.label.capitalize(), owners))


def _owned(label: str, owners: Sequence[str]) -> str:
    return f"{label}, {owners[0]}" if owners else label


def _financing(layout: Layout) -> Iterator[Control]:
    """Yield the controls of loans and grants, shares of the investment from none to all of it."""
    labels = {plan.id: plan.label for plan in layout.structure.systems}
    for address, one in layout.inputs.items():
        if address.startswith((LOAN, GRANT)):
            kind = "Loan" if address.startswith(LOAN) else "Grant"
            label = _owned(f"{kind} of {one.label}", [labels[address.split("/")[1]]])
            yield Control(one, label, 0.0, 1.0) if one.unit == "share" else control_of(one, label)


def _named(layout: Layout, names: Sequence[str]) -> Iterator[Control]:
    """Yield the controls of assumptions by name, with the system's label where a row holds for one system alone."""
    for name in names:
        for plan in layout.structure.systems:
            one = layout.inputs[plan.addresses[name]]
            label = _owned(one.label, [plan.label] if f"/{plan.id}" in one.address else [])
            spanned = name in SPANS and one.low is None
            yield Control(one, label, *SPANS[name]) if spanned else control_of(one, label)


def _once(controls: Sequence[Control]) -> list[Control]:
    """Return the controls whose number is known, each address once."""
    seen = {control.input.address: control for control in controls if control.input.value == control.input.value}
    return list(seen.values())
