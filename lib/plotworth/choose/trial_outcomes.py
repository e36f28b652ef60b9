"""The outcomes of a trial, plot by plot, and the block model of one of them in one season at one site.

The plot is the unit: whatever is compared is one figure a plot and season. A plot's kilograms per m3 are its own
yield over its own water, so that their mean over plots differs a little from the ratio of the means.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from plotworth.case.folder import Case
from plotworth.choose.measured import Trial
from plotworth.field.arrangement import Arrangement
from plotworth.field.block_model import ONE_TRIAL, BlockModel, fit
from plotworth.field.contrast import Margin
from plotworth.field.pickings import COUNTS, WEIGHED
from plotworth.field.plots_in_doubt import Exclusion
from plotworth.field.season_totals import first_picking_days, season_totals
from plotworth.field.water import SHARED_METER
from plotworth.field.weighing_error import with_weighing_error
from plotworth.ground.amounts import unit_words
from plotworth.ground.conversions import GRAMS_PER_KG, LITRES_PER_M3

YIELD = "yield_kg_per_m2"
EARLY = "early_kg_per_m2"
APPLIED = "applied_l_per_m2"
DRAWN = "drawn_l_per_m2"
PER_WATER = "kg_per_m3"
EARLY_SHARE_OF_DAYS = 1 / 3  # a choice of display: the first third of the trial's picking days counts as early
NO_VALUES = "no plot has a value of it"
TrialKey = tuple[str, str, str]
"""Crop, site and trial year."""


@dataclass(frozen=True)
class Outcome:
    """Something measured on every plot: its column, its name in words, its unit, whether it stands on water."""

    name: str
    label: str
    unit: str
    on_water: bool = False

    @property
    def unit_text(self) -> str:
        """Return the unit as people read it."""
        return unit_words(self.unit)


OUTCOMES: Mapping[str, Outcome] = {
    one.name: one
    for one in (
        Outcome(YIELD, "Marketable yield", "kg/m2"),
        Outcome(EARLY, "Early yield", "kg/m2"),
        Outcome("fruits_per_m2", "Marketable fruits", "1/m2"),
        Outcome("fruit_mass_g", "Mean fruit mass", "g"),
        Outcome(APPLIED, "Water applied", "l/m2", on_water=True),
        Outcome(DRAWN, "Water drawn at the source", "l/m2", on_water=True),
        Outcome(PER_WATER, "Yield per m³ applied", "kg/m3", on_water=True),
    )
}


@dataclass(frozen=True)
class OutcomeFit:
    """One outcome of one season at one site.

    Attributes: outcome; plots, one row a plot; labels of the treatments, in order; model, None where there is none,
    with the reason in words, else "".
    """

    outcome: Outcome
    plots: pd.DataFrame
    labels: Mapping[str, str]
    model: BlockModel | None
    reason: str


def early_days(harvests: pd.DataFrame) -> int:
    """Return how many of the trial's picking days count as early: a third of them, rounded up."""
    return int(np.ceil(EARLY_SHARE_OF_DAYS * harvests["date"].nunique()))


def outcome_table(case: Case, trial: Trial) -> pd.DataFrame:
    """Return every plot with all outcomes, NaN where it has none, its factors, planting day and note."""
    plots = case.table("plots").reset_index(drop=True)
    litres = trial.ledger[[APPLIED, DRAWN]].mask(trial.ledger["missing"].astype(bool)).reset_index(drop=True)
    applied = litres[APPLIED].astype(float)
    own = [name for name in plots.columns if name not in trial.plots.columns]
    table = trial.plots.reset_index(drop=True).join(plots[own])
    kilograms, fruits = table[YIELD].astype(float), table["fruits_per_m2"].astype(float)
    outcomes: dict[str, Any] = {
        EARLY: _early(case, trial),
        "fruit_mass_g": GRAMS_PER_KG * kilograms / fruits.where(fruits > 0),
        APPLIED: applied,
        DRAWN: litres[DRAWN].astype(float),
        PER_WATER: LITRES_PER_M3 * kilograms / applied.where(applied > 0),
        "shared_meter": trial.ledger["shared_meter"].to_numpy(np.bool_),
    }
    return table.assign(**outcomes)


