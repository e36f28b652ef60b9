"""Plots in doubt, shown both ways: with dead plants as loss and as missing, with and without a plot.

What a treatment kills is its loss; what an accident kills is missing. Where nobody can say which, the
truth lies between: per planted square metre it is at least the yield as it stands, at most that of the
survivors on every place. The upper bound grants the dead what the survivors bore with more room.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from plotworth.field.arrangement import Arrangement
from plotworth.field.block_model import BlockModel, fit

NO_DEATHS = "every plant set was alive at the last count"
NOT_COUNTED = "living plants or plants set were not written down for {plots}: these stand as they are"


@dataclass(frozen=True)
class BothWays:
    """One trial fitted twice.

    Attributes: lower, dead plants as loss, or all plots; upper, dead plants as missing, or without the
    plots left out; plots, those that differ between the two; reasons in words, one for each of them;
    remark in words, else "".
    """

    lower: BlockModel
    upper: BlockModel
    plots: tuple[str, ...]
    reasons: tuple[str, ...]
    remark: str


@dataclass(frozen=True)
class Exclusion:
    """A plot left out of a comparison, and why."""

    plot: str
    reason: str


def survivors_on_every_place(yields: pd.DataFrame) -> pd.Series:
    """Return yield_kg_per_m2 x plants / plants_alive, plot by plot.

    Parameter: rows of `plot_yields`. As it stands where plants were not counted; NaN, a missing plot,
    where none survived.
    """
    plants, alive = yields["plants"].astype(float), yields["plants_alive"].astype(float)
    raised = (plants / alive.where(alive > 0)).where(plants.notna() & alive.notna(), 1.0)
    return yields["yield_kg_per_m2"] * raised


def dead_plants_both_ways(yields: pd.DataFrame, arrangement: Arrangement) -> BothWays:
    """Fit the yields with dead plants as loss (lower) and as missing (upper) [kg per planted m2].

    Parameters: rows of `plot_yields` with the columns the arrangement names. Errors: ValueError where
    no plot has a yield either way.
    """
    table = yields.assign(yield_of_survivors=survivors_on_every_place(yields))
    lower = fit(table, arrangement)
    upper = fit(table, arrangement, value="yield_of_survivors")
    lost = (table["plants"] - table["plants_alive"]).astype(float)
    rows = table[lost > 0]
    counts = zip(lost[lost > 0], rows["plants"], strict=True)
    reasons = tuple(f"{int(dead)} of {int(plants)} plants died" for dead, plants in counts)
    return BothWays(lower, upper, tuple(rows["plot"].astype(str)), reasons, _remark(table, rows))


def _remark(table: pd.DataFrame, dead: pd.DataFrame) -> str:
    """Return which plots were not counted, or that nothing died."""
    measured = table[table["yield_kg_per_m2"].notna()]
    unknown = measured[measured["plants"].isna() | measured["plants_alive"].isna()]
    if len(unknown):
        return NOT_COUNTED.format(plots=", ".join(unknown["plot"].astype(str)))
    return "" if len(dead) else NO_DEATHS


def without_plots_both_ways(
    plots: pd.DataFrame,
    arrangement: Arrangement,
    exclusions: tuple[Exclusion, ...],
    *,
    value: str = "yield_kg_per_m2",
) -> BothWays:
    """Fit a trial with all plots and without some that something happened to.

    Parameters: plots with a column `plot`; exclusions, each with its reason. Both fits belong on the
    page: a result that hangs on one plot says so. Errors: ValueError, all at once, where a reason is
    blank, a plot is not there or is named twice.
    """
    names = [exclusion.plot for exclusion in exclusions]
    known = set(plots["plot"].astype(str))
    faults = [f"{e.plot}: a reason is needed" for e in exclusions if not e.reason.strip()]
    faults += [f"{name}: no such plot" for name in names if name not in known]
    faults += [f"{name}: named twice" for name in dict.fromkeys(names) if names.count(name) > 1]
    if faults:
        raise ValueError("; ".join(faults))
    left = plots.assign(**{value: plots[value].where(~plots["plot"].astype(str).isin(names), np.nan)})
    reasons = tuple(exclusion.reason for exclusion in exclusions)
    return BothWays(
        fit(plots, arrangement, value=value), fit(left, arrangement, value=value), tuple(names), reasons, ""
    )
