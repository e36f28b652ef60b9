"""Fruit masses: which weighed fruits stand for which picking, and how sure their mean is.

A picking takes the mean mass of the narrowest sample there is (LEVELS): fruit weighed from that
plot on that date; else from plots of the same treatment that day; else of the same treatment over
the season; else of the same crop. A season is a run of the trial: one crop, site and trial year.
The first is the plot's own; the wider ones are shared, so that their error is common to all plots
that use them.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RUN = ["crop", "site", "trial_year"]
LEVELS = (["plot", "date"], [*RUN, "treatment", "date"], [*RUN, "treatment"], ["crop"])
OWN = 0
NOT_WEIGHED = -1
PLOT_KEYS = ["plot", *RUN, "treatment"]


def weigh(pickings: pd.DataFrame, plots: pd.DataFrame, fruit_masses: pd.DataFrame) -> tuple[pd.DataFrame, Floats]:
    """Find the sample of each picking.

    Parameters: pickings with the columns plot and date and one row each; plots and fruit_masses as
    in the record tables. Returns two things. A table aligned with `pickings`: mean_g and sd_g of a
    single fruit [g], `weighed` fruits behind the mean, level (index in LEVELS, NOT_WEIGHED where
    nothing of the crop was weighed; then mean and sd are NaN). And the loads, shape (picking,
    batch): the weight of each batch of `fruit_masses` in the picking's mean divided by the root of
    the batch's fruits, so that two pickings' means have the covariance sd x sd x (loads @ loads.T).

    Where the sample has one batch only its sd comes from the next wider sample that has more.
    """
    pickings = _with_plot_keys(pickings, plots)
    batches = _with_plot_keys(fruit_masses, plots)
    fruits = batches["fruits"].to_numpy(np.float64)
    mean_g = batches["total_mass_g"].to_numpy(np.float64) / fruits
    found = np.full((len(pickings), 3), np.nan)
    level = np.full(len(pickings), NOT_WEIGHED)
    loads = np.zeros((len(pickings), len(batches)))
    for index in reversed(range(len(LEVELS))):
        member = _members(pickings, batches, LEVELS[index])
        some = member.any(axis=1)
        found[some] = _overlay(found[some], _statistics(member[some], fruits, mean_g))
        level[some] = index
        loads[some] = member[some] * np.sqrt(fruits) / found[some, 2:]
    table = pd.DataFrame(found, columns=["mean_g", "sd_g", "weighed"], index=pickings.index)
    return table.assign(level=level), loads


def _with_plot_keys(table: pd.DataFrame, plots: pd.DataFrame) -> pd.DataFrame:
    """Add crop, site, trial year and treatment of the row's plot; rows of other plots fall away."""
    keys = plots[PLOT_KEYS].reset_index(drop=True).astype(object)
    return table.reset_index(drop=True).astype({"plot": object}).merge(keys, on="plot")


def _members(pickings: pd.DataFrame, batches: pd.DataFrame, keys: list[str]) -> NDArray[np.bool_]:
    """Say which batch shares the keys with which picking, shape (picking, batch)."""
    member = np.ones((len(pickings), len(batches)), dtype=np.bool_)
    for key in keys:
        codes, _ = pd.factorize(np.concatenate([pickings[key].to_numpy(), batches[key].to_numpy()]))
        member &= codes[: len(pickings), None] == codes[None, len(pickings) :]
    return member


def _statistics(member: NDArray[np.bool_], fruits: Floats, mean_g: Floats) -> Floats:
    """Return mean, sd and fruits of the samples, shape (picking, 3).

    s^2 = sum f_b (m_b - mbar)^2 / (B - 1) over B batches of f_b fruits with mean m_b; with single
    fruits this is the usual variance. NaN for one batch.
    """
    weighed = member @ fruits
    mean = member @ (fruits * mean_g) / weighed
    squares = np.sum(member * fruits * (mean_g - mean[:, None]) ** 2, axis=1)
    freedom = member.sum(axis=1) - 1.0
    variance = np.divide(squares, freedom, out=np.full_like(squares, np.nan), where=freedom > 0)
    return np.column_stack([mean, np.sqrt(variance), weighed])


def _overlay(wider: Floats, narrower: Floats) -> Floats:
    """Let a narrower sample replace a wider one, except for an sd that it cannot give."""
    laid = narrower.copy()
    laid[:, 1] = np.where(np.isnan(narrower[:, 1]), wider[:, 1], narrower[:, 1])
    return laid
