"""Labour: hours by season, family and hired, those that move with the harvest apart."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from plotworth.ground.arrays import Array, cell

STEADY, HARVEST = 0, 1


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
    sums = [[[cell(0.0), cell(0.0)] for _ in planted_m2] for _ in (STEADY, HARVEST)]
    for item in items:
        share, stated = values[item.family_share_address], values[item.hours_address]
        for k in item.seasons:
            hours = stated * planted_m2[k] if item.is_per_m2 else stated
            family = hours * share
            season = sums[HARVEST if item.moves_with_harvest else STEADY][k]
            season[0], season[1] = season[0] + family, season[1] + (hours - family)
    steady, harvest = (tuple(Hours(*season) for season in kind) for kind in sums)
    return Work(steady, harvest)
