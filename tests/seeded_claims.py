"""What a line of `trial_claims.csv` comes to: its tables audited, fitted and handed to the wording."""

from dataclasses import replace
from functools import cache

import pandas as pd

from field_tables import records
from plotworth.choose.claim import Comparison, Evidence, Interplay, comparison, without_model
from plotworth.field.analysis_of_variance import analysis_of_variance
from plotworth.field.arrangement import complete_blocks
from plotworth.field.audit import audit
from plotworth.field.block_model import BlockModel, fit
from plotworth.field.contrast import margin
from plotworth.field.features import features
from plotworth.field.finding import Finding
from plotworth.field.seasons_and_sites import AcrossLevels, across, trials
from plotworth.field.water import less_water, plot_ledger
from plotworth.field.yields import plot_yields
from plotworth.ground.errors import PlotworthError
from seeded_flaws import FLAWS
from seeded_trials import FACTORS, Row, Trial, arrangement_of, harvests_of, plots_of, yields_of


def trial(row: Row) -> Trial:
    """The trial of a line, with its flaw."""
    plots = plots_of(row)
    made = Trial(plots, harvests_of(plots, yields_of(row, plots)), arrangement_of(row))
    return FLAWS[row.flaw](made, row) if row.flaw else made


def findings(made: Trial) -> tuple[Finding, ...]:
    """What the audit finds."""
    return audit(
        made.plots,
        made.harvests,
        arrangement=made.arrangement,
        references=made.references or {"present practice": "hand"},
        compared=("tank",),
        inputs=made.inputs,
        water=made.water,
        standings=made.standings,
    )


@cache
def evidence(row: Row) -> Evidence:
    """Everything that the claims of a line are judged by: tank against hand."""
    made = trial(row)
    yields = plot_yields(made.plots, made.harvests, records("fruit_masses"), yield_from="weighed")
    extra = [name for name in made.plots if str(name).startswith("factor_")]
    yields = yields.join(made.plots.reset_index(drop=True)[extra])
    compared, interplay = _compared(row, made, yields)
    several = [c for c in ("trial_year", "site") if made.plots[c].nunique() > 1 and row.flaw.startswith("several")]
    over = several[0] if several else ""
    held = Evidence(
        findings(made), compared, interplay=interplay, trials=tuple(made.plots[over].unique()) if over else ()
    )
    if over:
        held = replace(held, across=_across(made, yields, over))
    return held if made.water is None else _with_water(held, made)


def _with_water(held: Evidence, made: Trial) -> Evidence:
    ledger = plot_ledger(made.plots, made.water, records("soil_water"))
    return replace(
        held,
        water=less_water(ledger, "tank", "hand"),
        drainage_measured=bool(ledger["drainage_measured"].all()),
    )


def _compared(row: Row, made: Trial, yields: pd.DataFrame) -> tuple[Comparison, tuple[Interplay, ...]]:
    apart = features(made.plots, made.inputs, arrangement=made.arrangement)
    arrangement = made.arrangement or complete_blocks("treatment")
    if row.layout in ("factorial", "split", "interaction"):
        model = fit(yields, arrangement)
        everything = tuple(made.plots["treatment"].unique())
        levels = margin(model, "factor_water")
        found = comparison(
            model,
            "tank",
            "hand",
            levels=levels,
            concerned=everything,
            differing=("water",),
            smallest_gain_share=row.gain,
        )
        return found, (_interplay(model),)
    differing = apart.differing("tank", "hand")
    first = yields[yields["trial_year"] == yields["trial_year"].iloc[0]] if row.flaw == "several seasons" else yields
    first = first[first["site"] == first["site"].iloc[0]] if row.flaw == "several sites" else first
    try:
        model = fit(first, arrangement)
    except PlotworthError as fault:
        means = (float(yields["yield_kg_per_m2"].mean()),) * 2
        return without_model("tank", "hand", reason=str(fault), differing=differing, means=means), ()
    return comparison(model, "tank", "hand", differing=differing, smallest_gain_share=row.gain), ()


def _interplay(model: BlockModel) -> Interplay:
    table = analysis_of_variance(model)
    p = next(line.p for line in table.lines if all(factor in line.term for factor in FACTORS))
    return Interplay("water", "inoculation", p)


def _across(made: Trial, yields: pd.DataFrame, over: str) -> AcrossLevels:
    return across(trials(yields, made.arrangement, baseline="hand"), "tank", over=over)
