"""Reads the rows of the book that the water of one season stands on; gathers what is missing on the way."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite, nan

from plotworth.case.folder import BOOK_FILE, Case
from plotworth.choose.layout import Layout
from plotworth.choose.structure import SeasonPlan
from plotworth.ground.arrays import Array
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import GLOSSARY, unit_text


@dataclass
class Reader:
    """Reads rows of one season of one system at these values; gathers faults and notes on the way."""

    layout: Layout
    values: Mapping[str, Array]
    system: str
    plan: SeasonPlan
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def case(self) -> Case:
        """The case whose rows are read."""
        return self.layout.case

    def stated(self, name: str) -> float | None:
        """Return the value of a row in the glossary's unit, None where the book states nothing or unknown."""
        if name not in self.plan.water:
            return None
        value = float(self.values[self.plan.water[name]].flat[0])
        return value if isfinite(value) else None

    def needed(self, name: str) -> float:
        """Return what the book states; NaN and a fault where it states nothing."""
        value = self.stated(name)
        if value is None:
            self.miss(name)
        return nan if value is None else value

    def laid_out(self, name: str) -> float:
        """Return a value of the composition (of its first site); NaN and a fault where it is unknown."""
        value = float(self.values[self.plan.addresses[name]].flat[0])
        if not isfinite(value):
            self.miss(name)
        return value

    def taken(self, name: str, value: float, why: str) -> float:
        """Return what the book states, else the value with a note that says why it is taken."""
        stated = self.stated(name)
        if stated is None:
            self.notes.append(f"{GLOSSARY[name].label}: not stated, taken as {value:g} ({why}).")
        return value if stated is None else stated

    def whole(self, name: str, value: float) -> int:
        """Return a number of days or a place in a list as whole; a fault where it is a fraction."""
        if isfinite(value) and value != int(value):
            self.fault(name, f"{value:g}", "must be a whole number", f"write {round(value)}")
        return round(value) if isfinite(value) else 0

    def miss(self, name: str) -> None:
        """Add the fault of a row that is missing, with its unit and meaning."""
        term = GLOSSARY[name]
        unit = unit_text(term.unit, self.case.settings.currency)
        keys = f" for {self.system}" + (f" and {self.plan.crop}" if term.per == "season" else "")
        rule = "the assumption is missing, and the season's water stands on it"
        self.fault(name, "", rule, f"write a row {name}{keys} in {unit}: {term.meaning[:1].lower()}{term.meaning[1:]}")

    def fault(self, name: str, found: str, rule: str, remedy: str) -> None:
        """Add a fault of the book, at the row's line where there is one."""
        at = {**self.plan.addresses, **self.plan.water}.get(name, "")
        line = self.layout.inputs[at].line if at in self.layout.inputs else 0
        self.faults.append(Fault(BOOK_FILE, line, name, found, rule, remedy))
