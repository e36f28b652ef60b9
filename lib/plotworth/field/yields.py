"""What the plots yielded: by fruit counts x mean fruit mass or weighed, by plot and by treatment.

The plot is the unit. A counted picking is a census of its fruit; only the mean mass is a sample.
Kilograms stand on planted square metres of the net area. A plot without a harvest row is missing,
never zero; a plot picked without fruit is a zero. Fruit still on the plants is a forecast, apart.
"""

import math

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from plotworth.field.masses import weigh
from plotworth.field.pickings import (
    COUNTS,
    WEIGHED,
    count_mass_variance,
    counting_variance,
    picking_kilograms,
    plot_sums,
    shared_covariances,
)
from plotworth.ground.conversions import GRAMS_PER_KG
from plotworth.ground.errors import PlotworthError

__all__ = [
    "count_mass_variance",
    "goodman_variance",
    "plot_yields",
    "standing_forecast",
    "treatment_yields",
]

Floats = NDArray[np.float64]

CONFIDENCE = 0.95
PLOT_COLUMNS = ["plot", "block", "treatment", "crop", "site", "trial_year", "net_area_m2", "plants"]


def goodman_variance(x_mean: ArrayLike, x_variance: ArrayLike, y_mean: ArrayLike, y_variance: ArrayLike) -> Floats:
    """Return the unbiased estimate of the variance of a product of two independent means.

    For a harvest whose count is sampled too. Parameters: each factor's mean and the variance of that
    mean. Equation: x^2 vy + y^2 vx - vx vy (minus: vx and vy are estimates; plus is for known
    variances). Can fall below 0 where both factors are hardly known.
    Source: Goodman (1960) J. Am. Statist. Ass. 55:708.
    """
    x, vx, y, vy = (np.asarray(v, dtype=np.float64) for v in (x_mean, x_variance, y_mean, y_variance))
    return np.asarray(x**2 * vy + y**2 * vx - vx * vy)


def plot_yields(
    plots: pd.DataFrame, harvests: pd.DataFrame, fruit_masses: pd.DataFrame, *, yield_from: str
) -> pd.DataFrame:
    """Return what each plot yielded, one row a plot in the order of `plots`.

    Parameters: the record tables; yield_from "counts" (counted kg where a picking has a count, else
    its weighed kg) or "weighed" (the other way round). Columns: those of PLOT_COLUMNS; plants_alive
    [last record]; pickings; marketable_fruits [NaN where a picking has no count]; counted_kg with its
    sampling error counted_kg_se; weighed_kg [NaN unless every picking with fruit was weighed];
    cull_kg over the pickings whose culls were recorded and cull_paired_kg, the marketable kg of the
    same pickings; paired_counted_kg and paired_weighed_kg over the pickings that have both;
    yield_kg; yield_kg_per_m2; fruits_per_m2; kg_per_plant [plants set]; kg_per_surviving_plant;
    shared_mass_covariance [(kg/m2)^2: mean covariance of the plot's yield with those of the
    treatment's other plots because they share weighed fruit]; missing.

    Errors: ValueError for another yield_from.
    """
    if yield_from not in (COUNTS, WEIGHED):
        raise ValueError(f"yield_from is {COUNTS!r} or {WEIGHED!r}, found {yield_from!r}")
    pickings, loads = picking_kilograms(plots, harvests, fruit_masses, yield_from=yield_from)
    table = plots[PLOT_COLUMNS].reset_index(drop=True).join(plot_sums(pickings, len(plots)))
    table["plants_alive"] = _last_alive(harvests).reindex(table["plot"]).to_numpy()
    table["missing"] = table["pickings"] == 0
    error = np.sqrt(counting_variance(pickings, loads, len(table)))
    table["counted_kg_se"] = np.where(table["counted_kg"].isna(), np.nan, error)
    table = _per_area_and_plant(table)
    covariances = shared_covariances(pickings, loads, table["net_area_m2"].to_numpy(np.float64))
    table["shared_mass_covariance"] = _mean_with_others(covariances, table)
    return table


