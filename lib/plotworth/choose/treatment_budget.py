"""The partial budget of a case: its systems as treatments, by season, each from the one composition.

Everything is per planted square metre and season, in a year after learning, at the case's expected harvest. What is
the same for all treatments drops out. The method is that of CIMMYT (1988), see `money.budget`.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.case.cost_lines import CAPITAL, SEASONAL, CostLine
from plotworth.choose.assumed import YIELD_NAMES
from plotworth.choose.evaluate import run_systems
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.system import SystemYear
from plotworth.ground.arrays import Array, cell
from plotworth.money.budget import (
    NONE,
    MarginalAnalysis,
    extra_yield_required,
    gross_field_benefit,
    marginal_analysis,
    net_benefit,
    recommended,
    residuals,
)
from plotworth.money.costs import CostItem, counted
from plotworth.money.labour import Hours
from plotworth.money.measures import capital_recovery_factor

Values = Mapping[str, Array]
MINIMUM_RETURN = "minimum_return_share"
FIELD_WORK, CARRYING, ENERGY = "field work but for the harvest", "carrying water", "energy for the pump"
SAME_COST = 1e-9
"""Relative difference up to which a cost of two treatments is the same: the same lines, divided by other ground."""


@dataclass(frozen=True)
class BudgetColumn:
    """A treatment of a budget, per planted m2 and season.

    `yield_kg_per_m2` as the trial measured it (the mean of its block model) or the book states it;
    `adjusted_yield_kg_per_m2`: what of it is sold or eaten on the farm, times the share of seasons that bring a
    harvest; `field_price_per_kg` [money/kg]: farm-gate price less harvest work and lines by the kilogram;
    `gross_benefit` [money/m2], their product; `costs` [money/m2] by name, those common to all among them.
    """

    system: str
    label: str
    is_measured: bool
    planted_m2: float
    yield_kg_per_m2: float
    adjusted_yield_kg_per_m2: float
    field_price_per_kg: float
    gross_benefit: float
    costs: Mapping[str, float]


@dataclass(frozen=True)
class Neighbours:
    """A treatment against the undominated one before it in costs that vary: what it must yield more, what it does.

    Yields are adjusted ones [kg/m2]; `at_trial`, the extra yield required in kilograms of the trial; NaN where the
    field price is not above 0.
    """

    system: str
    before: str
    extra_cost: float
    required_kg_per_m2: float
    measured_kg_per_m2: float
    required_at_trial_kg_per_m2: float


@dataclass(frozen=True)
class TreatmentBudget:
    """The partial budget of one crop and season; arrays in the order of `columns`, money per planted m2 and season.

    `varying` [money/m2] by name of cost and column; `common` those equal in all columns; `minimum_return` [share of
    costs that vary, over the season]; `recommended`, the position of the treatment, NONE where none is known.
    """

    crop: str
    season: str
    columns: tuple[BudgetColumn, ...]
    varying: Mapping[str, Array]
    common: Mapping[str, float]
    varying_costs: Array
    net_benefits: Array
    analysis: MarginalAnalysis
    minimum_return: float
    is_minimum_stated: bool
    residuals: Array
    recommended: int
    neighbours: tuple[Neighbours, ...]

    @property
    def labels(self) -> tuple[str, ...]:
        """The treatments as people call them."""
        return tuple(column.label for column in self.columns)

    @property
    def recommended_system(self) -> str:
        """The id of the recommended treatment's system, "" where none is known."""
        return self._system(self.recommended)

    def before(self, place: int) -> str:
        """Return the id of the treatment that the one at a place has its marginal rate over, "" where there is none."""
        return self._system(int(self.analysis.compared_with[place]))

    def _system(self, place: int) -> str:
        return "" if place == NONE else self.columns[place].system

    @property
    def is_comparison(self) -> bool:
        """Whether there is more than one treatment to set beside each other."""
        return len(self.columns) > 1


