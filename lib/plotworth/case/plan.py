"""The frozen plan of a trial, `plan.toml`: asked and drawn before planting, under a hash that shows any change.

The hash is SHA-256 over the plan's values in one canonical form (JSON, keys sorted), so that comments and spacing may
change and nothing else. What was done otherwise stands in `deviations.csv`.
"""

import datetime
import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, dataclass, fields, replace
from pathlib import Path
from typing import Any, get_origin

from plotworth.case.schema import FACTOR_PREFIX
from plotworth.case.toml_file import TYPE_WORDS, is_kind, line_of, read_toml, toml_value
from plotworth.ground.errors import Fault, FaultsError
from plotworth.ground.glossary import GLOSSARY, suggest

FILE = "plan.toml"
HASH = "sha256"
TREATMENT = "treatment"
DESIGNS = ("blocks", "split", "factorial")
FACTORS = {"blocks": (1, 1), "split": (2, 2), "factorial": (2, 9)}
TEXT_LISTS = ("contrast", "levels")
WORDS = {**TYPE_WORDS, list: 'a list, such as ["tank", "drip"]'}
HEAD = """\
# The plan of the trial as it was frozen before planting. Do not edit it: any change breaks the hash at its end.
# What is done otherwise goes into deviations.csv, with its date and reason.
"""
MEANINGS = {
    "contrast_of": "treatment, or the factor whose levels are compared over those of the others",
    "contrast": "first less second",
    "smallest_gain_share": "of the second's mean: less than this is not worth having",
    "design": "blocks, split (first factor on whole plots, second within) or factorial",
    "seed": "draws the layout again, together with redraws",
    "redraws": "how often the rule asked for another draw before anyone looked",
    "columns": "plots side by side in a block",
    "gradient_from": "the side where the slope or the way in begins; row 1 lies there",
    "rows": "harvested rows of a plot",
    "plants_per_row": "harvested plants of a row",
    "guard_rows": "along each side, grown and not recorded",
    "guard_plants": "at each end of every row, grown and not recorded",
    "expected_cv": "between plots of a block, a share of the mean",
}
BOUNDS: dict[str, tuple[float, float]] = {
    "smallest_gain_share": (0.001, 3),
    "blocks": (2, 200),
    "seed": (0, 2**63 - 1),
    "redraws": (0, 100),
    "columns": (1, 1000),
    "rows": (1, 1000),
    "plants_per_row": (1, 1000),
    "spacing_in_row_m": (0.01, 20),
    "spacing_between_rows_m": (0.01, 20),
    "guard_rows": (0, 20),
    "guard_plants": (0, 20),
    "expected_cv": (0.001, 1.5),
}
SHARES = ("smallest_gain_share", "expected_cv")


@dataclass(frozen=True)
class PlannedFactor:
    """A factor of the plan: name and levels."""

    name: str
    levels: tuple[str, ...]


@dataclass(frozen=True)
class PlannedPlot:
    """A plot of the plan: name, block, treatment, level of every factor, row and column of the map, from 1."""

    plot: str
    block: str
    treatment: str
    levels: tuple[str, ...]
    row: int
    column: int


