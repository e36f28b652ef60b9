"""Nutrients: what fertiliser, manure and compost gave, what the harvest took away, what the rest would cost.

N, P2O5 and K2O by treatment and planted square metre. What is in the soil already, what comes with
rain and water, what legumes fix and what is lost to air and drainage stand in no record and are left
out: a surplus is no proof of enough, a deficit is what the soil has to give.
An amount that was not written down stays a gap (NaN) with its reason; it is never taken for zero.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from plotworth.ground.conversions import K2O_PER_K, K_PER_K2O, KG_PER_T, P2O5_PER_P, P_PER_P2O5
from plotworth.ground.handbook import HandbookError, OrganicInput, Removal, find_removal

Floats = NDArray[np.float64]

NUTRIENTS = ("n", "p2o5", "k2o")
LABELS = {"n": "N", "p2o5": "P2O5", "k2o": "K2O"}
MINERAL_SHARE = 1.0
MINERAL_SOURCE = "common practice, no source: mineral fertiliser counted as available in full"
AMOUNTS = ["total_kg_per_m2", "available_low_kg_per_m2", "available_high_kg_per_m2"]
NOTHING_WRITTEN = "no inputs written down for {}: a row with 0 says that nothing was given"
CONTENT_UNKNOWN = "content of {} not written down"
SHARE_UNKNOWN = "first-season share of {} unknown"


@dataclass(frozen=True)
class FirstSeasonShare:
    """Share of the nutrients in an input that the first season's crop can get.

    Attributes: item as `inputs` names it; nutrient, one of NUTRIENTS; low and high [share 0-1]; source.
    """

    item: str
    nutrient: str
    low: float
    high: float
    source: str


@dataclass(frozen=True)
class NutrientRange:
    """Least and most of one nutrient that the sources allow; arrays that broadcast, NaN is a gap.

    Attributes: low and high [kg/m2, or as the function says]; sources, each one named.
    """

    low: Floats
    high: Floats
    sources: tuple[str, ...]


def phosphate_of_phosphorus_kg(phosphorus_kg: ArrayLike) -> Floats:
    """Return P2O5 [kg] of P [kg], by atomic masses (IUPAC); any shape."""
    return np.asarray(np.asarray(phosphorus_kg, dtype=np.float64) * P2O5_PER_P)


def phosphorus_of_phosphate_kg(phosphate_kg: ArrayLike) -> Floats:
    """Return P [kg] of P2O5 [kg], by atomic masses (IUPAC); any shape."""
    return np.asarray(np.asarray(phosphate_kg, dtype=np.float64) * P_PER_P2O5)


def potash_of_potassium_kg(potassium_kg: ArrayLike) -> Floats:
    """Return K2O [kg] of K [kg], by atomic masses (IUPAC); any shape."""
    return np.asarray(np.asarray(potassium_kg, dtype=np.float64) * K2O_PER_K)


def potassium_of_potash_kg(potash_kg: ArrayLike) -> Floats:
    """Return K [kg] of K2O [kg], by atomic masses (IUPAC); any shape."""
    return np.asarray(np.asarray(potash_kg, dtype=np.float64) * K_PER_K2O)


def mineral_shares(items: Iterable[str]) -> tuple[FirstSeasonShare, ...]:
    """Return shares of 1 for items that are mineral fertiliser (MINERAL_SOURCE); name no slow-release product."""
    return tuple(
        FirstSeasonShare(item, nutrient, MINERAL_SHARE, MINERAL_SHARE, MINERAL_SOURCE)
        for item in items
        for nutrient in NUTRIENTS
    )


def organic_shares(item: str, handbook_row: OrganicInput) -> tuple[FirstSeasonShare, ...]:
    """Return the shares of an item from its handbook row; a nutrient without a sourced share has none here."""
    known = vars(handbook_row)
    ends = {
        name: (known[f"first_season_{name}_share_low"], known[f"first_season_{name}_share_high"]) for name in NUTRIENTS
    }
    return tuple(
        FirstSeasonShare(item, nutrient, low, high, handbook_row.first_season_source)
        for nutrient, (low, high) in ends.items()
        if low is not None and high is not None
    )


def supply_by_item(plots: pd.DataFrame, inputs: pd.DataFrame, shares: Sequence[FirstSeasonShare]) -> pd.DataFrame:
    """Return what each plot was given, one row a plot, item and nutrient.

    Parameters: the record tables; first-season shares by item and nutrient. Columns: plot, treatment,
    item, nutrient; total_kg_per_m2 [kg per planted m2] and the part that the first season can get,
    available_low_ and available_high_kg_per_m2 (NaN where content or share is unknown; 0 of a
    nutrient needs no share); gap, what is unknown, "" for nothing.
    """
    rows = _content(plots, inputs).merge(_share_table(shares), on=["item", "nutrient"], how="left")
    nothing = rows["kg"] == 0
    total = rows["kg"] / rows["net_area_m2"].astype(float)
    rows["total_kg_per_m2"] = total
    rows["available_low_kg_per_m2"] = total * rows["low"].where(~nothing, 0.0)
    rows["available_high_kg_per_m2"] = total * rows["high"].where(~nothing, 0.0)
    keys = ["plot", "treatment", "item", "nutrient"]
    table = _sums(rows, keys)
    reasons = [table["total_kg_per_m2"].isna(), table["available_low_kg_per_m2"].isna()]
    texts = [[text.format(item) for item in table["item"]] for text in (CONTENT_UNKNOWN, SHARE_UNKNOWN)]
    return table.assign(gap=np.select(reasons, texts, "").astype(object))


def _content(plots: pd.DataFrame, inputs: pd.DataFrame) -> pd.DataFrame:
    """Return kilograms of each nutrient in each input row, one row a nutrient."""
    keys = plots[["plot", "treatment", "net_area_m2"]].astype({"plot": object, "treatment": object})
    rows = inputs[["plot", "item", *(f"{name}_kg" for name in NUTRIENTS)]].astype({"plot": object, "item": object})
    rows = rows.merge(keys, on="plot").rename(columns={f"{name}_kg": name for name in NUTRIENTS})
    named = ["plot", "treatment", "net_area_m2", "item"]
    long = rows.melt(id_vars=named, value_vars=list(NUTRIENTS), var_name="nutrient", value_name="kg")
    return long.astype({"kg": np.float64, "nutrient": object})


def _share_table(shares: Sequence[FirstSeasonShare]) -> pd.DataFrame:
    rows = [(share.item, share.nutrient, share.low, share.high) for share in shares]
    table = pd.DataFrame(rows, columns=["item", "nutrient", "low", "high"])
    return table.astype({"item": object, "nutrient": object, "low": np.float64, "high": np.float64})


def _sums(rows: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    """Return the sums of AMOUNTS by key; a sum with an unknown part is unknown."""
    groups = rows.groupby(keys, sort=False)[AMOUNTS]
    unknown = rows[AMOUNTS].isna().groupby([rows[key] for key in keys], sort=False).any()
    return groups.sum().mask(unknown).reset_index()


def treatment_supply(plots: pd.DataFrame, inputs: pd.DataFrame, shares: Sequence[FirstSeasonShare]) -> pd.DataFrame:
    """Return what each treatment was given, one row a treatment and nutrient, means over its plots.

    Parameters as in `supply_by_item`. Columns: treatment, nutrient, plots; AMOUNTS [kg per planted m2],
    NaN where any of it is unknown; known_kg_per_m2, the part that was written down, so that at least
    this was given; gap, the reasons. A plot without any row is a gap, not a plot without fertiliser.
    """
    items = supply_by_item(plots, inputs, shares)
    grid = plots[["plot", "treatment"]].astype(object).merge(pd.DataFrame({"nutrient": list(NUTRIENTS)}), how="cross")
    found = grid.merge(_sums(items, ["plot", "nutrient"]), on=["plot", "nutrient"], how="left")
    known = items.groupby(["plot", "nutrient"])["total_kg_per_m2"].sum().rename("known_kg_per_m2").reset_index()
    found = found.merge(known, on=["plot", "nutrient"], how="left").fillna({"known_kg_per_m2": 0.0})
    by_treatment = found.groupby(["treatment", "nutrient"], sort=False)
    table = _sums(found, ["treatment", "nutrient"])
    counts = by_treatment.size().to_numpy(np.float64)
    table[AMOUNTS] = table[AMOUNTS].div(counts, axis=0)
    table["known_kg_per_m2"] = by_treatment["known_kg_per_m2"].mean().to_numpy(np.float64)
    table["plots"] = counts.astype(np.int64)
    return table.assign(gap=_gaps(table, grid, items))


def _gaps(table: pd.DataFrame, grid: pd.DataFrame, items: pd.DataFrame) -> list[str]:
    """Return for each treatment and nutrient why its amounts are unknown, "" where they are not."""
    silent = grid[~grid["plot"].isin(items["plot"])].drop_duplicates("plot")
    return [
        "; ".join([*_silence(silent[silent["treatment"] == treatment]), *_reasons(items, treatment, nutrient)])
        for treatment, nutrient in zip(table["treatment"], table["nutrient"], strict=True)
    ]


def _silence(silent: pd.DataFrame) -> list[str]:
    return [NOTHING_WRITTEN.format(", ".join(silent["plot"]))] if len(silent) else []


def _reasons(items: pd.DataFrame, treatment: str, nutrient: str) -> list[str]:
    here = items[(items["treatment"] == treatment) & (items["nutrient"] == nutrient) & (items["gap"] != "")]
    return list(dict.fromkeys(here["gap"]))


def known_removals(crops: Iterable[str]) -> tuple[dict[str, tuple[Removal, ...]], tuple[str, ...]]:
    """Return the handbook's removal rows by crop, and a sentence for each crop that has none."""
    found: dict[str, tuple[Removal, ...]] = {}
    notices = []
    for crop in dict.fromkeys(crops):
        try:
            found[crop] = find_removal(crop)
        except HandbookError as error:
            notices.append(str(error))
    return found, tuple(notices)


