"""What can go wrong, as a tree.

PlotworthError            anything this library refuses, with a sentence for the user
├── FaultsError           input that cannot be read as meant; holds every Fault found
└── CaseError             a case folder that cannot be opened, made or saved at all
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass


class PlotworthError(Exception):
    """Base of all that the library refuses; its text is meant for the user."""


class CaseError(PlotworthError):
    """A case folder that cannot be opened, made or saved."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a user's file, where it stands and what to write instead.

    Attributes: file name; line (1 is the header, 0 the file as a whole); name of the column, row or
    setting; the text that was found; the rule it breaks; the remedy.
    """

    file: str
    line: int
    name: str
    found: str
    rule: str
    remedy: str

    def text(self) -> str:
        """Return the fault as one line: place, name, found, rule, remedy."""
        place = f"{self.file} line {self.line}" if self.line else self.file
        named = f", {self.name}" if self.name else ""
        found = f"found {self.found!r}; " if self.found else ""
        return f"{place}{named}: {found}{self.rule}; {self.remedy}."


class FaultsError(PlotworthError):
    """Every fault found in the input: file by file as they were read, in each by line, the file as a whole last."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        found = list(faults)
        files = list(dict.fromkeys(fault.file for fault in found))
        self.faults = tuple(sorted(found, key=lambda fault: (files.index(fault.file), fault.line or math.inf)))
        super().__init__("\n".join(fault.text() for fault in self.faults))
