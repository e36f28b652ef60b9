"""The settings of a case, from `case.toml`: question, money, place, area, horizon, systems."""

import datetime
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from plotworth.case.financing import GRANTS, LOANS, Grant, Loan, read_financing
from plotworth.case.programme import KINDS as PROGRAMME
from plotworth.case.programme import NEEDED as PROGRAMME_NEEDED
from plotworth.case.programme import Programme, programme_faults, programme_of
from plotworth.case.toml_file import TYPE_WORDS, is_kind, read_toml
from plotworth.ground.errors import Fault, FaultsError
from plotworth.ground.glossary import GLOSSARY, suggest

FILE = "case.toml"
RESERVOIR = "reservoir"
WATER_METHODS = (RESERVOIR, "drip", "hand", "furrow", "sprinkler", "rain")
COVERS = ("none", "net", "tunnel", "house")
NEEDED: dict[str, type] = {
    "title": str,
    "question": str,
    "currency": str,
    "price_year": int,
    "as_of": datetime.date,
    "area_m2": float,
    "horizon_years": int,
    "today": str,
    "baseline": str,
    "invented": bool,
    "systems": list,
}
OPTIONAL: dict[str, type] = {
    "main_crop": str,
    "yield_from": str,
    "first_month": int,
    "place": dict,
    "trial": dict,
    "programme": dict,
    LOANS: object,  # checked by `financing`
    GRANTS: object,
    "note": str,
}
OWN_TABLES = ("systems", "place", "trial", "programme", LOANS, GRANTS)
TRIAL: dict[str, type] = {"design": str, "whole_plots": str, "smallest_gain_share": float}
DESIGNS = ("blocks", "split", "factorial", "random")
SMALLEST_GAINS = (0.001, 3)
PLACE: dict[str, type] = {"name": str, "latitude_deg": float, "elevation_m": float}
SYSTEM: dict[str, type] = {"id": str, "label": str, "treatment": str, "water_method": str, "cover": str}
SYSTEM_NEEDED = ("id", "label")
PRICE_YEARS = (1900, 2200)
LATITUDES_DEG = (-90, 90)
ELEVATIONS_M = (-500, 9000)
MONTHS = (1, 12)


@dataclass(frozen=True)
class System:
    """A growing system of the case: id, label, the treatment whose plots measured it, water method, cover."""

    id: str
    label: str
    treatment: str = ""
    water_method: str = ""
    cover: str = "none"


@dataclass(frozen=True)
class Place:
    """Where the case lies: name, latitude [deg, north positive], elevation [m]."""

    name: str = ""
    latitude_deg: float | None = None
    elevation_m: float | None = None


@dataclass(frozen=True)
class TrialDesign:
    """How the trial was drawn by lot, where no frozen plan says it.

    Attributes: design, blocks (one factor within complete blocks), factorial (several within blocks), split (the
    factor `whole_plots` on whole plots of a block, the others within) or random (over all plots), "" where nothing
    is said; smallest_gain_share, the smallest gain in yield worth having [share of the reference's mean].
    """

    design: str = ""
    whole_plots: str = ""
    smallest_gain_share: float | None = None


@dataclass(frozen=True)
class Settings:
    """What `case.toml` says. `area_m2` is gross [m2]; `as_of` is the date the case is judged at.

    `first_month` 1-12 is the calendar month in which the first year of production begins, None where not stated.
    """

    title: str
    question: str
    currency: str
    price_year: int
    as_of: datetime.date
    area_m2: float
    horizon_years: int
    today: str
    baseline: str
    invented: bool
    systems: tuple[System, ...]
    place: Place
    trial: TrialDesign = TrialDesign()
    main_crop: str = ""
    yield_from: str = ""
    first_month: int | None = None
    loans: tuple[Loan, ...] = ()
    grants: tuple[Grant, ...] = ()
    note: str = ""
    programme: Programme | None = None

    def system(self, system_id: str) -> System:
        """Return the system with this id; KeyError where there is none."""
        return {system.id: system for system in self.systems}[system_id]