def _early(case: Case, trial: Trial) -> pd.Series:
    """Return the early yield of every plot, season by season: the same picking days for all its plots.

    NaN where there is one picking day: it is the whole season.
    """
    plots, harvests = case.table("plots").reset_index(drop=True), case.table("harvests")
    early = pd.Series(np.nan, index=plots.index)
    for _, rows in plots.groupby(list(ONE_TRIAL), sort=False, dropna=False):
        own = harvests[harvests["plot"].isin(rows["plot"])]
        if own["date"].nunique() <= 1:
            continue
        first = first_picking_days(own, days=early_days(own))
        totals = season_totals(rows, own, case.table("fruit_masses"), early=first, yield_from=yield_basis(case, trial))
        early.loc[rows.index] = totals[EARLY].to_numpy(np.float64)
    return early


def yield_basis(case: Case, trial: Trial) -> str:
    """Return what the trial's yields rest on, `counts` or `weighed`, as the case says or its records allow."""
    same = trial.plots["yield_kg"].equals(trial.plots["counted_kg"])
    return case.settings.yield_from or (COUNTS if same and "fruit_masses" in case.tables else WEIGHED)


def trial_keys(table: pd.DataFrame) -> list[TrialKey]:
    """Return crop, site and season of every trial in the table, in order of first appearance."""
    return list(dict.fromkeys(table[list(ONE_TRIAL)].astype(str).itertuples(index=False, name=None)))


def plots_of(table: pd.DataFrame, key: TrialKey) -> pd.DataFrame:
    """Return the plots of one crop, site and season."""
    return table[(table[list(ONE_TRIAL)].astype(str) == list(key)).all(axis=1)].reset_index(drop=True)


def key_text(key: TrialKey) -> str:
    """Return a trial's name: crop, site and season, what is blank left out."""
    return ", ".join(part for part in key if part)


def fit_outcome(
    plots: pd.DataFrame,
    arrangement: Arrangement,
    outcome: Outcome,
    *,
    labels: Mapping[str, str],
    left_out: Sequence[Exclusion] = (),
) -> OutcomeFit:
    """Fit one outcome of one trial.

    Parameters: plots of one crop, site and season; labels by treatment, in the order they are shown in; left_out,
    plots whose value is not taken. There is no model, and a reason, where no plot has a value or where the water of
    several plots was read on one meter, whose plots do not repeat each other.
    """
    named = {one.plot for one in left_out}
    values = plots[outcome.name].astype(float).mask(plots["plot"].astype(str).isin(named))
    table = plots.assign(**{outcome.name: values})
    held = {name: label for name, label in labels.items() if name in set(plots["treatment"].astype(str))}
    reason = _why_no_model(table, outcome)
    if reason:
        return OutcomeFit(outcome, table, held, None, reason)
    model = fit(table, arrangement, value=outcome.name)
    model = with_weighing_error(model, table) if outcome.name == YIELD else model
    return OutcomeFit(outcome, table, held, model, "")


def _why_no_model(table: pd.DataFrame, outcome: Outcome) -> str:
    if not table[outcome.name].notna().any():
        return NO_VALUES
    return SHARED_METER if outcome.on_water and table["shared_meter"].any() else ""


def treatment_margin(fit_of: OutcomeFit, model: BlockModel) -> Margin:
    """Return the treatments as mixes of the model's cells, in the order of the labels.

    A treatment that stands for several cells (levels of other factors) is their mean with equal weights.
    """
    factors = list(model.arrangement.factors)
    text, treatments = fit_of.plots[factors].astype(str), fit_of.plots["treatment"].astype(str)
    held = {name: set(rows.itertuples(index=False, name=None)) for name, rows in text.groupby(treatments)}
    names = tuple(name for name in fit_of.labels if name in held)
    members = np.array([[float(cell in held[name]) for cell in model.cells] for name in names])
    plots = tuple(int(count) for count in members @ model.matrices.plots_per_cell)
    return Margin(names, members / members.sum(axis=1, keepdims=True), plots)


def plain_means(fit_of: OutcomeFit) -> Iterator[tuple[str, float]]:
    """Yield each treatment with the plain mean of its plots, for outcomes without a model."""
    means = fit_of.plots.groupby("treatment")[fit_of.outcome.name].mean()
    for name in fit_of.labels:
        yield name, float(means.get(name, np.nan))
