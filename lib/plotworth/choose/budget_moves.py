"""How far prices and yields decide a partial budget: each set to an end of its interval, the whole worked out anew."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from plotworth.choose.layout import Layout
from plotworth.choose.lines import worked_out
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.treatment_budget import TreatmentBudget, Values, treatment_budgets, yield_addresses
from plotworth.ground.arrays import cell

PRICE = "market_price_per_kg"
LOW, HIGH = "low", "high"


@dataclass(frozen=True)
class MovedBudget:
    """A budget with one quantity at an end of its interval; `budget` is None where the case states no interval.

    `quantity` is "price", the market price of the crop for all treatments, or the id of the system whose yield moves;
    `end` low or high; `value` in the unit of the quantity, the first address's where several move together.
    """

    quantity: str
    end: str
    value: float
    budget: TreatmentBudget | None


def moved_budgets(layout: Layout, values: Values, budget: TreatmentBudget) -> tuple[MovedBudget, ...]:
    """Return a budget with the market price, then each treatment's yield, at both ends of its interval.

    The interval is that of the book or, for a yield taken from the trial, the trial's own. `values` worked out.
    """
    plans = {
        plan.id: season
        for plan in layout.structure.systems
        for season in plan.seasons
        if (season.crop, season.season) == (budget.crop, budget.season)
    }
    return tuple(
        moved
        for quantity, addresses in _quantities(plans)
        for moved in _both_ends(layout, values, budget, quantity, addresses)
    )


def _quantities(plans: Mapping[str, SeasonPlan]) -> Iterator[tuple[str, tuple[str, ...]]]:
    yield "price", tuple(dict.fromkeys(plan.addresses[PRICE] for plan in plans.values()))
    for system, plan in plans.items():
        yield system, yield_addresses(plan)


def _both_ends(
    layout: Layout, values: Values, budget: TreatmentBudget, quantity: str, addresses: Sequence[str]
) -> Iterator[MovedBudget]:
    for end in (LOW, HIGH):
        ends = {at: getattr(layout.inputs[at], end) for at in addresses}
        stated = {at: float(value) for at, value in ends.items() if value is not None}
        if not stated:
            yield MovedBudget(quantity, end, float("nan"), None)
            continue
        moved = worked_out(layout, {**values, **{at: cell(value) for at, value in stated.items()}})
        found = {(one.crop, one.season): one for one in treatment_budgets(layout, moved)}
        yield MovedBudget(quantity, end, next(iter(stated.values())), found[budget.crop, budget.season])
