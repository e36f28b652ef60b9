"""Published climate values: every example of the paper as a row, and how the library answers it."""

import csv
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd

from plotworth.supply import evapotranspiration, radiation, vapour

PUBLISHED = Path(__file__).parent / "published"
NAN = np.nan

Row = dict[str, str]
Inputs = dict[str, float]
Ways = dict[str, Callable[[Inputs], float]]


def rows(*quantities: str) -> list[Row]:
    """The rows of the paper's examples about these quantities."""
    with (PUBLISHED / "supply_climate.csv").open(encoding="utf-8", newline="") as lines:
        return [row for row in csv.DictReader(lines) if row["quantity"] in quantities]


def inputs(row: Row) -> Inputs:
    return {name: float(value) for name, value in (pair.split("=") for pair in row["inputs"].split())}


def allowance(row: Row) -> float:
    """Half a printed digit, or the row's own where its note says what the book rounded on the way."""
    return float(row["allowance"]) if row["allowance"] else 0.5 * 10.0 ** -int(row["decimals"])


def station(name: str) -> pd.DataFrame:
    """Days of a station with outside values, the weather under the names of a case's weather table."""
    table = pd.read_csv(PUBLISHED / f"weather_{name}.csv", parse_dates=["date"])
    if "wind_10m_m_s" not in table:
        return table
    return table.rename(columns={"wind_10m_m_s": "wind_m_s"}).assign(wind_height_m=10.0)


def call(module: ModuleType, name: str, given: Inputs, *names: str) -> float:
    return float(getattr(module, name)(*(given[name] for name in names)))


def above(given: Inputs) -> float:
    return call(radiation, "extraterrestrial_radiation_mj_m2", given, "day_of_year", "latitude_deg")


def daylight(given: Inputs) -> float:
    return call(radiation, "daylight_h", given, "day_of_year", "latitude_deg")


def solar(given: Inputs) -> float:
    if "sun_h" in given:
        return float(radiation.solar_from_sunshine_mj_m2(given["sun_h"], daylight(given), above(given)))
    return float(
        radiation.solar_from_temperature_mj_m2(given["tmin_c"], given["tmax_c"], above(given), krs=given["krs"])
    )


def clear_sky(given: Inputs) -> float:
    return float(radiation.clear_sky_radiation_mj_m2(above(given), given["elevation_m"]))


def vapour_kpa(given: Inputs) -> float:
    """The vapour pressure by whatever the example gives: itself, humidity, or nothing but temperatures."""
    if "vapour_kpa" in given:
        return given["vapour_kpa"]
    if "rh_max_pct" in given:
        names = ("tmin_c", "tmax_c", "rh_min_pct", "rh_max_pct")
        return call(vapour, "vapour_from_humidity_kpa", given, *names)
    return call(vapour, "vapour_from_lowest_temperature_kpa", given, "tmin_c")


def wind(given: Inputs) -> float:
    if "wind_2m_m_s" in given:
        return given["wind_2m_m_s"]
    return call(evapotranspiration, "wind_at_two_metres_m_s", given, "wind_m_s", "height_m")


def mean_saturation(given: Inputs) -> float:
    return call(vapour, "mean_saturation_vapour_pressure_kpa", given, "tmin_c", "tmax_c")


def net_longwave(given: Inputs) -> float:
    relative = radiation.relative_shortwave(solar(given), clear_sky(given))
    return float(radiation.net_longwave_mj_m2(given["tmin_c"], given["tmax_c"], vapour_kpa(given), relative))


def air(given: Inputs) -> evapotranspiration.Air:
    return evapotranspiration.Air(
        given["tmin_c"], given["tmax_c"], vapour_kpa(given), given.get("wind_2m_m_s", NAN), solar(given)
    )


def net_radiation(given: Inputs) -> float:
    return float(evapotranspiration.net_radiation_mj_m2(air(given), above(given), elevation_m=given["elevation_m"]))