def treatment_budgets(layout: Layout, values: Values) -> tuple[TreatmentBudget, ...]:
    """Return a partial budget for every crop and season of a case, seasons of the main crop first.

    Parameters: layout; values by address, shapes (1, 1), worked out (`Appraisal.values`).
    Equations: gross benefit = harvested share of seasons x (benefit - harvest cost) / planted m2; costs that vary =
    seasonal lines, water, work and energy of the season / planted m2, yearly lines and capital as an annuity over its
    life at the discount rate / planted m2 of all seasons of the year; residual value at the end of a life is 0.
    Working capital is no cost here: the minimum return stands for what money costs over the season.
    """
    shocks = expected_shocks(layout.structure, values)
    systems = run_systems(layout.structure, values, shocks)
    found: dict[tuple[str, str], list[BudgetColumn]] = {}
    for name, system in systems.items():
        for place, plan in enumerate(system.plan.seasons):
            harvested = float(shocks[name, plan.season].mean())
            column = _column(layout, values, system, place, harvested)
            found.setdefault((plan.crop, plan.season), []).append(column)
    main = layout.structure.main_crop
    ordered = sorted(found, key=lambda key: key[0] != main)
    return tuple(_budget(layout, values, *key, found[key]) for key in ordered)


def _column(layout: Layout, values: Values, system: SystemYear, place: int, harvested: float) -> BudgetColumn:
    season, plan = system.seasons[place], system.plan.seasons[place]
    planted = _number(season.planted_m2)
    kilograms = _number(season.chain.sold + season.chain.eaten)
    earned = _number(season.benefit - system.amounts.harvest_cost[place])
    price = earned / kilograms if kilograms else np.nan
    adjusted = harvested * kilograms / planted
    return BudgetColumn(
        system=system.plan.id,
        label=system.plan.label,
        is_measured=_is_measured(layout, plan),
        planted_m2=planted,
        yield_kg_per_m2=_number(season.yield_kg_per_m2),
        adjusted_yield_kg_per_m2=adjusted,
        field_price_per_kg=price,
        gross_benefit=float(gross_field_benefit(adjusted, price)) if kilograms else harvested * earned / planted,
        costs=_costs(layout, values, system, place),
    )


def yield_addresses(plan: SeasonPlan) -> tuple[str, ...]:
    """Return the addresses that state the yield of a season: the yield, or fruits and fruit mass."""
    return tuple(plan.addresses[name] for name in YIELD_NAMES if name in plan.addresses)


def _is_measured(layout: Layout, plan: SeasonPlan) -> bool:
    return all(layout.inputs[at].origin == "trial" for at in yield_addresses(plan))


def _number(array: Array) -> float:
    return float(array[0, 0])


def _costs(layout: Layout, values: Values, system: SystemYear, place: int) -> dict[str, float]:
    """Return the costs of a season per planted m2 by name; lines of one name are added up."""
    costs: dict[str, float] = {}
    for name, amount in _amounts(layout, values, system, place):
        costs[name] = costs.get(name, 0.0) + amount
    return costs


def _amounts(layout: Layout, values: Values, system: SystemYear, place: int) -> Iterator[tuple[str, float]]:
    lines = [line for line in layout.case.costs if line.system in ("", system.plan.id)]
    for line, item in zip(lines, system.plan.costs, strict=True):
        yield from _line_amount(line, item, values, system, place)
    season, plan = system.seasons[place], system.plan
    planted = _number(season.planted_m2)
    none = Hours(cell(0.0), cell(0.0))
    carrying = none.plus(season.carrying_h, values[plan.addresses["carrying_family_share"]]).cost(system.wages)
    work = system.work.steady[place].cost(system.wages) - carrying
    for name, amount in ((FIELD_WORK, work), (CARRYING, carrying), (ENERGY, system.energy[place])):
        yield name, _number(amount) / planted


def _line_amount(
    line: CostLine, item: CostItem, values: Values, system: SystemYear, place: int
) -> Iterator[tuple[str, float]]:
    """Yield what a line costs per planted m2 of a season; nothing where the season does not bear it."""
    if item.basis == "kg_sold":  # in the field price
        return
    price = values[item.price_address] * (system.sizes.own_share if item.is_shared else 1.0)
    quantity = values[item.quantity_address]
    if item.group == SEASONAL:
        if place in item.seasons:
            amount = counted(item, quantity, system.sizes, place) * price
            yield line.item, _number(amount) / _number(system.seasons[place].planted_m2)
        return
    amount = counted(item, quantity, system.sizes, None) * price
    if item.group == CAPITAL and item.life_years is not None:
        rate = values[system.plan.addresses["discount_rate"]]
        amount = amount * system.sizes.capital_factor * capital_recovery_factor(rate, item.life_years)
    yield line.item, _number(amount) * _share_per_m2(item, system, place)


