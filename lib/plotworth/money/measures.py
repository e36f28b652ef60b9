"""Measures of worth on streams of money: present value, ratios, payback, annual equivalents.

Arrays in, arrays out: year axis first, flows of shape (T+1, ...) at year ends 0..T. Rates and amounts
broadcast to the shape after the year axis. Where a measure has no meaning the answer is NaN.
"""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

ROUNDING = 1e-13  # of all money moved: a cumulative flow below this is zero, a left-over of adding


def discount_factors(rate: npt.ArrayLike, years: int) -> Floats:
    """Return what money at each year end 0..years is worth today.

    Parameters: rate [1/year], above -1, shape (...); years, the horizon T.
    Returns: factors, shape (T+1, ...); exactly 1 everywhere at rate 0.
    Equation: v**t with v = 1 / (1 + rate), by repeated multiplication.
    """
    one_year = 1.0 / (1.0 + np.asarray(rate, dtype=np.float64))
    factors = np.ones((years + 1, *one_year.shape))
    for year in range(1, years + 1):
        np.multiply(factors[year - 1], one_year, out=factors[year, ...])
    return factors


def present_value(flows: npt.ArrayLike, factors: npt.ArrayLike) -> Floats:
    """Return the sum over years of flows times discount factors.

    Parameters: flows [money], shape (T+1, ...), year ends 0..T; factors, shape (T+1, ...), from
    `discount_factors`. The shapes after the year axis broadcast.
    Returns: money of year 0, shape (...).
    Equation: sum over t of flows[t] * factors[t]. The flow of year 0 is not discounted (a spreadsheet's
    NPV function discounts its first value by a year).
    """
    value: Floats = np.einsum("t...,t...->...", np.asarray(flows, np.float64), np.asarray(factors, np.float64))
    return value


def modified_rate_of_return(
    flows: npt.ArrayLike, finance_rate: npt.ArrayLike, reinvestment_rate: npt.ArrayLike
) -> Floats:
    """Return the rate at which the financed outlays grow to the reinvested receipts.

    Parameters: flows [money], shape (T+1, ...), year ends 0..T; finance_rate and reinvestment_rate
    [1/year], above -1, shape (...).
    Returns: rate [1/year], shape (...); NaN for streams without both signs or with a flow that is not finite.
    Equation: (FV / -PV)**(1/T) - 1, FV the worth in year T of the positive flows at the reinvestment
    rate, PV the worth in year 0 of the negative flows at the finance rate.
    """
    stream = np.asarray(flows, dtype=np.float64)
    with np.errstate(all="ignore"):
        future_receipts = _compounded(stream, 1.0 + np.asarray(reinvestment_rate, dtype=np.float64), np.maximum)
        present_outlays = _compounded(
            stream[::-1], 1.0 / (1.0 + np.asarray(finance_rate, dtype=np.float64)), np.minimum
        )
        growth = np.log(future_receipts / -present_outlays) / (stream.shape[0] - 1)
        return np.where(np.isfinite(growth), np.expm1(growth), np.nan)


def _compounded(flows: Floats, yearly_factor: Floats, kept: np.ufunc) -> Floats:
    """Return what the flows kept (`maximum` or `minimum` with 0) add up to, multiplied by the factor year by year."""
    worth = np.zeros(np.broadcast_shapes(flows.shape[1:], yearly_factor.shape))
    for flow in flows:
        worth *= yearly_factor
        worth += kept(flow, 0.0)
    return worth


def benefit_cost_ratio(present_value_benefits: npt.ArrayLike, present_value_costs: npt.ArrayLike) -> Floats:
    """Return the present value of benefits for each unit of present value of costs.

    Parameters: both [money], shapes that broadcast.
    Returns: ratio [1]; NaN where the costs are not above 0.
    """
    return _ratio_to_positive(present_value_benefits, present_value_costs)


def cost_per_kg(present_value_costs: npt.ArrayLike, present_value_kilograms: npt.ArrayLike) -> Floats:
    """Return the levelised cost: the price of a kilogram at which the costs are just recovered.

    Parameters: present value of costs [money], residual and by-products already taken off; present value
    of marketable kilograms [kg], discounted like money; shapes that broadcast.
    Returns: money per kg; NaN where the kilograms are not above 0.
    """
    return _ratio_to_positive(present_value_costs, present_value_kilograms)


