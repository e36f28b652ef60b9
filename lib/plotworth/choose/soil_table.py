"""Nutrients of the treatments and salt of the seasons as tables to read, with the notes that belong to them."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

from plotworth.choose.appraise import Appraisal
from plotworth.choose.chart_rows import treatment_labels, treatment_order
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.manure_season import manure_rules, raw_manure
from plotworth.choose.salt_season import SaltSeason, salt_notes, salt_seasons
from plotworth.choose.soil_balance import soil_balance
from plotworth.ground.amounts import UNKNOWN, figures_text, share_text
from plotworth.ground.conversions import GRAMS_PER_KG
from plotworth.supply.nutrients import LABELS, NUTRIENTS
from plotworth.supply.salt import RESTRICTION_UNKNOWN, RESTRICTIONS

MASSES: Mapping[str, str] = {
    "total_kg_per_m2": "Given, all inputs",
    "known_kg_per_m2": "Given, as far as written down",
    "available_low_kg_per_m2": "Of it in the first season: low",
    "available_high_kg_per_m2": "Of it in the first season: high",
    "removed_low_kg_per_m2": "Removed by fruit and culls: low",
    "removed_high_kg_per_m2": "Removed by fruit and culls: high",
    "balance_low_kg_per_m2": "Balance of all given: low",
    "balance_high_kg_per_m2": "Balance of all given: high",
    "first_season_balance_low_kg_per_m2": "First season's balance: low",
    "first_season_balance_high_kg_per_m2": "First season's balance: high",
}
COSTS: Mapping[str, str] = {
    "replacing_cost_low_per_m2": "Replacing a deficit of all: low",
    "replacing_cost_high_per_m2": "Replacing a deficit of all: high",
}
MASS_UNIT = "g/m²"
SALT_ROWS: Mapping[str, tuple[str, str]] = {
    "water_ds_m": ("Salinity of the water (ECw)", "dS/m"),
    "soil_ds_m": ("Salinity held in the soil (ECe)", "dS/m"),
    "salt_added_kg_per_m2": ("Salt that comes with the water", "kg/m²"),
    "leaching_share": ("Of water from above, to drain", "%"),
    "rise_ds_m": ("Rise where it comes from below", "dS/m"),
    "flushing_needed_l_per_m2": ("Flushing that undoes the rise", "L/m²"),
    "flushing_stated_l_per_m2": ("Flushing by hand, as stated", "L/m²"),
    "end_ds_m": ("Salinity after it, without rain", "dS/m"),
    "yield_share_low": ("Yield that the salt leaves: low", "%"),
    "yield_share_high": ("Yield that the salt leaves: high", "%"),
    "dressing_kg_per_m2": ("Most fertiliser given at once", "kg/m²"),
    "dressing_rise_ds_m": ("Rise that it causes", "dS/m"),
    "most_fertiliser_kg_per_m2": ("Most up to the crop's threshold", "kg/m²"),
}
SALT_SHARES = ("leaching_share", "yield_share_low", "yield_share_high")
CLASS_LABEL = "Restriction on use of the water"
CLASS_WORDS: Mapping[str, str] = {
    **dict(zip(RESTRICTIONS, ("none", "moderate", "severe"), strict=True)),
    RESTRICTION_UNKNOWN: DASH,
}
CLASS_NOTE = f"Restriction on use: moderate stands for {RESTRICTIONS[1]}."


def nutrient_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return a table for each nutrient, a column a treatment; none where the case has no trial."""
    balance, trial = soil_balance(appraisal), appraisal.layout.trial
    if balance is None or trial is None:
        return []
    order = [name for name in treatment_order(appraisal, trial) if name in set(balance.table["treatment"])]
    labels = tuple(treatment_labels(appraisal, order).values())
    currency = appraisal.case.settings.currency
    return [
        FigureTable(
            f"nutrients of the trial: {LABELS[nutrient]}, per planted m²",
            labels,
            _nutrient_rows(balance.table[balance.table["nutrient"] == nutrient], order, f"{currency}/m²"),
        )
        for nutrient in NUTRIENTS
    ]


def _nutrient_rows(rows: pd.DataFrame, order: Sequence[str], cost_unit: str) -> tuple[FigureRow, ...]:
    """Return the rows of one nutrient; what was written down stands apart only where something was not."""
    table = rows.set_index("treatment").reindex(list(order))
    hidden = () if table["total_kg_per_m2"].isna().any() else ("known_kg_per_m2",)
    masses = (
        FigureRow(label, MASS_UNIT, _cells(GRAMS_PER_KG * table[name].astype(float)))
        for name, label in MASSES.items()
        if name not in hidden
    )
    costs = (FigureRow(label, cost_unit, _cells(table[name].astype(float))) for name, label in COSTS.items())
    return *masses, *costs


def _cells(values: Iterable[float]) -> tuple[str, ...]:
    return tuple(_known(figures_text(float(value))) for value in values)


def _known(text: str) -> str:
    return DASH if text == UNKNOWN else text


def salt_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return a table for each crop and season, a column a system; rows of which nothing is known are left out.

    None where neither the salinity of a water nor of a soil is stated.
    """
    groups: dict[tuple[str, str], list[SaltSeason]] = {}
    for one in salt_seasons(appraisal):
        if one.water_ds_m == one.water_ds_m or one.soil_ds_m == one.soil_ds_m:
            groups.setdefault((one.crop, one.season), []).append(one)
    return [
        FigureTable(f"salt: {crop}, {season}", tuple(one.label for one in seasons), _salt_rows(seasons))
        for (crop, season), seasons in groups.items()
    ]


def _salt_rows(seasons: Sequence[SaltSeason]) -> tuple[FigureRow, ...]:
    rows = [
        FigureRow(label, unit, tuple(_salt_text(name, getattr(one, name)) for one in seasons))
        for name, (label, unit) in SALT_ROWS.items()
    ]
    rows.insert(1, FigureRow(CLASS_LABEL, "", tuple(CLASS_WORDS[one.restriction] for one in seasons)))
    return tuple(row for row in rows if set(row.cells) != {DASH})


def _salt_text(name: str, value: float) -> str:
    if name in SALT_SHARES and value == value:
        return share_text(value, digits=2).split("\u00a0")[0]
    return _known(figures_text(value))


def soil_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return the tables of nutrients and of salt."""
    return [*nutrient_tables(appraisal), *salt_tables(appraisal)]


def soil_notes(appraisal: Appraisal) -> list[str]:
    """Return the sentences that belong to the tables: gaps, sources, what is left out, raw manure by its dates."""
    balance = soil_balance(appraisal)
    nutrients = [] if balance is None else list(balance.notes)
    classes = [CLASS_NOTE] if any(row.label == CLASS_LABEL for t in salt_tables(appraisal) for row in t.rows) else []
    return [*nutrients, *_manure_notes(appraisal), *salt_notes(appraisal), *classes]


def _manure_notes(appraisal: Appraisal) -> list[str]:
    """Return how many dressings of raw manure keep their interval, and the rules; nothing without raw manure."""
    table = raw_manure(appraisal)
    if table.empty:
        return []
    words = zip(table["treatment"], table["item"], table["needed_days"], table["verdict"], strict=True)
    counts = Counter(words)
    return [
        *(
            f"Raw manure: treatment {treatment}, {item}: {count} dressings, at least {needed} days to the next "
            f"picking: {verdict}."
            for (treatment, item, needed, verdict), count in counts.items()
        ),
        *manure_rules(),
    ]
