"""Rows for the charts of a trial: plots and means, ratios, pickings by date, size of fruit, water productivity.

Intervals are 95 % and two-sided. Those of means and ratios come from the block model, those of single pickings are
over plots of that date. Moments are milliseconds since 1970 in universal time.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from plotworth.choose.trial_outcomes import YIELD, OutcomeFit, early_days, plain_means, treatment_margin
from plotworth.choose.water_chart_rows import day_text, moment_ms
from plotworth.field.compare import ratios, treatment_means
from plotworth.field.contrast import CONFIDENCE, Contrast, margin
from plotworth.field.pickings import picking_kilograms
from plotworth.field.ratio import Ratio
from plotworth.field.water import DENOMINATORS
from plotworth.ground.handbook import HandbookError, find_published

Rows = list[dict[str, Any]]
Labels = Mapping[str, str]

SHORT_DENOMINATORS = dict(zip(DENOMINATORS, ("irrigated", "all inflow", "evapotranspiration"), strict=True))
WIDEST_RANGE = 10  # a published range over more than this, field to closed greenhouse, says nothing of one system
FROM_MEMORY = "from memory"
TWO_FACTORS, TWO_PLOTS = 2, 2


def dot_rows(fit: OutcomeFit, left_out: Sequence[str] = ()) -> Rows:
    """Return every plot: treatment, label, block, plot, value [unit of the outcome], left_out.

    A plot left out keeps its dot and its block; one without a value has NaN.
    """
    columns = fit.plots[["treatment", "block", "plot", fit.outcome.name]]
    return [
        {"treatment": name, "label": fit.labels[name], "block": block, "plot": plot, "value": float(value),
         "left_out": str(plot) in left_out}
        for name, block, plot, value in columns.itertuples(index=False)
        if name in fit.labels
    ]  # fmt: skip


def mean_rows(fit: OutcomeFit) -> Rows:
    """Return each treatment's mean cleared of block differences: treatment, label, mean, low, high, plots.

    Without a model, the plain mean of its plots and no interval.
    """
    if fit.model is None:
        return [_mean_row(fit, name, mean, math.nan, math.nan) for name, mean in plain_means(fit)]
    means = treatment_means(fit.model, treatment_margin(fit, fit.model))
    return [_mean_row(fit, row.label, row.estimate, row.low, row.high) for row in means]


def _mean_row(fit: OutcomeFit, name: str, mean: float, low: float, high: float) -> dict[str, Any]:
    own = fit.plots.loc[fit.plots["treatment"].astype(str) == name, fit.outcome.name]
    return {"treatment": name, "label": fit.labels[name], "mean": mean, "low": low, "high": high,
            "plots": int(own.notna().sum())}  # fmt: skip


def ratio_rows(fits: Sequence[OutcomeFit], treatments: Sequence[str], reference: str, *, gain: float | None) -> Rows:
    """Return treatments over the reference, outcome by outcome: key, treatment, label, outcome, ratio, low, high.

    Parameters: fits of the outcomes wanted; treatments, the reference is passed over; gain, the smallest gain in
    yield worth having, a share: rows of the yield carry it as worth_from = 1 - gain and worth_to = 1 + gain, others
    NaN. `reason` in words where the ratio or its interval is missing.
    """
    rows = []
    for fit in fits:
        found = _ratios(fit, reference)
        for name in treatments:
            if name != reference and name in fit.labels:
                rows.append(_ratio_row(fit, name, found.get(name), gain))
    return rows


def _ratios(fit: OutcomeFit, reference: str) -> dict[str, Ratio]:
    if fit.model is None or reference not in fit.labels:
        return {}
    return ratios(fit.model, treatment_margin(fit, fit.model), baseline=reference)


def _ratio_row(fit: OutcomeFit, name: str, ratio: Ratio | None, gain: float | None) -> dict[str, Any]:
    worth = gain if gain is not None and fit.outcome.name == YIELD else math.nan
    found = (math.nan,) * 3 if ratio is None else (ratio.ratio, ratio.low, ratio.high)
    return {
        "key": f"{fit.outcome.name}/{name}",
        "treatment": name,
        "label": fit.labels[name],
        "outcome": fit.outcome.label,
        **dict(zip(("ratio", "low", "high"), found, strict=True)),
        "worth_from": 1 - worth,
        "worth_to": 1 + worth,
        "reason": fit.reason if ratio is None else ratio.reason,
    }


def picking_table(plots: pd.DataFrame, harvests: pd.DataFrame, masses: pd.DataFrame, *, basis: str) -> pd.DataFrame:
    """Return the kilograms of every picking: plot, treatment, block, date, kg_per_m2 [planted net area].

    Parameters: plots of one crop, site and season; the record tables; basis, `counts` or `weighed`.
    """
    own = harvests[harvests["plot"].isin(plots["plot"])].reset_index(drop=True)
    kilograms, _ = picking_kilograms(plots, own, masses, yield_from=basis)
    table = kilograms[["plot", "yield_kg"]].assign(date=own["date"])
    keys = plots[["plot", "treatment", "block", "net_area_m2"]].astype({"plot": object})
    joined = table.astype({"plot": object}).merge(keys, on="plot")
    return joined.assign(kg_per_m2=joined["yield_kg"] / joined["net_area_m2"]).dropna(subset=["date"])


def cumulative_rows(pickings: pd.DataFrame, labels: Labels) -> Rows:
    """Return the yield added up over the picking dates, plot by plot and as the plain mean of each treatment's plots.

    Rows: treatment, label, plot ("" for the mean), at_ms, date, kg_per_m2. A plot not picked on a date keeps its sum;
    a plot without any picking is missing.
    """
    rows: Rows = []
    dates = pd.DatetimeIndex(sorted(pickings["date"].unique()))
    for name, own in _by_treatment(pickings, labels):
        sums = own.pivot_table(index="date", columns="plot", values="kg_per_m2", aggfunc="sum")
        sums = sums.reindex(dates).fillna(0.0).cumsum()
        lines = {**{str(plot): sums[plot] for plot in sums}, "": sums.mean(axis=1)}
        rows += [_dated(name, labels, plot, date, kg) for plot, line in lines.items() for date, kg in line.items()]
    return rows


def _by_treatment(table: pd.DataFrame, labels: Labels) -> Iterator[tuple[str, pd.DataFrame]]:
    """Yield the rows of each treatment in the order of the labels; a treatment without rows is passed over."""
    for name in labels:
        own = table[table["treatment"].astype(str) == name]
        if len(own):
            yield name, own


def _dated(name: str, labels: Labels, plot: str, date: Any, kilograms: float) -> dict[str, Any]:
    return {"treatment": name, "label": labels[name], "plot": plot, "at_ms": moment_ms(date), "date": day_text(date),
            "kg_per_m2": float(kilograms)}  # fmt: skip


def early_row(pickings: pd.DataFrame) -> dict[str, Any]:
    """Return the last day that counts as early: at_ms, date, days (picking days up to it); empty without pickings."""
    dates = sorted(pickings["date"].unique())
    if not dates:
        return {}
    days = early_days(pickings)
    last = pd.Timestamp(dates[days - 1])
    return {"at_ms": moment_ms(last), "date": day_text(last), "days": days}


def fruit_mass_rows(plots: pd.DataFrame, masses: pd.DataFrame, labels: Labels) -> Rows:
    """Return the mean mass of a fruit by treatment and date of weighing [g], each plot with equal weight.

    Rows: treatment, label, at_ms, date, mean, low, high, plots, fruits. The interval is over plots, NaN with one.
    """
    keys = plots[["plot", "treatment"]].astype({"plot": object})
    joined = masses.astype({"plot": object}).merge(keys, on="plot")
    sums = joined.groupby(["treatment", "date", "plot"], as_index=False)[["fruits", "total_mass_g"]].sum()
    sums["mean_g"] = sums["total_mass_g"].astype(float) / sums["fruits"]
    rows = []
    for name, own in _by_treatment(sums, labels):
        for date, day in own.groupby("date"):
            rows.append(_fruit_row(name, labels, pd.Timestamp(str(date)), day))
    return rows


def _fruit_row(name: str, labels: Labels, date: pd.Timestamp, day: pd.DataFrame) -> dict[str, Any]:
    mean, half = float(day["mean_g"].mean()), _half_width(day["mean_g"].to_numpy(np.float64))
    return {"treatment": name, "label": labels[name], "at_ms": moment_ms(date), "date": day_text(date), "mean": mean,
            "low": mean - half, "high": mean + half, "plots": len(day), "fruits": int(day["fruits"].sum())}  # fmt: skip


def _half_width(values: np.ndarray[Any, np.dtype[np.float64]]) -> float:
    """Return t x standard error of a mean over plots; NaN for one plot."""
    if values.size < TWO_PLOTS:
        return math.nan
    from scipy.stats import t

    quantile = float(t.ppf((1 + CONFIDENCE) / 2, values.size - 1))
    return quantile * float(values.std(ddof=1)) / math.sqrt(values.size)


def productivity_rows(productivities: pd.DataFrame, labels: Labels) -> Rows:
    """Return kilograms per m3 of each treatment three ways, ratios of means: treatment, label, per, kg_per_m3, reason.

    Parameters: the table of `water_productivities`; labels by treatment.
    NaN with its reason where one is not known; drainage that was not measured leaves evapotranspiration unknown.
    """
    rows = []
    for name, label in labels.items():
        if name in productivities.index:
            found = productivities.loc[name].to_dict()
            for column, per in SHORT_DENOMINATORS.items():
                value = float(found[column])
                reason = str(found["reason"]) if math.isnan(value) else ""
                rows.append({"treatment": name, "label": label, "per": per, "kg_per_m3": value, "reason": reason})
    return rows


def published_rows(crop: str) -> Rows:
    """Return published ranges of kilograms per m3 of a crop: low, high, condition, source; none where there is none.

    Left out are rows from memory and ranges so wide that they say nothing of one system.
    """
    try:
        found = find_published(crop, "water_productivity_kg_per_m3")
    except HandbookError:
        return []
    return [
        {"low": row.low, "high": row.high, "condition": row.condition, "source": row.source}
        for row in found
        if row.high / row.low <= WIDEST_RANGE and not row.status.startswith(FROM_MEMORY)
    ]


def interaction_rows(fit: OutcomeFit) -> Rows:
    """Return the mean of every pair of levels of the first two factors: first, second, mean, low, high.

    Further factors are averaged with equal weights; none without two factors or without a model.
    """
    if fit.model is None or len(fit.model.arrangement.factors) < TWO_FACTORS:
        return []
    first, second = fit.model.arrangement.factors[:2]
    rows = []
    for level in margin(fit.model, second).labels:
        means = treatment_means(fit.model, margin(fit.model, first, at={second: level}))
        rows += [_cell_row(level, mean) for mean in means]
    return rows


def _cell_row(second: str, mean: Contrast) -> dict[str, Any]:
    return {"first": mean.label, "second": second, "mean": mean.estimate, "low": mean.low, "high": mean.high}
