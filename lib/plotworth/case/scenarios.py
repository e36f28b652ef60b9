"""Named scenarios of a case: other values at some addresses, with a log of who changed what, when and why.

A scenario is a file `scenarios/<name>.toml` in the case folder. It stands beside the assumption book and never
changes it. Dates and names are the caller's: nothing here asks the clock.
"""

import datetime
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Protocol

from plotworth.case.cells import check_bounds
from plotworth.case.toml_file import is_kind, line_of, read_toml, toml_value
from plotworth.case.writing import write_whole
from plotworth.ground.errors import CaseError, Fault, FaultsError
from plotworth.ground.glossary import suggest

FOLDER, SUFFIX = "scenarios", ".toml"
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
NAME_RULE = "a scenario's name is letters, digits, - and _, 64 at most, the first a letter or digit"
TITLE, VALUES, LOG = "title", "values", "log"
WORKED_OUT = "computed"
CHANGE_KINDS: Mapping[str, type] = {
    "who": str,
    "when": datetime.date,
    "address": str,
    "old": float,
    "new": float,
    "why": str,
}
CHANGE_NEEDED = ("who", "when", "address", "why")
KIND_WORDS: Mapping[type, str] = {
    str: "text in quotation marks",
    float: "a number with a decimal point",
    datetime.date: "a date such as 2026-03-09",
}


class Bounded(Protocol):
    """What a scenario needs to know of an input: its value, unit, least and greatest value possible, and origin."""

    @property
    def value(self) -> float: ...  # noqa: D102 - the class says it
    @property
    def unit(self) -> str: ...  # noqa: D102
    @property
    def lowest(self) -> float: ...  # noqa: D102
    @property
    def highest(self) -> float: ...  # noqa: D102
    @property
    def origin(self) -> str: ...  # noqa: D102


Inputs = Mapping[str, Bounded]


@dataclass(frozen=True)
class Change:
    """One entry of a scenario's log: who set an address from `old` to `new`, when and why.

    `old` None: there was no value; `new` None: the address went back to what the book says.
    """

    who: str
    when: datetime.date
    address: str
    old: float | None
    new: float | None
    why: str


@dataclass(frozen=True)
class Scenario:
    """A named set of values by address, in the units of the case, and the log of its changes, oldest first."""

    name: str
    title: str
    values: Mapping[str, float]
    log: tuple[Change, ...] = ()

    def with_value(
        self, address: str, value: float, *, inputs: Inputs, who: str, when: datetime.date, why: str
    ) -> "Scenario":
        """Return the scenario with another value at an address, and the change in its log.

        Parameters: address; value in its unit; inputs by address, of which the book's value is taken as the old one
        where the scenario holds none yet; who, when and why, the caller's. The value itself is judged by
        `scenario_faults`. Errors: FaultsError where the address is unknown, or who or why is blank.
        """
        change = self._change(address, inputs, who=who, when=when, why=why)
        return replace(
            self, values={**self.values, address: float(value)}, log=(*self.log, replace(change, new=float(value)))
        )

    def without(self, address: str, *, inputs: Inputs, who: str, when: datetime.date, why: str) -> "Scenario":
        """Return the scenario with an address left to the book again, and that change in its log."""
        change = self._change(address, inputs, who=who, when=when, why=why)
        kept = {at: value for at, value in self.values.items() if at != address}
        return replace(self, values=kept, log=(*self.log, change))

    def _change(self, address: str, inputs: Inputs, *, who: str, when: datetime.date, why: str) -> Change:
        file = file_of(self.name)
        blank = [key for key, text in (("who", who), ("why", why)) if not text.strip()]
        faults = [Fault(file, 0, key, "", "a change names who made it and why", f"write {key}") for key in blank]
        if address not in inputs:
            faults.append(_unknown(file, 0, address, inputs))
        if faults:
            raise FaultsError(faults)
        old = self.values.get(address, inputs[address].value)
        return Change(who.strip(), when, address, None if math.isnan(old) else old, None, why.strip())


def file_of(name: str) -> str:
    """Return the path of a scenario's file inside its case folder, with forward slashes."""
    return f"{FOLDER}/{name}{SUFFIX}"


