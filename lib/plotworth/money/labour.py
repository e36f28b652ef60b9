"""Labour: hours by season, family and hired, those that move with the harvest apart."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.ground.arrays import Array


@dataclass(frozen=True)
class LabourItem:
    """A row of the labour plan: addresses of hours and family share, whether per m2, its seasons, whether harvest."""

    hours_address: str
    family_share_address: str
    is_per_m2: bool
    seasons: tuple[int, ...]
    moves_with_harvest: bool


@dataclass(frozen=True)
class Hours:
    """Hours of one season in a full year [hour], family and hired."""

    family: Array
    hired: Array

    def plus(self, hours: Array, family_share: Array) -> "Hours":
        """Return these hours and more, of which the family does `family_share`."""
        family = hours * family_share
        return Hours(self.family + family, self.hired + (hours - family))

    def cost(self, wages: "Wages") -> Array:
        """Return what the hours cost [money]."""
        return self.family * wages.family + self.hired * wages.hired


@dataclass(frozen=True)
class Wages:
    """What an hour of family and of hired work is valued at [money/hour]."""

    family: Array
    hired: Array


@dataclass(frozen=True)
class Work:
    """A system's hours by season: `steady` whether or not there is a harvest, `harvest` that move with it."""

    steady: tuple[Hours, ...]
    harvest: tuple[Hours, ...]

    @property
    def all(self) -> tuple[Hours, ...]:
        """Steady and harvest hours of every season."""
        return self.steady + self.harvest


def plan_work(items: Sequence[LabourItem], values: Mapping[str, Array], planted_m2: Sequence[Array]) -> Work:
    """Return the hours of a labour plan in a full year.

    `planted_m2` [m2] by season multiplies hours per m2; other rows hold for the whole case in each of
    their seasons.
    """
    none = Hours(np.zeros((1, 1)), np.zeros((1, 1)))
    steady, harvest = [none] * len(planted_m2), [none] * len(planted_m2)
    for item in items:
        share = values[item.family_share_address]
        for k in item.seasons:
            hours = values[item.hours_address]
            hours = hours * planted_m2[k] if item.is_per_m2 else hours
            kind = harvest if item.moves_with_harvest else steady
            kind[k] = kind[k].plus(hours, share)
    return Work(tuple(steady), tuple(harvest))