def read_settings(folder: Path) -> Settings:
    """Return the settings in a case folder's `case.toml`.

    Raises FaultsError with all faults of the file, each with its line and what to write.
    """
    raw, text = read_toml(folder / FILE)
    checker = _Checker(text)
    checker.check_keys(raw, NEEDED, OPTIONAL, needed=tuple(NEEDED))
    if checker.faults:
        raise FaultsError(checker.faults)
    settings = _settings(raw, checker)
    if checker.faults:
        raise FaultsError(checker.faults)
    return settings


def _settings(raw: dict[str, Any], checker: "_Checker") -> Settings:
    place = raw.get("place", {})
    checker.check_keys(place, {}, PLACE, needed=())
    trial = raw.get("trial", {})
    checker.check_keys(trial, {}, TRIAL, needed=())
    if "programme" in raw:
        checker.check_keys(
            raw["programme"], dict(PROGRAMME), {}, needed=PROGRAMME_NEEDED, line=checker.line("programme")
        )
    for number, entry in enumerate(raw["systems"] or [None]):
        if isinstance(entry, dict):
            checker.check_keys(entry, SYSTEM, {}, needed=SYSTEM_NEEDED, line=checker.system_line(number))
        else:
            remedy = "write [[systems]] and below it id and label"
            checker.add("systems", entry, "each system is a table of its own", remedy)
    if not checker.faults:
        checker.check_values(raw)
    if checker.faults:
        raise FaultsError(checker.faults)
    ids, text = [entry["id"] for entry in raw["systems"]], "\n".join(checker.lines)
    loans, grants, faults = read_financing(raw, text, file=FILE, systems=ids, horizon_years=raw["horizon_years"])
    checker.faults += faults
    plain = {key: value for key, value in raw.items() if key not in OWN_TABLES}
    plain["area_m2"] = float(plain["area_m2"])
    systems = tuple(System(**entry) for entry in raw["systems"])
    own_place, design = Place(**place), TrialDesign(**trial)
    programme = programme_of(raw["programme"]) if "programme" in raw else None
    own_tables: dict[str, Any] = {"place": own_place, "trial": design, "programme": programme}
    return Settings(**plain, **own_tables, systems=systems, loans=loans, grants=grants)


