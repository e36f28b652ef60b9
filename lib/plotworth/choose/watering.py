"""The water of a season of a case: what the crop takes day by day, what must be given, what a reservoir makes of it.

Stands beside the composition: nothing in `evaluate` asks it yet. Depths are by planted ground, 1 mm is 1 l per m2.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from plotworth.case.folder import Case
from plotworth.case.settings import FILE
from plotworth.choose.inputs import Layout
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.tank_season import TankSeason, TankWeather, tank_season
from plotworth.choose.water_rows import Reader, WaterRows, read_water_rows
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

WEATHER_FILE = "weather.csv"
FEWEST_DAYS_OF_A_PEAK = 15
DRIP = "drip"


@dataclass(frozen=True)
class SeasonWater:
    """The water of one season of one system, by planted ground.

    Attributes: system, season, crop; weather of its days; stages, stretched to them; demand and requirement by day;
    weeks and months, a row each with crop_evapotranspiration_mm, rain_mm (what enters the soil),
    effective_rain_mm, net_mm and gross_mm; leaching_share in the gross requirement; peak_month, its first day in
    the season; peak_gross_mm_per_day, mean of it; peak_requirement_l_per_m2_per_day, the same at the source (over
    the delivery share), without what a tank evaporates or catches; tank, None where the water does not rise from a
    reservoir; notes, everything estimated or assumed.
    """

    system: str
    season: str
    crop: str
    weather: SeasonWeather
    stages: StageLengths
    demand: SeasonDemand
    requirement: Requirement
    weeks: pd.DataFrame
    months: pd.DataFrame
    leaching_share: float
    peak_month: pd.Timestamp
    peak_gross_mm_per_day: float
    peak_requirement_l_per_m2_per_day: float
    tank: TankSeason | None
    notes: tuple[str, ...]


def season_water(case: Case, layout: Layout, system_id: str, season: str) -> SeasonWater:
    """Return the water of a season of a system, from the case's weather, the handbook and the book's rows.

    Errors: FaultsError with every row, setting and stretch of weather that is missing; PlotworthError where the
    system or season is not in the case, nothing waters it, or the handbook does not know what it is asked for.
    """
    plan = _plan(layout, system_id, season)
    reader = Reader(case, layout, system_id, plan)
    rows = read_water_rows(reader)
    choices = find_stage_lengths(plan.crop)
    if rows.stage_row > len(choices):
        reader.fault("stage_row", str(rows.stage_row), f"the handbook has {len(choices)} rows", "write one of them")
    reader.faults += _place_faults(case)
    weather = _weather(reader, rows)
    if weather is None or reader.faults:
        raise FaultsError(reader.faults)
    stages = _stages(reader, choices[rows.stage_row - 1], len(weather.dates))
    demand = _demand(reader, rows, weather, stages)
    delivery = _delivery(rows)
    return _put_together(reader, rows, weather, stages, demand, delivery)


def _put_together(
    reader: Reader,
    rows: WaterRows,
    weather: SeasonWeather,
    stages: StageLengths,
    demand: SeasonDemand,
    delivery: Delivery,
) -> SeasonWater:
    need, plan = requirement(demand.net_mm, delivery), reader.plan
    daily = {
        "crop_evapotranspiration_mm": demand.crop_evapotranspiration_mm,
        "rain_mm": demand.rain_mm,
        "effective_rain_mm": demand.effective_rain_mm,
        "net_mm": demand.net_mm,
        "gross_mm": need.gross_mm,
    }
    months = by_month(weather.dates, daily)
    peak_month, peak = _peak(months)
    return SeasonWater(
        system=reader.system,
        season=plan.season,
        crop=plan.crop,
        weather=weather,
        stages=stages,
        demand=demand,
        requirement=need,
        weeks=by_week(weather.dates, daily),
        months=months,
        leaching_share=float(delivery.leaching_share),
        peak_month=peak_month,
        peak_gross_mm_per_day=peak,
        peak_requirement_l_per_m2_per_day=peak / rows.delivery_share,
        tank=_tank(reader, rows, weather, demand, peak_month),
        notes=tuple(reader.notes),
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


def _weather(reader: Reader, rows: WaterRows) -> SeasonWeather | None:
    """Weather of the season; None and a fault where the table does not reach over it, or nothing can be told."""
    table, place = reader.case.table("weather"), reader.case.settings.place
    if table.empty:
        remedy = "record weather by day: date, tmin_c, tmax_c and what else is known"
        reader.faults.append(Fault(WEATHER_FILE, 0, "", "", "the case keeps no weather", remedy))
    if table.empty or place.latitude_deg is None or place.elevation_m is None:
        return None
    first, last = table["date"].min(), table["date"].max()
    planted, days = _planted_on(reader, rows, first, last)
    if planted < first or _end(planted, days) > last:
        found = f"{first:%Y-%m-%d} to {last:%Y-%m-%d}"
        rule = f"does not reach over the season, {planted:%Y-%m-%d} to {_end(planted, days):%Y-%m-%d}"
        remedy = "record the days missing, or write a row growing_days that it covers"
        reader.faults.append(Fault(WEATHER_FILE, 0, "date", found, rule, remedy))
        return None
    daily = daily_reference(table, latitude_deg=place.latitude_deg, elevation_m=place.elevation_m)
    weather = season_weather(daily.table, planted, days)
    reader.notes += [f"Weather: {note}" for note in (*daily.notes, *weather.notes)]
    return weather


def _planted_on(reader: Reader, rows: WaterRows, first: pd.Timestamp, last: pd.Timestamp) -> tuple[pd.Timestamp, int]:
    """Day of planting and days of the season."""
    plots, treatment = reader.case.table("plots"), reader.case.settings.system(reader.system).treatment
    own = plots.loc[(plots["treatment"] == treatment) & (plots["crop"] == reader.plan.crop), "planted_on"].dropna()
    if treatment and len(own):
        return own.min(), _days(reader, rows, own.min())
    starts = [pd.Timestamp(year, reader.plan.first_month, 1) for year in range(first.year, last.year + 1)]
    lasting = [(start, _days(reader, rows, start)) for start in starts]
    whole = [(start, days) for start, days in lasting if start >= first and _end(start, days) <= last]
    planted, days = (whole or lasting)[0]
    reader.notes.append(f"Planting: no plot says when, taken as {planted:%Y-%m-%d}, the season's first month.")
    return planted, days


def _days(reader: Reader, rows: WaterRows, planted: pd.Timestamp) -> int:
    if rows.growing_days is not None:
        return rows.growing_days
    return (planted + pd.DateOffset(months=reader.plan.months) - planted).days


def _end(planted: pd.Timestamp, days: int) -> pd.Timestamp:
    return planted + pd.Timedelta(days=days - 1)


def _stages(reader: Reader, row: StageLengths, days: int) -> StageLengths:
    reader.notes.append(
        f"Stages of {row.crop}: {row.source}, {row.table}, planted {row.planting}, {row.region}, "
        f"{row.total_days} days, stretched to {days}."
    )
    if reader.stated("growing_days") is None:
        reader.notes.append(
            f"Growing days: not stated, taken as the {reader.plan.months} months of the season, {days}."
        )
    return stretched_stages(row, days)


def _demand(reader: Reader, rows: WaterRows, weather: SeasonWeather, stages: StageLengths) -> SeasonDemand:
    coefficients = find_crop_coefficients(reader.plan.crop)
    reader.notes.append(
        f"Basal crop coefficients of {coefficients.crop}: {coefficients.source}, {coefficients.table} "
        f"({coefficients.basal_status}); the crop is taken as not staked, {coefficients.height_m:g} m high."
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
        staked=False,
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


def _tank(
    reader: Reader, rows: WaterRows, weather: SeasonWeather, demand: SeasonDemand, peak_month: pd.Timestamp
) -> TankSeason | None:
    if rows.tank is None:
        return None
    in_peak = np.flatnonzero(weather.dates.to_period("M") == peak_month.to_period("M"))
    met = TankWeather(demand.crop_evapotranspiration_mm, weather.rain_mm, demand.reference_mm)
    return tank_season(
        rows.tank,
        met,
        reader.plan.crop,
        slice(int(in_peak[0]), int(in_peak[-1]) + 1),
        rain_share=rows.rain_share,
        notes=reader.notes,
    )
