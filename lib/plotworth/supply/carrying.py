"""Carrying water by hand or on the head, a bicycle, a barrow: minutes a trip, litres an hour, hours a cubic metre.

Arrays in, arrays out: all arguments broadcast, in the composition (site, draw).
"""

import numpy as np
from numpy.typing import ArrayLike

from plotworth.ground.arrays import Array
from plotworth.ground.conversions import LITRES_PER_M3, METRES_PER_KM, MINUTES_PER_HOUR

WHOLE_TRIP_SLACK = 1e-9
"""Relative part of a load by which a volume may exceed a whole number of trips: rounding, not water."""


def trip_minutes(distance_m: ArrayLike, pace_km_per_h: ArrayLike, fill_and_pour_minutes: ArrayLike) -> Array:
    """Return how long one trip takes, there and back.

    Parameters: distance [m], one way along the path; pace [km/h], above 0, the mean of out empty and back
    laden; filling and pouring [minute a trip].
    Returns: minutes a trip, shape of the broadcast.
    Equation: 2 x distance / pace + fill and pour.
    """
    walked_km = 2.0 * np.asarray(distance_m, dtype=np.float64) / METRES_PER_KM
    walking = walked_km / np.asarray(pace_km_per_h, dtype=np.float64) * MINUTES_PER_HOUR
    return walking + np.asarray(fill_and_pour_minutes, dtype=np.float64)


def litres_per_hour(load_l: ArrayLike, minutes_per_trip: ArrayLike) -> Array:
    """Return how much one carrier brings in an hour.

    Parameters: load [L a trip] as it arrives; minutes a trip, above 0, from `trip_minutes`.
    Returns: L/h.
    """
    return np.asarray(load_l, dtype=np.float64) * MINUTES_PER_HOUR / np.asarray(minutes_per_trip, dtype=np.float64)


def hours_per_m3(load_l: ArrayLike, minutes_per_trip: ArrayLike) -> Array:
    """Return how long it takes to carry a cubic metre, parts of a trip counted as parts.

    Parameters: load [L a trip], above 0; minutes a trip.
    Returns: hours per m3: the book's `carrying_h_per_m3`.
    """
    trips = LITRES_PER_M3 / np.asarray(load_l, dtype=np.float64)
    return trips * np.asarray(minutes_per_trip, dtype=np.float64) / MINUTES_PER_HOUR


def whole_trips(volume_l: ArrayLike, load_l: ArrayLike) -> Array:
    """Return how many trips a visit's water [L] takes at a load [L a trip], above 0: none is walked in part."""
    loads = np.asarray(volume_l, dtype=np.float64) / np.asarray(load_l, dtype=np.float64)
    return np.ceil(loads * (1.0 - WHOLE_TRIP_SLACK))


def visit_hours(volume_l: ArrayLike, load_l: ArrayLike, minutes_per_trip: ArrayLike) -> Array:
    """Return the hours of a visit that brings a volume in whole trips.

    Parameters: volume [L], 0 or more; load [L a trip], above 0; minutes a trip.
    Returns: hours. Never below volume x `hours_per_m3`, never a whole trip above it.
    """
    return whole_trips(volume_l, load_l) * np.asarray(minutes_per_trip, dtype=np.float64) / MINUTES_PER_HOUR
