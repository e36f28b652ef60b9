"""What the trial measured, system by system: the figures that stand for the word `trial` in a book."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from plotworth.case.folder import Case
from plotworth.case.schema import FACTOR_PREFIX
from plotworth.choose.less_drawn import less_drawn
from plotworth.choose.trial_model import (
    YIELD,
    TreatmentMean,
    TrialDesign,
    TrialKey,
    adjusted_means,
    block_models,
    trial_design,
)
from plotworth.field.block_model import BlockModel
from plotworth.field.ratio import ratio_of_means
from plotworth.field.water import LessWater, plot_ledger, treatment_water, water_productivities, without_lost_plots
from plotworth.field.yields import plot_yields, standing_forecast, treatment_yields
from plotworth.ground.conversions import GRAMS_PER_KG

FRUITS, APPLIED, DRAWN = "fruits_per_m2", "water_applied_l_per_m2", "drawn_l_per_m2"
COMPARED = (YIELD, FRUITS, "plants_per_m2", APPLIED, DRAWN)
"""Figures by plot whose means are cleared of block differences."""


@dataclass(frozen=True)
class Trial:
    """The trial's tables: yields by plot and treatment, the water ledger by plot and treatment.

    `treatments` has the block model's means and intervals of yield, beside each treatment's own spread;
    `productivities` by treatment: kilograms per m3 by three denominators, and the litres left unexplained;
    `standing` by plot: fruit still on the plants, a forecast; `less_water` by (system, reference). `units`: one row a
    plot with its factors and every figure that is compared; `design`: how they were drawn; `models` by figure, and by
    crop, site and season; `means` by figure and treatment, cleared of block differences.
    """

    plots: pd.DataFrame
    treatments: pd.DataFrame
    ledger: pd.DataFrame
    water: pd.DataFrame
    productivities: pd.DataFrame
    standing: pd.DataFrame
    less_water: Mapping[tuple[str, str], LessWater]
    units: pd.DataFrame
    design: TrialDesign
    models: Mapping[str, Mapping[TrialKey, BlockModel]]
    means: Mapping[str, Mapping[str, TreatmentMean]]


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
    units, design = _units(plots, yields, ledger), trial_design(case)
    models = {name: block_models(units, design.arrangement, value=name) for name in COMPARED}
    means = {name: adjusted_means(units, fitted) for name, fitted in models.items()}
    return Trial(
        plots=yields,
        treatments=_with_block_model(treatment_yields(yields), means[YIELD]),
        ledger=ledger,
        water=treatment_water(ledger),
        productivities=water_productivities(ledger, yields, _evapotranspiration(case)),
        standing=standing_forecast(*records),
        less_water=_less_water(case, ledger, units, models[DRAWN]),
        units=units,
        design=design,
        models=models,
        means=means,
    )


def _units(plots: pd.DataFrame, yields: pd.DataFrame, ledger: pd.DataFrame) -> pd.DataFrame:
    """Return one row a plot: its factors, its yield, and what it was given, NaN where that is not known."""
    factors = plots[["plot", *(name for name in map(str, plots) if name.startswith(FACTOR_PREFIX))]].astype(object)
    units = yields.astype({"plot": object}).merge(factors, on="plot")
    units["plants_per_m2"] = (units["plants"] / units["net_area_m2"]).where(units[YIELD].notna())
    water = ledger[["applied_l_per_m2", DRAWN]].astype(float).mask(ledger["missing"].astype(bool))
    units[[APPLIED, DRAWN]] = water.to_numpy()
    return units


def _with_block_model(treatments: pd.DataFrame, means: Mapping[str, TreatmentMean]) -> pd.DataFrame:
    """Return the table of treatments with the means and intervals of the block model in place of their own."""
    found = [means[str(name)] for name in treatments.index]
    return treatments.assign(
        yield_kg_per_m2=[one.mean for one in found],
        yield_se_kg_per_m2=[one.standard_error for one in found],
        yield_low_kg_per_m2=[one.low for one in found],
        yield_high_kg_per_m2=[one.high for one in found],
        yield_degrees_of_freedom=[one.degrees_of_freedom for one in found],
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


def _less_water(
    case: Case, ledger: pd.DataFrame, units: pd.DataFrame, models: Mapping[TrialKey, BlockModel]
) -> dict[tuple[str, str], LessWater]:
    """Return the comparison of each measured system with present practice and the baseline, where measured."""
    treatments = {system.id: system.treatment for system in case.settings.systems if system.treatment}
    references = {case.settings.today, case.settings.baseline} & treatments.keys()
    pairs = [(system, reference) for system in treatments for reference in references if system != reference]
    return {pair: less_drawn(ledger, units, models, *(treatments[name] for name in pair)) for pair in pairs}


def _counted(case: Case) -> bool:
    """Whether fruits were counted and some of them weighed apart, so that a count can become kilograms."""
    return bool(case.table("harvests")["marketable_fruits"].notna().any()) and "fruit_masses" in case.tables


def measured_figures(trial: Trial, treatment: str, crop: str) -> Mapping[str, Measured]:
    """Return the figures of one treatment by assumption name, empty where its plots grew another crop."""
    plots = trial.plots[(trial.plots["treatment"] == treatment) & trial.plots["yield_kg_per_m2"].notna()]
    if plots.empty or set(plots["crop"]) != {crop}:
        return {}
    counted = plots[plots["fruits_per_m2"].notna()]
    yielded, fruits = (_measured(trial, name, treatment) for name in (YIELD, FRUITS))
    figures = {
        YIELD: yielded,
        FRUITS: fruits,
        "fruit_mass_g": _fruit_mass(counted, yielded.value, fruits.value if len(counted) == len(plots) else np.nan),
        "cull_share": Measured(float(trial.treatments["cull_share"].astype(float)[treatment])),
        "plants_per_m2": _measured(trial, "plants_per_m2", treatment),
        **_water_figures(trial, treatment),
    }
    return {name: figure for name, figure in figures.items() if np.isfinite(figure.value)}


def _measured(trial: Trial, name: str, treatment: str) -> Measured:
    """Return the block model's mean of a figure, with its interval."""
    mean = trial.means[name][treatment]
    return Measured(mean.mean, mean.low, mean.high)


