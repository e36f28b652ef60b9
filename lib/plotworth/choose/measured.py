"""What the trial measured, system by system: the figures that stand for the word `trial` in a book."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from plotworth.case.folder import Case
from plotworth.field.ratio import ratio_of_means
from plotworth.field.water import (
    LessWater,
    less_water,
    plot_ledger,
    treatment_water,
    water_productivities,
    without_lost_plots,
)
from plotworth.field.yields import plot_yields, standing_forecast, treatment_yields
from plotworth.ground.conversions import GRAMS_PER_KG

CONFIDENCE = 0.95
MIN_PLOTS = 2
TREATMENT_FIGURES = ("yield_kg_per_m2", "yield_low_kg_per_m2", "yield_high_kg_per_m2", "cull_share")


@dataclass(frozen=True)
class Trial:
    """The trial's tables: yields by plot and treatment, the water ledger by plot and treatment.

    `productivities` by treatment: kilograms per m3 by three denominators, and the litres left unexplained;
    `standing` by plot: fruit still on the plants, a forecast; `less_water` by (system, reference).
    """

    plots: pd.DataFrame
    treatments: pd.DataFrame
    ledger: pd.DataFrame
    water: pd.DataFrame
    productivities: pd.DataFrame
    standing: pd.DataFrame
    less_water: Mapping[tuple[str, str], LessWater]


@dataclass(frozen=True)
class Measured:
    """A measured figure: its mean over plots and its 95 % interval, NaN where it has none."""

    value: float
    low: float = np.nan
    high: float = np.nan


def read_trial(case: Case) -> Trial | None:
    """Return the trial of a case, or None where it records no pickings.

    A plot without pickings is missing: its water is left out of the treatment's means as well.
    """
    if "plots" not in case.tables or "harvests" not in case.tables:
        return None
    plots = case.table("plots")
    basis = case.settings.yield_from or ("counts" if _counted(case) else "weighed")
    yields = plot_yields(plots, case.table("harvests"), case.table("fruit_masses"), yield_from=basis)
    ledger = without_lost_plots(plot_ledger(plots, case.table("water"), case.table("soil_water")), yields)
    records = (plots, case.table("standing_fruits"), case.table("harvests"), case.table("fruit_masses"))
    return Trial(
        plots=yields,
        treatments=treatment_yields(yields),
        ledger=ledger,
        water=treatment_water(ledger),
        productivities=water_productivities(ledger, yields, _evapotranspiration(case)),
        standing=standing_forecast(*records),
        less_water=_less_water(case, ledger),
    )


def _evapotranspiration(case: Case) -> dict[str, float]:
    """Return the season's evapotranspiration [l/m2] that the book states for each measured treatment."""
    crops = {row.treatment: row.crop for row in case.rows("plots")}
    stated: dict[str, float] = {}
    for season in case.rows("seasons"):
        treatment = case.settings.system(season.system).treatment
        if crops.get(treatment) == season.crop:
            keys = {"system": season.system, "crop": season.crop, "season": season.season}
            row = case.book.find("evapotranspiration_l_per_m2", **keys)
            if row is not None and isinstance(row.value, float):
                stated[treatment] = row.value
    return stated


def _less_water(case: Case, ledger: pd.DataFrame) -> dict[tuple[str, str], LessWater]:
    """Return the comparison of each measured system with present practice and the baseline, where measured."""
    treatments = {system.id: system.treatment for system in case.settings.systems if system.treatment}
    references = {case.settings.today, case.settings.baseline} & treatments.keys()
    pairs = [(system, reference) for system in treatments for reference in references if system != reference]
    return {pair: less_water(ledger, *(treatments[name] for name in pair)) for pair in pairs}


def _counted(case: Case) -> bool:
    """Whether fruits were counted and some of them weighed apart, so that a count can become kilograms."""
    return bool(case.table("harvests")["marketable_fruits"].notna().any()) and "fruit_masses" in case.tables


def measured_figures(trial: Trial, treatment: str, crop: str) -> Mapping[str, Measured]:
    """Return the figures of one treatment by assumption name, empty where its plots grew another crop."""
    plots = trial.plots[(trial.plots["treatment"] == treatment) & trial.plots["yield_kg_per_m2"].notna()]
    if plots.empty or set(plots["crop"]) != {crop}:
        return {}
    counted = plots[plots["fruits_per_m2"].notna()]
    row = {name: float(trial.treatments[name].astype(float)[treatment]) for name in TREATMENT_FIGURES}
    figures = {
        "yield_kg_per_m2": Measured(row["yield_kg_per_m2"], row["yield_low_kg_per_m2"], row["yield_high_kg_per_m2"]),
        "fruits_per_m2": _mean_over_plots(counted["fruits_per_m2"]),
        "fruit_mass_g": _fruit_mass(counted),
        "cull_share": Measured(row["cull_share"]),
        "plants_per_m2": _mean_over_plots(plots["plants"] / plots["net_area_m2"]),
        **_water_figures(trial, treatment),
    }
    return {name: figure for name, figure in figures.items() if np.isfinite(figure.value)}


def _mean_over_plots(numbers: pd.Series) -> Measured:
    """Return the mean over plots with its t interval: the plot is the unit. NaN where there are no plots."""
    from scipy.stats import t

    mean, plots = float(numbers.mean()), len(numbers)
    if plots < MIN_PLOTS:
        return Measured(mean)
    half = float(t.ppf(0.5 + CONFIDENCE / 2, plots - 1) * numbers.std(ddof=1) / np.sqrt(plots))
    return Measured(mean, mean - half, mean + half)


def _fruit_mass(counted: pd.DataFrame) -> Measured:
    """Return kilograms over fruits of the plots counted throughout [g]: fruits x mass is their mean yield."""
    if counted.empty or not counted["fruits_per_m2"].sum() > 0:
        return Measured(np.nan)
    ratio = ratio_of_means(counted["yield_kg_per_m2"].to_numpy(), counted["fruits_per_m2"].to_numpy())
    return Measured(GRAMS_PER_KG * ratio.ratio, GRAMS_PER_KG * ratio.low, GRAMS_PER_KG * ratio.high)


def _water_figures(trial: Trial, treatment: str) -> dict[str, Measured]:
    ledger = trial.ledger[(trial.ledger["treatment"] == treatment) & ~trial.ledger["missing"].astype(bool)]
    if ledger.empty:
        return {}
    applied = _mean_over_plots(ledger["applied_l_per_m2"])
    if ledger["shared_meter"].any():
        applied = Measured(applied.value)
    delivery = Measured(float(trial.water["delivery_share"].astype(float)[treatment]))
    return {"water_applied_l_per_m2": applied, "delivery_share": delivery}
