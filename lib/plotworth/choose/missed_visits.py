"""What becomes of a reservoir's plants where one visit is missed: each visit of a season left out in turn."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plotworth.choose.tank_season import OPEN_WATER_OVER_REFERENCE, TankSeason
from plotworth.choose.watering import SeasonWater
from plotworth.ground.arrays import Array
from plotworth.supply.reservoir import simulate
from plotworth.supply.reservoir_trace import Totals, Trace, add_up
from plotworth.supply.visits import Visits, keep_visits


@dataclass(frozen=True)
class MissedVisit:
    """A visit that was missed: its date, who should have come; short_days and uptake_share [0-1] of the season then."""

    date: pd.Timestamp
    who: str
    short_days: int
    uptake_share: float


@dataclass(frozen=True)
class MissedVisits:
    """A season of one reservoir unit with each visit missed in turn, and none made up for.

    Attributes: visits, one for each planned, in order of visitor and date; planned, the season with all of them
    kept (its date is the first day, its who is empty); trace and totals, axis (visit) behind the day.
    """

    visits: tuple[MissedVisit, ...]
    planned: MissedVisit
    trace: Trace
    totals: Totals

    @property
    def worst(self) -> MissedVisit | None:
        """The visit whose loss costs the plants most water, the earliest of equals; None where nobody was to come."""
        return min(self.visits, key=lambda visit: (visit.uptake_share, visit.date), default=None)


def miss_each_visit(water: SeasonWater, tank: TankSeason) -> MissedVisits:
    """Return a season's tank followed again with each single visit missed.

    Parameters: the season's water, for its weather and demand; the tank as it was followed there. All visits are
    followed in one call, an axis behind the day.
    """
    places = np.argwhere((tank.visits.brought_l > 0.0) | (tank.visits.filled_share > 0.0))
    trace = follow_again(water, tank, keep_visits(tank.visits, _all_but_one(tank.visits, places)))
    totals, dates = add_up(trace), water.weather.dates
    seasons = [
        MissedVisit(dates[day], tank.visits.who[visitor], int(short), float(share))
        for (visitor, day), short, share in zip(places, totals.short_days, totals.uptake_share, strict=True)
    ]
    kept = tank.totals
    planned = MissedVisit(dates[0], "", int(kept.short_days), float(kept.uptake_share))
    return MissedVisits(tuple(seasons), planned, trace, totals)


def follow_again(water: SeasonWater, tank: TankSeason, visits: Visits) -> Trace:
    """Return a season's tank followed under other visits [(visitor, day, ...)]; the planned ones give its own trace."""
    dew = 0.0 if water.rows.tank is None else water.rows.tank.dew_l_per_m2
    return simulate(
        tank.reservoir,
        tank.soil,
        tank.trace.demand_mm,
        water.weather.rain_mm,
        visits,
        dew_l_per_m2=dew,
        open_water_mm=OPEN_WATER_OVER_REFERENCE * water.demand.reference_mm,
    )


def _all_but_one(visits: Visits, places: NDArray[np.intp]) -> Array:
    """Kept visits (visitor, day, case): in each case all but the one at its place."""
    kept = np.ones((*visits.brought_l.shape, len(places)))
    for case, (visitor, day) in enumerate(places):
        kept[visitor, day, case] = 0.0
    return kept
