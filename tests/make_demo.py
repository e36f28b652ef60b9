"""Write the record tables of the demo case; run it as `python tests/make_demo.py`.

All of it is invented: `demo_weather.py` makes the weather, `demo_plants.py` grows the plants, this
file notes down what the growers' group would have noted. A fixed seed makes the same bytes every
time. The typed files of the case (`case.toml`, `assumptions.csv`, `costs.csv`, `seasons.csv`,
`labour_plan.csv`) are not touched.
"""

import csv
from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path

import numpy as np

import demo_plants as demo
import demo_weather

DATA_DEMO = Path(__file__).resolve().parent.parent / "data_demo"
CROP = "sweet pepper"
WEIGHED_PICKINGS = (1, 3, 6)  # a scale was borrowed for the second, fourth and seventh picking
BATCH_PICKINGS = (2, 5)  # ten fruits on the scale together instead of singly
SINGLE_FRUITS, BATCH_FRUITS = 5, 10
KG_PLACES = 2  # the borrowed scale shows 10 g, the small one 1 g
WEATHER_BLANKS = {"sun_h": (17, 18), "wind_m_s": (73,), "rh_min_pct": (40,), "rh_max_pct": (40,), "tmin_c": (101,)}
LATE_RAINS_BLANKS = {"sun_h": (33, 34), "wind_m_s": (58,), "rh_min_pct": (80,), "rh_max_pct": (80,), "tmin_c": (12,)}

# Given to every plot alike, per square metre: day, item, kind, kg, share of N, of P2O5, of K2O.
FERTILISERS = (
    (0, "compost", "yard_waste_compost", 3.0, 0.008, 0.005, 0.010),
    (0, "NPK 15-15-15", "mineral_fertiliser", 0.030, 0.15, 0.15, 0.15),
    (35, "urea 46-0-0", "mineral_fertiliser", 0.015, 0.46, 0.0, 0.0),
    (70, "urea 46-0-0", "mineral_fertiliser", 0.015, 0.46, 0.0, 0.0),
)
INOCULANT_G_PER_PLANT = 10

# Minutes of work; carrying is from a public tap 250 m away (20 l a trip, 4 km/h, 5 minutes to fill and pour).
CARRYING_MIN_PER_L = (2 * 250 / 4000 * 60 + 5) / 20
DRIP_MIN_PER_WEEK = 4.0
BROUGHT = ("first_fill", "refill", "irrigation")
TIMING_SD = 0.12
PICKING_MIN_PER_PLOT, PICKING_MIN_PER_FRUIT = 3.0, 0.18
# Jobs for the whole trial (202 m2 of plots): day, task, minutes, family.
JOBS = (
    (0, "land preparation", 2160, "no"),
    (0, "planting", 1320, "yes"),
    (10, "planting gaps", 150, "yes"),
    *((day, "weeding and tying", 660, "yes") for day in (16, 30, 44, 62, 82, 104)),
    *((day, "plant protection", 170, "yes") for day in (21, 41, 61, 85, 109)),
    (35, "top dressing", 140, "yes"),
    (70, "top dressing", 140, "yes"),
    (136, "clearing", 540, "no"),
)

Row = tuple[object, ...]


def text(value: float, places: int = 0) -> str:
    """Return a number as one would write it down: rounded, no trailing noughts."""
    written = f"{value:.{places}f}"
    return written.rstrip("0").rstrip(".") if places else written


def plot_rows(plots: list[demo.Plot]) -> Iterable[Row]:
    """Return the rows of plots.csv."""
    for plot in plots:
        lost = f"eaten by goats on {demo.day_of(demo.LOST_DAY)}; no harvest; not watered after" if plot.is_lost else ""
        yield (
            plot.name, f"B{plot.block}", plot.treatment, plot.water, plot.inoculation, CROP, demo.PLANTED_ON,
            text(demo.NET_AREA_M2, 1), demo.PLANTS, "Sarvane", 2026, lost,
        )  # fmt: skip


