"""Treatments taken apart into features: what was done differently on purpose, and what else differed.

Two treatments that differ in one feature test that feature. Two that differ in several are packages:
the difference between them belongs to all of it together.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from plotworth.field.arrangement import Arrangement
from plotworth.field.finding import listed, texts
from plotworth.ground.amounts import figures_text
from plotworth.ground.conversions import GRAMS_PER_KG

FACTOR_PREFIX = "factor_"  # as the columns of plots.csv say it
ALIKE_SHARE = 0.1  # amounts within a tenth of each other count as the same; common practice, no source
SHORTEST_WORD = 4  # letters; shorter words are found in anything
PLANTING, SPACING, MANAGER = "planting date", "spacing", "manager"
NUTRIENTS, INOCULANT, OTHER_INPUTS = "nutrients", "inoculant", "other inputs"
NUTRIENT_COLUMNS = ("n_kg", "p2o5_kg", "k2o_kg")
TREATMENT = "treatment"
NONE = "none"
OWN_WORDS: Mapping[str, tuple[str, ...]] = {
    PLANTING: ("planting", "sowing", "date"),
    SPACING: ("spacing", "density", "plants"),
    NUTRIENTS: ("fertili", "nutri", "nitrogen", "manure", "compost", "phosph", "potash", "feed", "urea", "npk"),
    INOCULANT: ("inocul", "fung", "mycorr", "rhizob", "bacteri"),
    "cover": ("cover", "tunnel", "shade", "house"),
}


@dataclass(frozen=True)
class Features:
    """What the plots of each treatment got.

    Attributes: factors, names without `factor_`; words, by treatment and feature the values found, sorted;
    amounts, by treatment the mean over its area (spacing [plants/m2]; n_kg, p2o5_kg, k2o_kg [g/m2]).
    """

    factors: tuple[str, ...]
    words: Mapping[str, Mapping[str, tuple[str, ...]]]
    amounts: Mapping[str, Mapping[str, float]]

    @property
    def treatments(self) -> tuple[str, ...]:
        """Return the treatments in order of first appearance."""
        return tuple(self.words)

    def differing(self, first: str, second: str) -> tuple[str, ...]:
        """Return the features in which two treatments differ, factors first.

        A feature that belongs to a differing factor by its name (nitrogen to a factor called fertiliser, an
        inoculant to a level of its name) is that factor's own and not counted again.
        """
        factors = tuple(name for name in self.factors if self._apart(name, first, second))
        others = [name for name in self.words[first] if name not in self.factors]
        extra = [name for name in others if self._apart(name, first, second)]
        extra += [name for name in (SPACING, NUTRIENTS) if self._amounts_differ(name, first, second)]
        named = [self._names_of(factor, first, second) for factor in factors]
        return (*factors, *(name for name in dict.fromkeys(extra) if not self._explained(name, named, first, second)))

    def _apart(self, name: str, first: str, second: str) -> bool:
        """Two treatments differ in a word where they share no value of it."""
        a, b = set(self.words[first][name]), set(self.words[second][name])
        return a.isdisjoint(b) and bool(a or b)

    def _amounts_differ(self, name: str, first: str, second: str) -> bool:
        keys = NUTRIENT_COLUMNS if name == NUTRIENTS else (name,)
        return any(_unlike(self.amounts[first][key], self.amounts[second][key]) for key in keys)

    def _names_of(self, factor: str, first: str, second: str) -> str:
        return " ".join((factor, *self.words[first][factor], *self.words[second][factor])).lower()

    def _explained(self, name: str, named: list[str], first: str, second: str) -> bool:
        words = [*OWN_WORDS.get(name, ()), name]
        if name in self.words[first]:
            words += [word for value in (*self.words[first][name], *self.words[second][name]) for word in value.split()]
        long = [word.lower() for word in words if len(word) >= SHORTEST_WORD and word != NONE]
        return any(word in text for word in long for text in named)


def _unlike(a: float, b: float) -> bool:
    if math.isnan(a) or math.isnan(b):
        return False
    return abs(a - b) > ALIKE_SHARE * max(a, b)


def factor_names(plots: pd.DataFrame, arrangement: Arrangement | None) -> tuple[str, ...]:
    """Return the columns that say what was done: those of the arrangement and those called `factor_`."""
    given = arrangement.factors if arrangement else ()
    found = [str(name) for name in plots.columns if str(name).startswith(FACTOR_PREFIX)]
    return tuple(dict.fromkeys(name for name in (*given, *found) if name != TREATMENT))


def features(
    plots: pd.DataFrame,
    inputs: pd.DataFrame | None = None,
    *,
    arrangement: Arrangement | None = None,
    described: Mapping[str, Mapping[str, str]] | None = None,
) -> Features:
    """Take the treatments apart.

    Parameters: the tables of plots and of inputs; arrangement; described, features known from elsewhere by
    name and treatment ({"cover": {"tank": "net"}}). Blank values are no value.
    """
    columns = factor_names(plots, arrangement)
    names = {column: column.removeprefix(FACTOR_PREFIX) for column in columns}
    given = _given(inputs)
    words, amounts = {}, {}
    for treatment, rows in plots.groupby(texts(plots, TREATMENT), sort=False):
        own = {names[column]: _values(texts(rows, column)) for column in columns}
        own |= {PLANTING: _days(rows), MANAGER: _values(texts(rows, "manager"))}
        own |= {name: _values(pd.Series([by.get(str(treatment), "")])) for name, by in (described or {}).items()}
        words[str(treatment)] = own | _items(given[given["plot"].isin(texts(rows, "plot"))])
        amounts[str(treatment)] = _amounts(rows, given, recorded=inputs is not None)
    return Features(tuple(names.values()), words, amounts)


def _given(inputs: pd.DataFrame | None) -> pd.DataFrame:
    columns = ["plot", "item", "kind", *NUTRIENT_COLUMNS]
    if inputs is None or inputs.empty:
        return pd.DataFrame(columns=columns)
    return inputs.assign(plot=texts(inputs, "plot"), item=texts(inputs, "item"), kind=texts(inputs, "kind"))[columns]


def _values(column: pd.Series) -> tuple[str, ...]:
    return tuple(sorted(set(column) - {""}))


def _days(rows: pd.DataFrame) -> tuple[str, ...]:
    if "planted_on" not in rows:
        return ()
    days = pd.to_datetime(rows["planted_on"]).dropna()
    return tuple(sorted({day.date().isoformat() for day in days}))


def _items(given: pd.DataFrame) -> dict[str, tuple[str, ...]]:
    """Return inoculants, and inputs that carry no nutrients, by name."""
    called = given["item"].str.lower().str.contains("|".join(OWN_WORDS[INOCULANT]), regex=True)
    fungicide = given["item"].str.lower().str.contains("icide")
    inoculant = (given["kind"] == INOCULANT) | ((given["kind"] == "") & called & ~fungicide)
    feeds = given[[*NUTRIENT_COLUMNS]].astype(float).fillna(0).sum(axis=1) > 0
    none = (NONE,)
    return {
        INOCULANT: _values(given.loc[inoculant, "item"]) or none,
        OTHER_INPUTS: _values(given.loc[~inoculant & ~feeds, "item"]) or none,
    }


def _amounts(rows: pd.DataFrame, given: pd.DataFrame, *, recorded: bool) -> dict[str, float]:
    """Return plants and grams of each nutrient on a planted square metre, means over the area."""
    area = rows["net_area_m2"].astype(float)
    plants = rows["plants"].astype(float) if "plants" in rows else pd.Series(math.nan, index=rows.index)
    known = plants.notna()
    spacing = float(plants[known].sum() / area[known].sum()) if known.any() else math.nan
    own = given[given["plot"].isin(texts(rows, "plot"))]
    grams = own[[*NUTRIENT_COLUMNS]].astype(float).fillna(0).sum() * GRAMS_PER_KG / float(area.sum())
    fed = {name: float(grams[name]) if recorded else math.nan for name in NUTRIENT_COLUMNS}
    return {SPACING: spacing, **fed}


def feature_grid(found: Features) -> pd.DataFrame:
    """Return treatments x features as people read them; features in which no two treatments differ are left out."""
    names = [*next(iter(found.words.values()), {}), SPACING, NUTRIENTS]
    rows = {t: {name: _cell(found, t, name) for name in names} for t in found.treatments}
    grid = pd.DataFrame.from_dict(rows, orient="index", columns=names).rename_axis(TREATMENT)
    return grid.loc[:, grid.nunique() > 1]


def _cell(found: Features, treatment: str, name: str) -> str:
    amounts = found.amounts[treatment]
    if name == SPACING:
        return "" if math.isnan(amounts[name]) else f"{figures_text(amounts[name])} plants/m²"
    if name == NUTRIENTS:
        known = [amounts[key] for key in NUTRIENT_COLUMNS]
        text = [f"{label} {figures_text(value)}" for label, value in zip(("N", "P2O5", "K2O"), known, strict=True)]
        return "" if any(math.isnan(value) for value in known) else f"{', '.join(text)} g/m²"
    return listed(found.words[treatment][name])
