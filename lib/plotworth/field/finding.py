"""What an audit of a trial finds: one plain sentence each, with what would cure it."""

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

REFUSES, LIMITS, NOTE = "refuses", "limits", "note"
SEVERITIES = (REFUSES, LIMITS, NOTE)

UNREPLICATED, SINGLE_PLOT, PLANTS_AS_PLOTS = "nothing replicated", "one plot", "plants as plots"
PARTS_AS_PLOTS, NO_PICKING, MISSING_PLOTS = "parts as plots", "no picking", "missing plots"
DRAW_UNKNOWN, NO_BLOCKS, BLOCK_BLANK = "draw unknown", "no blocks", "block blank"
FEW_BLOCKS, INCOMPLETE_BLOCKS, NEVER_TOGETHER = "few blocks", "incomplete blocks", "never together"
ONE_TREATMENT_BLOCK, BLOCK_IS_TREATMENT = "block of one treatment", "block is treatment"
FACTOR_BY_BLOCK, SEGREGATED = "factor by block", "segregated"
FACTORS_ALIASED, FACTORS_GAP, PACKAGE = "factors aliased", "combinations missing", "package"
DIFFERENT_SEASONS, DIFFERENT_SITES = "different seasons", "different sites"
DIFFERENT_CROPS, DIFFERENT_MANAGERS, SEVERAL_TRIALS = "different crops", "different managers", "several trials"
NO_CONTROL, UNEQUAL_WINDOWS, ALL_ZERO = "missing control", "unequal windows", "all zero"
EVERYTHING_ZERO, UNEQUAL_DEATHS, SHARED_METER = "everything zero", "unequal deaths", "shared meter"


@dataclass(frozen=True)
class Finding:
    """Something that a design or its records do to what may be said.

    Attributes: kind, one of the words above; severity, `refuses` (no comparison of the treatments named),
    `limits` (a comparison of something else, or with less behind it) or `note`; sentence; cure, what to do
    next time or now; plots and treatments concerned, none where it is the whole trial; features, where it bears
    only on comparisons in which they differ.
    """

    kind: str
    severity: str
    sentence: str
    cure: str
    plots: tuple[str, ...] = ()
    treatments: tuple[str, ...] = ()
    features: tuple[str, ...] = ()

    def concerns(self, treatments: Iterable[str], *, differing: Iterable[str] = ()) -> bool:
        """Say whether the finding bears on a comparison of these treatments, which differ in these features."""
        about = not self.treatments or bool(set(treatments) & set(self.treatments))
        return about and (not self.features or bool(set(differing) & set(self.features)))


def texts(table: pd.DataFrame, column: str) -> pd.Series:
    """Return a column as text, "" where it is blank or not there."""
    if column not in table:
        return pd.Series("", index=table.index, dtype=object)
    held = table[column]
    return held.astype(object).where(held.notna(), "").astype(str)


def listed(names: Iterable[str]) -> str:
    """Return names as people list them: `A, B and C`."""
    parts = list(names)
    return " and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else "".join(parts)


def counted(number: int, noun: str) -> str:
    """Return a number with its noun: `1 plot`, `3 plots`."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def day_text(day: object) -> str:
    """Return a date as records write it: `2026-05-01`."""
    return f"{day:%Y-%m-%d}"
