"""Prices: nominal and constant money, a price by month, its fall with volume, contingencies, currencies.

Arrays in, arrays out, shapes that broadcast to (site, draw); a time axis stands first. Constant prices are those
of the base date, period 0. NaN in gives NaN out.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from plotworth.money.measures import discount_factors

Floats = npt.NDArray[np.float64]

MONTHS_PER_YEAR = 12
INDEX_MEAN_SLACK = 0.005 + 1e-12
"""How far the mean of twelve indices may stand from 1: half a unit of two decimals, what rounding each can do."""


def real_rate(nominal_rate: npt.ArrayLike, inflation: npt.ArrayLike) -> Floats:
    """Return the rate at constant prices that a nominal rate is worth.

    Parameters: nominal rate and inflation [1/year], both above -1, for the same period; shapes that broadcast.
    Returns: real rate [1/year]. Equation: (1 + nominal) / (1 + inflation) - 1 (Fisher 1930).
    """
    rise = np.asarray(inflation, dtype=np.float64)
    return (np.asarray(nominal_rate, dtype=np.float64) - rise) / (1.0 + rise)


def nominal_rate(real_rate: npt.ArrayLike, inflation: npt.ArrayLike) -> Floats:
    """Return the nominal rate that keeps a real rate, the inverse of `real_rate`.

    Parameters: real rate and inflation [1/year], both above -1; shapes that broadcast.
    Returns: nominal rate [1/year]. Equation: (1 + real) (1 + inflation) - 1.
    """
    real, rise = np.asarray(real_rate, dtype=np.float64), np.asarray(inflation, dtype=np.float64)
    return real + rise + real * rise


def rate_per_part(rate_per_year: npt.ArrayLike, parts_per_year: int) -> Floats:
    """Return the rate of a part of the year that compounds to a yearly rate.

    Parameters: rate [1/year], above -1; parts_per_year, 12 for months. Returns: rate per part, shape of the rate.
    Equation: (1 + rate)**(1 / parts) - 1.
    """
    return np.expm1(np.log1p(np.asarray(rate_per_year, dtype=np.float64)) / parts_per_year)


def price_levels(inflation: npt.ArrayLike, periods: int, *, periods_per_year: int) -> Floats:
    """Return what one constant unit of money costs at each period end 0..periods.

    Parameters: inflation [1/year], above -1, shape (...); periods, how many; periods_per_year, 1, 4 or 12.
    Returns: levels [1], shape (periods + 1, ...), 1 at the base date. Equation: (1 + inflation)**(k / periods a year).
    """
    return 1.0 / discount_factors(rate_per_part(inflation, periods_per_year), periods)


def constant_prices(nominal_flows: npt.ArrayLike, inflation: npt.ArrayLike, *, periods_per_year: int) -> Floats:
    """Return flows in the money of the base date.

    Parameters: nominal flows [money of their date], shape (periods + 1, ...), period ends 0, 1, 2, ...; inflation
    [1/year], above -1; periods_per_year. Returns: flows [money of period 0], the shapes broadcast.
    Equation: flow[k] / level[k], `price_levels`. Each flow is deflated at its own date, before it is added to a year.
    """
    flows = np.asarray(nominal_flows, dtype=np.float64)
    factors = discount_factors(rate_per_part(inflation, periods_per_year), flows.shape[0] - 1)
    return time_first(flows, factors.ndim) * time_first(factors, flows.ndim)


def nominal_prices(constant_flows: npt.ArrayLike, inflation: npt.ArrayLike, *, periods_per_year: int) -> Floats:
    """Return flows in the money of their own dates, the inverse of `constant_prices`.

    Parameters: constant flows [money of period 0], shape (periods + 1, ...); inflation [1/year], above -1;
    periods_per_year. Returns: nominal flows [money of their date]. Equation: flow[k] x level[k].
    """
    flows = np.asarray(constant_flows, dtype=np.float64)
    levels = price_levels(inflation, flows.shape[0] - 1, periods_per_year=periods_per_year)
    return time_first(flows, levels.ndim) * time_first(levels, flows.ndim)


def time_first(values: Floats, dimensions: int) -> Floats:
    """Return values with time first made ready to meet others of so many dimensions: axes of length 1 after time."""
    missing = max(dimensions - values.ndim, 0)
    return values.reshape(values.shape[0], *(1,) * missing, *values.shape[1:])


def at_base_prices(amount: npt.ArrayLike, price_index: npt.ArrayLike, base_index: npt.ArrayLike) -> Floats:
    """Return amounts in the prices of another date by a published price index.

    Parameters: amount [money]; the index at the amount's date and at the base date [any base, the same for both].
    Returns: amount x base index / index; NaN where either index is not above 0.
    """
    now, base = np.asarray(price_index, dtype=np.float64), np.asarray(base_index, dtype=np.float64)
    known = (now > 0.0) & (base > 0.0)
    return np.asarray(amount, dtype=np.float64) * np.where(known, base, np.nan) / np.where(known, now, np.nan)


def price_index_problem(indices: npt.ArrayLike) -> str | None:
    """Return what is wrong with a crop's price indices by month, or None.

    Parameters: indices [1], months first, shape (12, ...). They must be twelve, all above 0, with a plain mean of 1
    to within INDEX_MEAN_SLACK, so that the stated price is the mean of the year's.
    """
    months = np.asarray(indices, dtype=np.float64)
    if months.shape[0] != MONTHS_PER_YEAR:
        return f"twelve indices are needed, one a month; there are {months.shape[0]}"
    if not (np.isfinite(months) & (months > 0.0)).all():
        return "every index is a number above 0"
    mean = months.mean(axis=0)
    worst = float(mean.flat[np.abs(mean - 1.0).argmax()])
    if abs(worst - 1.0) > INDEX_MEAN_SLACK:
        return f"the mean of the twelve indices is {worst:.4g}; divide each by it, so that the mean is 1"
    return None


def price_by_month(mean_price: npt.ArrayLike, indices: npt.ArrayLike) -> Floats:
    """Return a crop's price in each month.

    Parameters: mean price of the year [money/kg], shape (...); indices [1], shape (12, ...) or (12,).
    Returns: price [money/kg], shape (12, ...). The indices are taken as checked by `price_index_problem`.
    """
    price, months = np.asarray(mean_price, dtype=np.float64), np.asarray(indices, dtype=np.float64)
    return time_first(months, price.ndim + 1) * price


def mean_selling_price(prices: npt.ArrayLike, sold_kg: npt.ArrayLike) -> Floats:
    """Return the price of the mean kilogram sold, over the first axis (months).

    Parameters: prices [money/kg] and kilograms sold [kg] by month, shape (12, ...), shapes that broadcast.
    Returns: money/kg, shape (...); NaN where nothing is sold.
    """
    price, sold = np.asarray(prices, dtype=np.float64), np.asarray(sold_kg, dtype=np.float64)
    total = sold.sum(axis=0)
    mean: Floats = (price * sold).sum(axis=0) / np.where(total > 0.0, total, np.nan)
    return mean


def price_at_volume(
    price: npt.ArrayLike, sold_kg: npt.ArrayLike, *, fall_share_per_kg: npt.ArrayLike, usual_kg: npt.ArrayLike = 0.0
) -> Floats:
    """Return the price that all kilograms of a sale fetch when the sale is large for its market.

    Parameters: price at the usual volume [money/kg]; kilograms sold at once (a month's, say) [kg];
    fall_share_per_kg, the stated slope: share of the price lost for each kg above usual_kg [1/kg], from 0;
    usual_kg, what the market takes without a fall [kg]. Shapes that broadcast.
    Returns: money/kg, never below 0; exactly the price at slope 0.
    Equation: price x max(0, 1 - slope x max(0, sold - usual)). Valid for small falls: a straight line is not a market.
    """
    above_kg = np.maximum(np.asarray(sold_kg, dtype=np.float64) - np.asarray(usual_kg, dtype=np.float64), 0.0)
    kept_share = np.maximum(1.0 - np.asarray(fall_share_per_kg, dtype=np.float64) * above_kg, 0.0)
    return np.asarray(price, dtype=np.float64) * kept_share


class Contingency(NamedTuple):
    """A cost with its contingencies [money]: `base`; `physical`, more of it; `price`, dearer; `total` of the three."""

    base: Floats
    physical: Floats
    price: Floats
    total: Floats


def with_contingencies(
    quantity: npt.ArrayLike, unit_price: npt.ArrayLike, *, physical_share: npt.ArrayLike, price_share: npt.ArrayLike
) -> Contingency:
    """Return a cost line with what is kept in hand for it.

    Parameters: quantity [on its basis]; unit price [money]; physical_share, how much more may be needed, and
    price_share, how much dearer it may come *beyond* the general rise of prices, which constant prices leave out
    [share, from 0]. Shapes that broadcast.
    Equation: base = q p; physical = base x physical_share; price = (base + physical) x price_share.
    """
    base = np.asarray(quantity, dtype=np.float64) * np.asarray(unit_price, dtype=np.float64)
    physical = base * np.asarray(physical_share, dtype=np.float64)
    price = (base + physical) * np.asarray(price_share, dtype=np.float64)
    return Contingency(base, physical, price, base + physical + price)


def in_case_currency(foreign_amount: npt.ArrayLike, money_per_foreign_unit: npt.ArrayLike) -> Floats:
    """Return an amount of another currency in the case's money, at a stated rate.

    Parameters: amount [foreign units]; money_per_foreign_unit [money of the case for one unit], shapes that broadcast.
    Returns: money; NaN where the rate is not above 0.
    """
    rate = np.asarray(money_per_foreign_unit, dtype=np.float64)
    return np.asarray(foreign_amount, dtype=np.float64) * np.where(rate > 0.0, rate, np.nan)
