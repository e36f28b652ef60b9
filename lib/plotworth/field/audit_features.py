"""What differs between treatments besides what was meant to: seasons, sites, growers, a second feature."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations

import numpy as np
import pandas as pd

from plotworth.field.arrangement import Arrangement
from plotworth.field.features import FACTOR_PREFIX, MANAGER, TREATMENT, Features, factor_names
from plotworth.field.finding import (
    DIFFERENT_CROPS,
    DIFFERENT_MANAGERS,
    DIFFERENT_SEASONS,
    DIFFERENT_SITES,
    FACTORS_ALIASED,
    FACTORS_GAP,
    LIMITS,
    NO_CONTROL,
    NOTE,
    PACKAGE,
    REFUSES,
    SEVERAL_TRIALS,
    Finding,
    day_text,
    listed,
    texts,
)

APART: Mapping[str, tuple[str, str, str]] = {
    "crop": (DIFFERENT_CROPS, "grew different crops", "Compare the treatments on one crop."),
    "site": (DIFFERENT_SITES, "stood at different sites", "Grow all treatments side by side at each site."),
    "trial_year": (DIFFERENT_SEASONS, "grew in different seasons", "Grow all treatments side by side in one season."),
    "manager": (
        DIFFERENT_MANAGERS,
        "were grown by different people",
        "Let each grower grow every treatment, or one grower all of them.",
    ),
}
DAYS_OF_ONE_PLANTING = (
    45  # planted further apart than this, two treatments met another season; common practice, no source
)


def between_findings(plots: pd.DataFrame) -> Iterator[Finding]:
    """Yield each of crop, site, season and grower that no two treatments share, and how many trials there are."""
    found = [_apart(plots, column) for column in APART]
    if found[list(APART).index("trial_year")] is None:
        found.append(_planted_apart(plots))
    yield from (finding for finding in found if finding)
    yield from _several(plots)


def _apart(plots: pd.DataFrame, column: str) -> Finding | None:
    treatments, values = texts(plots, TREATMENT), texts(plots, column)
    held = {t: sorted(set(values[treatments == t])) for t in dict.fromkeys(treatments)}
    concerned = [pair for pair in combinations(held, 2) if set(held[pair[0]]).isdisjoint(held[pair[1]])]
    if not concerned:
        return None
    names = tuple(t for t in held if any(t in pair for pair in concerned))
    kind, words, cure = APART[column]
    where = "; ".join(f"{t}: {listed(v or 'not written down' for v in held[t])}" for t in names)
    sentence = f"{listed(names)} {words} ({where}), so what differs may be that."
    return Finding(kind, REFUSES, sentence, cure, (), names)


def _planted_apart(plots: pd.DataFrame) -> Finding | None:
    """Where no season is written down, plantings far apart tell."""
    if "planted_on" not in plots or pd.to_datetime(plots["planted_on"]).isna().all():
        return None
    days = pd.to_datetime(plots["planted_on"]).groupby(texts(plots, TREATMENT), sort=False).agg(["min", "max"]).dropna()
    limit = pd.Timedelta(days=DAYS_OF_ONE_PLANTING)
    pairs = [(a, b) for a, b in combinations(days.index, 2) if _gap(days.loc[a], days.loc[b]) > limit]
    if not pairs:
        return None
    names = tuple(str(t) for t in days.index if any(t in pair for pair in pairs))
    where = "; ".join(f"{t}: {day_text(days.loc[t, 'min'])}" for t in names)
    sentence = f"{listed(names)} were planted in different seasons ({where}), so what differs may be the season."
    return Finding(DIFFERENT_SEASONS, REFUSES, sentence, APART["trial_year"][2], (), names)


def _gap(a: pd.Series, b: pd.Series) -> pd.Timedelta:
    return pd.Timedelta(max(a["min"] - b["max"], b["min"] - a["max"]))


def _several(plots: pd.DataFrame) -> Iterator[Finding]:
    for column, word in (("trial_year", "seasons"), ("site", "sites"), ("crop", "crops")):
        values = sorted(set(texts(plots, column)) - {""})
        if len(values) > 1:
            sentence = (
                f"The plots belong to {len(values)} {word} ({listed(values)}), which are never pooled as replicates."
            )
            yield Finding(SEVERAL_TRIALS, NOTE, sentence, f"Read the {word} side by side, one row each.")


def factor_findings(plots: pd.DataFrame, arrangement: Arrangement | None) -> Iterator[Finding]:
    """Yield the factors that cannot be told from one another, and the combinations that were never grown.

    A factor can be told where the treatments, taken as levels added up, hold every contrast of its levels:
    rank(all factors) - rank(all but it) = its levels - 1.
    """
    columns = [name for name in factor_names(plots, arrangement) if texts(plots, name).nunique() > 1]
    cells = pd.concat([texts(plots, name) for name in columns], axis=1).drop_duplicates() if columns else pd.DataFrame()
    aliased = [name for name in columns if not _told(cells, name, columns)]
    names = [name.removeprefix(FACTOR_PREFIX) for name in aliased]
    if aliased:
        sentence = f"The factors {listed(names)} vary together: a difference belongs to all of them at once."
        yield Finding(FACTORS_ALIASED, LIMITS, sentence, _minus_one(cells, aliased), features=tuple(names))
    elif len(columns) > 1:
        yield from _gaps(cells, columns)


def _told(cells: pd.DataFrame, name: str, columns: list[str]) -> bool:
    others = [column for column in columns if column != name]
    return _rank(cells, columns) - _rank(cells, others) == cells[name].nunique() - 1


def _rank(cells: pd.DataFrame, columns: list[str]) -> int:
    ones = np.ones((len(cells), 1))
    parts = [pd.get_dummies(cells[column]).to_numpy(np.float64) for column in columns]
    return int(np.linalg.matrix_rank(np.hstack([ones, *parts])))


def _minus_one(cells: pd.DataFrame, aliased: list[str]) -> str:
    """Name a combination that was not grown and would part the factors."""
    if len(aliased) < 2:
        return "Add plots in which one of the factors alone is changed."
    first, last = cells.iloc[0], cells.iloc[-1]
    kept = [f"{c.removeprefix(FACTOR_PREFIX)} {first[c]}" for c in aliased[:-1]]
    changed = f"{aliased[-1].removeprefix(FACTOR_PREFIX)} {last[aliased[-1]]}"
    return f"Add a minus-one plot to every block: {listed(kept)} with {changed}."


def _gaps(cells: pd.DataFrame, columns: list[str]) -> Iterator[Finding]:
    """Yield that not every combination was grown."""
    wanted = int(np.prod([cells[column].nunique() for column in columns]))
    if len(cells) < wanted:
        names = listed(column.removeprefix(FACTOR_PREFIX) for column in columns)
        sentence = (
            f"Of the {wanted} combinations of {names} {len(cells)} were grown: whether one factor does the same at "
            "every level of the other is known only where both were varied."
        )
        yield Finding(FACTORS_GAP, NOTE, sentence, "Grow every combination, or compare where one thing differs.")


def package_findings(found: Features, pairs: Iterable[tuple[str, str]]) -> Iterator[Finding]:
    """Yield each pair of treatment and reference that differs in more than one feature, with its minus-one plot."""
    for treatment, reference in pairs:
        differing = found.differing(treatment, reference)
        if len(differing) > 1:
            yield Finding(
                PACKAGE,
                LIMITS,
                f"{treatment} and {reference} differ in {listed(differing)}: it is package against package.",
                _package_cure(found, treatment, reference, differing),
                (),
                (treatment, reference),
                tuple(name for name in differing if name != MANAGER),
            )


def _package_cure(found: Features, treatment: str, reference: str, differing: tuple[str, ...]) -> str:
    """Name a treatment of the trial that differs in one feature alone, else the plot to add."""
    for other in found.treatments:
        if other not in (treatment, reference) and len(found.differing(other, reference)) == 1:
            (feature,) = found.differing(other, reference)
            if feature == differing[0] and feature not in found.differing(treatment, other):
                return f"Compare {other} with {reference}: they differ in {feature} alone."
    alike = listed(f"the {name}" for name in differing[1:])
    return f"Add a minus-one plot to every block: {treatment} with {alike} of {reference}."


def control_findings(plots: pd.DataFrame, references: Mapping[str, str]) -> Iterator[Finding]:
    """Yield each reference (in words, such as `present practice`) of which the trial has no plot."""
    grown = set(texts(plots, TREATMENT))
    missing: dict[str, list[str]] = {}
    for words, treatment in references.items():
        if treatment not in grown:
            missing.setdefault(treatment, []).append(words)
    for treatment, stood_for in missing.items():
        named = f" ({treatment})" if treatment else ""
        sentence = f"No plot measured {listed(stood_for)}{named}, so nothing is compared with it by this trial."
        cure = f"Give {listed(stood_for)} a plot in every block, and name its treatment in case.toml."
        yield Finding(NO_CONTROL, LIMITS, sentence, cure)