def _last_alive(harvests: pd.DataFrame) -> pd.Series:
    """Return the last plants_alive written down for each plot."""
    known = harvests[harvests["plants_alive"].notna()].sort_values("date", kind="stable")
    return known.drop_duplicates("plot", keep="last").set_index("plot")["plants_alive"].astype(float)


def _per_area_and_plant(table: pd.DataFrame) -> pd.DataFrame:
    """Add the yield by planted square metre, by plant set and by plant that survived."""
    kilograms, area = table["yield_kg"], table["net_area_m2"].astype(float)
    return table.assign(
        yield_kg_per_m2=kilograms / area,
        fruits_per_m2=table["marketable_fruits"] / area,
        kg_per_plant=kilograms / _above_zero(table["plants"]),
        kg_per_surviving_plant=kilograms / _above_zero(table["plants_alive"]),
    )


def _above_zero(plants: pd.Series) -> pd.Series:
    """Return the numbers with NaN for 0, so that nothing is divided by no plants."""
    return plants.astype(float).where(plants > 0)


def _mean_with_others(covariances: Floats, table: pd.DataFrame) -> Floats:
    """Return each plot's mean covariance with the other measured plots of its treatment."""
    measured = table["yield_kg_per_m2"].notna().to_numpy()
    codes = np.where(measured, pd.factorize(table["treatment"])[0], np.arange(len(table)) + len(table))
    others = (codes[:, None] == codes[None, :]) & ~np.eye(len(table), dtype=np.bool_)
    count = others.sum(axis=1)
    sums = np.sum(np.where(others, covariances, 0.0), axis=1)
    return np.asarray(np.divide(sums, count, out=np.full(len(table), np.nan), where=count > 0))


def treatment_yields(plot_yields: pd.DataFrame) -> pd.DataFrame:
    """Return treatment means over plots, index treatment in order of first appearance.

    Parameter: rows of `plot_yields`, one crop a treatment. Columns: plots (with a yield);
    missing_plots (the others); yield_kg_per_m2 with yield_sd_, yield_se_, yield_low_ and
    yield_high_kg_per_m2 (95 % t interval over plots, plots - 1 degrees of freedom; NaN with one
    plot); weighed_kg_per_m2 (NaN unless every plot was weighed throughout); disagreement_share
    (paired counted / paired weighed kg - 1); fruits_per_m2; fruit_mass_g (kg over fruits of the
    plots counted throughout); cull_share (cull over picked kg where culls were recorded);
    kg_per_surviving_plant; weighing_se_kg_per_m2 (what shared masses add).

    se^2 = sd^2 / plots + weighing_se^2. The spread between plots holds each plot's own weighing
    error but nothing that is common to them: weighing_se^2 is the mean covariance of two plots.

    Errors: PlotworthError where a treatment holds more than one crop.
    """
    rows = {name: _treatment(plots) for name, plots in plot_yields.groupby("treatment", sort=False)}
    columns = list(_treatment(plot_yields.iloc[:0]))
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns).rename_axis("treatment")


def _treatment(plots: pd.DataFrame) -> dict[str, float]:
    """Return one row of the treatment table."""
    _refuse_several_crops(plots)
    used = plots[plots["yield_kg_per_m2"].notna()]
    shared_variance = float(used["shared_mass_covariance"].mean())
    return {
        "plots": len(used),
        "missing_plots": len(plots) - len(used),
        **_interval(used["yield_kg_per_m2"].to_numpy(np.float64), shared_variance),
        "weighed_kg_per_m2": float((used["weighed_kg"] / used["net_area_m2"]).mean(skipna=False)),
        "disagreement_share": _over(used["paired_counted_kg"].sum(), used["paired_weighed_kg"].sum()) - 1.0,
        **_shape_of_the_harvest(used),
        "weighing_se_kg_per_m2": math.sqrt(shared_variance),
    }


