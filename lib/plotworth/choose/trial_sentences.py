"""What the trial of an appraisal allows one to say of its systems: the sentences of its notebook, for a page."""

from dataclasses import dataclass

from plotworth.choose.appraise import Appraisal
from plotworth.choose.claim import Claim
from plotworth.choose.trial_claims import what_may_be_said
from plotworth.choose.trial_view import TrialView, trial_view
from plotworth.field.finding import Finding


@dataclass(frozen=True)
class TrialSentences:
    """Findings of the audit, and by pair of systems (`one/other`) what may be said, each with its reason."""

    findings: tuple[Finding, ...]
    claims: tuple[tuple[str, Claim], ...]

    def lines(self) -> list[str]:
        """Return the findings with their cure, then the sentences allowed, each once."""
        found = [f"{finding.sentence} {finding.cure}".strip() for finding in self.findings]
        return list(dict.fromkeys([*found, *(claim.sentence for _, claim in self.claims)]))


def trial_sentences(appraisal: Appraisal) -> TrialSentences | None:
    """Return what may be said of each measured system against today's and the baseline; None without a trial."""
    view = trial_view(appraisal)
    if view is None:
        return None
    settings = appraisal.case.settings
    treatments = {system.id: system.treatment for system in settings.systems if system.treatment}
    references = [name for name in (settings.today, settings.baseline) if name in treatments]
    pairs = [(one, other) for one in treatments for other in dict.fromkeys(references) if one != other]
    claims = tuple(
        (f"{one}/{other}", claim) for one, other in pairs for claim in _said(view, treatments[one], treatments[other])
    )
    return TrialSentences(view.findings, claims)


def _said(view: TrialView, treatment: str, reference: str) -> tuple[Claim, ...]:
    """Return the claims of all trials that hold both treatments."""
    return tuple(
        claim
        for key in view.keys
        if {treatment, reference} <= set(view.treatments(key))
        for claim in what_may_be_said(view, key, treatment, reference).allowed
    )
