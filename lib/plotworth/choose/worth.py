"""What each system is worth, alone and against a reference line: every stream measured in one go."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plotworth.choose.structure import Structure
from plotworth.choose.system import SystemYear
from plotworth.ground.arrays import Array
from plotworth.money.cashflow import PresentValues, by_year, present_values
from plotworth.money.measures import (
    benefit_cost_ratio,
    cost_per_kg,
    discount_factors,
    equivalent_annual_value,
    modified_rate_of_return,
    payback_years,
)
from plotworth.money.rates import RateOfReturn, internal_rate_of_return

Pairs = Sequence[tuple[str, str, str | None]]
Named = dict[str, dict[str, Array]]
COLUMNS = 8192
"""Columns of flows measured side by side."""


@dataclass(frozen=True)
class Rates:
    """Discount, finance and reinvestment rate [share/year] and the discount factors, shape (T+1, site, draw)."""

    discount: Array
    finance: Array
    reinvestment: Array
    factors: Array


@dataclass(frozen=True)
class Worth:
    """A stream: flows by year [money], shape (T+1, ...), and present values of what comes in and is paid [money]."""

    flows: Array
    benefits: Array
    costs: Array

    def less(self, other: "Worth") -> "Worth":
        """Return this stream less another: benefits with minus without, costs with minus without."""
        return Worth(self.flows - other.flows, self.benefits - other.benefits, self.costs - other.costs)


def measure(
    systems: Mapping[str, SystemYear], pairs: Pairs, structure: Structure, values: Mapping[str, Array]
) -> tuple[Named, Named]:
    """Return the measures of every stream in `pairs`, and the facts that reasons are told from, by part/system."""
    rates = _rates(structure, values)
    present = {name: present_values(s.amounts, s.weights, rates.factors) for name, s in systems.items()}
    alone = {name: _worth(s, present[name], structure.horizon_years) for name, s in systems.items()}
    named: Named = {}
    facts: Named = {}
    known: dict[tuple[str | None, str | None], RateOfReturn] = {}
    for some in _groups(pairs, alone):
        worth = _stacked(_streams(some, alone))
        found = _rates_of_return(some, worth, known)
        measures, told = _measures(worth, _differ(some), rates, structure.horizon_years, found)
        for n, (part, name, _) in enumerate(some):
            named[f"{part}/{name}"] = {measure: array[n] for measure, array in measures.items()}
            facts[f"{part}/{name}"] = {fact: array[n] for fact, array in told.items()}
    for name, system in systems.items():
        own = named[f"systems/{name}"]
        own["cost_per_kg"] = _cost_per_kg(system, present[name], structure.main_crop)
        own["return_per_family_day"] = _per_family_day(system, own["equivalent_annual_value"])
    return named, facts


def _groups(pairs: Pairs, alone: Mapping[str, Worth]) -> list[Pairs]:
    """Return the pairs in groups whose streams are measured side by side: few enough to stay in the cache."""
    columns = max(one.flows[0].size for one in alone.values())
    together = max(1, COLUMNS // columns)
    return [pairs[first : first + together] for first in range(0, len(pairs), together)]


def _streams(pairs: Pairs, alone: Mapping[str, Worth]) -> list[Worth]:
    return [alone[name] if ref is None else alone[name].less(alone[ref]) for _, name, ref in pairs]


def _rates_of_return(
    pairs: Pairs, worth: Worth, known: dict[tuple[str | None, str | None], RateOfReturn]
) -> RateOfReturn:
    """Return the rates of a group, and keep a lone stream's: taken the other way round, a difference has the same."""
    (_, name, reference), *more = pairs
    if more:
        return internal_rate_of_return(worth.flows)
    mirrored = known.get((reference, name))
    known[name, reference] = internal_rate_of_return(worth.flows) if mirrored is None else mirrored
    return known[name, reference]


def _differ(pairs: Pairs) -> NDArray[np.bool_]:
    """Return for each pair whether it is a difference, shape (pair, 1, 1)."""
    return np.array([ref is not None for *_, ref in pairs])[:, None, None]


