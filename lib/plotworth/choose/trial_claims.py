"""What one comparison of a trial allows one to say, gathered for the wording: audit, yields, water, other trials."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from plotworth.choose.claim import Claim, Comparison, Evidence, Interplay, comparison, without_model
from plotworth.choose.less_drawn import less_drawn
from plotworth.choose.measured import DRAWN
from plotworth.choose.trial_doubt_table import over_levels
from plotworth.choose.trial_outcomes import YIELD, OutcomeFit, TrialKey, key_text, plain_means, treatment_margin
from plotworth.choose.trial_view import TrialView, fit_of
from plotworth.choose.wording import claims, forbidden
from plotworth.field.analysis_of_variance import analysis_of_variance
from plotworth.field.block_model import BlockModel
from plotworth.field.features import FACTOR_PREFIX, features
from plotworth.field.finding import Finding
from plotworth.field.seasons_and_sites import AcrossLevels
from plotworth.field.water import LessWater


@dataclass(frozen=True)
class Said:
    """What may be said of a comparison, what may not with the reason why, and what the audit found."""

    allowed: tuple[Claim, ...]
    forbidden: tuple[Claim, ...]
    findings: tuple[Finding, ...]


def what_may_be_said(view: TrialView, key: TrialKey, treatment: str, reference: str) -> Said:
    """Return the sentences on the marketable yield and the water of two treatments in one trial, judged by rule."""
    held = trial_evidence(view, key, treatment, reference)
    return Said(claims(held), forbidden(held), held.findings)


def trial_evidence(view: TrialView, key: TrialKey, treatment: str, reference: str) -> Evidence:
    """Return what the claims about two treatments of one trial are judged by."""
    fit = fit_of(view, key, YIELD)
    case, names = view.case, {name: view.labels[name] for name in (treatment, reference)}
    inputs = case.table("inputs") if "inputs" in case.tables else None
    apart = features(case.table("plots"), inputs, arrangement=view.arrangement).differing(treatment, reference)
    several = tuple(key_text(one) for one in view.keys)
    return Evidence(
        view.findings,
        _comparison(view, fit, (treatment, reference), differing=apart, names=names),
        where=", ".join(part for part in key[1:] if part),
        water=_water(view, key, treatment, reference),
        drainage_measured=_drained(view, key, (treatment, reference)),
        interplay=() if fit.model is None else tuple(_interplay(fit, fit.model, apart)),
        trials=several if len(several) > 1 else (),
        across=_across(view, key, treatment, reference),
    )


def _comparison(
    view: TrialView, fit: OutcomeFit, pair: tuple[str, str], *, differing: tuple[str, ...], names: Mapping[str, str]
) -> Comparison:
    treatment, reference = pair
    if fit.model is None:
        means = dict(plain_means(fit))
        both = (means.get(treatment, math.nan), means.get(reference, math.nan))
        return without_model(names[treatment], names[reference], reason=fit.reason, differing=differing, means=both)
    return comparison(
        fit.model,
        treatment,
        reference,
        levels=treatment_margin(fit, fit.model),
        concerned=pair,
        differing=differing,
        smallest_gain_share=view.gain,
        names=names,
    )


def _interplay(fit: OutcomeFit, model: BlockModel, apart: Sequence[str]) -> Iterator[Interplay]:
    """Yield the interactions of the one factor that the two differ in, where each is an average over other factors."""
    factors = {name.removeprefix(FACTOR_PREFIX): name for name in model.arrangement.factors}
    own = [name for name in apart if name in factors]
    if len(own) != 1 or len(model.cells) == len(fit.labels):
        return
    lines = {frozenset(line.term.split(" x ")): line.p for line in analysis_of_variance(model).lines}
    for other, column in factors.items():
        p = lines.get(frozenset((factors[own[0]], column)))
        if other != own[0] and p is not None:
            yield Interplay(own[0], other, p)


def _water(view: TrialView, key: TrialKey, treatment: str, reference: str) -> LessWater | None:
    """Return the water drawn against the reference, None where the trial recorded none of both."""
    plots = set(view.plots(key)["plot"])
    ledger, units = (table[table["plot"].isin(plots)] for table in (view.trial.ledger, view.trial.units))
    models = {one: model for one, model in view.trial.models[DRAWN].items() if one == key}
    held = set(ledger.loc[~ledger["missing"].astype(bool), "treatment"])
    return less_drawn(ledger, units, models, treatment, reference) if {treatment, reference} <= held else None


def _drained(view: TrialView, key: TrialKey, pair: tuple[str, str]) -> bool:
    plots = set(view.plots(key)["plot"])
    ledger = view.trial.ledger
    own = ledger[ledger["plot"].isin(plots) & ledger["treatment"].isin(pair)]
    return bool(own["drainage_measured"].all())


def _across(view: TrialView, key: TrialKey, treatment: str, reference: str) -> AcrossLevels | None:
    """Return the difference over several sites, or else over several seasons, of the crop; None with one trial."""
    keys = [one for one in view.keys if one[0] == key[0]]
    if len(keys) == 1:
        return None
    fits = [(one, fit_of(view, one, YIELD)) for one in keys]
    wanted = f"{view.labels[treatment]} less {view.labels[reference]}"
    for over, column in (("site", 1), ("trial_year", 2)):
        if len({one[column] for one in keys}) > 1:
            found = over_levels(fits, reference, over=over)
            return next((one for one in found if one.treatment == wanted), None)
    return None
