"""The glossary: one row a quantity, with its name, unit, bounds and meaning.

`tables/glossary.csv` is schema, bounds, units and manual at once: the assumption book is checked
against it, outcomes take their unit and label from it, panels build their controls from it.
"""

import csv
import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.resources import files
from types import MappingProxyType

TABLES = files("plotworth.ground").joinpath("tables")
MONEY = "money"


@dataclass(frozen=True)
class Term:
    """A quantity of the glossary.

    Attributes: name; kind (assumption, outcome, both or setting); unit, in which the word `money`
    stands for the case's currency; per what it is counted (case, season, year); group it is shown
    in; nature (choice, constant, yearly); lowest and highest value allowed; what is taken where a
    book leaves it out (a number, another name, `needed`, or a word that says when it is needed); words
    that may stand in place of a number (trial, computed; unknown always may); symbol in papers;
    label for people; meaning.
    """

    name: str
    kind: str
    unit: str
    per: str
    group: str
    nature: str
    lowest: float
    highest: float
    absent: str
    words: tuple[str, ...]
    symbol: str
    label: str
    meaning: str

    @property
    def is_assumption(self) -> bool:
        """Whether an assumption book may state it."""
        return self.kind in ("assumption", "both")

    @property
    def is_outcome(self) -> bool:
        """Whether an appraisal returns it."""
        return self.kind in ("outcome", "both")


def read_shipped_table(name: str) -> list[dict[str, str]]:
    """Return the rows of a table that ships with the library, as text by column name."""
    text = TABLES.joinpath(f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def _term(row: dict[str, str]) -> Term:
    bounds = {end: float(row.pop(end) or limit) for end, limit in (("lowest", "-inf"), ("highest", "inf"))}
    return Term(
        name=row["name"],
        kind=row["kind"],
        unit=row["unit"],
        per=row["per"],
        group=row["group"],
        nature=row["nature"],
        lowest=bounds["lowest"],
        highest=bounds["highest"],
        absent=row["absent"],
        words=tuple(row["words"].split()),
        symbol=row["symbol"],
        label=row["label"],
        meaning=row["meaning"],
    )


GLOSSARY: Mapping[str, Term] = MappingProxyType({row["name"]: _term(row) for row in read_shipped_table("glossary")})


def unit_text(unit: str, currency: str) -> str:
    """Return a glossary unit as written in a case: `money/kg` with currency XTS is `XTS/kg`."""
    return "/".join(currency if part == MONEY else part for part in unit.split("/"))


def suggest(word: str, words: Iterable[str]) -> str | None:
    """Return the word that was probably meant, or None where nothing is near."""
    folded = {known.lower().replace(" ", "_"): known for known in words}
    near = difflib.get_close_matches(word.lower().replace(" ", "_"), folded, n=1, cutoff=0.6)
    return folded[near[0]] if near else None
