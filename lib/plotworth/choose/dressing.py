"""Mineral fertiliser given at once: the largest dressing of a trial's treatments, by what inputs.csv calls its kind."""

from dataclasses import dataclass

import pandas as pd

from plotworth.case.folder import Case
from plotworth.ground.conversions import GRAMS_PER_KG, KG_PER_T
from plotworth.supply.input_kinds import MINERAL

KG_PER_UNIT = {"kg": 1.0, "g": 1.0 / GRAMS_PER_KG, "t": KG_PER_T}


@dataclass(frozen=True)
class Dressing:
    """The largest amount of mineral fertiliser that a plot of a treatment was given on one day.

    Attributes: treatment and crop; plot and date of it; kg_per_m2 of product on the planted ground.
    """

    treatment: str
    crop: str
    plot: str
    date: str
    kg_per_m2: float


def largest_dressings(case: Case) -> dict[str, Dressing]:
    """Return the largest dressing of each treatment, several products of a day added; only weights are known.

    A treatment without mineral fertiliser, or with none written in kg, g or t, is left out.
    """
    days = _days(case.table("plots"), case.table("inputs")).sort_values("kg_per_m2", ascending=False, kind="stable")
    largest = days.drop_duplicates("treatment")
    dates = largest["date"].dt.strftime("%Y-%m-%d")
    names = (largest[name].astype(str) for name in ("treatment", "crop", "plot"))
    rows = zip(*names, dates, largest["kg_per_m2"], strict=True)
    return {treatment: Dressing(treatment, crop, plot, day, mass) for treatment, crop, plot, day, mass in rows}


def unweighed(case: Case) -> tuple[str, ...]:
    """Return the mineral fertilisers whose amount stands in another unit than kg, g or t."""
    inputs = case.table("inputs")
    rows = inputs[(inputs["kind"] == MINERAL) & ~inputs["unit"].isin(list(KG_PER_UNIT))]
    return tuple(dict.fromkeys(str(item) for item in rows["item"]))


def _days(plots: pd.DataFrame, inputs: pd.DataFrame) -> pd.DataFrame:
    """Return the kilograms of mineral fertiliser on a planted m2, one row a plot and day."""
    rows = inputs[(inputs["kind"] == MINERAL) & inputs["unit"].isin(list(KG_PER_UNIT))]
    rows = rows.astype({"plot": object}).merge(plots[["plot", "treatment", "crop", "net_area_m2"]], on="plot")
    kilograms = rows["quantity"].astype(float) * rows["unit"].map(KG_PER_UNIT).astype(float)
    rows = rows.assign(kg_per_m2=kilograms / rows["net_area_m2"].astype(float))
    return rows.groupby(["treatment", "crop", "plot", "date"], sort=False)["kg_per_m2"].sum().reset_index()