def _share_per_m2(item: CostItem, system: SystemYear, place: int) -> float:
    """Return the part of a year's cost that a planted m2 of a season bears [1/m2]: by ground, of water by water."""
    planted = [_number(season.planted_m2) for season in system.seasons]
    water = [_number(season.water_m3) for season in system.seasons]
    if item.basis == "m3" and sum(water) > 0.0:
        return water[place] / sum(water) / planted[place]
    return 1.0 / sum(planted)


def _budget(layout: Layout, values: Values, crop: str, season: str, columns: Sequence[BudgetColumn]) -> TreatmentBudget:
    varying, common = _split(columns)
    costs = sum(varying.values(), start=np.zeros(len(columns)))
    benefits = net_benefit([column.gross_benefit for column in columns], costs)
    analysis = marginal_analysis(costs, benefits)
    minimum = _number(values[MINIMUM_RETURN])
    return TreatmentBudget(
        crop=crop,
        season=season,
        columns=tuple(columns),
        varying=varying,
        common=common,
        varying_costs=costs,
        net_benefits=benefits,
        analysis=analysis,
        minimum_return=minimum,
        is_minimum_stated=layout.inputs[MINIMUM_RETURN].origin != "absent",
        residuals=residuals(benefits, costs, minimum),
        recommended=int(recommended(benefits, costs, minimum)),
        neighbours=tuple(_neighbours(columns, costs, analysis, minimum)),
    )


def _split(columns: Sequence[BudgetColumn]) -> tuple[dict[str, Array], dict[str, float]]:
    """Return costs that differ between columns, and those that are the same in all; a cost of nobody is neither."""
    varying: dict[str, Array] = {}
    common: dict[str, float] = {}
    for name in dict.fromkeys(name for column in columns for name in column.costs):
        amounts = np.array([column.costs.get(name, 0.0) for column in columns])
        if not np.allclose(amounts, amounts[0], rtol=SAME_COST, atol=0.0):
            varying[name] = amounts
        elif amounts[0]:
            common[name] = float(amounts[0])
    return varying, common


def _neighbours(
    columns: Sequence[BudgetColumn], costs: Array, analysis: MarginalAnalysis, minimum: float
) -> Iterator[Neighbours]:
    """Yield each treatment against the dearest undominated one that costs no more, by rising costs."""
    standing = [k for k in np.argsort(costs, kind="stable") if not analysis.is_dominated[k] and np.isfinite(costs[k])]
    for own in np.argsort(costs, kind="stable"):
        before = analysis.compared_with[own]
        if analysis.is_dominated[own]:
            before = next((k for k in reversed(standing) if costs[k] <= costs[own]), NONE)
        if before != NONE:
            yield _pair(columns[own], columns[before], float(costs[own] - costs[before]), minimum)


def _pair(own: BudgetColumn, before: BudgetColumn, extra_cost: float, minimum: float) -> Neighbours:
    """Return a pair of treatments; where their field prices differ, the dearer first makes up for that."""
    price = own.field_price_per_kg
    required = float(extra_yield_required(extra_cost, minimum, price))
    required += before.adjusted_yield_kg_per_m2 * (before.field_price_per_kg / price - 1.0)
    adjustment = own.adjusted_yield_kg_per_m2 / own.yield_kg_per_m2 if own.yield_kg_per_m2 else np.nan
    return Neighbours(
        system=own.system,
        before=before.system,
        extra_cost=extra_cost,
        required_kg_per_m2=required,
        measured_kg_per_m2=own.adjusted_yield_kg_per_m2 - before.adjusted_yield_kg_per_m2,
        required_at_trial_kg_per_m2=required / adjustment if adjustment else np.nan,
    )
