"""Net present values alone, from the parts of the composition: for draws by the thousand that need no other measure."""

from collections.abc import Mapping

import numpy as np

from plotworth.choose.evaluate import run_systems
from plotworth.choose.structure import HarvestKey, Structure
from plotworth.choose.system import SystemYear
from plotworth.ground.arrays import Array
from plotworth.money.cashflow import present_values
from plotworth.money.measures import discount_factors


def net_present_values(
    structure: Structure, values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array]
) -> dict[str, Array]:
    """Return the NPV of every system [money], by id, shape (site or 1, draw or 1): that of `evaluate`, to rounding.

    Parameters as in `evaluate`; not cut into blocks, which is the caller's to do.
    """
    systems = run_systems(structure, values, shocks)
    rate = values[structure.systems[0].addresses["discount_rate"]]
    factors = discount_factors(rate, structure.horizon_years)
    return {name: _net(system, factors) for name, system in systems.items()}


def _net(system: SystemYear, factors: Array) -> Array:
    present = present_values(system.amounts, system.weights, factors)
    costs = present.capital + system.amounts.steady * present.steady_factor + sum(present.harvest_cost)
    return np.asarray(sum(present.benefit) + present.released - costs)


def yearly_margins(
    structure: Structure, values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array]
) -> dict[str, tuple[Array, Array]]:
    """Return of every system what one year leaves after its running costs, and after its share of capital [money].

    `shocks` of that year alone, shapes (1, ...); a year past learning. Share of capital: present value of capital with
    replacements less what returns at the end, as an even payment over the horizon.
    """
    systems = run_systems(structure, values, shocks)
    rate = values[structure.systems[0].addresses["discount_rate"]]
    factors = discount_factors(rate, structure.horizon_years)
    return {name: _margins(system, shocks, factors) for name, system in systems.items()}


def _margins(system: SystemYear, shocks: Mapping[HarvestKey, Array], factors: Array) -> tuple[Array, Array]:
    amounts, seasons = system.amounts, system.plan.seasons
    weights = [shocks[system.plan.id, season.season][0] for season in seasons]
    harvested = sum(w * (b - c) for w, b, c in zip(weights, amounts.benefit, amounts.harvest_cost, strict=True))
    margin = np.asarray(harvested - amounts.steady)
    present = present_values(amounts, system.weights, factors)
    return margin, margin - (present.capital - present.released) / present.steady_factor
