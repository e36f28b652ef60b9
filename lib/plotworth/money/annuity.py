"""Unequal lives: a common period of repeated purchases, and what is left of an annuity part way through a life.

The equal yearly amount itself is `measures.equivalent_annual_value`, its factor `measures.capital_recovery_factor`.
Choosing by annual equivalent and choosing over a common period are the same choice; with one horizon for all lives
they agree only where it is a multiple of each life, or where the residual is that of `annuity_residual_share`.
"""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def common_period_years(lives: Sequence[int]) -> int:
    """Return the shortest period [year] that is a whole number of every life [year]: their least common multiple."""
    return math.lcm(*lives)


def worth_over_period(
    net_present_value: npt.ArrayLike, rate: npt.ArrayLike, *, life_years: int, period_years: int
) -> Floats:
    """Return what one life, bought again each time it ends, is worth over a longer period.

    Parameters: net present value of one life [money]; rate [1/year], above -1; life L and period P [year], P a
    multiple of L. Shapes that broadcast. Returns: money of year 0. Errors: ValueError where P is no multiple of L.
    Equation: NPV x sum over j < P/L of (1 + r)**(-j L).
    """
    if period_years % life_years:
        raise ValueError(f"a period of {period_years} years is no whole number of lives of {life_years}")
    interest = np.asarray(rate, dtype=np.float64)
    starts = range(0, period_years, life_years)
    factor = sum((np.power(1.0 + interest, -float(start)) for start in starts), start=np.zeros(interest.shape))
    return np.asarray(net_present_value, dtype=np.float64) * factor


def annuity_residual_share(rate: npt.ArrayLike, *, life_years: int, age_years: int) -> Floats:
    """Return the share of an item's cost that its remaining yearly payments are worth at an age.

    Parameters: rate [1/year], above -1; life L and age a [year], 0 <= a <= L. Returns: share [0-1], shape of the rate.
    Equation: (1 - v**(L - a)) / (1 - v**L), v = 1 / (1 + r); (L - a) / L at rate 0, the straight line. With this
    residual at any horizon the annual equivalent is that of whole lives.
    """
    growth = np.log1p(np.asarray(rate, dtype=np.float64))
    whole = np.expm1(-life_years * growth)
    left_years = life_years - age_years
    share = np.expm1(-left_years * growth) / np.where(whole == 0.0, 1.0, whole)
    return np.where(whole == 0.0, left_years / life_years, share)
