"""Repeated pickings summed to one total a plot, with the early part of the season beside it.

A picking is no repetition: pickings of a plot are added up before anything is compared. Early means
the same days for every plot, never the first pickings of each, so that a late start counts as late.
"""

import numpy as np
import pandas as pd

from plotworth.field.yields import plot_yields


def harvests_until(harvests: pd.DataFrame, date: pd.Timestamp) -> pd.DataFrame:
    """Return the pickings up to and including a day."""
    return harvests[harvests["date"] <= date]


def first_picking_days(harvests: pd.DataFrame, *, days: int) -> pd.DataFrame:
    """Return the pickings of the first so many days on which anything was picked in the trial."""
    first = np.sort(harvests["date"].dropna().unique())[:days]
    return harvests[harvests["date"].isin(first)]


def season_totals(
    plots: pd.DataFrame,
    harvests: pd.DataFrame,
    fruit_masses: pd.DataFrame,
    *,
    early: pd.DataFrame,
    yield_from: str,
) -> pd.DataFrame:
    """Return the season's total of each plot with its early yield, in the order of `plots`.

    Parameters: the record tables; early, the pickings that count as early (`harvests_until`,
    `first_picking_days`); yield_from as in `plot_yields`, whose columns come first. Further columns:
    early_kg_per_m2 [planted net area; 0 where a plot was picked, but not yet]; early_share [0-1, of the
    total; NaN where the total is 0]. A plot without any picking is missing in both.
    """
    table = plot_yields(plots, harvests, fruit_masses, yield_from=yield_from)
    first = plot_yields(plots, early, fruit_masses, yield_from=yield_from)
    not_yet = first["missing"] & ~table["missing"]
    kilograms = first["yield_kg_per_m2"].mask(not_yet, 0.0)
    total = table["yield_kg_per_m2"]
    return table.assign(early_kg_per_m2=kilograms, early_share=kilograms / total.where(total > 0))