def _ratio_to_positive(numerator: npt.ArrayLike, denominator: npt.ArrayLike) -> Floats:
    """Return numerator / denominator, NaN where the denominator is not above 0."""
    below = np.asarray(denominator, dtype=np.float64)
    return np.asarray(numerator, dtype=np.float64) / np.where(below > 0.0, below, np.nan)


def payback_years(discounted_flows: npt.ArrayLike) -> Floats:
    """Return when the cumulative flow turns non-negative for good, linear within the year.

    Parameters: flows [money] times discount factors, shape (T+1, ...), year ends 0..T; undiscounted flows
    give the simple payback.
    Returns: years from year 0, shape (...). NaN where the cumulative flow ends below zero, and where no
    money is needed first (flow of year 0 not below zero).
    Equation: last - C[last] / f[last + 1], `last` the last year whose cumulative flow C is below zero.
    """
    stream = np.asarray(discounted_flows, dtype=np.float64)
    with np.errstate(all="ignore"):
        cumulative = _running_sum(stream)
        zero = -ROUNDING * np.abs(stream).sum(axis=0)
        paid = (stream[0] < 0.0) & (cumulative[-1] >= zero)
        last = np.maximum(_years_short(cumulative, zero) - 1, 0)
        at_last, recovered = _at_year(cumulative, last), _at_year(stream, np.minimum(last + 1, len(stream) - 1))
        return np.where(paid, last + np.minimum(1.0, -at_last / recovered), np.nan)


def _running_sum(flows: Floats) -> Floats:
    """Return the sum of the flows up to each year, year by year: quicker than a cumulative sum over the first axis."""
    added = np.empty_like(flows)
    added[0] = flows[0]
    for year in range(1, len(flows)):
        np.add(added[year - 1], flows[year], out=added[year, ...])
    return added


def _years_short(cumulative: Floats, zero: Floats) -> npt.NDArray[np.int64]:
    """Return how many years pass until the cumulative flow is never again below `zero`."""
    lowest, years = np.full(zero.shape, np.inf), np.zeros(zero.shape, dtype=np.int16)
    for still_to_come in cumulative[::-1]:
        np.minimum(lowest, still_to_come, out=lowest)
        years += lowest < zero
    return years.astype(np.int64)


def _at_year(rows: Floats, year: npt.NDArray[np.int64]) -> Floats:
    """Return from each column the row of its own year."""
    places = year.reshape(-1) * year.size + np.arange(year.size)
    return rows.reshape(-1).take(places).reshape(year.shape)


def capital_recovery_factor(rate: npt.ArrayLike, years: npt.ArrayLike) -> Floats:
    """Return the yearly payment, at year ends 1..T, that repays 1 received in year 0.

    Parameters: rate [1/year], above -1; years T, above 0; shapes that broadcast.
    Returns: share of the amount a year; 1/T at rate 0.
    Equation: r / (1 - (1 + r)**-T), computed as r / -expm1(-T log1p(r)) to keep all digits at small rates.
    """
    interest, periods = np.asarray(rate, dtype=np.float64), np.asarray(years, dtype=np.float64)
    repaid = -np.expm1(-periods * np.log1p(interest))
    still = repaid == 0.0
    return np.where(still, 1.0 / periods, interest / np.where(still, 1.0, repaid))


def equivalent_annual_value(net_present_value: npt.ArrayLike, rate: npt.ArrayLike, years: npt.ArrayLike) -> Floats:
    """Return the equal yearly amount, at year ends 1..T, that is worth the net present value.

    Parameters: net present value [money]; rate [1/year], above -1; years T, above 0; shapes that broadcast.
    Returns: money a year; the net present value divided by T at rate 0.
    Equation: net present value times `capital_recovery_factor`.
    """
    return np.asarray(net_present_value, dtype=np.float64) * capital_recovery_factor(rate, years)
