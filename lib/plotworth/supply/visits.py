"""Who comes to a reservoir on which day, bringing how much; what of that is missed.

Litres are those of one reservoir unit. Day 0 is the first of the simulation. Arrays have the visitor first, the day
second and any axes (site, draw) behind.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Round:
    """One person's regular visits.

    Attributes: who; first_day, counted from 0; every_days, 1 or more. brought_l [l a visit to one unit], cans
    brought full without looking first: what does not fit is spilled. filled_share [0-1] of the room then left
    that is filled up by carrying on, 1 for "to the brim", 0 for cans alone.
    """

    who: str
    first_day: int
    every_days: int
    brought_l: float
    filled_share: float


@dataclass(frozen=True)
class Visits:
    """Visits by visitor and day.

    Attributes: who, names; brought_l [l] and filled_share [0-1] as in `Round`, shape (visitor, day, ...), 0 on
    days without a visit. Within a day all cans come first, then those who fill up, in the order of `who`.
    """

    who: tuple[str, ...]
    brought_l: Array
    filled_share: Array


def plan_visits(rounds: Sequence[Round], days: int) -> Visits:
    """Lay regular rounds out over a number of days; arrays (visitor, day). No rounds: nobody comes."""
    brought = np.zeros((len(rounds), days))
    filled = np.zeros((len(rounds), days))
    for visitor, regular in enumerate(rounds):
        brought[visitor, regular.first_day :: regular.every_days] = regular.brought_l
        filled[visitor, regular.first_day :: regular.every_days] = regular.filled_share
    return Visits(tuple(regular.who for regular in rounds), brought, filled)


def keep_visits(visits: Visits, kept: Array) -> Visits:
    """Return the visits that take place, by kept (visitor, day, ...): 1 where the visit is kept, 0 where missed.

    A visit that is missed is not made up for: the next comes on its own day.
    """
    axes = max(visits.brought_l.ndim, kept.ndim)
    kept = _stretched(kept, axes)
    brought, filled = _stretched(visits.brought_l, axes) * kept, _stretched(visits.filled_share, axes) * kept
    return Visits(visits.who, brought, filled)


def carried_by_visitor_l(visits: Visits, room_l: Array) -> Array:
    """Return what each visitor carried there [l], (visitor, day, ...), from the room in the tank before [l].

    Parameters: visits; room by day [l], (day, ...), of the trace by `room_before_visits_l`.
    What was brought in cans counts whole, spilled or not. The sum over visitors is the trace's `carried_l`.
    """
    axes = max(visits.brought_l.ndim, room_l.ndim + 1)
    brought, filled = _stretched(visits.brought_l, axes), _stretched(visits.filled_share, axes)
    room = np.maximum(_stretched(room_l[None], axes)[0] - brought.sum(axis=0), 0.0)
    carried = np.empty(np.broadcast_shapes(brought.shape, (len(visits.who), *room.shape)))
    for visitor, share in enumerate(filled):
        carried[visitor] = brought[visitor] + share * room
        room = room * (1.0 - share)
    return carried


def visits_of_a_day(visits: Visits) -> tuple[Array, Array]:
    """Return by day, (day, ...): the litres brought in cans [l] and the share of the room left that is filled [0-1]."""
    return visits.brought_l.sum(axis=0), 1.0 - np.prod(1.0 - visits.filled_share, axis=0)


def _stretched(values: Array, axes: int) -> Array:
    """Put new axes of length 1 behind visitor and day."""
    return values.reshape(values.shape[:2] + (1,) * (axes - values.ndim) + values.shape[2:])