def _rates(structure: Structure, values: Mapping[str, Array]) -> Rates:
    addresses = structure.systems[0].addresses
    discount = values[addresses["discount_rate"]]
    return Rates(
        discount,
        values[addresses["finance_rate"]],
        values[addresses["reinvestment_rate"]],
        discount_factors(discount, structure.horizon_years),
    )


def _worth(system: SystemYear, present: PresentValues, horizon_years: int) -> Worth:
    costs = present.capital + system.amounts.steady * present.steady_factor + sum(present.harvest_cost)
    benefits = sum(present.benefit) + present.released
    return Worth(by_year(system.amounts, system.weights, horizon_years), benefits, costs)


def _stacked(streams: Sequence[Worth]) -> Worth:
    """Return streams side by side: flows (T+1, stream, site, draw), present values (stream, site, draw)."""
    shape = np.broadcast_shapes(*(s.flows.shape[1:] for s in streams), *(s.benefits.shape for s in streams))
    years = streams[0].flows.shape[0]
    flows, benefits, costs = (np.empty((*lead, len(streams), *shape)) for lead in ((years,), (), ()))
    for n, stream in enumerate(streams):
        flows[:, n], benefits[n], costs[n] = stream.flows, stream.benefits, stream.costs
    return Worth(flows, benefits, costs)


def _measures(
    worth: Worth, is_difference: NDArray[np.bool_], rates: Rates, horizon_years: int, found: RateOfReturn
) -> tuple[dict[str, Array], dict[str, Array]]:
    npv = worth.benefits - worth.costs
    needs_less_first = is_difference & (worth.flows[0] > 0)
    factors = rates.factors[:, None]
    ratio = benefit_cost_ratio(worth.benefits, worth.costs)
    measures = {
        "present_value_benefits": worth.benefits,
        "present_value_costs": worth.costs,
        "npv": npv,
        "irr": found.rate,
        "mirr": modified_rate_of_return(worth.flows, rates.finance, rates.reinvestment),
        "benefit_cost_ratio": np.where(needs_less_first, np.nan, ratio),
        "simple_payback_years": payback_years(worth.flows),
        "discounted_payback_years": payback_years(worth.flows * factors),
        "equivalent_annual_value": equivalent_annual_value(npv, rates.discount, horizon_years),
    }
    return measures, {"root_count": found.root_count.astype(np.float64), "first_flow": worth.flows[0]}


def _per_family_day(system: SystemYear, equivalent_annual_value: Array) -> Array:
    """Return what a day of family work earns after everything else [money/day]: (EAV + its wages) / its days.

    NaN where the family does no work. Both are of a year like all others: hours of a full year.
    """
    hours = system.family_hours
    with np.errstate(divide="ignore", invalid="ignore"):
        earned = (equivalent_annual_value + hours * system.wages.family) * system.hours_per_day / hours
    return np.where(hours > 0, earned, np.nan)


def _cost_per_kg(system: SystemYear, present: PresentValues, main_crop: str) -> Array:
    """Return the levelised cost of the main crop [money/kg]: its own costs, and its share by revenue of the shared.

    (PV costs - PV residual and released) / PV marketable kg, eaten ones included, same timing.
    """
    of_crop = [k for k, season in enumerate(system.seasons) if season.crop == main_crop]
    zero = np.zeros((1, 1))
    own = sum((system.direct[k] * present.steady_factor + present.harvest_cost[k] for k in of_crop), start=zero)
    kilograms = sum((system.seasons[k].chain.marketable * present.harvest_factor[k] for k in of_crop), start=zero)
    shared = present.capital + system.bill.yearly * present.steady_factor - present.released
    with np.errstate(divide="ignore", invalid="ignore"):
        share = sum((present.benefit[k] for k in of_crop), start=zero) / sum(present.benefit)
    return cost_per_kg(own + share * shared, kilograms)
