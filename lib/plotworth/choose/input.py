"""An input: one number of a case at its address, with what it is, where it stands and how far it may go."""

from dataclasses import dataclass

from plotworth.ground.glossary import Term


@dataclass(frozen=True)
class Input:
    """A number that can change.

    `value` in `unit`, NaN where unknown; `low` and `high`: the least and greatest one would believe, None where
    the case states none; `lowest` and `highest`: the bounds of what is possible; `nature` choice, constant or
    yearly; `origin` typed, trial, unknown or absent (taken as the glossary says); where it was written.
    """

    address: str
    label: str
    unit: str
    group: str
    value: float
    low: float | None
    high: float | None
    lowest: float
    highest: float
    nature: str
    spread: str
    origin: str
    grade: str
    source: str
    file: str
    line: int


def input_of_term(term: Term, *, unit: str, value: float, origin: str, source: str, file: str) -> Input:
    """Return the input of a quantity that no row of the book states: no range, no grade, the glossary's bounds."""
    return Input(
        address=term.name,
        label=term.label,
        unit=unit,
        group=term.group,
        value=value,
        low=None,
        high=None,
        lowest=term.lowest,
        highest=term.highest,
        nature=term.nature,
        spread="fixed",
        origin=origin,
        grade="",
        source=source,
        file=file,
        line=0,
    )
