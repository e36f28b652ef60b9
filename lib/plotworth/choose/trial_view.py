"""A case's trial as the panel and the report look at it: its outcomes by season and site, its references, its audit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from plotworth.case.folder import Case
from plotworth.choose.appraise import Appraisal
from plotworth.choose.chart_rows import treatment_labels, treatment_order
from plotworth.choose.measured import Trial
from plotworth.choose.trial_model import trial_design
from plotworth.choose.trial_outcomes import (
    OUTCOMES,
    YIELD,
    OutcomeFit,
    TrialKey,
    fit_outcome,
    outcome_table,
    plots_of,
    trial_keys,
)
from plotworth.field.arrangement import Arrangement
from plotworth.field.audit import audit
from plotworth.field.finding import Finding
from plotworth.field.plots_in_doubt import Exclusion as Exclusion
from plotworth.field.water import water_productivities

NO_TRIAL = "The case records no trial: without plots.csv and harvests.csv there is nothing to compare."


@dataclass(frozen=True)
class TrialView:
    """A trial with what it is compared by.

    Attributes: case; trial, its tables; table, one row a plot with every outcome; arrangement and in words how it is
    known; labels of the treatments, those that measured a system first; gain, the smallest gain in yield worth having
    [share of the reference's mean], None where nothing says it; findings of the audit, the gravest first.
    """

    case: Case
    trial: Trial
    table: pd.DataFrame
    arrangement: Arrangement
    told_by: str
    labels: Mapping[str, str]
    gain: float | None
    findings: tuple[Finding, ...]

    @property
    def keys(self) -> list[TrialKey]:
        """Return crop, site and season of every trial."""
        return trial_keys(self.table)

    def plots(self, key: TrialKey) -> pd.DataFrame:
        """Return the plots of one trial."""
        return plots_of(self.table, key)

    def productivities(self, key: TrialKey) -> pd.DataFrame:
        """Return kilograms per m3 by treatment of one trial, as `Trial.productivities` has them of all."""
        if len(self.keys) == 1:
            return self.trial.productivities
        plots = self.plots(key)
        ledger = self.trial.ledger[self.trial.ledger["plot"].isin(plots["plot"])]
        return water_productivities(ledger, plots, {})

    def treatments(self, key: TrialKey) -> list[str]:
        """Return the treatments of one trial, those that measured a system first."""
        held = set(self.plots(key)["treatment"].astype(str))
        return [name for name in self.labels if name in held]


def trial_view(appraisal: Appraisal) -> TrialView | None:
    """Return the trial of an appraised case, None where it records none."""
    case, trial = appraisal.case, appraisal.layout.trial
    if trial is None or trial.plots.empty:
        return None
    design = trial_design(case)
    labels = treatment_labels(appraisal, treatment_order(appraisal, trial))
    found = _findings(case, design.arrangement)
    gain = case.settings.trial.smallest_gain_share if case.plan is None else case.plan.smallest_gain_share
    return TrialView(case, trial, outcome_table(case, trial), design.arrangement, design.told_by, labels, gain, found)


def fit_of(view: TrialView, key: TrialKey, name: str) -> OutcomeFit:
    """Return one outcome of one trial, with all its plots."""
    return fit_outcome(view.plots(key), view.arrangement, OUTCOMES[name], labels=view.labels)


def fits_of(view: TrialView, key: TrialKey, left_out: Sequence[Exclusion] = ()) -> dict[str, OutcomeFit]:
    """Return every outcome of one trial that some plot has a value of, by name; the yield always."""
    plots = view.plots(key)
    named = [one for one in OUTCOMES.values() if one.name == YIELD or plots[one.name].notna().any()]
    return {one.name: fit_outcome(plots, view.arrangement, one, labels=view.labels, left_out=left_out) for one in named}


def first_pair(view: TrialView, key: TrialKey) -> tuple[str, str]:
    """Return a reference and a treatment to compare with it: the baseline's and the first other system's, if grown.

    With one treatment it is both.
    """
    settings, held = view.case.settings, view.treatments(key)
    measured = [settings.system(name).treatment for name in (settings.baseline, settings.today) if name]
    reference = next((name for name in measured if name in held), held[0])
    return reference, next((name for name in held if name != reference), reference)


def _findings(case: Case, arrangement: Arrangement) -> tuple[Finding, ...]:
    """Return what the design and its records do to what may be said, the gravest first."""
    named = {"present practice": case.settings.today, "the baseline": case.settings.baseline}
    references = {words: case.settings.system(name).treatment for words, name in named.items() if name}
    return audit(
        case.table("plots"),
        case.table("harvests"),
        arrangement=arrangement,
        references={words: treatment for words, treatment in references.items() if treatment},
        inputs=case.table("inputs") if "inputs" in case.tables else None,
        water=case.table("water") if "water" in case.tables else None,
    )


def design_sentence(view: TrialView) -> str:
    """Return how the trial was drawn by lot and how that is known."""
    return f"Design: {view.arrangement.name}, as told by {view.told_by}."
