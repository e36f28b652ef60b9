"""Labour: hours by season, family and hired, those that move with the harvest apart."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from plotworth.ground.arrays import Array, cell

NONE = cell(0.0)


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
    seasons = range(len(planted_m2))
    steady, harvest = (
        tuple(_season_hours(items, values, k, planted_m2[k], moves_with_harvest=moves) for k in seasons)
        for moves in (False, True)
    )
    return Work(steady, harvest)


def _season_hours(
    items: Sequence[LabourItem],
    values: Mapping[str, Array],
    season: int,
    planted_m2: Array,
    *,
    moves_with_harvest: bool,
) -> Hours:
    """Return the hours of one season: rows per m2 added up first, since all of them meet the same ground."""
    rows = [item for item in items if item.moves_with_harvest == moves_with_harvest and season in item.seasons]
    family, total = (hours * planted_m2 for hours in _added([row for row in rows if row.is_per_m2], values))
    fixed_family, fixed = _added([row for row in rows if not row.is_per_m2], values)
    family = family + fixed_family
    return Hours(family, total + fixed - family)


def _added(rows: Sequence[LabourItem], values: Mapping[str, Array]) -> tuple[Array, Array]:
    """Return the hours of the family and of all, as stated in some rows."""
    family, total = NONE, NONE
    for row in rows:
        stated = values[row.hours_address]
        family, total = family + stated * values[row.family_share_address], total + stated
    return family, total
