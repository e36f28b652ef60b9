"""Pickings: kilograms of each picking, how the counted ones err, and their sums by plot.

Kilograms by count are fruits x the mean mass of the picking's sample; a zero count is 0 kg whatever
was weighed. What a picking lacks in one way of measuring it takes from the other.
"""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from plotworth.field.masses import OWN, weigh
from plotworth.ground.conversions import GRAMS_PER_KG

Floats = NDArray[np.float64]

COUNTS, WEIGHED = "counts", "weighed"
WHOLE = ["marketable_fruits", "counted_kg", "weighed_kg", "yield_kg"]
WHERE_RECORDED = ["cull_kg", "cull_paired_kg", "paired_counted_kg", "paired_weighed_kg"]


def count_mass_variance(fruits: ArrayLike, sd_mass: ArrayLike, weighed: ArrayLike) -> Floats:
    """Return the variance of fruits x mean mass where the fruits were all counted and some weighed.

    Parameters: N fruits counted [1]; sd s of a single fruit's mass [g or kg]; n fruits weighed out of
    the N [1]. Any shapes that broadcast. Returns the variance in the square of the mass unit; NaN where
    nothing was weighed. Equation: N^2 s^2 (1 - n/N) / n, the factor (1 - n/N) being 0 from n = N on.
    Valid for a random sample without replacement. Source: Cochran (1977) *Sampling Techniques*, ch. 2.
    """
    counted, sd, sample = np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in (fruits, sd_mass, weighed)))
    unseen = np.clip(counted - sample, 0.0, None)
    squares = np.where(unseen == 0, 0.0, counted * unseen * sd**2)
    return np.asarray(np.divide(squares, sample, out=np.where(counted == 0, 0.0, np.nan), where=sample > 0))


def picking_kilograms(
    plots: pd.DataFrame, harvests: pd.DataFrame, fruit_masses: pd.DataFrame, *, yield_from: str
) -> tuple[pd.DataFrame, Floats]:
    """Return one row a picking of these plots, and the loads of its mean mass (see `masses.weigh`).

    Columns: plot, row (position of the plot in `plots`), those of WHOLE and WHERE_RECORDED, and for
    the errors fruits, sd_kg, weighed, own (whether the sample is the plot's own) and counts (whether
    the yield rests on the count).
    """
    rows = pd.Index(plots["plot"]).get_indexer(pd.Index(harvests["plot"]))
    taken = harvests[rows >= 0].reset_index(drop=True)
    sample, loads = weigh(taken[["plot", "date"]], plots, fruit_masses)
    table = pd.DataFrame({"plot": taken["plot"], "row": rows[rows >= 0]})
    table = table.assign(
        fruits=taken["marketable_fruits"].astype(float),
        sd_kg=sample["sd_g"] / GRAMS_PER_KG,
        weighed=sample["weighed"],
        own=sample["level"] == OWN,
        mean_kg=sample["mean_g"] / GRAMS_PER_KG,
    )
    return _kilograms(table, taken, yield_from), loads


def _kilograms(table: pd.DataFrame, taken: pd.DataFrame, yield_from: str) -> pd.DataFrame:
    """Add the kilogram columns of WHOLE and WHERE_RECORDED."""
    counted, weighed = _by_count(table["fruits"], table["mean_kg"]), taken["marketable_kg"].astype(float)
    culled = taken["cull_kg"].astype(float).fillna(_by_count(taken["cull_fruits"].astype(float), table["mean_kg"]))
    counts = table["fruits"].notna() & ((yield_from == COUNTS) | weighed.isna())
    yielded = counted.where(counts, weighed)
    both = counted.notna() & weighed.notna()
    return table.assign(
        counts=counts,
        marketable_fruits=table["fruits"],
        counted_kg=counted.where(table["fruits"].notna(), weighed),
        weighed_kg=weighed.mask(weighed.isna() & (table["fruits"] == 0), 0.0),
        yield_kg=yielded,
        cull_kg=culled,
        cull_paired_kg=yielded.where(culled.notna()),
        paired_counted_kg=counted.where(both),
        paired_weighed_kg=weighed.where(both),
    )


def _by_count(fruits: pd.Series, mean_kg: pd.Series) -> pd.Series:
    """Return fruits x mean mass; no fruit weighs nothing even where nothing was weighed."""
    return (fruits * mean_kg).mask(fruits == 0, 0.0)


def add_up(values: Floats, rows: NDArray[np.intp], size: int) -> Floats:
    """Sum picking values by the row of their plot, shape (size, ...); a NaN makes its sum NaN."""
    sums = np.zeros((size, *values.shape[1:]))
    np.add.at(sums, rows, values)
    return sums


def plot_sums(pickings: pd.DataFrame, size: int) -> pd.DataFrame:
    """Return pickings and kilograms by plot, NaN where a plot has no picking.

    WHOLE columns are NaN where any picking lacks them, WHERE_RECORDED only where all do.
    """
    rows = pickings["row"].to_numpy()
    count = add_up(np.ones(len(pickings)), rows, size)
    sums = pd.DataFrame({"pickings": count.astype(int)})
    for name in WHOLE:
        sums[name] = np.where(count > 0, add_up(pickings[name].to_numpy(np.float64), rows, size), np.nan)
    for name in WHERE_RECORDED:
        values = pickings[name].to_numpy(np.float64)
        known = add_up(~np.isnan(values) * 1.0, rows, size)
        sums[name] = np.where(known > 0, add_up(np.nan_to_num(values), rows, size), np.nan)
    return sums


def counting_variance(pickings: pd.DataFrame, loads: Floats, size: int) -> Floats:
    """Return the sampling variance of each plot's counted kilograms [kg^2].

    A picking weighed itself errs by `count_mass_variance`. One that borrows a wider sample errs by
    that sample's mean and by its own unweighed fruit, N^2 s^2 / n + N s^2, the first part common to
    all pickings that borrow it and so added before squaring.
    """
    rows, fruits = pickings["row"].to_numpy(), np.nan_to_num(pickings["fruits"].to_numpy(np.float64))
    sd, weighed, own = (pickings[name].to_numpy() for name in ("sd_kg", "weighed", "own"))
    itself = np.sqrt(count_mass_variance(fruits, sd, weighed) * weighed)
    borrowed = np.where(fruits > 0, fruits * sd, 0.0)
    scale = np.where(fruits > 0, np.where(own, itself, borrowed), 0.0)
    common = np.sum(add_up(loads * scale[:, None], rows, size) ** 2, axis=1)
    unweighed = np.where(own | (fruits == 0), 0.0, fruits * sd**2)
    return np.asarray(common + add_up(unweighed, rows, size))


def shared_covariances(pickings: pd.DataFrame, loads: Floats, area_m2: Floats) -> Floats:
    """Return the covariances of the plots' yields that come from shared masses [(kg/m2)^2].

    Shape (plot, plot); the diagonal has no meaning. Two yields that both rest on the mean mass of
    the same n fruits vary together by N1 N2 s^2 / n: no finite-population factor, since the fruit
    of at least one of them was not weighed.
    """
    fruits, sd = pickings["fruits"].to_numpy(np.float64), pickings["sd_kg"].to_numpy(np.float64)
    scale = np.where(pickings["counts"] & (fruits > 0), fruits * sd, 0.0)
    plot_loads = add_up(loads * scale[:, None], pickings["row"].to_numpy(), len(area_m2)) / area_m2[:, None]
    return np.asarray(plot_loads @ plot_loads.T)
