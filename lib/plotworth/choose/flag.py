"""A plausibility flag: a number outside what is published or usual, said as a question. It never changes a number."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import pandas as pd

from plotworth.choose.appraise import Appraisal
from plotworth.ground.amounts import amount_text, unit_words

PRACTICE = "common practice, no source"
OPEN_COVERS = ("none", "net")


@dataclass(frozen=True)
class Flag:
    """A number to look at again.

    Attributes: place, `systems/<id>`, `seasons/<id>/<season>` or `treatments/<name>`; what, the name of the figure;
    value and the ends `low` and `high` of its range, None where the range has no such end [unit]; source of the
    range; sentence: value, range, source and what to check.
    """

    place: str
    what: str
    value: float
    unit: str
    low: float | None
    high: float | None
    source: str
    sentence: str


@dataclass(frozen=True)
class Findings:
    """What a check found: flags, and sentences on what it could hold against nothing."""

    flags: tuple[Flag, ...] = ()
    unchecked: tuple[str, ...] = ()


def together(findings: Iterable[Findings]) -> Findings:
    """Return several findings as one, each sentence on what is unchecked once."""
    parts = tuple(findings)
    sentences = dict.fromkeys(text for part in parts for text in part.unchecked)
    return Findings(tuple(flag for part in parts for flag in part.flags), tuple(sentences))


@dataclass(frozen=True)
class Patch:
    """A treatment of the trial: name, the one crop of its plots ("" for several), cover ("" where not known)."""

    name: str
    crop: str
    cover: str
    plots: frozenset[str] = field(default_factory=frozenset)

    @property
    def place(self) -> str:
        """The place of its flags."""
        return f"treatments/{self.name}"

    @property
    def label(self) -> str:
        """Its name in a sentence."""
        return f"Treatment {self.name}"


def patches(appraisal: Appraisal) -> tuple[Patch, ...]:
    """Return the treatments of the trial, none where the case has no trial.

    A treatment without a system of its own takes the cover of the systems where they all have the same.
    """
    if appraisal.layout.trial is None:
        return ()
    systems = appraisal.case.settings.systems
    covers = {system.cover for system in systems}
    shared = covers.pop() if len(covers) == 1 else ""
    known = {system.treatment: system.cover for system in systems if system.treatment}
    return tuple(
        Patch(str(name), _only(plots["crop"]), known.get(str(name), shared), frozenset(plots["plot"]))
        for name, plots in appraisal.layout.trial.plots.groupby("treatment", sort=False)
    )


def _only(crops: pd.Series) -> str:
    return str(crops.iloc[0]) if crops.nunique() == 1 else ""


def figure(table: pd.DataFrame, treatment: str, name: str) -> float:
    """Return a figure of a treatment from a table with treatments as its index, NaN where it has none."""
    return float(table[name].astype(float).get(treatment, float("nan")))


def ended(text: object) -> str:
    """Return a sentence with its full stop, unless it ends with a question."""
    return f"{text}" if f"{text}".endswith("?") else f"{text}."


def said(value: float, unit: str) -> str:
    """Return a number with its unit as people read it."""
    return amount_text(value, unit_words(unit))
