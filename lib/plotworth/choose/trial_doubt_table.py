"""What hangs on single plots, on dead plants, and on the season or site: results shown both ways, side by side.

Nothing is left out without a reason, and what is left out is shown beside the result with all plots.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import pandas as pd

from plotworth.choose.comparison_table import about_texts
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.trial_outcomes import (
    YIELD,
    Outcome,
    OutcomeFit,
    TrialKey,
    fit_outcome,
    key_text,
    treatment_margin,
)
from plotworth.field.arrangement import Arrangement
from plotworth.field.block_model import ONE_TRIAL, BlockModel
from plotworth.field.compare import differences, treatment_means
from plotworth.field.contrast import Contrast
from plotworth.field.plots_in_doubt import Exclusion, survivors_on_every_place
from plotworth.field.seasons_and_sites import NO_TRIAL, AcrossLevels, Trial, across

LEVEL_WORDS = {"site": "sites", "trial_year": "seasons"}
LOST = "Loss"
MISSING = "Missing"


def missing_notes(plots: pd.DataFrame, outcome: Outcome) -> list[str]:
    """Return a sentence for each plot without a value of the outcome, with what its record says of it."""
    found = plots[plots[outcome.name].isna()]
    return [_missing_note(str(row["plot"]), str(row["note"]), outcome) for row in found.to_dict("records")]


def _missing_note(plot: str, note: str, outcome: Outcome) -> str:
    words = f" Its record says: {note}." if note else " Its record does not say why."
    return f"{plot} has no {outcome.label.lower()}: it is missing, not zero.{words}"


def exclusion_faults(plots: pd.DataFrame, exclusions: Sequence[Exclusion]) -> list[str]:
    """Return what keeps plots from being left out: no reason, no such plot, named twice."""
    known, names = set(plots["plot"].astype(str)), [one.plot for one in exclusions]
    faults = [f"{one.plot} cannot be left out without a reason." for one in exclusions if not one.reason.strip()]
    faults += [f"{name}: there is no such plot here." for name in dict.fromkeys(names) if name not in known]
    return faults + [f"{name} is named twice." for name in dict.fromkeys(names) if names.count(name) > 1]


def both_ways_table(whole: OutcomeFit, without: OutcomeFit, reference: str, *, ways: tuple[str, str]) -> FigureTable:
    """Return each mean and each difference to the reference in two fits of one trial; `ways` heads the columns."""
    unit = whole.outcome.unit_text
    both = [(_means(fit), _differences(fit, reference)) for fit in (whole, without)]
    rows = [_both_row(label, unit, [means.get(label) for means, _ in both]) for label in whole.labels.values()]
    names = dict.fromkeys(name for _, found in both for name in found)
    rows += [_both_row(name, unit, [found.get(name) for _, found in both]) for name in names]
    columns = tuple(f"{way}{part}" for way in ways for part in ("", ": low", ": high"))
    return FigureTable(f"{whole.outcome.label}: both ways, 95 % intervals", columns, tuple(rows))


def _means(fit: OutcomeFit) -> dict[str, Contrast]:
    if fit.model is None:
        return {}
    return {fit.labels[mean.label]: mean for mean in treatment_means(fit.model, treatment_margin(fit, fit.model))}


def _differences(fit: OutcomeFit, reference: str) -> dict[str, Contrast]:
    if fit.model is None or reference not in fit.labels:
        return {}
    chosen = treatment_margin(fit, fit.model)
    shown = replace(chosen, labels=tuple(fit.labels[name] for name in chosen.labels))
    found = differences(fit.model, shown, baseline=fit.labels[reference])
    return {one.label.replace(" - ", " less "): one for one in found}


def _both_row(label: str, unit: str, ways: Sequence[Contrast | None]) -> FigureRow:
    cells = [(DASH,) * 3 if one is None else about_texts(one.estimate, one.low, one.high) for one in ways]
    return FigureRow(label, unit, tuple(cell for way in cells for cell in way))


def dead_plants_table(fit: OutcomeFit, arrangement: Arrangement, reference: str) -> FigureTable | None:
    """Return yields with dead plants as the treatment's loss and as missing; None where no plant is known to have died.

    The truth lies between where nobody can say what killed them. Of yields alone.
    """
    if fit.model is None or fit.outcome.name != YIELD or not dead_plants(fit.plots):
        return None
    raised = fit.plots.assign(**{YIELD: survivors_on_every_place(fit.plots)})
    upper = fit_outcome(raised, arrangement, fit.outcome, labels=fit.labels)
    table = both_ways_table(fit, upper, reference, ways=(LOST, MISSING))
    return replace(
        table, title=f"{fit.outcome.label}: dead plants as the treatment's loss, and as missing, 95 % intervals"
    )


def dead_plants(plots: pd.DataFrame) -> dict[str, int]:
    """Return how many plants died on each plot on which any did."""
    measured = plots[plots[YIELD].notna()]
    lost = (measured["plants"].astype(float) - measured["plants_alive"].astype(float)).fillna(0.0)
    return {str(plot): int(dead) for plot, dead in zip(measured["plot"], lost, strict=True) if dead > 0}


def seasons_table(fits: Sequence[tuple[TrialKey, OutcomeFit]], reference: str) -> FigureTable:
    """Return the differences to the reference of every crop, season and site, each from its own plots, never pooled."""
    rows = [row for key, fit in fits for row in _season_rows(key, fit, reference)]
    title = f"{fits[0][1].outcome.label}: every season and site on its own, 95 % intervals"
    return FigureTable(title, ("Difference", "Low", "High", "Plots"), tuple(rows))


def _season_rows(key: TrialKey, fit: OutcomeFit, reference: str) -> Iterator[FigureRow]:
    found = _differences(fit, reference)
    plots = str(int(fit.plots[fit.outcome.name].notna().sum()))
    if not found:
        yield FigureRow(
            f"{key_text(key)}: {fit.reason or 'the reference was not grown'}", "", (DASH, DASH, DASH, plots)
        )
    for name, one in found.items():
        cells = about_texts(one.estimate, one.low, one.high)
        yield FigureRow(f"{key_text(key)}: {name}", fit.outcome.unit_text, (*cells, plots))


def across_table(
    fits: Sequence[tuple[TrialKey, OutcomeFit]], reference: str, *, over: str
) -> tuple[FigureTable | None, str]:
    """Return the mean difference over sites, or over years, and where that of a new one would lie; or why not.

    Parameters: fits of one crop; over, `site` or `trial_year`. From five levels on; with fewer there is no table and a
    reason in words, "" where there is a table.
    """
    found = over_levels(fits, reference, over=over)
    shown = [one for one in found if not one.reason]
    if not shown:
        return None, found[0].reason if found else NO_TRIAL
    unit = fits[0][1].outcome.unit_text
    rows = tuple(FigureRow(one.treatment, unit, _across_cells(one)) for one in shown)
    columns = ("Levels", "Mean difference", "Low", "High", "A new one: low", "A new one: high")
    return FigureTable(
        f"{fits[0][1].outcome.label}: over {LEVEL_WORDS[over]}, each with equal weight, 95 % intervals", columns, rows
    ), ""


def over_levels(fits: Sequence[tuple[TrialKey, OutcomeFit]], reference: str, *, over: str) -> list[AcrossLevels]:
    """Return the differences to the reference over sites, or over years, each under its label; parameters as above."""
    known = [
        _as_trial(key, fit, fit.model, reference)
        for key, fit in fits
        if fit.model is not None and reference in fit.labels
    ]
    names = dict.fromkeys(name for trial in known for name in trial.differences)
    return [across(tuple(known), name, over=over) for name in names]


def _as_trial(key: TrialKey, fit: OutcomeFit, model: BlockModel, reference: str) -> Trial:
    levels = dict(zip(ONE_TRIAL, key, strict=True))
    return Trial(levels, model, tuple(_means(fit).values()), _differences(fit, reference), {})


def _across_cells(one: AcrossLevels) -> tuple[str, ...]:
    new = one.new_level
    mean = about_texts(one.mean.estimate, one.mean.low, one.mean.high)
    return (str(len(one.levels)), *mean, *about_texts(new.estimate, new.low, new.high)[1:])