def removed_kg_per_m2(carried_off_kg_per_m2: ArrayLike, removals: Sequence[Removal], *, nutrient: str) -> NutrientRange:
    """Return what a harvest takes away of one nutrient [kg/m2], the widest range of all sources.

    Parameters: fresh produce carried off [kg/m2; the culls too where they leave the field], any shape;
    handbook rows [kg/t]; nutrient, one of NUTRIENTS. Low and high are NaN where no row knows it. Leaves and
    stems that are carried off are not in it.
    """
    told = [row for row in removals if getattr(row, f"{nutrient}_kg_per_t_low") is not None]
    lows = [getattr(row, f"{nutrient}_kg_per_t_low") for row in told]
    highs = [getattr(row, f"{nutrient}_kg_per_t_high") for row in told]
    tonnes = np.asarray(carried_off_kg_per_m2, dtype=np.float64) / KG_PER_T
    return NutrientRange(
        low=np.asarray(tonnes * min(lows, default=np.nan)),
        high=np.asarray(tonnes * max(highs, default=np.nan)),
        sources=tuple(dict.fromkeys(row.source for row in told)),
    )


def balance_of(given: NutrientRange, removed: NutrientRange) -> NutrientRange:
    """Return given less removed [kg/m2], below 0 a deficit: least given less most removed, and the other way round."""
    sources = tuple(dict.fromkeys((*given.sources, *removed.sources)))
    return NutrientRange(given.low - removed.high, given.high - removed.low, sources)