class _Checker:
    """Collects the faults of a `case.toml`, finding the line of each key in its text."""

    def __init__(self, text: str) -> None:
        self.lines = text.splitlines()
        self.faults: list[Fault] = []

    def add(self, key: str, found: object, rule: str, remedy: str) -> None:
        """Add a fault at the line where `key` is set (to `found`, where it is set more than once)."""
        starts = [n for n, line in enumerate(self.lines, 1) if re.match(rf"\s*{re.escape(key)}\s*=", line)]
        exact = [n for n in starts if str(found) in self.lines[n - 1]]
        line = (exact or starts or [0])[0]
        self.faults.append(Fault(FILE, line, key, "" if found is None else str(found), rule, remedy))

    def check_keys(
        self,
        raw: dict[str, Any],
        known: dict[str, type],
        optional: dict[str, type],
        *,
        needed: tuple[str, ...],
        line: int = 0,
    ) -> None:
        """Check that keys are known, needed ones there, and values of their type; `line` is where the keys belong."""
        kinds = {**known, **optional}
        for key, value in raw.items():
            if key not in kinds:
                near = suggest(key, kinds)
                remedy = f"did you mean {near}" if near else f"use {', '.join(kinds)}, or remove it"
                self.add(key, value, "no such setting", remedy)
            elif not is_kind(value, kinds[key]):
                self.add(key, value, "of another kind", f"write {TYPE_WORDS[kinds[key]]}")
        for key in needed:
            if key not in raw:
                remedy = f"write {key} = {TYPE_WORDS[kinds[key]]}"
                self.faults.append(Fault(FILE, line, key, "", "the setting is missing", remedy))

    def line(self, table: str) -> int:
        """Return the line at which a table of this name begins; 0 where it is not to be found."""
        pattern = rf"\s*\[\s*{table}\s*\]"
        return next((n for n, line in enumerate(self.lines, 1) if re.match(pattern, line)), 0)

    def system_line(self, number: int) -> int:
        """Return the line at which the system of this number, from 0, begins; 0 where it is not to be found."""
        starts = [n for n, line in enumerate(self.lines, 1) if re.match(r"\s*\[\[\s*systems\s*\]\]", line)]
        return starts[number] if number < len(starts) else 0

    def check_values(self, raw: dict[str, Any]) -> None:
        """Check blanks, bounds, closed lists, and that every system named is one of the systems."""
        for key in ("title", "question"):
            self._not_blank(key, raw[key])
        for key in ("area_m2", "horizon_years"):
            term = GLOSSARY[key]
            self._between(key, raw[key], (term.lowest, term.highest), term.unit)
        self._between("price_year", raw["price_year"], PRICE_YEARS, "")
        self._between("first_month", raw.get("first_month", MONTHS[0]), MONTHS, "")
        for key, bounds, unit in (("latitude_deg", LATITUDES_DEG, "degrees"), ("elevation_m", ELEVATIONS_M, "m")):
            self._between(key, raw.get("place", {}).get(key, 0), bounds, unit)
        if not re.fullmatch(r"[A-Z]{3}", raw["currency"]):
            self.add("currency", raw["currency"], "must be a code of three capitals", "write the ISO 4217 code")
        self._one_of("yield_from", raw.get("yield_from", "counts"), ("counts", "weighed"))
        self._check_trial(raw.get("trial", {}))
        self._check_systems(raw)
        if "programme" in raw:
            ids = tuple(entry["id"] for entry in raw["systems"])
            for fault in programme_faults(raw["programme"], ids, raw["today"]):
                self.add(*fault)

    def _check_trial(self, trial: dict[str, Any]) -> None:
        design, whole = trial.get("design", ""), trial.get("whole_plots", "")
        if design:
            self._one_of("design", design, DESIGNS)
        if (design == "split") != bool(whole):
            rule = "a split plot names the factor of its whole plots, another design has none"
            self.add("whole_plots", whole, rule, 'write whole_plots = "water" with design = "split", or leave it out')
        self._between("smallest_gain_share", trial.get("smallest_gain_share", SMALLEST_GAINS[0]), SMALLEST_GAINS, "")

    def _check_systems(self, raw: dict[str, Any]) -> None:
        ids = [entry["id"] for entry in raw["systems"]]
        for name in sorted({name for name in ids if ids.count(name) > 1}):
            self.add("id", name, "two systems have this id", "give each system its own id")
        labels = [entry["label"] for entry in raw["systems"]]
        for label in sorted({label for label in labels if labels.count(label) > 1}):
            self.add("label", label, "two systems have this label", "give each system a label of its own")
        for name in ids:
            if name == "all" or not re.fullmatch(r"[a-z][a-z0-9_]*", name):
                self.add("id", name, "an id is lower-case letters, digits and _, and not 'all'", "choose another id")
        for entry in raw["systems"]:
            self._not_blank("label", entry["label"])
            self._one_of("water_method", entry.get("water_method", WATER_METHODS[0]), WATER_METHODS)
            self._one_of("cover", entry.get("cover", COVERS[0]), COVERS)
        self._one_of("today", raw["today"], tuple(ids))
        self._one_of("baseline", raw["baseline"], tuple(ids))

    def _not_blank(self, key: str, text: str) -> None:
        if not text.strip():
            self.add(key, text, "must not be blank", f"write the {key} between the quotation marks")

    def _between(self, key: str, value: float, bounds: tuple[float, float], unit: str) -> None:
        if not bounds[0] <= value <= bounds[1]:
            rule = f"must lie between {bounds[0]:g} and {bounds[1]:g} {unit}".rstrip()
            self.add(key, value, rule, "correct the number or its unit")

    def _one_of(self, key: str, value: str, allowed: tuple[str, ...]) -> None:
        if value not in allowed:
            near = suggest(value, allowed)
            remedy = f"did you mean {near}" if near else f"write one of {', '.join(allowed)}"
            self.add(key, value, f"must be one of {', '.join(allowed)}", remedy)
