"""A programme that brings a system to many households: adoption, what they gain, what is paid out. A donor's view.

Years count from the programme's start: time 0 is its start, time t the end of its year t. A household that joins in
year c lays out its investment at the start of that year, time c - 1, and its own year j ends at time c - 1 + j.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.case.programme import Programme
from plotworth.choose.evaluate import run_systems
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.system import SystemYear
from plotworth.choose.views import ECONOMIC, in_view
from plotworth.ground.arrays import Array
from plotworth.ground.conversions import KG_PER_T
from plotworth.money.cashflow import by_year
from plotworth.money.measures import discount_factors

Values = Mapping[str, Array]
NINE_TO_ONE = 2.0 * math.log(9.0)
"""Logits between 10 and 90 %: ln(0.9/0.1) - ln(0.1/0.9)."""


@dataclass(frozen=True)
class ProgrammeYears:
    """A programme by time 0..n-1+T, n its years and T the horizon of a household; arrays of that length.

    `joining` households at each time [1]; `taking_part`, households farming with the system in the year that ends
    then [1]; `household_flows` [money], theirs with less without, economic view; `costs` [money] of the programme;
    `paid_out` [money], costs and grants; `factors`, discount factors [1]; `less_water_m3` [m3] drawn less and
    `more_kg` [kg] marketable of the main crop in the year that ends then.
    """

    joining: Array
    taking_part: Array
    household_flows: Array
    costs: Array
    paid_out: Array
    factors: Array
    less_water_m3: Array
    more_kg: Array

    @property
    def households(self) -> float:
        """Households reached in all [1]."""
        return float(self.joining.sum())

    @property
    def npv(self) -> float:
        """What the households gain less what the programme costs, discounted to its start [money]."""
        return float(((self.household_flows - self.costs) * self.factors).sum())

    @property
    def gain_per_household(self) -> float:
        """What the households gain, discounted, for each one reached, before the programme's cost [money]."""
        return _ratio(float((self.household_flows * self.factors).sum()), self.households)

    @property
    def paid_out_per_household(self) -> float:
        """Money paid out, undiscounted, for each household reached [money]."""
        return _ratio(float(self.paid_out.sum()), self.households)

    @property
    def paid_out_per_m3(self) -> float:
        """Money paid out over water drawn less, both discounted [money/m3]; NaN where no less is drawn."""
        return self._per(self.less_water_m3)

    @property
    def paid_out_per_t(self) -> float:
        """Money paid out over tonnes more of the main crop, both discounted [money/t]; NaN where no more is grown."""
        return self._per(self.more_kg / KG_PER_T)

    def _per(self, quantity: Array) -> float:
        return _ratio(float((self.paid_out * self.factors).sum()), float((quantity * self.factors).sum()))


def _ratio(numerator: float, denominator: float) -> float:
    return numerator / denominator if denominator > 0 else math.nan


def adopted_share(programme: Programme, year: Array) -> Array:
    """Return the share of all households that have adopted by the end of a year [share].

    ceiling / (1 + exp(-k (year - midpoint))), k = 2 ln 9 / years from 10 to 90 % of the ceiling: the logistic curve.
    """
    steepness = NINE_TO_ONE / programme.years_from_10_to_90_percent
    with np.errstate(over="ignore"):
        rest = 1.0 + np.exp(-steepness * (year - programme.midpoint_year))
    return np.asarray(programme.adoption_ceiling_share / rest, dtype=np.float64)


def joining(programme: Programme) -> Array:
    """Return the households that join in each year of the programme [1]; the first year's hold all up to its end."""
    ends = np.arange(1, programme.years + 1, dtype=np.float64)
    return np.diff(programme.households * adopted_share(programme, ends), prepend=0.0)


def staying_share(programme: Programme, horizon_years: int) -> Array:
    """Return the share of a year's joiners still in, by their own year 0..T [share].

    1 in year 0, (1 - drop-out)^(j - 1) in year j: who leaves does so at a year's end, goes back to present practice
    and gets nothing back of what was laid out.
    """
    own = np.arange(horizon_years + 1)
    return np.asarray((1.0 - programme.drop_out_share_per_year) ** np.maximum(own - 1, 0), dtype=np.float64)


def programme_years(layout: Layout, values: Values) -> ProgrammeYears | None:
    """Return the programme of a case by year, None where `case.toml` states none.

    `values` by address, shapes (1, 1), in the full view; money is taken in the economic view, at its discount rate.
    Each sum is the households that join times what one of them brings in its own year, added up over those who joined
    earlier: sum over c of joining_c x staying_j x flow_j with c - 1 + j = t.
    """
    programme = layout.case.settings.programme
    if programme is None:
        return None
    horizon = layout.structure.horizon_years
    economic = in_view(layout, values, ECONOMIC)
    systems = run_systems(layout.structure, economic, expected_shocks(layout.structure, economic))
    with_it, without = systems[programme.system], systems[layout.structure.today]
    joined, staying = joining(programme), staying_share(programme, horizon)
    farming = np.concatenate([[0.0], staying[1:]])
    flow = _flows(with_it, horizon) - _flows(without, horizon)
    rate = economic[with_it.plan.addresses["discount_rate"]]
    costs = _costs(programme, joined, staying)
    length = programme.years + horizon
    return ProgrammeYears(
        joining=_padded(joined, length),
        taking_part=np.convolve(joined, farming),
        household_flows=np.convolve(joined, flow * staying),
        costs=costs,
        paid_out=costs + _padded(joined, length) * programme.grant_per_household,
        factors=discount_factors(rate, length - 1)[:, 0, 0],
        less_water_m3=np.convolve(joined, farming * (_water_m3(without) - _water_m3(with_it))),
        more_kg=np.convolve(joined, staying * (_kilograms(layout, with_it) - _kilograms(layout, without))),
    )


def _padded(array: Array, length: int) -> Array:
    return np.concatenate([array, np.zeros(length - len(array))])


def _flows(system: SystemYear, horizon_years: int) -> Array:
    return by_year(system.amounts, system.weights, horizon_years)[:, 0, 0]


def _water_m3(system: SystemYear) -> float:
    return float(sum(season.water_m3[0, 0] for season in system.seasons))


def _kilograms(layout: Layout, system: SystemYear) -> Array:
    """Return the marketable kilograms of the main crop by a household's own year 0..T [kg]."""
    kilograms = np.zeros(layout.structure.horizon_years + 1)
    for season, weights in zip(system.seasons, system.weights, strict=True):
        if season.crop == layout.structure.main_crop:
            kilograms[1:] += weights[:, 0, 0] * season.chain.marketable[0, 0]
    return kilograms


def _costs(programme: Programme, joined: Array, staying: Array) -> Array:
    """Return what the programme costs by time [money]: joining, follow-up of those still in, and the fixed part."""
    followed = np.zeros(len(staying))
    followed[1 : programme.follow_up_years + 1] = programme.follow_up_cost_per_household_year
    costs = np.convolve(joined, followed * staying)
    costs[: programme.years] += joined * programme.cost_per_household
    costs[1 : programme.years + 1] += programme.fixed_cost_per_year
    return np.asarray(costs, dtype=np.float64)
