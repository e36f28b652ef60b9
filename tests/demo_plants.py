"""Invented watering and pepper plants for the demo case.

Nothing here was measured. In the weather of `demo_weather.py` three ways of watering meet a part of
what the crop asks for; each plant sets fruit by its own vigour, its own earliness and the water it
had two to six weeks before a picking. A treatment acts only through such parameters of growth, so
that its mean is an outcome, with the noise of blocks, plots, plants and fruits in it.

Random numbers come from `numpy.random.RandomState`, whose streams numpy keeps the same for ever;
the tables can therefore be made again byte for byte.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from demo_weather import DAYS, PLANTED_ON, stream

WEEKS = 20
PICKING_DAYS = tuple(range(66, 137, 10))  # eight pickings in ten weeks; first fruit after 9-10 weeks
BLOCKS = 7  # with 3 main plots a block: 12 error degrees of freedom for the water system
WATERS = ("tank", "drip", "hand")
INOCULATIONS = ("none", "fungus")
NET_AREA_M2 = 4.8
PLANTS = 16  # 0.5 m x 0.6 m, 3.33 plants a square metre, usual for unpruned pepper
EXTRATERRESTRIAL_MM = 15.0  # radiation above the air as mm of water a day; changes little in these months

# Demand: crop coefficients and stage lengths of sweet pepper, FAO-56 tables 11 and 12, stretched to 137 days.
STAGE_DAYS = (0, 30, 65, 116, 136)
STAGE_KC = (0.60, 0.60, 1.05, 1.05, 0.90)
DEMAND_SHARE = {"tank": 0.78, "drip": 0.95, "hand": 1.0}  # a dry surface between lids evaporates less
REACHES_ROOTS = {"tank": 1.0, "drip": 0.92, "hand": 0.80}  # the rest runs past the roots or off the bed

# Supply: what a grower does, as a share of the demand.
DRIP_SHARE = 0.76  # pump days are short: some deficit
HAND_SHARE = 0.72
HAND_LIMIT_L_PER_M2 = 12.0  # in half a week: nobody carries more
WICK_SHARE = 0.62  # the wicks' part of use; rain and stored soil water are the rest
WICK_LIMIT_L_PER_M2 = 22.4  # in a week: 3.2 l a day
TANK_LITRES = 60.0
TANKS_PER_PLOT = 2
LID_SHARE = 0.20  # of the bed under lids
LID_CATCH_SHARE = 0.70  # of rain on lids that runs into the tank
RAIN_REACHES_ROOTS = 0.80
PLOT_WATER_SD = 0.05
EVENT_WATER_SD = 0.07
SOIL_START_MM, SOIL_START_SD = 96.0, 5.0
SOIL_USE_OF_DEFICIT, SOIL_USE_MOST_MM = 0.30, 55.0
LEAK_WEEK, LEAK_LITRES, LEAK_BLOCK = 8, 37.0, 3  # a split seam, found at the next filling

# Plants.
FRUITS_PER_PLANT = 16.0  # set by a plant without stress, culls included
SEASON_TOP, SEASON_WIDTH = 3.6, 2.5  # in pickings from the first
EARLINESS_SD = 0.8  # in pickings
FLUSH_SD = 0.14  # weather of a picking, the same for all
YIELD_RESPONSE = {"none": 1.10, "fungus": 1.00}  # FAO-56 table 24 gives 1.1 for pepper; fungi ease drought
SET_BY_INOCULATION = {"none": 1.00, "fungus": 1.03}
BLOCK_SLOPE, BLOCK_SD = 0.09, 0.03  # soil deepens downhill
MAIN_PLOT_SD, SUB_PLOT_SD, PLANT_SD = 0.07, 0.07, 0.25
DEATH_CHANCE = {"tank": 0.05, "drip": 0.05, "hand": 0.11}
DEATH_DAYS = (20, 130)  # earlier gaps were replanted
CULL_CHANCE = {"tank": 0.06, "drip": 0.07, "hand": 0.11}  # uneven water: blossom-end rot
CULL_PER_PICKING = 0.008  # sunscald as leaves thin
FRUIT_G = 96.0  # a blocky local pepper
FRUIT_DECLINE = 0.03  # a picking
FRUIT_WATER_POWER = 0.3
PLOT_MASS_SD, PLANT_MASS_SD, FRUIT_MASS_SD = 0.03, 0.07, 0.20
CULL_MASS_SHARE = 0.75
STANDING_SHARE = 0.9  # unripe fruit left on a plant, of what its next picking would have held

# Goats broke into one hand-watered plot a week before the first picking.
LOST_BLOCK, LOST_WATER, LOST_INOCULATION, LOST_DAY = 5, "hand", "none", 58


def day_of(day: int) -> date:
    """Return the date of a day counted from planting."""
    return PLANTED_ON + timedelta(days=day)


@dataclass(frozen=True)
class Plot:
    """One plot of the split-plot layout."""

    name: str
    block: int
    water: str
    inoculation: str
    main_plot: int

    @property
    def treatment(self) -> str:
        return self.water if self.inoculation == "none" else f"{self.water}+{self.inoculation}"

    @property
    def is_lost(self) -> bool:
        return (self.block, self.water, self.inoculation) == (LOST_BLOCK, LOST_WATER, LOST_INOCULATION)

    @property
    def last_day(self) -> int:
        return LOST_DAY if self.is_lost else DAYS - 1


def lay_out_plots() -> list[Plot]:
    """Draw the water systems by lot within blocks and the inoculation by lot within main plots."""
    lot, plots = stream("layout"), []
    for block in range(1, BLOCKS + 1):
        for water in lot.permutation(WATERS):
            main_plot = len(plots) // len(INOCULATIONS)
            for inoculation in lot.permutation(INOCULATIONS):
                plots.append(Plot(f"P{len(plots) + 1:02d}", block, str(water), str(inoculation), main_plot))
    return plots


def weekly(daily: np.ndarray) -> np.ndarray:
    """Return sums over the weeks from planting; the last week is short."""
    return np.add.reduceat(daily, np.arange(0, DAYS, 7))


def weekly_demand_mm(weather: dict[str, np.ndarray]) -> np.ndarray:
    """Return what a pepper crop on open ground asks for in each week (Hargreaves, FAO-56 equation 52)."""
    low, high = weather["tmin_c"], weather["tmax_c"]
    reference = 0.0023 * ((low + high) / 2 + 17.8) * np.sqrt(high - low) * EXTRATERRESTRIAL_MM
    return weekly(reference * np.interp(np.arange(DAYS), STAGE_DAYS, STAGE_KC))


@dataclass(frozen=True)
class Watering:
    """Water of one plot: events (day, kind, litres), soil readings, and weekly supply over demand."""

    events: list[tuple[int, str, float]]
    soil_start_mm: float
    soil_end_mm: float
    ratio: np.ndarray


def _habit(water: str, demand: float, lot: np.random.RandomState, plot_factor: float) -> list[float]:
    """Return litres a square metre of the two recorded irrigations of a week."""
    half = (DRIP_SHARE if water == "drip" else HAND_SHARE) * demand / 2
    half = half if water == "drip" else min(half, HAND_LIMIT_L_PER_M2)
    return list(half * plot_factor * np.exp(lot.normal(0, EVENT_WATER_SD, 2)))


def _irrigate(plot: Plot, demand: np.ndarray, lot: np.random.RandomState, factor: float):
    """Return events and weekly litres a square metre of a drip or hand-watered plot."""
    events, litres = [], np.zeros(WEEKS)
    step = 1.0 if plot.water == "drip" else 5.0  # a meter is read to the litre, cans to the half
    for week in range(WEEKS):
        for day, amount in zip((7 * week, 7 * week + 3), _habit(plot.water, demand[week], lot, factor), strict=True):
            read = step * round(amount * NET_AREA_M2 / step)
            if day <= plot.last_day:
                events.append((day, "irrigation", read))
                litres[week] += read / NET_AREA_M2
    return events, litres


def _wick(plot: Plot, demand: np.ndarray, rain: np.ndarray, lot: np.random.RandomState, factor: float):
    """Return events and weekly litres a square metre of a plot fed from its two lidded tanks."""
    brim = TANKS_PER_PLOT * TANK_LITRES
    events, litres, level = [(0, "first_fill", brim)], np.zeros(WEEKS), brim
    for week in range(WEEKS):
        wish = WICK_SHARE * demand[week] * factor * np.exp(lot.normal(0, EVENT_WATER_SD))
        use = min(wish, WICK_LIMIT_L_PER_M2) * NET_AREA_M2
        caught = round(rain[week] * LID_SHARE * LID_CATCH_SHARE * NET_AREA_M2, 1)
        leak = LEAK_LITRES if (week, plot.block, plot.inoculation) == (LEAK_WEEK, LEAK_BLOCK, "none") else 0.0
        level = min(max(level - use - leak, 0.0) + caught, brim)
        day, last = min(7 * week + 6, DAYS - 1), week == WEEKS - 1
        events += [(day, kind, amount) for kind, amount in (("lid_catch", caught), ("leak", leak)) if amount > 0]
        events.append((day, "left_over" if last else "refill", float(round(level if last else brim - level))))
        litres[week], level = use / NET_AREA_M2, level if last else brim
    return events, litres


def water_plot(plot: Plot, demand_open: np.ndarray, weather: dict[str, np.ndarray]) -> Watering:
    """Water one plot through the season and keep its ledger."""
    lot, rain = stream(f"water {plot.name}"), weekly(weather["rain_mm"])
    factor, demand = np.exp(lot.normal(0, PLOT_WATER_SD)), demand_open * DEMAND_SHARE[plot.water]
    if plot.water == "tank":
        events, litres = _wick(plot, demand, rain, lot, factor)
    else:
        events, litres = _irrigate(plot, demand, lot, factor)
    ground = (1 - LID_SHARE if plot.water == "tank" else 1.0) * rain
    gauge = [(min(7 * week + 6, DAYS - 1), round(ground[week] * NET_AREA_M2, 1)) for week in range(WEEKS)]
    events += [(day, "rain", litres_) for day, litres_ in gauge if litres_ > 0 and day <= plot.last_day]
    supply = litres * REACHES_ROOTS[plot.water] + ground * RAIN_REACHES_ROOTS
    stored = min(SOIL_USE_OF_DEFICIT * np.clip(demand - supply, 0, None).sum(), SOIL_USE_MOST_MM)
    start = lot.normal(SOIL_START_MM, SOIL_START_SD)
    end = start - stored + lot.normal(0, 2.5)
    return Watering(sorted(events), start, end, np.minimum((supply + stored / WEEKS) / demand, 1.0))


@dataclass(frozen=True)
class Crop:
    """Fruit of one plot: by picking the masses of marketable and culled fruit, plants alive, fruit left."""

    marketable_g: list[np.ndarray]
    cull_g: list[np.ndarray]
    alive: list[int]
    standing: int


def plot_vigour(plots: list[Plot]) -> dict[str, float]:
    """Return the log of each plot's vigour: slope of the field, block, main plot, plot."""
    lot = stream("vigour")
    blocks = np.linspace(-BLOCK_SLOPE, BLOCK_SLOPE, BLOCKS) + lot.normal(0, BLOCK_SD, BLOCKS)
    mains = lot.normal(0, MAIN_PLOT_SD, BLOCKS * len(WATERS))
    subs = lot.normal(0, SUB_PLOT_SD, len(plots))
    pairs = zip(plots, subs, strict=True)
    return {plot.name: blocks[plot.block - 1] + mains[plot.main_plot] + sub for plot, sub in pairs}