def scenario_names(case_folder: Path) -> tuple[str, ...]:
    """Return the names of the scenarios saved in a case folder, in alphabetical order."""
    folder = case_folder / FOLDER
    found = folder.glob(f"*{SUFFIX}") if folder.is_dir() else ()
    return tuple(sorted(path.stem for path in found if NAME.fullmatch(path.stem)))


def read_scenario(case_folder: Path, name: str) -> Scenario:
    """Return a saved scenario.

    Errors: CaseError where the case has none of this name, with the nearest; FaultsError with everything in the file
    that is not as a scenario is written. Whether its addresses and values are the case's is `scenario_faults`' matter.
    """
    known = scenario_names(case_folder)
    if name not in known:
        near = suggest(name, known)
        hint = f"did you mean {near}?" if near else f"It has {', '.join(known)}." if known else "It has none yet."
        raise CaseError(f"{name}: the case has no such scenario; {hint}")
    raw, text = read_toml(case_folder / FOLDER / f"{name}{SUFFIX}")
    faults = list(_form_faults(raw, text.splitlines(), file_of(name)))
    if faults:
        raise FaultsError(faults)
    values = {at: float(value) for at, value in raw.get(VALUES, {}).items()}
    return Scenario(name, raw.get(TITLE, name), values, tuple(map(_change_of, raw.get(LOG, []))))


def _change_of(raw: Mapping[str, Any]) -> Change:
    ends = {end: None if end not in raw else float(raw[end]) for end in ("old", "new")}
    return Change(raw["who"], raw["when"], raw["address"], ends["old"], ends["new"], raw["why"])


def _form_faults(raw: Mapping[str, Any], lines: list[str], file: str) -> Iterator[Fault]:
    kinds: Mapping[str, type] = {TITLE: str, VALUES: dict, LOG: list}
    for key, value in raw.items():
        if key not in kinds:
            near = suggest(key, kinds)
            remedy = f"did you mean {near}" if near else f"write one of {', '.join(kinds)}"
            yield Fault(file, line_of(lines, key), key, str(value)[:60], "no part of a scenario", remedy)
        elif not isinstance(value, kinds[key]):
            remedy = f"write [{key}]" if key == VALUES else f"write [[{key}]]" if key == LOG else "write it in quotes"
            yield Fault(file, line_of(lines, key), key, str(value)[:60], f"{key} is written otherwise", remedy)
    if isinstance(values := raw.get(VALUES, {}), dict):
        yield from (_number_fault(file, lines, at, value) for at, value in values.items() if not is_kind(value, float))
    for place, entry in enumerate(raw[LOG] if isinstance(raw.get(LOG), list) else [], start=1):
        yield from _entry_faults(file, place, entry)


def _number_fault(file: str, lines: list[str], at: str, value: object) -> Fault:
    nested = isinstance(value, Mapping)
    remedy = 'write the address in quotation marks: "name/system/crop" = 1.5' if nested else "write a number"
    return Fault(file, _line_of_address(lines, at), at, str(value)[:60], "not a number", remedy)


def _line_of_address(lines: Sequence[str], at: str) -> int:
    return line_of(lines, toml_value(at)) or line_of(lines, at) or line_of(lines, f"'{at}'")


def _entry_faults(file: str, place: int, entry: object) -> Iterator[Fault]:
    where = f"log entry {place}"
    if not isinstance(entry, Mapping):
        yield Fault(file, 0, where, str(entry)[:60], "a change is a table of its own", f"write it as [[{LOG}]]")
        return
    for key in CHANGE_NEEDED:
        if key not in entry:
            yield Fault(file, 0, where, "", f"{key} is missing", f"write {key}")
    for key, value in entry.items():
        if key not in CHANGE_KINDS:
            yield Fault(file, 0, where, key, "no part of a change", f"write one of {', '.join(CHANGE_KINDS)}")
        elif not is_kind(value, CHANGE_KINDS[key]):
            yield Fault(file, 0, f"{where}, {key}", str(value)[:60], "of another kind", KIND_WORDS[CHANGE_KINDS[key]])


