"""Values that daily simulations and the handbook give for a season, put among the values before the composition.

A book row whose value is the word `computed` takes its number from here: the water a season takes, the requirement
of the peak month, what short water and salt leave of the yield. Run again for every move of a dial.
"""

from collections.abc import Callable, Iterator, Mapping

import numpy as np
import pandas as pd

from plotworth.case.folder import BOOK_FILE
from plotworth.choose.assumed import SIMULATED_NAMES
from plotworth.choose.layout import Layout
from plotworth.choose.structure import SeasonPlan, SimulatedItem
from plotworth.choose.water_case import water_of_season
from plotworth.choose.watering import FEWEST_DAYS_OF_A_PEAK, SeasonWater
from plotworth.ground.arrays import Array, cell
from plotworth.ground.errors import Fault, FaultsError, PlotworthError
from plotworth.ground.glossary import GLOSSARY
from plotworth.ground.handbook import find_salt_tolerance, find_yield_response
from plotworth.supply.deficit import yield_left
from plotworth.supply.salt import salt_loss_low_high

Values = Mapping[str, Array]
Month = tuple[int, int]
WORDS: Mapping[str, str] = {
    "water_applied_l_per_m2": "gross requirement, or what is filled into the tank; mean over the years of the weather",
    "peak_requirement_l_per_m2_per_day": "gross requirement a day of the peak month, over delivery share",
    "water_limited_share": "1 - Ky x (1 - water taken up / water the crop could take)",
    "salt_limited_share": "1 - slope x (salt allowed in the soil - threshold); middle of the handbook's range",
}
"""Each formula in words."""


def with_simulated(layout: Layout, values: Values) -> Values:
    """Return the values with those that come from daily simulations put in, or replaced where they stood.

    Errors: FaultsError with every row and stretch of weather that is missing for one of them.
    """
    filled: dict[str, Array] = dict(values)
    faults: list[Fault] = []
    for item in sorted(layout.structure.simulated, key=lambda item: SIMULATED_NAMES.index(item.name)):
        try:
            filled[item.address] = cell(_SIMULATIONS[item.name](layout, filled, item))
        except FaultsError as error:
            faults += error.faults
        except PlotworthError as error:
            line = layout.inputs[item.address].line
            label = GLOSSARY[item.name].label.lower()
            remedy = f"write a number, or correct what the {label} is worked out from"
            faults.append(Fault(BOOK_FILE, line, item.name, "computed", str(error), remedy))
    if faults:
        raise FaultsError(list(dict.fromkeys(faults)))
    return filled


def _applied(layout: Layout, values: Values, item: SimulatedItem) -> float:
    return water_of_season(layout, values, item.system, _plan(layout, item)).applied_l_per_m2


def _peak(layout: Layout, values: Values, item: SimulatedItem) -> float:
    """Greatest requirement of any month of any year; seasons that share a month are added by their share of ground.

    A month of which no season has the days to tell a mean is left out, unless all months are so.
    """
    litres: dict[Month, float] = {}
    days: dict[Month, int] = {}
    for plan in layout.structure.system(item.system).seasons:
        for water in water_of_season(layout, values, item.system, plan).years:
            for month, long, needed in _months(water):
                litres[month] = litres.get(month, 0.0) + plan.share_of_area * needed
                days[month] = max(days.get(month, 0), long)
    told = [month for month, long in days.items() if long >= FEWEST_DAYS_OF_A_PEAK]
    return max(litres[month] for month in told or litres)


def _months(water: SeasonWater) -> Iterator[tuple[Month, int, float]]:
    """Yield each month of a season, its days in it, and the requirement at the source [l/m2/day]."""
    table = water.months
    daily = (table["gross_mm"] / table["days"] / water.rows.delivery_share).to_numpy(np.float64)
    for first_day, long, litres in zip(pd.DatetimeIndex(table["first_day"]), table["days"], daily, strict=True):
        yield (first_day.year, first_day.month), int(long), float(litres)


def _water_limited(layout: Layout, values: Values, item: SimulatedItem) -> float:
    """Mean over the years, and over the two ends of the handbook's response factor."""
    plan = _plan(layout, item)
    response = find_yield_response(plan.crop)
    applied = float(values[plan.addresses["water_applied_l_per_m2"]].flat[0])
    years = water_of_season(layout, values, item.system, plan).years
    left = [yield_left(taken_up_mm(year, applied), could_take_mm(year), response) for year in years]
    return float(np.mean([(one.low + one.high) / 2 for one in left]))


def could_take_mm(water: SeasonWater) -> float:
    """Return what a crop could take up in a season [mm]."""
    return float(water.demand.crop_evapotranspiration_mm.sum())


def taken_up_mm(water: SeasonWater, applied_l_per_m2: float) -> float:
    """Return what a crop can take up in a season [mm]: from a tank by its balance, else of what is applied.

    A draining system: applied x application efficiency + effective rain, at most what the crop could take.
    """
    if water.tank is not None:
        return float(water.tank.trace.uptake_mm.sum())
    reached = applied_l_per_m2 * water.rows.application_share + float(water.demand.effective_rain_mm.sum())
    return min(reached, could_take_mm(water))


def _salt_limited(layout: Layout, values: Values, item: SimulatedItem) -> float:
    """Middle of the handbook's range of thresholds and slopes."""
    plan = _plan(layout, item)
    tolerance = find_salt_tolerance(plan.crop)
    if "soil_salinity_ds_m" not in plan.water:
        raise PlotworthError("the salt allowed in the soil is not stated; write a row soil_salinity_ds_m in dS/m")
    least, greatest = salt_loss_low_high(values[plan.water["soil_salinity_ds_m"]].flat[0], tolerance)
    return 1.0 - float(least + greatest) / 2


def _plan(layout: Layout, item: SimulatedItem) -> SeasonPlan:
    seasons = layout.structure.system(item.system).seasons
    return next(plan for plan in seasons if plan.season == item.season)


_SIMULATIONS: Mapping[str, Callable[[Layout, Values, SimulatedItem], float]] = {
    "water_applied_l_per_m2": _applied,
    "peak_requirement_l_per_m2_per_day": _peak,
    "water_limited_share": _water_limited,
    "salt_limited_share": _salt_limited,
}