def picking_flush() -> np.ndarray:
    """Return the common ups and downs of the pickings."""
    return np.exp(stream("flush").normal(0, FLUSH_SD, len(PICKING_DAYS)))


def _season_shape(picking: int, earliness: np.ndarray) -> np.ndarray:
    pickings = np.arange(len(PICKING_DAYS))
    whole = np.exp(-(((pickings - SEASON_TOP) / SEASON_WIDTH) ** 2) / 2).sum()
    return np.exp(-(((picking + earliness - SEASON_TOP) / SEASON_WIDTH) ** 2) / 2) / whole


def grow(plot: Plot, watering: Watering, log_vigour: float, flush: np.ndarray) -> Crop:
    """Grow the plants of one plot and pick them eight times."""
    lot = stream(f"plants {plot.name}")
    vigour = np.exp(log_vigour + lot.normal(0, PLANT_SD, PLANTS) - PLANT_SD**2 / 2)
    earliness = lot.normal(0, EARLINESS_SD, PLANTS)
    dies = lot.random_sample(PLANTS) < DEATH_CHANCE[plot.water]
    death_day = np.where(dies, lot.randint(*DEATH_DAYS, PLANTS), DAYS)
    heavy = np.exp(lot.normal(0, PLOT_MASS_SD) + lot.normal(0, PLANT_MASS_SD, PLANTS))
    marketable, culls, alive = [], [], []
    for picking, day in enumerate(PICKING_DAYS):
        ratio = watering.ratio[(day - 42) // 7 : (day - 14) // 7 + 1].mean()
        response = SET_BY_INOCULATION[plot.inoculation] * (1 - YIELD_RESPONSE[plot.inoculation] * (1 - ratio))
        expected = FRUITS_PER_PLANT * response * vigour * _season_shape(picking, earliness) * flush[picking]
        fruits = lot.poisson(expected * (death_day > day))
        mean_g = FRUIT_G * np.exp(-FRUIT_DECLINE * picking) * ratio**FRUIT_WATER_POWER * np.repeat(heavy, fruits)
        masses = mean_g * np.exp(lot.normal(0, FRUIT_MASS_SD, fruits.sum()))
        spoilt = lot.random_sample(masses.size) < CULL_CHANCE[plot.water] + CULL_PER_PICKING * picking
        marketable.append(masses[~spoilt])
        culls.append(CULL_MASS_SHARE * masses[spoilt])
        alive.append(int((death_day > day).sum()))
    return Crop(marketable, culls, alive, int(lot.poisson(STANDING_SHARE * (expected * (death_day >= DAYS)).sum())))
