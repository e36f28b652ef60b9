"""Effective rain: the part of a month's rain that a crop can use, by three published rules.

The rules were made for monthly totals and mean nothing for days; the daily balance uses daily rain.
Arrays in, arrays out. Keys: USDA-SCS (1970), as in Smith (1992) FAO Irrigation and Drainage Paper 46;
Brouwer & Heibloem (1986) FAO Irrigation Water Management Training Manual 3; FAO/AGLW as in Paper 46.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

USDA_BEND_MM = 250.0
USDA_DIVISOR_MM = 125.0
USDA_CURVE = 0.2
USDA_WET_SHARE = 0.1
DRY_SHARE, DRY_LOSS_MM = 0.6, 10.0
WET_SHARE = 0.8
TRAINING_MANUAL_BEND_MM, TRAINING_MANUAL_WET_LOSS_MM = 75.0, 25.0
DEPENDABLE_BEND_MM, DEPENDABLE_WET_LOSS_MM = 70.0, 24.0


def usda_scs_mm(month_rain_mm: ArrayLike) -> Array:
    """Return effective rain [mm/month] by the USDA Soil Conservation Service from a month's rain [mm].

    P (125 - 0.2 P) / 125 up to 250 mm, 125 + 0.1 P above.
    """
    rain = np.asarray(month_rain_mm, dtype=np.float64)
    curved = rain * (USDA_DIVISOR_MM - USDA_CURVE * rain) / USDA_DIVISOR_MM
    return np.where(rain <= USDA_BEND_MM, curved, USDA_DIVISOR_MM + USDA_WET_SHARE * rain)


def training_manual_mm(month_rain_mm: ArrayLike) -> Array:
    """Return effective rain [mm/month] by FAO Training Manual 3 from a month's rain [mm].

    0.8 P - 25 above 75 mm, 0.6 P - 10 up to it, not below 0. For slopes of at most 4-5 %.
    """
    return _two_lines(month_rain_mm, TRAINING_MANUAL_BEND_MM, TRAINING_MANUAL_WET_LOSS_MM)


def dependable_mm(month_rain_mm: ArrayLike) -> Array:
    """Return dependable effective rain [mm/month] by FAO/AGLW from a month's rain [mm].

    0.6 P - 10 up to 70 mm, 0.8 P - 24 above, not below 0. Meant to hold in four years of five.
    """
    return _two_lines(month_rain_mm, DEPENDABLE_BEND_MM, DEPENDABLE_WET_LOSS_MM)


EFFECTIVE_RAIN_RULES: Mapping[str, Callable[[ArrayLike], Array]] = MappingProxyType(
    {"usda_scs": usda_scs_mm, "fao_training_manual_3": training_manual_mm, "fao_dependable": dependable_mm}
)


def monthly_effective_rain(date: pd.Series, rain_mm: pd.Series) -> pd.DataFrame:
    """Add daily rain up by calendar month and apply the three rules.

    Parameters: date of each day, no day twice; rain [mm], blank where not recorded, same length.
    Returns one row a month from the first to the last: month (its first day), days (of the calendar),
    days_recorded, rain_mm (of the days recorded) and usda_scs_mm, fao_training_manual_3_mm,
    fao_dependable_mm [mm/month], NaN unless every day of the month was recorded: a part of a
    month is no monthly total.
    """
    days = pd.Series(rain_mm.to_numpy(dtype=np.float64), index=pd.DatetimeIndex(date))
    by_month = days.resample("MS")
    table = pd.DataFrame({"days_recorded": by_month.count(), "rain_mm": by_month.sum()})
    table.insert(0, "days", pd.DatetimeIndex(table.index).days_in_month)
    whole = table["rain_mm"].where(table["days_recorded"] == table["days"]).to_numpy()
    for name, rule in EFFECTIVE_RAIN_RULES.items():
        table[f"{name}_mm"] = rule(whole)
    return table.rename_axis("month").reset_index()


def _two_lines(month_rain_mm: ArrayLike, bend_mm: float, wet_loss_mm: float) -> Array:
    """One line up to the bend, a steeper one above it, never below 0."""
    rain = np.asarray(month_rain_mm, dtype=np.float64)
    wet, dry = WET_SHARE * rain - wet_loss_mm, DRY_SHARE * rain - DRY_LOSS_MM
    return np.maximum(np.where(rain > bend_mm, wet, dry), 0.0)