def _fruit_mass(counted: pd.DataFrame, yield_kg_per_m2: float, fruits_per_m2: float) -> Measured:
    """Return the mean mass of a fruit [g].

    Where every plot was counted throughout it is mean yield over mean fruits, so that fruits x mass is the mean yield;
    with NaN fruits, the kilograms over the fruits of the plots that were, since those weighed alone add kilograms
    without a fruit. The interval is that ratio's, over plots by Fieller, about the value.
    """
    if counted.empty or not counted["fruits_per_m2"].sum() > 0:
        return Measured(np.nan)
    ratio = ratio_of_means(counted["yield_kg_per_m2"].to_numpy(), counted["fruits_per_m2"].to_numpy())
    mass = yield_kg_per_m2 / fruits_per_m2 if fruits_per_m2 > 0 else ratio.ratio
    grams = GRAMS_PER_KG * mass / ratio.ratio if ratio.ratio > 0 else np.nan
    return Measured(grams * ratio.ratio, grams * ratio.low, grams * ratio.high)


def _water_figures(trial: Trial, treatment: str) -> dict[str, Measured]:
    ledger = trial.ledger[(trial.ledger["treatment"] == treatment) & ~trial.ledger["missing"].astype(bool)]
    if ledger.empty:
        return {}
    applied = _measured(trial, APPLIED, treatment)
    if ledger["shared_meter"].any():
        applied = Measured(applied.value)
    delivery = Measured(float(trial.water["delivery_share"].astype(float)[treatment]))
    return {APPLIED: applied, "delivery_share": delivery}
