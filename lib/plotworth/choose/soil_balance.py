"""Nutrients of the trial's treatments: given by kind of input, removed by what was picked, what a deficit costs."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import pandas as pd

from plotworth.case.folder import Case
from plotworth.choose.appraise import Appraisal
from plotworth.choose.flag import ended, figure, patches
from plotworth.choose.measured import Trial
from plotworth.ground.handbook import Removal
from plotworth.supply.input_kinds import NOT_SAID, kind_label, shares_by_kind
from plotworth.supply.nutrients import (
    LABELS,
    NUTRIENTS,
    FirstSeasonShare,
    known_removals,
    nutrient_balance,
    treatment_supply,
)

PRICES: Mapping[str, str] = {"n": "n_price_per_kg", "p2o5": "p2o5_price_per_kg", "k2o": "k2o_price_per_kg"}
LEFT_OUT = (
    "Nutrients: what the soil holds already, what rain and water bring, what legumes fix and what is lost to air and "
    "drainage stand on neither side; leaves and stems that are carried off are not in the removal. A surplus is no "
    "proof of enough; a deficit is what the soil has to give."
)
NO_INPUTS = "Nutrients: no inputs are recorded, so that what was given is not known; a row with 0 says that none was."


@dataclass(frozen=True)
class SoilBalance:
    """Nutrients given against removed.

    `table`: one row a treatment and nutrient as of `nutrient_balance`, plots without a harvest left out as in its
    yields, with `picked_kg_per_m2` [kg per planted m2, culls included]; `notes`: sentences on every gap, on sources,
    and on what is left out.
    """

    table: pd.DataFrame
    notes: tuple[str, ...]


def soil_balance(appraisal: Appraisal) -> SoilBalance | None:
    """Return the nutrient balance of the trial's treatments, None where the case has no trial.

    First-season shares come from the kind of each input, removal from the measured yield with its culls, for culls
    leave the field, prices of nutrients from the book. A treatment of several crops has no removal.
    """
    trial = appraisal.layout.trial
    if trial is None:
        return None
    case, inputs = appraisal.case, items_by_kind(appraisal.case.table("inputs"))
    harvested = set(trial.plots.loc[~trial.plots["missing"].astype(bool), "plot"])
    plots = case.table("plots")
    plots = plots[plots["plot"].isin(harvested)]
    shares = shares_by_kind(_kinds(inputs))
    picked, remarks = _picked(appraisal, trial)
    removals, without = known_removals(picked["crop"])
    supply = treatment_supply(plots, inputs, shares)
    table = nutrient_balance(supply, picked, removals, _prices(case))
    kilograms = picked.set_index("treatment")["carried_off_kg_per_m2"]
    table["picked_kg_per_m2"] = table["treatment"].map(kilograms).astype(float)
    gaps = [NO_INPUTS] if inputs.empty else [*_kind_notes(inputs), *_gap_notes(table)]
    notes = [*gaps, *remarks, *(f"Nutrients removed: {ended(text)}" for text in without)]
    notes += [*_price_notes(case), *_share_notes(inputs, shares), *_removal_notes(removals), LEFT_OUT]
    return SoilBalance(table, tuple(notes))


def items_by_kind(inputs: pd.DataFrame) -> pd.DataFrame:
    """Return `inputs` with an item that stands there under several kinds named with its kind, so that each is one."""
    several = inputs.groupby("item")["kind"].transform("nunique") > 1
    named = inputs["item"] + " (" + inputs["kind"].map(kind_label).astype(object) + ")"
    return inputs.assign(item=inputs["item"].where(~several, named).astype(object))


def _kinds(inputs: pd.DataFrame) -> list[tuple[str, str]]:
    pairs = inputs[["item", "kind"]].drop_duplicates()
    return [(str(item), str(kind)) for item, kind in pairs.itertuples(index=False)]


def _picked(appraisal: Appraisal, trial: Trial) -> tuple[pd.DataFrame, list[str]]:
    """Return the kilograms carried off a planted m2 by treatment, culls included, and a sentence for each gap."""
    rows, notes = [], []
    for patch in patches(appraisal):
        if not patch.crop:
            notes.append(f"{patch.label} grows several crops: what was removed is not known.")
            continue
        marketable = figure(trial.treatments, patch.name, "yield_kg_per_m2")
        culls = figure(trial.treatments, patch.name, "cull_share")
        if culls != culls:
            notes.append(
                f"{patch.label}: culls were not recorded, so that removal is that of the marketable fruit alone."
            )
            culls = 0.0
        rows.append((patch.name, patch.crop, marketable / (1.0 - culls)))
    return pd.DataFrame(rows, columns=["treatment", "crop", "carried_off_kg_per_m2"]), notes


def _prices(case: Case) -> dict[str, float]:
    """Return the prices of nutrients [money/kg] that the book states."""
    rows = {nutrient: case.book.find(name) for nutrient, name in PRICES.items()}
    return {nutrient: row.value for nutrient, row in rows.items() if row is not None and isinstance(row.value, float)}


def _price_notes(case: Case) -> Iterator[str]:
    missing = [nutrient for nutrient in NUTRIENTS if nutrient not in _prices(case)]
    if missing:
        words, names = _listed(LABELS[one] for one in missing), ", ".join(PRICES[one] for one in missing)
        yield f"The price of {words} is not stated ({names}): what replacing a deficit would cost is not known."


def _kind_notes(inputs: pd.DataFrame) -> Iterator[str]:
    unsaid = list(dict.fromkeys(inputs.loc[inputs["kind"] == NOT_SAID, "item"]))
    if unsaid:
        yield (
            f"What {_listed(unsaid)} is was not written down (column kind of inputs.csv): whether it is raw manure and "
            f"how much of it the first season's crop can get are unknown."
        )


def _gap_notes(table: pd.DataFrame) -> Iterator[str]:
    """Yield a sentence for each reason why an amount is unknown, with its nutrients and treatments."""
    places: dict[str, tuple[dict[str, None], dict[str, None]]] = {}
    for treatment, nutrient, gap in table[["treatment", "nutrient", "gap"]].itertuples(index=False):
        for reason in filter(None, str(gap).split("; ")):
            nutrients, treatments = places.setdefault(reason, ({}, {}))
            nutrients[LABELS[str(nutrient)]] = treatments[str(treatment)] = None
    for reason, (nutrients, treatments) in places.items():
        everywhere = len(treatments) == table["treatment"].nunique()
        where = "every treatment" if everywhere else _listed(treatments)
        yield f"{reason[0].upper()}{reason[1:]}: {_listed(nutrients)} of {where}."


def _share_notes(inputs: pd.DataFrame, shares: Iterable[FirstSeasonShare]) -> Iterator[str]:
    """Yield where the first-season shares of each item come from, items with the same source together."""
    kinds = dict(_kinds(inputs))
    found: dict[str, dict[str, None]] = {}
    for share in shares:
        found.setdefault(share.source, {})[f"{share.item} ({kind_label(kinds[share.item])})"] = None
    for source, items in found.items():
        yield f"First-season share of {_listed(items)}: {ended(source)}"


def _removal_notes(removals: Mapping[str, tuple[Removal, ...]]) -> Iterator[str]:
    for crop, rows in removals.items():
        sources = (f"{row.source}, {row.table}: {row.condition}" for row in rows)
        yield f"Nutrients removed by {crop}: {'; '.join(sources)}."


def _listed(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
