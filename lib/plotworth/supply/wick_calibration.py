"""What a wick lifts, read from "so many days from full to empty" together with what the crop used in those days.

Days alone say nothing: a tank that lasts long may have a slow wick or a small plant.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plotworth.supply.reservoir import Reservoir, Soil, simulate
from plotworth.supply.visits import plan_visits

Array = NDArray[np.float64]

EXPONENTS = (-9.0, 9.0)
"""Conductances looked at, powers of ten of l/day per m: at the first nothing flows, at the last no wick limits."""
HALVINGS = 50


@dataclass(frozen=True)
class Calibration:
    """Conductances [l/day per m of head] that empty the tank on the day on which it was found empty, shape (...).

    Attributes: low, the least; high, the greatest: one more and the tank would be empty a day earlier. high is
    infinite where the crop set the pace: the wick lifts at least `low`, how much more is not known. low is 0 where
    evaporation alone empties the tank. Both are NaN where no wick would do: more left the tank than crop, soil and air
    can have taken, so there was a leak, or the demand or the plant was larger than stated.
    """

    low_l_per_m_day: Array
    high_l_per_m_day: Array


def calibrate_wick(
    reservoir: Reservoir,
    soil: Soil,
    demand_mm: ArrayLike,
    rain_mm: ArrayLike,
    *,
    dew_l_per_m2: ArrayLike,
    open_water_mm: ArrayLike,
) -> Calibration:
    """Find the wick's conductance from a period that began with a full tank and ended on the day it was empty.

    Parameters as in `simulate`; there are as many days as the tank lasted, and nobody came. demand [mm/day] is that
    period's, for plants of the size they had (basal coefficient x ETo). The wick's heads are those of
    `reservoir.wick`, its conductance and the reservoir's `start_l` are not looked at.
    Method: bisection on the logarithm, EXPONENTS apart, HALVINGS times; the balance is that of `simulate`.
    """
    nobody = plan_visits((), 1)

    def evenings(exponent: Array) -> Array:
        wick = replace(reservoir.wick, conductance_l_per_m_day=10.0**exponent)
        full = replace(reservoir, wick=wick, start_l=reservoir.capacity_l)
        trace = simulate(full, soil, demand_mm, rain_mm, nobody, dew_l_per_m2=dew_l_per_m2, open_water_mm=open_water_mm)
        return np.concatenate([trace.start_l[None], trace.storage_l])

    low, high = _least_that_empties(evenings, -1), _least_that_empties(evenings, -2)
    possible = np.isfinite(low)
    return Calibration(np.where(possible, low, np.nan), np.where(possible, high, np.nan))


def _least_that_empties(evenings: Callable[[Array], Array], evening: int) -> Array:
    """The least conductance [l/day per m] that has emptied the tank by an evening; 0 or infinite where none is it."""
    shape = evenings(np.asarray(EXPONENTS[0]))[evening].shape
    low, high = (np.full(shape, exponent) for exponent in EXPONENTS)
    without, unlimited = (evenings(exponent)[evening] <= 0.0 for exponent in (low, high))
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        empty = evenings(middle)[evening] <= 0.0
        low, high = np.where(empty, low, middle), np.where(empty, middle, high)
    return np.where(without, 0.0, np.where(unlimited, 10.0**high, np.inf))