@dataclass(frozen=True)
class Plan:
    """What was fixed before planting.

    Attributes: question; outcome, a name of the glossary; contrast, two treatments or two levels of the factor that
    contrast_of names, first less second; smallest gain worth having, a share of the second's mean; design, factors,
    blocks; seed, redraws and the rule of redraws in words; columns, plots side by side in a block; the side where the
    gradient begins; crop; rows and plants per row that are harvested; spacing [m]; guards; analysis in words; date of
    freezing; plots; CV expected between the plots of a block (None where nobody said); site and trial_year of its rows
    in plots.csv, blank for all.
    """

    question: str
    outcome: str
    contrast_of: str
    contrast: tuple[str, ...]
    smallest_gain_share: float
    design: str
    factors: tuple[PlannedFactor, ...]
    blocks: int
    seed: int
    redraws: int
    redraw_rule: str
    columns: int
    gradient_from: str
    crop: str
    rows: int
    plants_per_row: int
    spacing_in_row_m: float
    spacing_between_rows_m: float
    guard_rows: int
    guard_plants: int
    analysis: str
    frozen_on: datetime.date
    plots: tuple[PlannedPlot, ...]
    expected_cv: float | None = None
    site: str = ""
    trial_year: str = ""

    @property
    def treatments(self) -> tuple[str, ...]:
        """Treatments in the order in which they first stand on the ground."""
        return tuple(dict.fromkeys(plot.treatment for plot in self.plots))

    @property
    def sha256(self) -> str:
        """Hash of everything that the plan says, in hexadecimal digits."""
        form = json.dumps(_plain(self), sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
        return hashlib.sha256(form.encode("ascii")).hexdigest()

    def text(self) -> str:
        """Return the plan as the text of `plan.toml`."""
        values = _plain(self)
        lines = [HEAD]
        for key, value in values.items():
            if isinstance(value, list) and value and isinstance(value[0], dict):
                lines += [f"{key} = [", *(f"    {toml_value(part)}," for part in value), "]"]
            else:
                shown = self.frozen_on if key == "frozen_on" else value
                meaning = f"  # {MEANINGS[key]}" if key in MEANINGS else ""
                lines.append(f"{key} = {toml_value(shown)}{meaning}")
        return "\n".join([*lines, f"{HASH} = {toml_value(self.sha256)}", ""])


def _kinds(shape: type) -> dict[str, type]:
    """Return the TOML kind of every value of a plan or a part of it, by name."""
    kinds: dict[str, type] = {}
    for field in fields(shape):
        hint: Any = field.type
        kinds[field.name] = list if get_origin(hint) is tuple else float if hint == float | None else hint
    return kinds


PLAN_KINDS, FACTOR_KINDS, PLOT_KINDS = _kinds(Plan), _kinds(PlannedFactor), _kinds(PlannedPlot)
MAY_BE_LEFT_OUT = tuple(field.name for field in fields(Plan) if field.default is not MISSING)


def _plain(part: Any) -> dict[str, Any]:
    """Return a plan or a part of it as plain values that JSON knows; what is not given is left out."""
    plain = {}
    for field in fields(part):
        value = getattr(part, field.name)
        if isinstance(value, tuple):
            value = [item if isinstance(item, str) else _plain(item) for item in value]
        elif isinstance(value, datetime.date):
            value = value.isoformat()
        if value is not None:
            plain[field.name] = value
    return plain


def read_plan(folder: Path) -> Plan | None:
    """Return the frozen plan in a case's `plan.toml`, or None where there is none.

    Raises FaultsError with every fault of the file: a key missing, unknown, of another kind or out of bounds, or a hash
    that does not fit what the plan says.
    """
    if not (folder / FILE).exists():
        return None
    raw, text = read_toml(folder / FILE)
    lines = text.splitlines()
    faults = list(_key_faults(raw, {**PLAN_KINDS, HASH: str}, MAY_BE_LEFT_OUT, lines))
    for key, kinds in (("factors", FACTOR_KINDS), ("plots", PLOT_KINDS)):
        for part in raw.get(key, []) if isinstance(raw.get(key), list) else []:
            faults += _key_faults(part, kinds, (), lines) if isinstance(part, dict) else [_no_table(key, part, lines)]
    if faults:
        raise FaultsError(faults)
    plan = _plan(raw)
    faults = [replace(fault, line=line_of(lines, fault.name)) for fault in plan_faults(plan)]
    if not faults and plan.sha256 != raw[HASH]:
        rule = "the hash does not fit what the plan says: it was changed after it was frozen"
        remedy = "put the file back as it was frozen, and write what was done otherwise into deviations.csv"
        faults.append(Fault(FILE, line_of(lines, HASH), HASH, raw[HASH][:12], rule, remedy))
    if faults:
        raise FaultsError(faults)
    return plan


def _key_faults(
    raw: Mapping[str, Any], kinds: Mapping[str, type], optional: tuple[str, ...], lines: list[str]
) -> Iterator[Fault]:
    for key, value in raw.items():
        if key not in kinds:
            near = suggest(key, [name for name in kinds if name not in raw])
            remedy = f"did you mean {near}" if near else "remove it"
            yield Fault(FILE, line_of(lines, key), key, str(value)[:40], "a plan knows no such key", remedy)
        elif not is_kind(value, kinds[key]):
            rule = "of another kind"
            yield Fault(FILE, line_of(lines, key), key, str(value)[:40], rule, f"write {WORDS[kinds[key]]}")
        elif key in TEXT_LISTS and not all(isinstance(item, str) for item in value):
            yield Fault(FILE, line_of(lines, key), key, str(value)[:40], "of another kind", f"write {WORDS[list]}")
    for key in kinds:
        if key not in raw and key not in optional:
            remedy = "put the file back as `plotworth plan` wrote it, or move it away and plan anew"
            yield Fault(FILE, 0, key, "", "the key is missing", remedy)


def _no_table(key: str, found: object, lines: list[str]) -> Fault:
    remedy = "put the file back as `plotworth plan` wrote it"
    return Fault(FILE, line_of(lines, key), key, str(found)[:40], "each entry is a table of its own", remedy)


def _plan(raw: Mapping[str, Any]) -> Plan:
    values = {key: value for key, value in raw.items() if key != HASH}
    for key, kind in PLAN_KINDS.items():
        if kind is float and key in values:
            values[key] = float(values[key])
    values["contrast"] = tuple(values["contrast"])
    values["factors"] = tuple(PlannedFactor(part["name"], tuple(part["levels"])) for part in values["factors"])
    values["plots"] = tuple(PlannedPlot(**{**part, "levels": tuple(part["levels"])}) for part in values["plots"])
    return Plan(**values)


def plan_faults(plan: Plan) -> list[Fault]:
    """Return every fault in the values of a plan, drawn or not yet: blanks, bounds, closed lists, names used twice."""
    return [*_value_faults(plan), *_factor_faults(plan), *_contrast_faults(plan)]


def factor_columns(plan: Plan) -> tuple[str, ...]:
    """Return the columns of plots.csv that hold the levels of the plan's factors; none where there is one factor."""
    return tuple(FACTOR_PREFIX + factor.name for factor in plan.factors) if len(plan.factors) > 1 else ()


def _value_faults(plan: Plan) -> Iterator[Fault]:
    for key in ("question", "analysis", "crop"):
        if not getattr(plan, key).strip():
            yield Fault(FILE, 0, key, "", "must not be blank", f"say the {key} in words")
    for key, (lowest, highest) in BOUNDS.items():
        value = getattr(plan, key)
        if value is not None and not lowest <= value <= highest:
            rule = f"must lie between {lowest:g} and {highest:g}"
            percent = f"write {value / 100:g} if {value:g} % is meant"
            remedy = percent if key in SHARES and highest < value else "correct the number or its unit"
            yield Fault(FILE, 0, key, f"{value:g}", rule, remedy)
    outcomes = [term.name for term in GLOSSARY.values() if term.is_outcome]
    if plan.outcome not in outcomes:
        near = suggest(plan.outcome, outcomes)
        remedy = f"did you mean {near}" if near else "write yield_kg_per_m2 or another outcome of the glossary"
        yield Fault(FILE, 0, "outcome", plan.outcome, "the glossary has no such outcome", remedy)


def _factor_faults(plan: Plan) -> Iterator[Fault]:
    if plan.design not in DESIGNS:
        near = suggest(plan.design, DESIGNS)
        remedy = f"did you mean {near}" if near else f"write one of {', '.join(DESIGNS)}"
        yield Fault(FILE, 0, "design", plan.design, "no such design", remedy)
        return
    least, most = FACTORS[plan.design]
    if not least <= len(plan.factors) <= most:
        wanted = f"{least}" if least == most else f"{least} or more"
        rule = f"a design of kind {plan.design} has {wanted} factor{'' if most == 1 else 's'}"
        yield Fault(
            FILE, 0, "factors", f"{len(plan.factors)}", rule, "name each with its levels, or choose another design"
        )
    names = [factor.name for factor in plan.factors]
    for factor in plan.factors:
        if not factor.name.isidentifier() or names.count(factor.name) > 1:
            rule, remedy = "a factor's name is one word, used once", "write letters, digits and _"
            yield Fault(FILE, 0, "factors", factor.name, rule, remedy)
        twice = len(set(factor.levels)) < len(factor.levels)
        if len(factor.levels) < 2 or twice or not all(level.strip() == level != "" for level in factor.levels):
            rule = f"the factor {factor.name} needs two levels or more, each named once"
            yield Fault(FILE, 0, "factors", ", ".join(factor.levels), rule, "correct the list of levels")


def _contrast_faults(plan: Plan) -> Iterator[Fault]:
    levels = {factor.name: factor.levels for factor in plan.factors}
    treatments = plan.treatments or (plan.factors[0].levels if len(plan.factors) == 1 else plan.contrast)
    groups = {**levels, TREATMENT: treatments}
    if plan.contrast_of not in groups:
        rule, remedy = "a contrast is of treatments or of a factor's levels", f"write one of {', '.join(groups)}"
        yield Fault(FILE, 0, "contrast_of", plan.contrast_of, rule, remedy)
    elif len(set(plan.contrast)) != 2 or not set(plan.contrast) <= set(groups[plan.contrast_of]):
        rule = f"the contrast needs two of the {'treatments' if plan.contrast_of == TREATMENT else 'levels'}"
        remedy = f"write two of {', '.join(groups[plan.contrast_of])}"
        yield Fault(FILE, 0, "contrast", " - ".join(plan.contrast), rule, remedy)
