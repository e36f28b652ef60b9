"""What the money says of each system, in one sentence: against present practice first, then the baseline.

A system that beats the baseline but loses to present practice is called losing, first: saving the cost of
something nobody would buy is no gain.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from plotworth.case.folder import Case
from plotworth.ground.amounts import amount_text, money_text

AREA_UNIT = "m²"
Figures = Mapping[str, Mapping[str, Mapping[str, float]]]


@dataclass(frozen=True)
class Verdict:
    """A system's verdict: `winning`, `losing` or `reference` against present practice, and the sentence."""

    system: str
    standing: str
    sentence: str


def verdicts(case: Case, figures: Figures) -> tuple[Verdict, ...]:
    """Return the verdict on every system of a case from the NPV of its differences."""
    return tuple(_verdict(case, system.id, system.label, figures) for system in case.settings.systems)


def headline(case: Case, figures: Figures, area_m2: float) -> str:
    """Return the first sentence of an appraisal at an area [m2]: who is worth most, whether any earns its costs."""
    worth = {system.label: figures["systems"][system.id]["npv"] for system in case.settings.systems}
    if any(npv != npv for npv in worth.values()):
        return "Which system is worth most cannot be said: an assumption is unknown."
    best = max(worth, key=lambda label: worth[label])
    amount = money_text(worth[best], case.settings.currency)
    if worth[best] < 0:
        return (
            f"No system earns back what it costs at the stated prices and wages; {best} loses least (NPV {amount}) "
            f"over {case.settings.horizon_years} years on {amount_text(area_m2, AREA_UNIT)}."
        )
    extent = f"{case.settings.horizon_years} years on {amount_text(area_m2, AREA_UNIT)}"
    return f"{best} is worth most: NPV {amount} over {extent}."


def _verdict(case: Case, system: str, label: str, figures: Figures) -> Verdict:
    settings = case.settings
    own = f"{label}: NPV {money_text(figures['systems'][system]['npv'], settings.currency)} alone"
    if system == settings.today:
        return Verdict(system, "reference", f"{own}; it is present practice, which the others are set against.")
    gain = figures["against_today"][system]["npv"]
    standing = "unknown" if gain != gain else "winning" if gain > 0 else "losing"
    parts = [_against("present practice", gain, settings.currency)]
    if system != settings.baseline:
        parts.append(_against("the baseline", figures["against_baseline"][system]["npv"], settings.currency))
    opening = {"winning": "wins", "losing": "loses", "unknown": "cannot be judged"}[standing]
    return Verdict(system, standing, f"{label} {opening}: {' and '.join(parts)}; {own.split(': ')[-1]}.")


def _against(reference: str, gain: float, currency: str) -> str:
    if gain != gain:
        return f"its worth against {reference} is not known"
    amount = money_text(abs(gain), currency)
    if gain == 0:
        return f"worth the same as {reference}"
    return f"worth {amount} {'more' if gain > 0 else 'less'} than {reference}"
