"""Raw manure and compost: how long before the picking, how hot and for how long.

The rules are those of the United States organic standard, taken as data; a country's own law comes
first. An interval is kept or not; nothing here changes a number of the appraisal.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

TOUCHING_INTERVAL_DAYS = 120
CLEAR_INTERVAL_DAYS = 90
INTERVAL_SOURCE = "7 CFR 205.203(c)(1) (United States, National Organic Program)"
INTERVAL_RULE = (
    f"Raw manure is worked into the soil at least {TOUCHING_INTERVAL_DAYS} days before the harvest where the edible "
    f"part touches the soil or soil particles, at least {CLEAR_INTERVAL_DAYS} days before it otherwise."
)

KEPT = "kept"
TOO_SHORT = "too short"
NO_PICKING = "no picking after it"

MANURE_WORDS = ("manure", "dung", "slurry", "droppings", "litter")
COMPOSTED_WORDS = ("compost",)
CARRIED = ["plot", "treatment", "crop", "item", "applied_on"]


@dataclass(frozen=True)
class CompostingRule:
    """How hot and how long animal manure is composted before it counts as compost, no longer raw.

    Attributes: method; lowest and highest temperature [degC] inside the heap; days [day] within them;
    turnings, the fewest in that time; source.
    """

    method: str
    lowest_deg_c: float
    highest_deg_c: float
    days: int
    turnings: int
    source: str

    def text(self) -> str:
        """Return the rule as a sentence."""
        turned = f", turned at least {self.turnings} times in that time" if self.turnings else ""
        heat = f"{self.lowest_deg_c:.0f} to {self.highest_deg_c:.0f} degrees C"
        return f"{self.method}: {heat} for {self.days} days{turned} ({self.source})."


COMPOSTING_SOURCE = "7 CFR 205.203(c)(2): 131 to 170 degrees F"
COMPOSTING_RULES = (
    CompostingRule("closed vessel or aerated static pile", 55.0, 77.0, 3, 0, COMPOSTING_SOURCE),
    CompostingRule("windrow", 55.0, 77.0, 15, 5, COMPOSTING_SOURCE),
)


def needed_interval_days(touches_soil: bool | None) -> int:
    """Return the least interval [day] from raw manure to a picking; the longer where contact is unknown (None).

    Parameter: whether the edible part touches soil or soil particles. Source: INTERVAL_SOURCE.
    """
    return CLEAR_INTERVAL_DAYS if touches_soil is False else TOUCHING_INTERVAL_DAYS


def last_day_for_raw_manure(first_picking_on: date, touches_soil: bool | None) -> date:
    """Return the last day on which raw manure may be worked in before a planned first picking."""
    return first_picking_on - timedelta(days=needed_interval_days(touches_soil))


def names_that_say_manure(items: Iterable[str]) -> tuple[str, ...]:
    """Return the items whose name says manure and not compost, each once: a question to the user, no verdict."""
    return tuple(
        item for item in dict.fromkeys(items) if _says(item, MANURE_WORDS) and not _says(item, COMPOSTED_WORDS)
    )


def _says(item: str, words: Collection[str]) -> bool:
    return any(word in item.casefold() for word in words)


def manure_intervals(
    plots: pd.DataFrame,
    inputs: pd.DataFrame,
    harvests: pd.DataFrame,
    raw_items: Collection[str],
    touches_soil: Mapping[str, bool],
) -> pd.DataFrame:
    """Return each dressing of raw manure with the interval to the next picking, one row a plot and date.

    Parameters: the record tables; the items of `inputs` that are raw manure; by crop, whether its
    edible part touches the soil (a crop left out: unknown, held to the longer interval).

    The next picking is the first on that day or later that was not an empty one: a dressing between two
    pickings counts to the second. Columns: CARRIED; next_picking_on; interval_days [day, NaN without
    a picking]; needed_days [day]; contact_known; verdict KEPT, TOO_SHORT or NO_PICKING.
    Source of the rule: INTERVAL_SOURCE.
    """
    dressings = _dressings(plots, inputs, raw_items)
    table = dressings.assign(next_picking_on=_next_picking(dressings, harvests))
    contact = [touches_soil.get(crop) for crop in table["crop"]]
    table["interval_days"] = (table["next_picking_on"] - table["applied_on"]).dt.days.astype(float)
    table["needed_days"] = np.array([needed_interval_days(known) for known in contact], dtype=np.int64)
    table["contact_known"] = np.array([known is not None for known in contact], dtype=np.bool_)
    conditions = [table["interval_days"].isna(), table["interval_days"] >= table["needed_days"]]
    table["verdict"] = np.select(conditions, [NO_PICKING, KEPT], TOO_SHORT).astype(object)
    return table


def _dressings(plots: pd.DataFrame, inputs: pd.DataFrame, raw_items: Collection[str]) -> pd.DataFrame:
    """Return the applications of raw manure with their plot's treatment and crop, by plot and date."""
    raw = inputs[inputs["item"].isin(list(raw_items)) & ~(inputs["quantity"].astype(float) == 0)]
    keys = plots[["plot", "treatment", "crop"]].astype(object)
    rows = raw.astype({"plot": object}).merge(keys, on="plot").rename(columns={"date": "applied_on"})
    rows["applied_on"] = pd.to_datetime(rows["applied_on"])
    return rows[CARRIED].drop_duplicates().sort_values(["plot", "applied_on"], kind="stable").reset_index(drop=True)


def _next_picking(dressings: pd.DataFrame, harvests: pd.DataFrame) -> pd.Series:
    """Return for each dressing the date of the plot's first picking on that day or later, NaT without one."""
    pickings = _real_pickings(harvests)
    dates = [
        min((day for day in pickings.get(plot, ()) if day >= applied), default=pd.NaT)
        for plot, applied in zip(dressings["plot"], dressings["applied_on"], strict=True)
    ]
    return pd.Series(dates, index=dressings.index, dtype="datetime64[ns]")


def _real_pickings(harvests: pd.DataFrame) -> dict[str, list[pd.Timestamp]]:
    """Return the picking dates of each plot; a visit with nothing but zeros written down picked nothing."""
    amounts = harvests[["marketable_fruits", "marketable_kg", "cull_fruits", "cull_kg"]].astype(float)
    empty = (amounts.fillna(0.0) == 0).all(axis=1) & amounts.notna().any(axis=1)
    picked = harvests[~empty]
    return {str(plot): list(pd.to_datetime(rows["date"])) for plot, rows in picked.groupby("plot")}
