"""Published values of crop demand, and small seasons for the tests of demand."""

import csv
from pathlib import Path

import numpy as np
import pandas as pd

from plotworth.ground.handbook import CropCoefficients, StageLengths, find_crop_coefficients, find_stage_lengths
from plotworth.supply.season_weather import SeasonWeather
from plotworth.supply.soil_evaporation import Surface

PUBLISHED = Path(__file__).parent / "published" / "supply_demand.csv"
DEMO = Path(__file__).parent.parent / "data_demo"

Row = dict[str, str]

STAGES = StageLengths("short crop", 2, 4, 3, 2, "", "")  # invented: 11 days
PEPPER_STAGES: StageLengths = find_stage_lengths("sweet pepper")[0]
PEPPER: CropCoefficients = find_crop_coefficients("sweet pepper")
DRIP = Surface(20.0, 8.0, wetted_share=0.35, covered_share=0.0, rain_through_cover=0.0, at_the_plant=True)
WICK = Surface(20.0, 8.0, wetted_share=0.0, covered_share=0.3, rain_through_cover=0.0, at_the_plant=False)


def rows(*quantities: str) -> list[Row]:
    with PUBLISHED.open(encoding="utf-8", newline="") as lines:
        return [row for row in csv.DictReader(lines) if row["quantity"] in quantities]


def inputs(row: Row) -> dict[str, float]:
    return {name: float(value) for name, value in (pair.split("=") for pair in row["inputs"].split())}


def allowance(row: Row) -> float:
    """Half a printed digit, or the row's own where its note says what the book rounded on the way."""
    return float(row["allowance"]) if row["allowance"] else 0.5 * 10.0 ** -int(row["decimals"])


def weather(days: int, *, reference=5.0, rain=0.0, wind=2.0, humidity=45.0) -> SeasonWeather:
    """Invented weather, alike every day unless an array is given; at 2 m/s and 45 % nothing is adjusted."""
    dates = pd.date_range("2026-03-01", periods=days)
    columns = (np.broadcast_to(np.asarray(v, dtype=float), (days,)) for v in (reference, rain, wind, humidity))
    return SeasonWeather(dates, *columns)
