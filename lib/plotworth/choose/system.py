"""One system of a case: its seasons, hours, bill and yearly amounts, put together for the composition."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.season import SeasonYear, grow
from plotworth.choose.structure import AREA, HarvestKey, SystemPlan
from plotworth.ground.arrays import Array
from plotworth.money.cashflow import Amounts
from plotworth.money.costs import Bill, Sizes, add_up
from plotworth.money.labour import Work, plan_work

LEARNING_YEARS = ("first_year_share", "second_year_share")


@dataclass(frozen=True)
class SystemYear:
    """A system in a full year: seasons, cost lines, hours, amounts, and the harvest weights of each year.

    `direct` by season [money/year]: steady costs that belong to the season alone (its lines, hours, carrying).
    `weights` by season, shape (T, site or 1, draw or 1) [share of a full harvest].
    """

    plan: SystemPlan
    area_m2: Array
    seasons: tuple[SeasonYear, ...]
    bill: Bill
    work: Work
    units: Array
    direct: tuple[Array, ...]
    amounts: Amounts
    weights: tuple[Array, ...]
    labour_cost: Array
    running_cost: Array


def run_system(
    plan: SystemPlan, values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array], horizon_years: int
) -> SystemYear:
    """Return a system in a full year, with what it pays and earns in each year of the horizon."""
    at = {name: values[address] for name, address in plan.addresses.items()}
    seasons = tuple(grow(season, values) for season in plan.seasons)
    units = values[AREA] * at["planted_share"] / at["m2_per_unit"]
    bill = add_up(plan.costs, values, _sizes(plan, seasons, values[AREA], units), horizon_years)
    work = _with_carrying(plan_work(plan.labour, values, [s.planted_m2 for s in seasons]), seasons, at)
    wages = at["family_wage_per_hour"], at["hired_wage_per_hour"]
    direct = tuple(lines + hours.cost(*wages) for lines, hours in zip(bill.seasonal, work.steady, strict=True))
    harvest = tuple(lines + hours.cost(*wages) for lines, hours in zip(bill.harvest, work.harvest, strict=True))
    steady = bill.yearly + sum(direct)
    amounts = Amounts(
        benefit=tuple(season.benefit for season in seasons),
        harvest_cost=harvest,
        steady=steady,
        capital=bill.capital,
        residual=bill.residual,
        working_capital=at["working_capital_share"] * steady,
    )
    labour_cost = sum(h.cost(*wages) for h in work.steady + work.harvest) + bill.hours * at["hired_wage_per_hour"]
    weights = tuple(
        _weights(season.addresses, values, shocks[plan.id, season.season], horizon_years) for season in plan.seasons
    )
    return SystemYear(
        plan,
        values[AREA],
        seasons,
        bill,
        work,
        units,
        direct,
        amounts,
        weights,
        np.asarray(labour_cost),
        steady + sum(harvest),
    )


def _sizes(plan: SystemPlan, seasons: tuple[SeasonYear, ...], area_m2: Array, units: Array) -> Sizes:
    return Sizes(
        area_m2=area_m2,
        units=units,
        season_shares=tuple(season.share_of_area for season in plan.seasons),
        plants=tuple(season.plants for season in seasons),
        water_m3=tuple(season.water_m3 for season in seasons),
        sold_kg=tuple(season.chain.sold for season in seasons),
    )


def _with_carrying(work: Work, seasons: tuple[SeasonYear, ...], at: Mapping[str, Array]) -> Work:
    family = at["carrying_family_share"]
    steady = tuple(hours.plus(s.carrying_h, family) for hours, s in zip(work.steady, seasons, strict=True))
    return Work(steady, work.harvest)


def _weights(addresses: Mapping[str, str], values: Mapping[str, Array], harvest: Array, horizon_years: int) -> Array:
    """Return the share of a full harvest by year: learning in the first years times the season's harvest weight."""
    learning = [values[addresses[name]] for name in LEARNING_YEARS[:horizon_years]]
    shape = np.broadcast_shapes(harvest.shape[1:], *(share.shape for share in learning))
    weights = np.empty((horizon_years, *shape))
    weights[:] = harvest
    for year, share in enumerate(learning):
        weights[year] *= share
    return weights
