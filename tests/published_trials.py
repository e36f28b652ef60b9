"""Open trial data beside the tests and what R 4.2 makes of them (`tests/published/trial_*`)."""

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from plotworth.field.arrangement import (
    Arrangement,
    complete_blocks,
    completely_randomised,
    latin_square,
    split_plot,
)
from plotworth.field.block_model import BlockModel, fit

PUBLISHED = Path(__file__).parent / "published"
MISSING = -9999  # how antigua_corn writes a plot without a weight, blank apart

LAYOUTS: Mapping[str, tuple[Arrangement, str]] = {
    "orange_rootstock": (complete_blocks("trat", block="bloco"), "resp"),
    "strawberry": (complete_blocks("gen"), "yield"),
    "npk_peas": (complete_blocks("N", "P", "K"), "yield"),
    "turnip": (complete_blocks("spacing", "density"), "yield"),
    "oats": (split_plot(whole=("V",), sub=("N",), block="B"), "Y"),
    "wheat_moisture": (
        split_plot(whole=("Moisture",), sub=("fertilizer",), block="", whole_plot="Tray"),
        "DryMatter",
    ),
    "potato_scab": (completely_randomised("trt"), "inf"),
    "fungicide_latin": (latin_square("trt", row="row", column="col"), "yield"),
    "eggs": (completely_randomised("day"), "weight"),
    "carrot_fly": (complete_blocks("treatment", block="rep"), "undamaged"),
    "antigua_corn": (complete_blocks("trt"), "harvwt"),
    "rice": (complete_blocks("seeding_rate_kg_per_ha"), "yield_kg_per_ha"),
}


def plots_of(name: str) -> pd.DataFrame:
    """The plots of a data set, `data/site` for one site; every column text but the value."""
    data, _, site = name.partition("/")
    plots = pd.read_csv(PUBLISHED / f"trial_{data}.csv", dtype=str, keep_default_na=False)
    if data == "carrot_fly":
        total = plots["total"].astype(float)
        return plots.assign(undamaged=(total - plots["damaged"].astype(float)) / total)
    value = LAYOUTS[data][1]
    plots[value] = pd.to_numeric(plots[value]).astype(float).replace(MISSING, np.nan)
    return plots[plots["site"] == site].reset_index(drop=True) if site else plots


def fitted_trial(name: str) -> BlockModel:
    arrangement, value = LAYOUTS[name.partition("/")[0]]
    return fit(plots_of(name), arrangement, value=value)


@cache
def _references() -> pd.DataFrame:
    with (PUBLISHED / "trial_reference.csv").open(newline="", encoding="utf-8") as lines:
        table = pd.DataFrame(list(csv.DictReader(lines)))
    return table.assign(value=table["value"].astype(float))


def outside(name: str, kind: str) -> dict[tuple[str, ...], dict[str, float]]:
    """Reference values of one kind (anova, mean, pair, dunnett, ...), by what follows it."""
    table = _references()
    table = table[(table["data"] == name) & (table["group"].str.partition("/")[0] == kind)]
    groups = table.groupby("group", sort=False)
    return {tuple(g.split("/")[1:]): dict(zip(r["quantity"], r["value"], strict=True)) for g, r in groups}


def outside_names(kind: str) -> list[str]:
    """Data sets with reference values of one kind."""
    table = _references()
    return sorted(set(table.loc[table["group"].str.partition("/")[0] == kind, "data"]))
