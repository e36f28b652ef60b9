"""Partial budget and marginal analysis: only what differs between treatments is counted.

The method of CIMMYT (1988), From agronomic data to farmer recommendations: an economics training manual. Arrays have
the treatments on the first axis, then whatever varies (site, draw, a grid of prices); shapes broadcast. Money, yields
and costs are those of one area and one season, the same for all treatments. Rates are shares: 1.5 is 150 %.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Truths = npt.NDArray[np.bool_]
Whole = npt.NDArray[np.int64]

NONE = -1
"""Stands where a position of a treatment is asked for and there is none."""

SAME_COST_DECIMALS = 12
"""Costs that agree to so many decimals of the highest one are the same cost: the same lines, added in another order."""


class MarginalAnalysis(NamedTuple):
    """Treatments in order of costs that vary, each undominated one against the undominated one before it.

    All arrays have the shape (treatment, ...) and the order in which the treatments were given.
    `is_dominated`: another costs no more and brings no less. `compared_with`: position of the treatment before it, NONE
    for the cheapest and for dominated ones. `extra_cost` and `extra_benefit` [money] over that treatment and `rate`
    [1], the marginal rate of return, extra_benefit / extra_cost: NaN where there is nothing to compare with.
    """

    is_dominated: Truths
    compared_with: Whole
    extra_cost: Floats
    extra_benefit: Floats
    rate: Floats


def adjusted_yield(trial_yield: npt.ArrayLike, adjustment_share: npt.ArrayLike) -> Floats:
    """Return the yield a farmer would have from the same treatment.

    Parameters: yield of the trial [kg/m2, or any one unit]; adjustment_share, how much of it falls away in larger
    fields, with a farmer's care and losses [0-1]. Shapes that broadcast. Equation: yield x (1 - share).
    """
    return np.asarray(trial_yield, dtype=np.float64) * (1.0 - np.asarray(adjustment_share, dtype=np.float64))


def gross_field_benefit(adjusted: npt.ArrayLike, field_price: npt.ArrayLike) -> Floats:
    """Return adjusted yield [kg/m2] times field price [money/kg], the sale price less costs that follow the yield.

    Several products of a treatment (grades, by-products) are several calls, added.
    """
    return np.asarray(adjusted, dtype=np.float64) * np.asarray(field_price, dtype=np.float64)


def costs_that_vary(quantities: npt.ArrayLike, field_prices: npt.ArrayLike) -> Floats:
    """Return the costs that differ between treatments.

    Parameters: quantities of inputs and hours, shape (item, treatment, ...); field prices [money per unit, what it
    costs to bring the input into the field], shape (item, ...) that broadcasts against one treatment's quantities.
    Returns: money, shape (treatment, ...).
    """
    amounts, prices = np.asarray(quantities, dtype=np.float64), np.asarray(field_prices, dtype=np.float64)
    total: Floats = (amounts * prices[:, None]).sum(axis=0)
    return total


def net_benefit(gross_benefit: npt.ArrayLike, varying_costs: npt.ArrayLike) -> Floats:
    """Return gross field benefit less the costs that vary [money]; no profit, for common costs are left out."""
    return np.asarray(gross_benefit, dtype=np.float64) - np.asarray(varying_costs, dtype=np.float64)


def marginal_analysis(varying_costs: npt.ArrayLike, net_benefits: npt.ArrayLike) -> MarginalAnalysis:
    """Return dominance and marginal rates of return.

    Parameters: costs that vary and net benefits [money], treatments first, shapes that broadcast.
    A treatment is dominated where another has net benefits at least as high at costs no higher; of two alike in both
    the one given first stands. A treatment with NaN is neither dominated nor compared.
    Equation: rate = (NB - NB before) / (costs - costs before), along the undominated treatments by rising costs.
    Source: CIMMYT (1988), chapters on net benefit curves and the marginal rate of return.
    """
    costs, benefits = np.broadcast_arrays(
        np.asarray(varying_costs, dtype=np.float64), np.asarray(net_benefits, dtype=np.float64)
    )
    known = np.isfinite(costs) & np.isfinite(benefits)
    costs, benefits = np.where(known, costs, np.nan), np.where(known, benefits, np.nan)
    highest = np.where(known, np.abs(costs), 0.0).max(axis=0)
    parts = costs / np.where(highest > 0.0, highest, 1.0)
    compared_with, stands = _walk(np.round(parts, SAME_COST_DECIMALS), benefits)
    taken = np.maximum(compared_with, 0)
    has_one = compared_with != NONE
    extra_cost = np.where(has_one, costs - np.take_along_axis(costs, taken, axis=0), np.nan)
    extra_benefit = np.where(has_one, benefits - np.take_along_axis(benefits, taken, axis=0), np.nan)
    return MarginalAnalysis(known & ~stands, compared_with, extra_cost, extra_benefit, extra_benefit / extra_cost)


def _walk(costs: Floats, benefits: Floats) -> tuple[Whole, Truths]:
    """Return which treatment each undominated one follows, and which are undominated, walking up the costs."""
    order = np.lexsort((-benefits, costs), axis=0)
    compared_with = np.full(costs.shape, NONE, dtype=np.int64)
    stands = np.zeros(costs.shape, dtype=np.bool_)
    highest, last = np.full(costs.shape[1:], -np.inf), np.full(costs.shape[1:], NONE, dtype=np.int64)
    for place in order:
        here = np.take_along_axis(benefits, place[None], axis=0)[0]
        better = here > highest
        np.put_along_axis(compared_with, place[None], np.where(better, last, NONE)[None], axis=0)
        np.put_along_axis(stands, place[None], better[None], axis=0)
        highest, last = np.where(better, here, highest), np.where(better, place, last)
    return compared_with, stands


def residuals(net_benefits: npt.ArrayLike, varying_costs: npt.ArrayLike, minimum_rate: npt.ArrayLike) -> Floats:
    """Return what is left of the net benefits when the costs that vary have earned the acceptable minimum.

    Parameters: both [money], treatments first; minimum_rate, the lowest acceptable marginal rate of return over the
    season [1], stated by the case. Equation: NB - rate x costs that vary. Source: CIMMYT (1988).
    """
    needed = np.asarray(minimum_rate, dtype=np.float64) * np.asarray(varying_costs, dtype=np.float64)
    return np.asarray(net_benefits, dtype=np.float64) - needed


def recommended(net_benefits: npt.ArrayLike, varying_costs: npt.ArrayLike, minimum_rate: npt.ArrayLike) -> Whole:
    """Return the position of the treatment with the highest residual; of equal ones the cheaper, then the first.

    Parameters: net benefits and costs that vary [money], treatments first; minimum_rate [1], as in `residuals`.
    Returns: whole numbers, shape (...); NONE where no treatment is known. It is the last
    treatment on the net benefit curve that still pays the minimum rate, also where the curve bends the wrong way and
    single marginal rates would mislead.
    """
    left, costs = np.broadcast_arrays(
        residuals(net_benefits, varying_costs, minimum_rate), np.asarray(varying_costs, dtype=np.float64)
    )
    known = np.isfinite(left)
    best = np.where(known, left, -np.inf).max(axis=0)
    cheapest = np.where(known & (left == best), costs, np.inf).argmin(axis=0)
    return np.where(known.any(axis=0), cheapest, NONE)


def extra_yield_required(extra_cost: npt.ArrayLike, minimum_rate: npt.ArrayLike, field_price: npt.ArrayLike) -> Floats:
    """Return the least extra yield at which a dearer treatment pays the acceptable minimum.

    Parameters: difference in costs that vary [money/m2]; minimum_rate [1]; field price [money/kg]. They broadcast.
    Returns: kg/m2 of adjusted yield (over 1 - adjustment_share for the yield of the trial); NaN where the price is not
    above 0. Equation: extra cost x (1 + minimum rate) / field price. Source: CIMMYT (1988).
    """
    price = np.asarray(field_price, dtype=np.float64)
    needed = np.asarray(extra_cost, dtype=np.float64) * (1.0 + np.asarray(minimum_rate, dtype=np.float64))
    return needed / np.where(price > 0.0, price, np.nan)


def change_in_profit(
    *, added_income: npt.ArrayLike, costs_saved: npt.ArrayLike, income_lost: npt.ArrayLike, added_costs: npt.ArrayLike
) -> Floats:
    """Return what a change of practice adds to the profit: the four-part partial budget [money].

    Equation: (added income + costs saved) - (income lost + added costs). Shapes that broadcast.
    """
    gained = np.asarray(added_income, dtype=np.float64) + np.asarray(costs_saved, dtype=np.float64)
    return gained - np.asarray(income_lost, dtype=np.float64) - np.asarray(added_costs, dtype=np.float64)
