"""The water ledger of a plot, three water productivities, and how much less water was drawn.

Over a season on planted ground: I + P + C + S1 - S2 = ET + D + R. I is first fill, refills and
irrigation less what was left over or leaked; P rain on the ground outside lids; C all that lids
caught; S1 - S2 the soil store used; ET evapotranspiration; D drainage; R runoff. Systems are
compared on the water drawn for the plot, with leak and left-over beside it.
Key: FAO Water Report 46 (2021).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pandas as pd

from plotworth.field.ratio import Ratio, ratio_of_independent_means, ratio_of_means
from plotworth.ground.conversions import LITRES_PER_M3

L_PER_M2_AND_MM = 1.0
DRAWN_KINDS = ["first_fill", "refill", "irrigation"]
LEAVING_KINDS = ["drainage", "runoff"]
KINDS = [*DRAWN_KINDS, "rain", "lid_catch", "left_over", "leak", *LEAVING_KINDS]
PLOT_COLUMNS = ["plot", "block", "treatment", "crop", "site", "trial_year", "net_area_m2"]
BLOCK_KEYS = ["site", "trial_year", "block"]
NOT_MEASURED = "drainage not measured"
NO_WATER = "no water applied"
SHARED_METER = "no finite interval: one meter serves several plots"
ONE_PLOT = "no finite interval: one plot only"
NO_RECORD = "no water record"

DENOMINATORS: Mapping[str, str] = MappingProxyType(
    {
        "irrigation_productivity_kg_per_m3": "per m3 irrigated: first fill + refills + irrigation - left over - leak",
        "inflow_productivity_kg_per_m3": "per m3 of all inflow: irrigated + rain + lid catch + soil store used",
        "evapotranspiration_productivity_kg_per_m3": "per m3 of evapotranspiration: all inflow - drainage - runoff",
    }
)
"""What stands below the line of each water productivity."""


def plot_ledger(plots: pd.DataFrame, water: pd.DataFrame, soil_water: pd.DataFrame) -> pd.DataFrame:
    """Return each plot's water over the records given, one row a plot in the order of `plots`.

    Columns: those of PLOT_COLUMNS; litres of each kind (`<kind>_l`; 0 where a recorded plot has no
    such row, but drainage and runoff are NaN where neither was measured); drawn_l = first fill +
    refills + irrigation; applied_l = drawn - left over - leak (I); soil_store_used_l (first less last
    reading x area; NaN under two readings, then taken as 0 in the inflow); inflow_l = I + rain + lid
    catch + soil store used; evapotranspiration_l = inflow - drainage - runoff; each litre column
    again `_per_m2`; soil_store_measured; drainage_measured; shared_meter (one meter's draws served
    several plots); missing (no water row at all: litres NaN, never zero).
    """
    table = plots[PLOT_COLUMNS].reset_index(drop=True)
    table = table.join(_litres_by_kind(table["plot"], water))
    table["missing"] = table["refill_l"].isna()
    table["drainage_measured"] = table[[f"{kind}_l" for kind in LEAVING_KINDS]].notna().all(axis=1)
    used_mm = _soil_store_used_mm(soil_water).reindex(table["plot"]).to_numpy(np.float64)
    table["soil_store_used_l"] = used_mm * L_PER_M2_AND_MM * table["net_area_m2"]
    table["soil_store_measured"] = table["soil_store_used_l"].notna()
    table["shared_meter"] = table["plot"].isin(_plots_on_shared_meters(water))
    return _per_m2(_balance(table))


def _litres_by_kind(plot: pd.Series, water: pd.DataFrame) -> pd.DataFrame:
    """Sum the litres of every kind, rows in the order of `plot`."""
    sums = water.astype({"litres": float}).groupby(["plot", "kind"])["litres"].sum().unstack("kind")
    litres = sums.reindex(columns=KINDS)
    unmeasured = litres[LEAVING_KINDS].isna().all(axis=1)
    litres = litres.fillna(0.0)
    litres.loc[unmeasured, LEAVING_KINDS] = np.nan
    return litres.reindex(plot).add_suffix("_l").reset_index(drop=True)


def _soil_store_used_mm(soil_water: pd.DataFrame) -> pd.Series:
    """Return first less last reading by plot [mm]; only plots with two readings or more."""
    readings = soil_water.astype({"mm": float}).sort_values("date", kind="stable").groupby("plot")["mm"]
    return (readings.first() - readings.last())[readings.size() > 1]


def _plots_on_shared_meters(water: pd.DataFrame) -> pd.Series:
    """Return the plots whose draws were read on a meter that served other plots too."""
    drawn = water[water["kind"].isin(DRAWN_KINDS) & (water["meter"] != "")]
    served = drawn.groupby("meter")["plot"].nunique()
    return drawn.loc[drawn["meter"].isin(served.index[served > 1]), "plot"]


def _balance(table: pd.DataFrame) -> pd.DataFrame:
    """Add what was drawn, applied, taken in all and evaporated [l]."""
    drawn = table[[f"{kind}_l" for kind in DRAWN_KINDS]].sum(axis=1, skipna=False)
    applied = drawn - table["left_over_l"] - table["leak_l"]
    inflow = applied + table["rain_l"] + table["lid_catch_l"] + table["soil_store_used_l"].fillna(0.0)
    evapotranspiration = inflow - table["drainage_l"] - table["runoff_l"]
    return table.assign(drawn_l=drawn, applied_l=applied, inflow_l=inflow, evapotranspiration_l=evapotranspiration)


def _per_m2(table: pd.DataFrame) -> pd.DataFrame:
    """Add every litre column per planted square metre."""
    litres = [name for name in table.columns if name.endswith("_l")]
    return table.join(table[litres].div(table["net_area_m2"], axis=0).add_suffix("_per_m2"))


def without_lost_plots(ledger: pd.DataFrame, plot_yields: pd.DataFrame) -> pd.DataFrame:
    """Mark as missing the plots that brought no harvest record.

    A plot lost during the season was watered for a part of it only; its litres would pass for a
    season's. To be done before treatments are compared once a trial has been harvested.
    """
    lost = plot_yields.set_index("plot")["missing"].reindex(ledger["plot"]).to_numpy(np.bool_)
    return ledger.assign(missing=ledger["missing"].to_numpy(np.bool_) | lost)


def treatment_water(ledger: pd.DataFrame) -> pd.DataFrame:
    """Return treatment means of the ledger over the plots with a water record, index treatment.

    Columns: plots; missing_plots; every `_l_per_m2` column of the ledger as a mean over plots (NaN
    where one of them is); drawn_ and applied_ sd_l_per_m2 and se_l_per_m2 over plots (NaN with one
    plot or a shared meter); delivery_share = mean applied / mean drawn; soil_store_measured and
    drainage_measured (on every plot); shared_meter (on any).
    """
    rows = {name: _treatment(plots) for name, plots in ledger.groupby("treatment", sort=False)}
    columns = list(_treatment(ledger.iloc[:0]))
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns).rename_axis("treatment")


def _treatment(plots: pd.DataFrame) -> dict[str, float | bool]:
    """Return one row of the treatment table."""
    used = plots[~plots["missing"].astype(bool)]
    means = {name: float(used[name].mean(skipna=False)) for name in plots.columns if name.endswith("_l_per_m2")}
    return {
        "plots": len(used),
        "missing_plots": len(plots) - len(used),
        **means,
        **_spread(used, "drawn"),
        **_spread(used, "applied"),
        "delivery_share": _over(means["applied_l_per_m2"], means["drawn_l_per_m2"]),
        "soil_store_measured": bool(used["soil_store_measured"].all()),
        "drainage_measured": bool(used["drainage_measured"].all()),
        "shared_meter": bool(used["shared_meter"].any()),
    }


def _spread(used: pd.DataFrame, name: str) -> dict[str, float]:
    """Return sd and standard error over plots, NaN where plots share a meter."""
    sd = math.nan if used["shared_meter"].any() else float(used[f"{name}_l_per_m2"].std(ddof=1))
    return {f"{name}_sd_l_per_m2": sd, f"{name}_se_l_per_m2": sd / math.sqrt(max(len(used), 1))}


def _over(numerator: float, denominator: float) -> float:
    """Divide; NaN unless the denominator is above 0."""
    return numerator / denominator if denominator > 0 else math.nan


def water_productivities(
    ledger: pd.DataFrame, plot_yields: pd.DataFrame, evapotranspiration: Mapping[str, float]
) -> pd.DataFrame:
    """Return the three water productivities of each treatment, index treatment.

    Parameters: `plot_ledger`; `plot_yields` of the same plots (plot and yield_kg_per_m2 are used);
    a season's evapotranspiration by treatment from outside the trial [l/m2], empty where unknown.
    Columns: plots (with yield and water); yield_kg_per_m2; the three of DENOMINATORS, each a ratio
    of means over these plots [kg/m3]; reason (why one of them is NaN, else ""); inflow_,
    evapotranspiration_ (by balance) and stated_evapotranspiration_l_per_m2; unexplained_l_per_m2 =
    inflow - drainage - runoff - stated evapotranspiration (unmeasured drainage stays in the gap).

    The third is NaN unless drainage or runoff was measured on all of these plots.
    """
    yields = plot_yields.set_index("plot")["yield_kg_per_m2"].astype(float)
    joined = ledger.assign(yield_kg_per_m2=yields.reindex(ledger["plot"]).to_numpy())
    groups = joined.groupby("treatment", sort=False)
    stated = {str(name): float(evapotranspiration.get(str(name), math.nan)) for name, _ in groups}
    rows = {name: _productivity(plots, stated[str(name)]) for name, plots in groups}
    columns = list(_productivity(joined.iloc[:0], math.nan))
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns).rename_axis("treatment")


def _productivity(plots: pd.DataFrame, stated_l_per_m2: float) -> dict[str, float | str]:
    """Return one row of the productivity table."""
    used = plots[plots["yield_kg_per_m2"].notna() & ~plots["missing"].astype(bool)]
    names = ["applied_l_per_m2", "inflow_l_per_m2", "evapotranspiration_l_per_m2"]
    kilograms, (applied, inflow, evaporated) = (
        used["yield_kg_per_m2"].mean(),
        (float(used[name].mean(skipna=False)) for name in names),
    )
    ratios = (LITRES_PER_M3 * _over(float(kilograms), litres) for litres in (applied, inflow, evaporated))
    leaving = used[[f"{kind}_l_per_m2" for kind in LEAVING_KINDS]].mean().fillna(0.0).sum()
    return {
        "plots": len(used),
        "yield_kg_per_m2": float(kilograms),
        **dict(zip(DENOMINATORS, ratios, strict=True)),
        "reason": _why_null(used, applied),
        "inflow_l_per_m2": inflow,
        "evapotranspiration_l_per_m2": evaporated,
        "stated_evapotranspiration_l_per_m2": stated_l_per_m2,
        "unexplained_l_per_m2": inflow - float(leaving) - stated_l_per_m2,
    }


def _why_null(used: pd.DataFrame, applied_l_per_m2: float) -> str:
    """Say in words why a productivity is missing."""
    if used.empty:
        return NO_RECORD
    unmeasured = [] if used["drainage_measured"].all() else [NOT_MEASURED]
    return "; ".join([*unmeasured, *([NO_WATER] if applied_l_per_m2 <= 0 else [])])


@dataclass(frozen=True)
class LessWater:
    """How much less water a treatment drew than a reference, over the plots of one trial.

    Attributes: treatment; reference; their plots with a water record; less_water_share = 1 - ratio
    of drawn means; low and high end of its 95 % interval, NaN where there is no finite one;
    standard_error; degrees_of_freedom; method in words; reason in words where an end is missing.
    """

    treatment: str
    reference: str
    plots: int
    reference_plots: int
    less_water_share: float
    low: float
    high: float
    standard_error: float
    degrees_of_freedom: float
    method: str
    reason: str


def less_water(ledger: pd.DataFrame, treatment: str, reference: str) -> LessWater:
    """Compare the water drawn per planted m2 with that of a reference treatment.

    Parameters: `plot_ledger`; names of the two treatments. Paired by block (mean of a treatment's
    plots in the block) where every plot has a block and every block, two at least, holds both;
    else two independent samples. Plots without a water record are left out. No interval with one
    plot of either treatment, with a meter that served several plots, or where Fieller's is unbounded.
    """
    measured = ledger[~ledger["missing"].astype(bool)]
    ours, theirs = measured[measured["treatment"] == treatment], measured[measured["treatment"] == reference]
    plots = (treatment, reference, len(ours), len(theirs))
    if ours.empty or theirs.empty:
        return LessWater(*plots, math.nan, math.nan, math.nan, math.nan, math.nan, "none", NO_RECORD)
    ratio = _drawn_ratio(ours, theirs)
    share = 1.0 - ratio.ratio
    if ours["shared_meter"].any() or theirs["shared_meter"].any():
        return LessWater(*plots, share, math.nan, math.nan, math.nan, math.nan, "ratio of means", SHARED_METER)
    reason = ONE_PLOT if min(len(ours), len(theirs)) < 2 and math.isfinite(share) else ratio.reason
    ends = (1.0 - ratio.high, 1.0 - ratio.low)
    return LessWater(*plots, share, *ends, ratio.standard_error, ratio.degrees_of_freedom, ratio.method, reason)


def _drawn_ratio(ours: pd.DataFrame, theirs: pd.DataFrame) -> Ratio:
    """Divide the drawn means, paired by block where the layout allows."""
    blocks = [plots.groupby(BLOCK_KEYS)["drawn_l_per_m2"].mean() for plots in (ours, theirs)]
    named = (ours["block"] != "").all() and (theirs["block"] != "").all()
    if named and len(blocks[0]) > 1 and set(blocks[0].index) == set(blocks[1].index):
        return ratio_of_means(blocks[0].to_numpy(), blocks[1].reindex(blocks[0].index).to_numpy())
    return ratio_of_independent_means(ours["drawn_l_per_m2"].to_numpy(), theirs["drawn_l_per_m2"].to_numpy())
