"""The formula of an outcome in words, and worked once with the values in force where it has a few terms."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from plotworth.choose.appraise import Appraisal, reference_ids, units
from plotworth.choose.season import EATEN_COUNTED
from plotworth.choose.structure import AREA, SeasonPlan, SystemPlan
from plotworth.choose.system import WATER_VALUE
from plotworth.choose.worked import Term, names_of, plain, sentence, stated, worked
from plotworth.ground.amounts import unit_words
from plotworth.ground.glossary import read_shipped_table

SEASON, EVERY_SEASON, STREAM, DIFFERENCE = "season", "seasons", "stream", "difference"
SEASONS, ALONE = "seasons", "systems"
OWN, REFERENCE = "own_", "reference_"
MINUS = "{own}{name} - {reference}{name}"


@dataclass(frozen=True)
class OutcomeFormula:
    """How an outcome is made: per what (`scope`), in words, and as an expression of names, "" where it has many terms.

    `scope`: season; seasons (added up over them); year (a system's full year or horizon); stream (of a system's
    flows, or of flows with less without); difference (only of two systems).
    """

    scope: str
    words: str
    expression: str


OUTCOME_FORMULAS: Mapping[str, OutcomeFormula] = MappingProxyType(
    {
        row["outcome"]: OutcomeFormula(row["scope"], row["words"], row["worked"] or "")
        for row in read_shipped_table("formulas")
    }
)


def formula_words(appraisal: Appraisal, path: str) -> str:
    """Return the formula of the outcome at a path in words; of a difference, what is taken from what."""
    part, system, *_, name = path.split("/")
    formula = OUTCOME_FORMULAS[name]
    if part in (ALONE, SEASONS):
        pooled = part == ALONE and formula.scope == SEASON and len(_main_seasons(appraisal, system)) > 1
        return formula.words + ("; of all seasons of the main crop together" if pooled else "")
    own, other = (appraisal.case.settings.system(one).label for one in (system, reference_ids(appraisal.case)[part]))
    if formula.scope == STREAM:
        return f"{formula.words}; of the flows of {own} less those of {other}"
    if formula.scope == DIFFERENCE:
        return f"{formula.words}; {own} against {other}"
    return f"that of {own} less that of {other}; each is {formula.words}"


def worked_sentence(appraisal: Appraisal, path: str) -> str:
    """Return the formula with the numbers in force, "0.95 x (1 - 0.1) - 0.06 = 0.795 XTS/kg"; "" where it has none."""
    part, *keys, name = path.split("/")
    figures = appraisal.seasons if part == SEASONS else appraisal.part(part)
    value = figures["/".join(keys)][name]
    term = _worked(appraisal, part, keys, name)
    unit = unit_words(units(appraisal.case.settings.currency)[name])
    return "" if term is None else sentence(term, value, unit)


def _worked(appraisal: Appraisal, part: str, keys: list[str], name: str) -> Term | None:
    formula = OUTCOME_FORMULAS[name]
    system = appraisal.layout.structure.system(keys[0])
    values = _Values(appraisal, part, system)
    if part not in (ALONE, SEASONS) and formula.scope not in (STREAM, DIFFERENCE):
        return values.put_in(MINUS.format(own=OWN, reference=REFERENCE, name=name), system.seasons[0], SEASON)
    if not formula.expression:
        return None
    if formula.scope == EVERY_SEASON:
        return values.added(formula.expression)
    if part == SEASONS:
        plan = next(plan for plan in system.seasons if plan.season == keys[1])
        return values.put_in(formula.expression, plan, SEASON)
    seasons = _main_seasons(appraisal, system.id) if formula.scope == SEASON else [system.seasons[0]]
    return values.put_in(formula.expression, seasons[0], formula.scope) if len(seasons) == 1 else None


def _main_seasons(appraisal: Appraisal, system: str) -> list[SeasonPlan]:
    structure = appraisal.layout.structure
    return [plan for plan in structure.system(system).seasons if plan.crop == structure.main_crop]


class _Values:
    """The numbers in force by the names that formulas use, for one system."""

    def __init__(self, appraisal: Appraisal, part: str, system: SystemPlan) -> None:
        self.appraisal, self.part, self.system = appraisal, part, system

    def put_in(self, expression: str, plan: SeasonPlan, scope: str) -> Term | None:
        """Return an expression worked out in a season; None where one of its names has no value."""
        terms = {name: self._term(name, plan, scope) for name in names_of(expression)}
        found = {name: term for name, term in terms.items() if term is not None and math.isfinite(term.value)}
        return worked(expression, found) if len(found) == len(terms) else None

    def added(self, expression: str) -> Term | None:
        """Return an expression worked out in every season, added up; None where a season lacks a value."""
        parts = [self.put_in(expression, plan, SEASON) for plan in self.system.seasons]
        known = {f"part_{n}": part for n, part in enumerate(parts) if part is not None}
        return worked(" + ".join(known), known) if len(known) == len(parts) else None

    def _term(self, name: str, plan: SeasonPlan, scope: str) -> Term | None:
        for given in (self._fixed(name, plan), self._figure(name, plan, scope)):
            if given is not None:
                return given
        at = plan.addresses.get(name)
        if at is None:
            return None
        one, value = self.appraisal.layout.inputs[at], float(self.appraisal.values[at].flat[0])
        return plain(value) if one.origin == "absent" else stated(value)

    def _fixed(self, name: str, plan: SeasonPlan) -> Term | None:
        values = self.appraisal.values
        hooks = {"value_factor": (plan.value_factor, 1.0), "eaten_counted": (EATEN_COUNTED, 1.0),
                 "water_value": (WATER_VALUE, 0.0)}  # fmt: skip
        if name in hooks:
            at, otherwise = hooks[name]
            return stated(float(values[at].flat[0])) if at in values else plain(otherwise)
        if name == "share_of_area":
            return plain(plan.share_of_area)
        if name == "horizon_years":
            return stated(float(self.appraisal.layout.structure.horizon_years))
        return stated(float(values[AREA].flat[0])) if name == AREA else None

    def _figure(self, name: str, plan: SeasonPlan, scope: str) -> Term | None:
        """Return another outcome of the same season or system, or of either system of a difference."""
        alone = self.appraisal.systems
        if name.startswith(REFERENCE):
            other = reference_ids(self.appraisal.case)[self.part]
            return _stated(alone[other].get(name.removeprefix(REFERENCE)))
        if name.startswith(OWN):
            return _stated(alone[self.system.id].get(name.removeprefix(OWN)))
        if name in plan.addresses and name in OUTCOME_FORMULAS:
            return None
        season = self.appraisal.seasons[f"{self.system.id}/{plan.season}"]
        own = season if scope == SEASON else self.appraisal.part(self.part)[self.system.id]
        return _stated(own.get(name))


def _stated(value: float | None) -> Term | None:
    return None if value is None else stated(value)