def harvest_rows(crops: dict[str, demo.Crop]) -> Iterable[Row]:
    """Return the rows of harvests.csv: counted each time, weighed three times."""
    for picking, day in enumerate(demo.PICKING_DAYS):
        for plot, crop in crops.items():
            marketable, culls = crop.marketable_g[picking], crop.cull_g[picking]
            weighed = picking in WEIGHED_PICKINGS
            kg = [text(part.sum() / 1000, KG_PLACES) if weighed else "" for part in (marketable, culls)]
            yield demo.day_of(day), plot, marketable.size, kg[0], culls.size, kg[1], crop.alive[picking]


def fruit_mass_rows(crops: dict[str, demo.Crop]) -> Iterable[Row]:
    """Return the rows of fruit_masses.csv: fruits drawn by lot from each picking."""
    lot = demo.stream("weighing")
    for picking, day in enumerate(demo.PICKING_DAYS):
        batch = picking in BATCH_PICKINGS
        for plot, crop in crops.items():
            fruits = lot.permutation(crop.marketable_g[picking])[: BATCH_FRUITS if batch else SINGLE_FRUITS]
            for together in [fruits] if batch and fruits.size else fruits.reshape(-1, 1):
                yield demo.day_of(day), plot, together.size, text(together.sum())


def water_rows(plots: list[demo.Plot], waterings: dict[str, demo.Watering]) -> Iterable[Row]:
    """Return the rows of water.csv, by date and plot; every plot has its own meter or cans."""
    rows = []
    for plot in plots:
        vessel = {"tank": "tanks", "drip": "meter", "hand": "cans"}[plot.water]
        for day, kind, litres in waterings[plot.name].events:
            meter = "rain gauge" if kind == "rain" else f"{vessel}-{plot.name}"
            rows.append((demo.day_of(day), plot.name, kind, text(litres, 1), meter))
    return sorted(rows)


def soil_water_rows(plots: list[demo.Plot], waterings: dict[str, demo.Watering]) -> Iterable[Row]:
    """Return the rows of soil_water.csv: a reading at planting and one at the end."""
    for plot in plots:
        yield demo.PLANTED_ON, plot.name, text(waterings[plot.name].soil_start_mm)
    for plot in plots:
        if not plot.is_lost:
            yield demo.day_of(demo.DAYS - 1), plot.name, text(waterings[plot.name].soil_end_mm)


def input_rows(plots: list[demo.Plot]) -> Iterable[Row]:
    """Return the rows of inputs.csv: the same feed for all, inoculant where it was drawn."""
    for plot in plots:
        if plot.inoculation == "fungus":
            grams = INOCULANT_G_PER_PLANT * demo.PLANTS
            yield demo.PLANTED_ON, plot.name, "root-fungus inoculant", grams, "g", 0, 0, 0, "inoculant"
    for day, item, kind, kg_per_m2, *shares in FERTILISERS:
        kg = kg_per_m2 * demo.NET_AREA_M2
        for plot in (plot for plot in plots if day <= plot.last_day):
            contents = [text(kg * share, 4) for share in shares]
            yield demo.day_of(day), plot.name, item, text(kg, 3), "kg", *contents, kind


def watering_minutes(plot: demo.Plot, watering: demo.Watering) -> Iterable[tuple[int, str, float]]:
    """Return the last day, job and minutes of each week in which a plot was watered."""
    for week in range(demo.WEEKS):
        days = range(7 * week, min(7 * week + 7, demo.DAYS))
        litres = sum(event[2] for event in watering.events if event[0] in days and event[1] in BROUGHT)
        if litres and plot.water == "drip":
            yield min(days[-1], plot.last_day), "running the drip", DRIP_MIN_PER_WEEK
        elif litres:
            yield min(days[-1], plot.last_day), "carrying water", CARRYING_MIN_PER_L * litres