def replacing_cost_per_m2(balance: NutrientRange, price_per_kg: ArrayLike) -> tuple[Floats, Floats]:
    """Return the least and the greatest cost of replacing a deficit [money/m2]; 0 where there is none.

    Parameters: balance [kg/m2]; price of one kilogram of the nutrient [money/kg], any shape.
    """
    price = np.asarray(price_per_kg, dtype=np.float64)
    return np.maximum(-balance.high, 0.0) * price, np.maximum(-balance.low, 0.0) * price


def nutrient_balance(
    supply: pd.DataFrame,
    carried_off: pd.DataFrame,
    removals: Mapping[str, Sequence[Removal]],
    prices_per_kg: Mapping[str, float],
) -> pd.DataFrame:
    """Return given against removed, one row a treatment and nutrient in the order of `supply`.

    Parameters: `treatment_supply`; what was carried off with the columns treatment, crop and
    carried_off_kg_per_m2 [kg per planted m2], one row a crop of a treatment; handbook rows by crop;
    price by nutrient [money per kg of the nutrient].

    Adds to the columns of `supply`: removed_low_ and removed_high_kg_per_m2 (crops of a treatment added);
    balance_low_ and balance_high_kg_per_m2 against all that was given;
    first_season_balance_low_ and _high_kg_per_m2 against the part available in the first season;
    replacing_cost_low_ and _high_per_m2 [money/m2] of the balance against all that was given; sources
    of the removal. NaN is a gap: no yield, no handbook row for one of the crops, content, share or
    price unknown.
    """
    pairs = list(zip(supply["treatment"], supply["nutrient"], strict=True))
    taken = [_taken(carried_off[carried_off["treatment"] == name], removals, nutrient) for name, nutrient in pairs]
    removed = NutrientRange(np.array([r.low for r in taken]), np.array([r.high for r in taken]), ())
    total, low, high = (supply[name].to_numpy(np.float64) for name in AMOUNTS)
    balance = balance_of(NutrientRange(total, total, ()), removed)
    season = balance_of(NutrientRange(low, high, ()), removed)
    prices = [prices_per_kg.get(nutrient, np.nan) for _, nutrient in pairs]
    cost_low, cost_high = replacing_cost_per_m2(balance, prices)
    return supply.reset_index(drop=True).assign(
        removed_low_kg_per_m2=removed.low,
        removed_high_kg_per_m2=removed.high,
        balance_low_kg_per_m2=balance.low,
        balance_high_kg_per_m2=balance.high,
        first_season_balance_low_kg_per_m2=season.low,
        first_season_balance_high_kg_per_m2=season.high,
        replacing_cost_low_per_m2=cost_low,
        replacing_cost_high_per_m2=cost_high,
        sources=["; ".join(r.sources) for r in taken],
    )


def _taken(rows: pd.DataFrame, removals: Mapping[str, Sequence[Removal]], nutrient: str) -> NutrientRange:
    """Return what the crops of one treatment took together; NaN without a row, or where one of them is unknown."""
    parts = [
        removed_kg_per_m2(kilograms, removals.get(crop, ()), nutrient=nutrient)
        for crop, kilograms in zip(rows["crop"], rows["carried_off_kg_per_m2"], strict=True)
    ]
    low, high = (np.sum(ends) if parts else np.nan for ends in ([p.low for p in parts], [p.high for p in parts]))
    sources = tuple(dict.fromkeys(source for part in parts for source in part.sources))
    return NutrientRange(np.asarray(low), np.asarray(high), sources)
