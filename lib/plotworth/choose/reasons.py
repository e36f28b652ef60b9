"""Why an outcome has no value, or must be read with care: one sentence a path."""

import math
from collections.abc import Mapping

from plotworth.choose.input import Input

Values = Mapping[str, Mapping[str, Mapping[str, float]]]
PAYBACKS = ("simple_payback_years", "discounted_payback_years")
WITHOUT = {
    "gross_margin_per_m3": "no water is drawn",
    "gross_margin_per_day": "nobody works in a full year",
    "gross_margin_per_100": "nothing is laid out in year 0",
    "return_per_family_day": "the family does no work",
}
"""Outcomes by a number of which there may be none."""
SAVED_MONEY = "needs less money first than {reference}: this rate is the yearly cost of the money saved, not a return"


class Reasons:
    """Tells the reasons of one case: `figures[part][system][name]` and the facts measured with them."""

    def __init__(self, figures: Values, facts: Mapping[str, Mapping[str, float]], main_crop: str) -> None:
        self.figures, self.facts, self.main_crop = figures, facts, main_crop

    def told(self, references: Mapping[str, str]) -> dict[str, str]:
        """Return a sentence for every path without a value and for rates of money saved.

        `references` by part: the label of the system that a difference is taken from, "" for none.
        """
        sentences = {}
        for part, systems in self.figures.items():
            for system, figures in systems.items():
                for name, value in figures.items():
                    if math.isnan(value):
                        sentences[f"{part}/{system}/{name}"] = self._why(part, system, name, references[part])
                if self._needs_less(part, system) and not math.isnan(figures.get("irr", math.nan)):
                    sentences[f"{part}/{system}/irr"] = SAVED_MONEY.format(reference=references[part])
        return sentences

    def _needs_less(self, part: str, system: str) -> bool:
        return part != "systems" and self.facts[f"{part}/{system}"]["first_flow"] > 0

    def _why(self, part: str, system: str, name: str, reference: str) -> str:
        facts = self.facts[f"{part}/{system}"]
        if name == "irr":
            return _why_no_rate(int(facts["root_count"]))
        if name == "mirr":
            return "the flows have one sign only, so no rate links what is paid to what is gained"
        if name in (*PAYBACKS, "benefit_cost_ratio") and self._needs_less(part, system):
            return f"needs less money first than {reference}, so there is nothing to pay back"
        if name in PAYBACKS:
            return _why_no_payback(facts["first_flow"], name)
        if name == "benefit_cost_ratio" and not reference:
            return "nothing is paid, so a ratio says nothing"
        if name == "benefit_cost_ratio":
            return "its costs are not above those it is set against, so a ratio says nothing"
        return self._why_physical(part, system, name)

    def _why_physical(self, part: str, system: str, name: str) -> str:
        own = self.figures["systems"][system]
        if name == "wells":
            return "the book states no area a well serves (area_per_well_m2) for this system"
        if name in WITHOUT:
            return WITHOUT[name]
        if name in ("reservoir_units", "gross_margin_per_unit"):
            return "the book states no bed per reservoir (m2_per_unit) for this system"
        if math.isnan(own["yield_kg_per_m2"]):
            return f"the system does not grow {self.main_crop}"
        if name == "irrigation_productivity_kg_per_m3":
            return "no water was applied"
        if name in ("water_l_per_kg", "cost_per_kg"):
            return f"no {self.main_crop} that is worth anything is harvested"
        if name == "less_water_share" and not math.isnan(self.figures[part][system]["yield_kg_per_m2"]):
            return "no water is drawn by the system it is set against"
        return f"the system it is set against does not grow {self.main_crop}"


def _why_no_rate(roots: int) -> str:
    if roots == 0:
        return "no rate makes the flows come to nothing"
    return f"{roots} rates make the flows come to nothing (see irr_roots), so none of them is the return"


def _why_no_payback(first_flow: float, name: str) -> str:
    if first_flow >= 0:
        return "needs no more money first, so there is nothing to pay back"
    discounted = "discounted " if name.startswith("discounted") else ""
    return f"the added-up {discounted}flow does not stay above zero within the horizon"


def unknown_sentence(unknown: list[Input]) -> str:
    """Return the sentence for outcomes that rest on assumptions stated as unknown."""
    return "unknown: " + ", ".join(f"{one.label.lower()} ({one.file} line {one.line})" for one in unknown)
