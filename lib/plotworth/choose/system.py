"""One system of a case: its seasons, hours, bill and yearly amounts, put together for the composition."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.season import SeasonYear, grow
from plotworth.choose.structure import AREA, HarvestKey, SeasonPlan, SystemPlan
from plotworth.ground.arrays import Array
from plotworth.money.cashflow import Amounts
from plotworth.money.costs import Bill, Sizes, add_up, capacity_steps
from plotworth.money.labour import Hours, Wages, Work, plan_work

WATER_VALUE = "view/water_value_per_m3"
"""Address of what a cubic metre drawn is charged with beside its price: the economic view puts it among the values."""
LEARNING_YEARS = ("first_year_share", "second_year_share")


@dataclass(frozen=True)
class SystemYear:
    """A system in a full year: seasons, sizes, cost lines, hours, amounts, and the harvest weights of each year.

    `hours_per_day` [hour] of work; `energy_kwh` [kWh] and `energy` [money] by season: what the pump takes. `direct` by
    season [money/year]: steady costs that belong to the season alone (its lines, hours, carrying, energy).
    `weights` by season, shape (T, site or 1, draw or 1) [share of a full harvest].
    """

    plan: SystemPlan
    seasons: tuple[SeasonYear, ...]
    sizes: Sizes
    bill: Bill
    work: Work
    wages: Wages
    hours_per_day: Array
    energy_kwh: tuple[Array, ...]
    energy: tuple[Array, ...]
    direct: tuple[Array, ...]
    amounts: Amounts
    weights: tuple[Array, ...]

    @property
    def family_hours(self) -> Array:
        """Family hours of a full year [hour], carrying included."""
        return sum((hours.family for hours in self.work.all), start=np.zeros((1, 1)))

    @property
    def hired_hours(self) -> Array:
        """Hired hours of a full year [hour], carrying and cost lines counted in hours included."""
        return sum((hours.hired for hours in self.work.all), start=self.bill.hours)

    @property
    def labour_cost(self) -> Array:
        """Family and hired hours at their wages in a full year [money]."""
        return self.family_hours * self.wages.family + self.hired_hours * self.wages.hired

    @property
    def running_cost(self) -> Array:
        """What a full year costs [money], labour included, replacements left out."""
        return sum(self.amounts.harvest_cost, start=self.amounts.steady)


def run_system(
    plan: SystemPlan, values: Mapping[str, Array], shocks: Mapping[HarvestKey, Array], horizon_years: int
) -> SystemYear:
    """Return a system in a full year, with what it pays and earns in each year of the horizon."""
    at = {name: values[address] for name, address in plan.addresses.items()}
    seasons = tuple(grow(season, values) for season in plan.seasons)
    sizes = _sizes(plan, seasons, values[AREA], at)
    bill = add_up(plan.costs, values, sizes, horizon_years)
    work = _with_carrying(plan_work(plan.labour, values, [s.planted_m2 for s in seasons]), seasons, at)
    wages, day = Wages(at["family_wage_per_hour"], at["hired_wage_per_hour"]), at["hours_per_day"]
    energy_kwh = tuple(season.water_m3 * at["pump_energy_kwh_per_m3"] for season in seasons)
    energy = tuple(kwh * at["energy_price_per_kwh"] for kwh in energy_kwh)
    if WATER_VALUE in values:
        energy = tuple(e + s.water_m3 * values[WATER_VALUE] for e, s in zip(energy, seasons, strict=True))
    direct = tuple(map(np.add, _with_hours(bill.seasonal, work.steady, wages), energy))
    amounts = _amounts(
        seasons, bill, direct, _with_hours(bill.harvest, work.harvest, wages), at["working_capital_share"]
    )
    weights = tuple(_weights(season, values, shocks[plan.id, season.season], horizon_years) for season in plan.seasons)
    return SystemYear(plan, seasons, sizes, bill, work, wages, day, energy_kwh, energy, direct, amounts, weights)


def _with_hours(lines: tuple[Array, ...], hours: tuple[Hours, ...], wages: Wages) -> tuple[Array, ...]:
    """Return cost lines and hours of each season added up [money]."""
    return tuple(line + h.cost(wages) for line, h in zip(lines, hours, strict=True))


def _amounts(
    seasons: tuple[SeasonYear, ...],
    bill: Bill,
    direct: tuple[Array, ...],
    harvest_cost: tuple[Array, ...],
    working_capital_share: Array,
) -> Amounts:
    steady = sum(direct, start=bill.yearly)
    return Amounts(
        benefit=tuple(season.benefit for season in seasons),
        harvest_cost=harvest_cost,
        steady=steady,
        capital=bill.capital,
        residual=bill.residual,
        working_capital=working_capital_share * steady,
    )


def _sizes(plan: SystemPlan, seasons: tuple[SeasonYear, ...], area_m2: Array, at: Mapping[str, Array]) -> Sizes:
    planted = area_m2 * at["planted_share"]
    return Sizes(
        area_m2=area_m2,
        units=planted / at["m2_per_unit"],
        wells=capacity_steps(planted, at["area_per_well_m2"]),
        dry_holes=at["dry_hole_chance"] / (1.0 - at["dry_hole_chance"]),
        own_share=(1.0 - at["other_use_share"]) / at["households_sharing"],
        capital_factor=(1.0 + at["physical_contingency_share"]) * (1.0 + at["price_contingency_share"]),
        season_shares=tuple(season.share_of_area for season in plan.seasons),
        plants=tuple(season.plants for season in seasons),
        water_m3=tuple(season.water_m3 for season in seasons),
        sold_kg=tuple(season.chain.sold for season in seasons),
    )


def _with_carrying(work: Work, seasons: tuple[SeasonYear, ...], at: Mapping[str, Array]) -> Work:
    family = at["carrying_family_share"]
    steady = tuple(hours.plus(s.carrying_h, family) for hours, s in zip(work.steady, seasons, strict=True))
    return Work(steady, work.harvest)


def _weights(season: SeasonPlan, values: Mapping[str, Array], harvest: Array, horizon_years: int) -> Array:
    """Return the share of a full harvest by year: learning in the first years times the season's harvest weight."""
    learning = [values[season.addresses[name]] for name in LEARNING_YEARS[:horizon_years]]
    shape = np.broadcast_shapes(harvest.shape[1:], *(share.shape for share in learning))
    weights = np.empty((horizon_years, *shape))
    weights[:] = harvest
    for year, share in enumerate(learning):
        weights[year] *= share
    return weights
