"""What the trial measured, as tables to read: yield two ways, water by ledger, three productivities."""

from collections.abc import Mapping, Sequence

import pandas as pd

from plotworth.choose.appraise import Appraisal
from plotworth.choose.chart_rows import treatment_labels, treatment_order
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.measured import Trial
from plotworth.field.water import DENOMINATORS
from plotworth.ground.amounts import UNKNOWN, figures_text, share_text

YIELD_ROWS: Mapping[str, tuple[str, str]] = {
    "plots": ("Plots", ""),
    "missing_plots": ("Missing plots", ""),
    "yield_kg_per_m2": ("Marketable yield, per planted m²", "kg/m²"),
    "yield_se_kg_per_m2": ("Standard error, over plots", "kg/m²"),
    "yield_low_kg_per_m2": ("95 % interval: low end", "kg/m²"),
    "yield_high_kg_per_m2": ("95 % interval: high end", "kg/m²"),
    "weighed_kg_per_m2": ("Weighed, where every picking was", "kg/m²"),
    "disagreement_share": ("Counted against weighed, same pickings", "%"),
    "fruits_per_m2": ("Marketable fruits", "1/m²"),
    "fruit_mass_g": ("Mean fruit mass", "g"),
    "cull_share": ("Culls, of all kilograms picked", "%"),
    "kg_per_surviving_plant": ("Marketable yield, per surviving plant", "kg"),
}
LEDGER_ROWS: Mapping[str, tuple[str, str]] = {
    "first_fill_l_per_m2": ("First fill", "L/m²"),
    "refill_l_per_m2": ("Refills", "L/m²"),
    "irrigation_l_per_m2": ("Irrigation", "L/m²"),
    "drawn_l_per_m2": ("Drawn for the plot", "L/m²"),
    "left_over_l_per_m2": ("Left over", "L/m²"),
    "leak_l_per_m2": ("Leaked", "L/m²"),
    "applied_l_per_m2": ("Applied", "L/m²"),
    "rain_l_per_m2": ("Rain", "L/m²"),
    "lid_catch_l_per_m2": ("Caught by lids", "L/m²"),
    "soil_store_used_l_per_m2": ("Taken from the soil store", "L/m²"),
    "inflow_l_per_m2": ("All inflow", "L/m²"),
}
SHARES = ("disagreement_share", "cull_share")
STANDING = "Fruit still on the plants at the last count (forecast)"


def trial_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return the tables of the trial, a column a treatment; none where the case has no trial."""
    trial = appraisal.layout.trial
    if trial is None:
        return []
    order = treatment_order(appraisal, trial)
    labels = tuple(treatment_labels(appraisal, order).values())
    tables = [
        FigureTable("the trial: yield", labels, (*_rows(trial.treatments, YIELD_ROWS, order), _standing(trial, order)))
    ]
    if not trial.ledger["missing"].all():
        ledger = _rows(trial.water, LEDGER_ROWS, order)
        tables.append(FigureTable("the trial: water ledger, means over plots", labels, tuple(ledger)))
        tables.append(
            FigureTable("the trial: kilograms per m³, by three denominators", labels, tuple(_ratios(trial, order)))
        )
    return tables


def _rows(table: pd.DataFrame, rows: Mapping[str, tuple[str, str]], order: Sequence[str]) -> list[FigureRow]:
    return [
        FigureRow(label, unit, tuple(_text(name, value) for value in _column(table, name, order)))
        for name, (label, unit) in rows.items()
    ]


def _column(table: pd.DataFrame, name: str, order: Sequence[str]) -> list[float]:
    return [float(value) for value in table[name].astype(float).reindex(list(order))]


def _text(name: str, value: float) -> str:
    text = share_text(value, digits=2).split("\u00a0")[0] if name in SHARES else figures_text(value)
    return DASH if text == UNKNOWN else text


def _standing(trial: Trial, order: Sequence[str]) -> FigureRow:
    means = trial.standing.groupby("treatment")["standing_kg_per_m2"].mean()
    cells = (_text("standing", float(value)) for value in means.astype(float).reindex(list(order)))
    return FigureRow(STANDING, "kg/m²", tuple(cells))


def _ratios(trial: Trial, order: Sequence[str]) -> list[FigureRow]:
    rows = {name: (words[0].upper() + words[1:].replace("m3", "m³"), "kg/m³") for name, words in DENOMINATORS.items()}
    rows["unexplained_l_per_m2"] = ("Unexplained: inflow less what left and evapotranspiration", "L/m²")
    return _rows(trial.productivities, rows, order)


def trial_notes(appraisal: Appraisal) -> list[str]:
    """Return why a productivity of the trial has no value, once a reason."""
    trial = appraisal.layout.trial
    if trial is None:
        return []
    reasons = [str(reason) for reason in trial.productivities["reason"] if reason]
    stated = trial.productivities["stated_evapotranspiration_l_per_m2"].astype(float)
    if stated.isna().all():
        reasons.append("the litres unexplained are not known: evapotranspiration_l_per_m2 is not in the book")
    return [f"In the trial, {reason}." for reason in dict.fromkeys(reasons)]
