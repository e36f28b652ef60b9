"""The water of a season of a case: what the crop takes day by day, what must be given, what a reservoir makes of it.

Depths are by planted ground, 1 mm is 1 l per m2. A season is followed in every year that the weather covers.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from plotworth.case.folder import Case
from plotworth.case.settings import FILE
from plotworth.choose.layout import Layout
from plotworth.choose.planting import GrowingSeasons, growing_seasons
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.tank_season import TankSeason, TankWeather, tank_season
from plotworth.choose.water_reader import Reader
from plotworth.choose.water_rows import WaterRows, read_water_rows
from plotworth.ground.arrays import Array
from plotworth.ground.errors import Fault, FaultsError, PlotworthError
from plotworth.ground.handbook import StageLengths, find_crop_coefficients, find_stage_lengths
from plotworth.supply.climate import daily_reference
from plotworth.supply.crop_curve import stretched_stages
from plotworth.supply.demand import SeasonDemand, Shelter, Watering, season_demand
from plotworth.supply.requirement import (
    Delivery,
    Requirement,
    by_month,
    by_week,
    draining_delivery,
    requirement,
    rising_delivery,
)
from plotworth.supply.salt import leaching_requirement
from plotworth.supply.season_weather import SeasonWeather, season_weather
from plotworth.supply.soil_evaporation import Surface

FEWEST_DAYS_OF_A_PEAK = 15
DRIP = "drip"


@dataclass(frozen=True)
class SeasonWater:
    """The water of one season of one system in one year, by planted ground.

    Attributes: system, season, crop; rows, what the book states; weather of its days; stages, stretched to them;
    demand and requirement by day; leaching_share in the gross requirement; tank, None where the water does not
    rise from a reservoir; notes, everything estimated or assumed.
    """

    system: str
    season: str
    crop: str
    rows: WaterRows
    weather: SeasonWeather
    stages: StageLengths
    demand: SeasonDemand
    requirement: Requirement
    leaching_share: float
    tank: TankSeason | None
    notes: tuple[str, ...]

    @property
    def year(self) -> int:
        """The year in which the season begins."""
        return int(self.weather.dates[0].year)

    @cached_property
    def weeks(self) -> pd.DataFrame:
        """A row a week with the sums of `daily` [mm]."""
        return by_week(self.weather.dates, self.daily)

    @cached_property
    def months(self) -> pd.DataFrame:
        """A row a month with the sums of `daily` [mm], first_day and days."""
        return by_month(self.weather.dates, self.daily)

    @property
    def daily(self) -> dict[str, Array]:
        """What is summed by week and month [mm/day]: rain_mm is what enters the soil."""
        return {
            "crop_evapotranspiration_mm": self.demand.crop_evapotranspiration_mm,
            "rain_mm": self.demand.rain_mm,
            "effective_rain_mm": self.demand.effective_rain_mm,
            "net_mm": self.demand.net_mm,
            "gross_mm": self.requirement.gross_mm,
        }

    @property
    def applied_l_per_m2(self) -> float:
        """Water to apply over the season: the gross requirement, or what is filled into the tank and poured to flush.

        Without what is left over in the tank; comparable with a trial's water applied.
        """
        if self.tank is None:
            return float(self.requirement.season_mm)
        return float(self.tank.totals.applied_l_per_m2) + self.rows.flushing_mm

    @property
    def peak_month(self) -> pd.Timestamp:
        """First day of the month with the greatest gross requirement a day."""
        return _peak(self.months)[0]

    @property
    def peak_gross_mm_per_day(self) -> float:
        """Mean gross requirement of the peak month."""
        return _peak(self.months)[1]

    @property
    def peak_requirement_l_per_m2_per_day(self) -> float:
        """The same at the source, over the delivery share; without what a tank evaporates or catches."""
        return self.peak_gross_mm_per_day / self.rows.delivery_share


@dataclass(frozen=True)
class SeasonYears:
    """A season of a system in every year that the weather covers, in their order.

    `shown` is the year of the trial where plots grew this crop, else the last one.
    """

    years: tuple[SeasonWater, ...]
    shown: SeasonWater

    @property
    def applied_l_per_m2(self) -> float:
        """Mean over the years of the water to apply."""
        return float(np.mean([year.applied_l_per_m2 for year in self.years]))


def season_years(layout: Layout, values: Mapping[str, Array], system_id: str, season: str) -> SeasonYears:
    """Return the water of a season of a system, from the case's weather, the handbook and values by address.

    Of values that vary over sites or draws the first counts.
    Errors: FaultsError with every row, setting and stretch of weather that is missing; PlotworthError where the
    system or season is not in the case, nothing waters it, or the handbook does not know what it is asked for.
    """
    plan = _plan(layout, system_id, season)
    reader = Reader(layout, values, system_id, plan)
    rows = read_water_rows(reader)
    choices = find_stage_lengths(plan.crop)
    if rows.stage_row > len(choices):
        reader.fault("stage_row", str(rows.stage_row), f"the handbook has {len(choices)} rows", "write one of them")
    reader.faults += _place_faults(layout.case)
    seasons = growing_seasons(reader, rows.growing_days)
    if seasons is None or reader.faults:
        raise FaultsError(reader.faults)
    return _all_years(reader, rows, choices[rows.stage_row - 1], seasons)


def _all_years(reader: Reader, rows: WaterRows, row: StageLengths, seasons: GrowingSeasons) -> SeasonYears:
    """Follow the year shown first: a wick read from the days to empty seen in it lifts the same in the others."""
    days = dict(zip(seasons.starts, seasons.days, strict=True))
    seen = _one_year(reader, rows, row, seasons.shown, days.pop(seasons.shown))
    if rows.tank is not None and seen.tank is not None and rows.tank.wick is None:
        rows = replace(rows, tank=replace(rows.tank, wick=seen.tank.reservoir.wick))
        reader.notes.append(f"Wick flow: {seen.tank.wick_l_per_day:.3g} l a day, as read in {seen.year}.")
    others = {start: _one_year(reader, rows, row, start, length) for start, length in days.items()}
    years = {**others, seasons.shown: seen}
    return SeasonYears(tuple(years[start] for start in seasons.starts), seen)


def _season_weather(reader: Reader, start: pd.Timestamp, days: int) -> SeasonWeather:
    """Return the weather of a season, with notes on what was estimated in its own days."""
    table, place = reader.case.table("weather"), reader.case.settings.place
    within = table["date"].between(start, start + pd.Timedelta(days=days - 1))
    assert place.latitude_deg is not None  # their absence is a fault by now
    assert place.elevation_m is not None
    daily = daily_reference(table[within], latitude_deg=place.latitude_deg, elevation_m=place.elevation_m)
    weather = season_weather(daily.table, start, days)
    reader.notes += [f"Weather: {note}" for note in (*daily.notes, *weather.notes)]
    return weather


def _one_year(reader: Reader, rows: WaterRows, row: StageLengths, start: pd.Timestamp, days: int) -> SeasonWater:
    own = Reader(reader.layout, reader.values, reader.system, reader.plan, notes=list(reader.notes))
    weather, stages = _season_weather(own, start, days), _stages(own, row, days)
    demand, delivery = _demand(own, rows, weather, stages), _delivery(rows)
    need = requirement(demand.net_mm, delivery)
    return SeasonWater(
        system=own.system,
        season=own.plan.season,
        crop=own.plan.crop,
        rows=rows,
        weather=weather,
        stages=stages,
        demand=demand,
        requirement=need,
        leaching_share=float(delivery.leaching_share),
        tank=_tank(own, rows, weather, demand),
        notes=tuple(own.notes),
    )


def _plan(layout: Layout, system_id: str, season: str) -> SeasonPlan:
    found = [
        plan
        for system in layout.structure.systems
        for plan in system.seasons
        if (system.id, plan.season) == (system_id, season)
    ]
    if not found:
        offered = ", ".join(f"{s.id}/{plan.season}" for s in layout.structure.systems for plan in s.seasons)
        raise PlotworthError(f"the case has no season {system_id}/{season}; it has {offered}")
    return found[0]


def _place_faults(case: Case) -> list[Fault]:
    remedy = "write it under [place] in case.toml: reference evapotranspiration stands on it"
    names = ("latitude_deg", "elevation_m")
    missing = [name for name in names if getattr(case.settings.place, name) is None]
    return [Fault(FILE, 0, name, "", "the setting is missing", remedy) for name in missing]


def _stages(reader: Reader, row: StageLengths, days: int) -> StageLengths:
    reader.notes.append(
        f"Stages of {row.crop}: {row.source}, {row.table}, planted {row.planting}, {row.region}, "
        f"{row.total_days} days, stretched to {days}."
    )
    return stretched_stages(row, days)


def _demand(reader: Reader, rows: WaterRows, weather: SeasonWeather, stages: StageLengths) -> SeasonDemand:
    coefficients = find_crop_coefficients(reader.plan.crop)
    reader.notes.append(
        f"Basal crop coefficients of {coefficients.crop}: {coefficients.source}, {coefficients.table} "
        f"({coefficients.basal_status}); the crop is {'' if rows.staked else 'not '}staked, "
        f"{coefficients.height_m:g} m high."
    )
    reader.notes.append(
        "The root zone is at field capacity at planting and filled up at each watering, no room for rain left; "
        "whether it holds out from one watering to the next is not looked at."
        if rows.tank is None
        else "The requirement fills the root zone up every day; what a wick and its tank make of it is in the balance."
    )
    surface = Surface(
        evaporable_mm=rows.evaporable_mm,
        readily_evaporable_mm=rows.readily_evaporable_mm,
        wetted_share=rows.wetted_share,
        covered_share=rows.covered_share,
        rain_through_cover=rows.rain_through_cover,
        at_the_plant=reader.case.settings.system(reader.system).water_method == DRIP,
    )
    return season_demand(
        weather,
        stages,
        coefficients,
        surface,
        staked=rows.staked,
        shelter=Shelter(rows.cover_demand_share, rows.rain_share),
        watering=Watering(rows.interval_days, room_for_rain_mm=0.0, start_depletion_mm=0.0),
    )


def _delivery(rows: WaterRows) -> Delivery:
    if rows.tank is not None:
        return rising_delivery(rows.application_share, rows.flushing_mm)
    if rows.leaching_ds_m is None:
        return draining_delivery(rows.application_share, 0.0)
    water, soil = rows.leaching_ds_m
    leaching = float(leaching_requirement(water, soil))
    if np.isnan(leaching):
        raise PlotworthError(f"no amount of water of {water:g} dS/m holds a root zone at {soil:g} dS/m")
    return draining_delivery(rows.application_share, leaching)


def _peak(months: pd.DataFrame) -> tuple[pd.Timestamp, float]:
    """Month with the greatest gross requirement a day and that requirement; months hardly begun are left out."""
    long = months[months["days"] >= FEWEST_DAYS_OF_A_PEAK]
    table = long if len(long) else months
    daily = table["gross_mm"] / table["days"]
    row = int(daily.to_numpy().argmax())
    return pd.DatetimeIndex(table["first_day"])[row], float(daily.iloc[row])


def _tank(reader: Reader, rows: WaterRows, weather: SeasonWeather, demand: SeasonDemand) -> TankSeason | None:
    if rows.tank is None:
        return None
    months = by_month(weather.dates, {"gross_mm": requirement(demand.net_mm, _delivery(rows)).gross_mm})
    in_peak = np.flatnonzero(weather.dates.to_period("M") == _peak(months)[0].to_period("M"))
    met = TankWeather(demand.crop_evapotranspiration_mm, weather.rain_mm, demand.reference_mm)
    return tank_season(
        rows.tank,
        met,
        reader.plan.crop,
        slice(int(in_peak[0]), int(in_peak[-1]) + 1),
        rain_share=rows.rain_share,
        notes=reader.notes,
    )