def picking_minutes(crop: demo.Crop) -> Iterable[tuple[int, str, float]]:
    """Return the day, job and minutes of each picking of a plot."""
    for day, good, bad in zip(demo.PICKING_DAYS, crop.marketable_g, crop.cull_g, strict=True):
        yield day, "picking", PICKING_MIN_PER_PLOT + PICKING_MIN_PER_FRUIT * (good.size + bad.size)


def labour_rows(plots: list[demo.Plot], waterings: dict[str, demo.Watering], crops: dict[str, demo.Crop]) -> list[Row]:
    """Return the rows of labour.csv: watering by plot and week, picking by plot, the rest for all."""
    lot = demo.stream("labour")
    rows: list[Row] = [(demo.day_of(day), "", task, minutes, family) for day, task, minutes, family in JOBS]
    for plot in plots:
        jobs = [*watering_minutes(plot, waterings[plot.name])]
        jobs += picking_minutes(crops[plot.name]) if plot.name in crops else []
        for day, task, minutes in jobs:
            noted = round(minutes * np.exp(lot.normal(0, TIMING_SD)))
            rows.append((demo.day_of(day), plot.name, task, noted, "yes"))
    return sorted(rows, key=lambda row: row[:3])


def weather_rows(first: date, weather: dict[str, np.ndarray], blanks: dict[str, tuple[int, ...]]) -> Iterable[Row]:
    """Return rows of weather.csv, with the days on which a gauge was not read left blank."""
    places = {"rh_min_pct": 0, "rh_max_pct": 0}
    for day in range(len(weather["rain_mm"])):
        values = {
            name: "" if day in blanks.get(name, ()) else text(column[day], places.get(name, 1))
            for name, column in weather.items()
        }
        readings = [values[name] for name in ("tmin_c", "tmax_c", "rh_min_pct", "rh_max_pct", "wind_m_s")]
        yield first + timedelta(days=day), *readings, 2, values["sun_h"], values["rain_mm"]


def write_table(path: Path, columns: str, rows: Iterable[Row]) -> None:
    """Write one table with commas and plain line ends."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns.split())
        writer.writerows(rows)


def write_records(folder: Path) -> None:
    """Write all record tables of the demo case into a folder."""
    plots, weather = demo.lay_out_plots(), demo_weather.warm_dry_weather()
    demand = demo.weekly_demand_mm(weather)
    waterings = {plot.name: demo.water_plot(plot, demand, weather) for plot in plots}
    vigour, flush = demo.plot_vigour(plots), demo.picking_flush()
    crops = {p.name: demo.grow(p, waterings[p.name], vigour[p.name], flush) for p in plots if not p.is_lost}
    standing = [(demo.day_of(demo.DAYS - 1), name, crop.standing) for name, crop in crops.items()]
    tables = {
        "plots": (
            "plot block treatment factor_water factor_inoculation crop planted_on net_area_m2 plants "
            "site trial_year note",
            plot_rows(plots),
        ),
        "harvests": ("date plot marketable_fruits marketable_kg cull_fruits cull_kg plants_alive", harvest_rows(crops)),
        "fruit_masses": ("date plot fruits total_mass_g", fruit_mass_rows(crops)),
        "standing_fruits": ("date plot fruits", standing),
        "water": ("date plot kind litres meter", water_rows(plots, waterings)),
        "soil_water": ("date plot mm", soil_water_rows(plots, waterings)),
        "inputs": ("date plot item quantity unit n_kg p2o5_kg k2o_kg kind", input_rows(plots)),
        "labour": ("date plot task person_minutes family", labour_rows(plots, waterings, crops)),
        "weather": (
            "date tmin_c tmax_c rh_min_pct rh_max_pct wind_m_s wind_height_m sun_h rain_mm",
            [
                *weather_rows(demo_weather.LATE_RAINS_FROM, demo_weather.late_rains_weather(), LATE_RAINS_BLANKS),
                *weather_rows(demo.PLANTED_ON, weather, WEATHER_BLANKS),
            ],
        ),
    }
    for name, (columns, rows) in tables.items():
        write_table(folder / f"{name}.csv", columns, rows)


if __name__ == "__main__":
    write_records(DATA_DEMO)