def read_scenarios(case_folder: Path) -> tuple[Scenario, ...]:
    """Return every saved scenario by name; FaultsError with the faults of all their files."""
    found: list[Scenario] = []
    faults: list[Fault] = []
    for name in scenario_names(case_folder):
        try:
            found.append(read_scenario(case_folder, name))
        except FaultsError as error:
            faults += error.faults
    if faults:
        raise FaultsError(faults)
    return tuple(found)


def scenario_faults(scenario: Scenario, inputs: Inputs, *, lines: Sequence[str] = ()) -> list[Fault]:
    """Return everything in a scenario that the case does not allow: unknown addresses, values out of bounds.

    A value that the case works out from others has no number of its own to change. `lines` of its file, where it was
    read from one, give the faults their lines.
    """
    file, found = file_of(scenario.name), []
    for at, value in scenario.values.items():
        line = _line_of_address(lines, at)
        if fault := address_fault(at, inputs, file=file, line=line):
            found.append(fault)
        elif refused := value_refusal(value, inputs[at]):
            found.append(Fault(file, line, at, f"{value:g}", *refused))
    return found


def address_fault(at: str, inputs: Inputs, *, file: str, line: int) -> Fault | None:
    """Return what is wrong with an address whose value is to be replaced: unknown, or worked out from others."""
    if at not in inputs:
        return _unknown(file, line, at, inputs)
    if inputs[at].origin == WORKED_OUT:
        rule = "the case works this value out from others"
        remedy = "change what it is worked out from, or type a number in its row of the book"
        return Fault(file, line, at, at, rule, remedy)
    return None


def value_refusal(value: float, one: Bounded) -> tuple[str, str] | None:
    """Return the rule and the remedy where a value is not possible at an input, else None."""
    if not math.isfinite(value):
        return "not a number", "write a number, or leave the address out"
    refusal = check_bounds(value, one.lowest, one.highest, one.unit)
    return None if refusal is None else (refusal.rule, refusal.remedy)


def _unknown(file: str, line: int, at: str, inputs: Inputs) -> Fault:
    near = suggest(at, inputs)
    remedy = f"did you mean {near}" if near else "write an address of the case, such as area_m2"
    return Fault(file, line, at, at, "no input of the case has this address", remedy)


def check_scenarios(case_folder: Path, inputs: Inputs) -> tuple[Scenario, ...]:
    """Return every saved scenario; FaultsError with the faults of all of them, of form and against the case."""
    scenarios = read_scenarios(case_folder)
    faults: list[Fault] = []
    for scenario in scenarios:
        lines = (case_folder / file_of(scenario.name)).read_text(encoding="utf-8").splitlines()
        faults += scenario_faults(scenario, inputs, lines=lines)
    if faults:
        raise FaultsError(faults)
    return scenarios


def save_scenario(case_folder: Path, scenario: Scenario) -> Path:
    """Write a scenario into its case folder, at once or not at all, and return its file.

    Errors: CaseError for a name that no file can have everywhere, or where it cannot be written.
    """
    if not NAME.fullmatch(scenario.name):
        raise CaseError(f"{scenario.name}: {NAME_RULE}.")
    path = case_folder / FOLDER / f"{scenario.name}{SUFFIX}"
    try:
        path.parent.mkdir(exist_ok=True)
    except OSError as error:
        raise CaseError(f"{FOLDER}: could not be made ({error.strerror}).") from error
    write_whole(path, scenario_text(scenario))
    return path


def scenario_text(scenario: Scenario) -> str:
    """Return the file of a scenario: its title, its values in the order of their addresses, its log."""
    lines = [f"{TITLE} = {toml_value(scenario.title)}", "", f"[{VALUES}]"]
    lines += [f"{toml_value(at)} = {toml_value(float(scenario.values[at]))}" for at in sorted(scenario.values)]
    for change in scenario.log:
        lines += ["", f"[[{LOG}]]", *_change_lines(change)]
    return "\n".join([*lines, ""])


def _change_lines(change: Change) -> Iterable[str]:
    for key in CHANGE_KINDS:
        value = getattr(change, key)
        if value is not None:
            yield f"{key} = {toml_value(value)}"
