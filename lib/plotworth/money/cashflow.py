"""Yearly flows of one system, and their present values without the years being stored.

Year 0 is investment; yearly flows fall at year ends 1..T. The year axis comes first, then site and draw.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.ground.arrays import Array
from plotworth.money.costs import replacement_years


@dataclass(frozen=True)
class Amounts:
    """What a system pays and earns, each amount with the years it follows.

    `benefit` and `harvest_cost` by season [money in a full year] follow the season's harvest weights; `steady`
    [money/year] is paid in every year; `capital` by life [money] in year 0 and at each replacement; `residual`
    [money] comes back at the end; `working_capital` [money] is laid out in year 0 and released at the end.
    """

    benefit: tuple[Array, ...]
    harvest_cost: tuple[Array, ...]
    steady: Array
    capital: Mapping[int, Array]
    residual: Array
    working_capital: Array

    @property
    def investment(self) -> Array:
        """Capital laid out in year 0 [money]; working capital stands beside it."""
        return sum(self.capital.values(), start=np.zeros((1, 1)))


def by_year(amounts: Amounts, weights: Sequence[Array], horizon_years: int) -> Array:
    """Return the flows of a system [money], shape (T+1, site, draw).

    `weights` by season, shape (T, site or 1, draw or 1): the share of a full harvest in each year.
    """
    margins = [b - c for b, c in zip(amounts.benefit, amounts.harvest_cost, strict=True)]
    shapes = [a.shape for a in (*margins, *amounts.capital.values(), amounts.steady, amounts.working_capital)]
    shape = np.broadcast_shapes(*shapes, *(weight.shape[1:] for weight in weights))
    flows = np.empty((horizon_years + 1, *shape))
    flows[0], flows[1:] = 0.0, -amounts.steady
    for margin, weight in zip(margins, weights, strict=True):
        flows[1:] += weight * margin
    for life, amount in amounts.capital.items():
        flows[::life][: len(replacement_years(life, horizon_years))] -= amount
    flows[0] -= amounts.working_capital
    flows[horizon_years] += amounts.residual + amounts.working_capital
    return flows


@dataclass(frozen=True)
class PresentValues:
    """Present values [money]: benefits and harvest costs by season, the rest of the costs, what returns at the end."""

    benefit: tuple[Array, ...]
    harvest_cost: tuple[Array, ...]
    steady_factor: Array
    harvest_factor: tuple[Array, ...]
    capital: Array
    released: Array


def present_values(amounts: Amounts, weights: Sequence[Array], factors: Array) -> PresentValues:
    """Return the present values of a system's amounts.

    `factors` are discount factors, shape (T+1, site or 1, draw or 1). Each amount meets the sum of its
    years' factors, so no flow is stored: PV = amount x sum_t profile_t v^t.
    """
    horizon_years = len(factors) - 1
    harvest = tuple(np.einsum("t...,t...->...", weight, factors[1:]) for weight in weights)
    capital = amounts.working_capital * factors[0]
    for life, amount in amounts.capital.items():
        capital = capital + amount * sum(factors[year] for year in replacement_years(life, horizon_years))
    return PresentValues(
        benefit=tuple(amount * f for amount, f in zip(amounts.benefit, harvest, strict=True)),
        harvest_cost=tuple(amount * f for amount, f in zip(amounts.harvest_cost, harvest, strict=True)),
        steady_factor=factors[1:].sum(axis=0),
        harvest_factor=harvest,
        capital=capital,
        released=(amounts.residual + amounts.working_capital) * factors[horizon_years],
    )