def _refuse_several_crops(plots: pd.DataFrame) -> None:
    """Kilograms of different crops are never added."""
    crops = sorted(plots["crop"].unique())
    if len(crops) > 1:
        treatment = plots["treatment"].iloc[0]
        raise PlotworthError(f"treatment {treatment!r} holds several crops ({', '.join(crops)}): take one at a time.")


def _shape_of_the_harvest(used: pd.DataFrame) -> dict[str, float]:
    """Return fruits, their mean mass, culls and yield by plant that survived."""
    full = used[used["fruits_per_m2"].notna()]
    alive = used[used["plants_alive"].notna()]
    culled = used["cull_kg"].sum()
    return {
        "fruits_per_m2": float(full["fruits_per_m2"].mean()),
        "fruit_mass_g": _over(GRAMS_PER_KG * full["yield_kg_per_m2"].sum(), full["fruits_per_m2"].sum()),
        "cull_share": _over(culled, culled + used["cull_paired_kg"].sum()),
        "kg_per_surviving_plant": _over(alive["yield_kg"].sum(), alive["plants_alive"].sum()),
    }


def _over(numerator: float, denominator: float) -> float:
    """Divide; NaN by 0."""
    return float(numerator) / float(denominator) if denominator else math.nan


def _interval(values: Floats, shared_variance: float) -> dict[str, float]:
    """Return the mean over plots with its spread and interval; NaN but for the mean with one plot."""
    mean = float(values.mean()) if values.size else math.nan
    sd = float(values.std(ddof=1)) if values.size > 1 else math.nan
    se = math.sqrt(sd**2 / max(values.size, 1) + shared_variance)
    half = _t_quantile(values.size - 1) * se
    ends = {"yield_low_kg_per_m2": mean - half, "yield_high_kg_per_m2": mean + half}
    return {"yield_kg_per_m2": mean, "yield_sd_kg_per_m2": sd, "yield_se_kg_per_m2": se, **ends}


def _t_quantile(degrees_of_freedom: int) -> float:
    """Return t of the two-sided interval; NaN without degrees of freedom."""
    from scipy.stats import t

    return float(t.ppf((1 + CONFIDENCE) / 2, degrees_of_freedom)) if degrees_of_freedom > 0 else math.nan


def standing_forecast(
    plots: pd.DataFrame, standing_fruits: pd.DataFrame, harvests: pd.DataFrame, fruit_masses: pd.DataFrame
) -> pd.DataFrame:
    """Return the fruit on the plants at each plot's last count: a forecast, never part of yield.

    One row a plot that was counted: plot, treatment, crop, date, fruits, pickings_since (pickings
    after the count), standing_kg and standing_kg_per_m2, by the mean mass that a picking on that
    date would take. NaN where pickings followed: the fruit may be in the yield already.
    """
    order = standing_fruits.sort_values("date", kind="stable")
    last = order.drop_duplicates("plot", keep="last")[["plot", "date", "fruits"]]
    keys = plots[["plot", "treatment", "crop", "net_area_m2"]].reset_index(drop=True).astype({"plot": object})
    table = keys.merge(last.astype({"plot": object}), on="plot")
    samples, _ = weigh(table[["plot", "date"]], plots, fruit_masses)
    table["pickings_since"] = _pickings_since(table, harvests)
    kilograms = (table["fruits"] * samples["mean_g"] / GRAMS_PER_KG).mask(table["fruits"] == 0, 0.0)
    table["standing_kg"] = kilograms.where(table["pickings_since"] == 0)
    table["standing_kg_per_m2"] = table["standing_kg"] / table["net_area_m2"]
    return table.drop(columns="net_area_m2")


def _pickings_since(counts: pd.DataFrame, harvests: pd.DataFrame) -> NDArray[np.int64]:
    """Return how many pickings each plot had after its count."""
    counted_on = counts.set_index("plot")["date"].reindex(harvests["plot"]).to_numpy()
    later = harvests["date"].to_numpy() > counted_on
    since = harvests.loc[later, "plot"].value_counts()
    return np.asarray(since.reindex(counts["plot"], fill_value=0), dtype=np.int64)
