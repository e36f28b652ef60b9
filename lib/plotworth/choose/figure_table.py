"""The figures of an appraisal as tables to read: rows with label and unit, a cell for each system."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from plotworth.choose.appraise import Appraisal, reference_ids, units
from plotworth.ground.amounts import figures_text, unit_words
from plotworth.ground.glossary import GLOSSARY

DASH = "–"
GROUPS: Mapping[str, tuple[str, ...]] = {
    "per planted m2 and season": (
        "yield_kg_per_m2",
        "water_applied_l_per_m2",
        "water_l_per_m2",
        "irrigation_productivity_kg_per_m3",
        "water_l_per_kg",
    ),
    "kilograms in a full year": ("grown_kg", "marketable_kg", "lost_kg", "eaten_kg", "sold_kg"),
    "a full year of the case": (
        "water_m3",
        "family_hours",
        "hired_hours",
        "sales",
        "eaten_value",
        "labour_cost",
        "energy_cost",
        "running_cost",
    ),
    "gross margin of a full year": (
        "gross_margin_per_m2",
        "gross_margin_per_m3",
        "gross_margin_per_day",
        "gross_margin_per_unit",
        "gross_margin_per_100",
    ),
    "over the horizon": (
        "investment",
        "working_capital",
        "npv",
        "irr",
        "mirr",
        "benefit_cost_ratio",
        "simple_payback_years",
        "discounted_payback_years",
        "equivalent_annual_value",
        "return_per_family_day",
        "cost_per_kg",
    ),
}
OF_MAIN_CROP = tuple(GROUPS)[:2]
DIFFERENCES = (
    "less_water_share",
    "less_water_share_low",
    "less_water_share_high",
    "investment",
    "npv",
    "irr",
    "mirr",
    "benefit_cost_ratio",
    "discounted_payback_years",
    "equivalent_annual_value",
)
SHOWN = frozenset(name for names in (*GROUPS.values(), DIFFERENCES) for name in names)


@dataclass(frozen=True)
class FigureRow:
    """A row to read: label, unit in words, a cell of text for each system."""

    label: str
    unit: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class FigureTable:
    """A table to read: title, the labels of its systems, its rows."""

    title: str
    systems: tuple[str, ...]
    rows: tuple[FigureRow, ...]


def figure_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return the tables of an appraisal: each system alone, then the differences to the two reference lines."""
    ids = list(appraisal.systems)
    crop = appraisal.layout.structure.main_crop
    tables = [
        _table(appraisal, f"{crop}, {title}" if title in OF_MAIN_CROP else title, names, "systems", ids)
        for title, names in GROUPS.items()
    ]
    for part, reference in reference_ids(appraisal.case).items():
        others = [name for name in ids if name != reference]
        title = f"{part.replace('_', ' ')}: less {appraisal.case.settings.system(reference).label}"
        tables.append(_table(appraisal, title, DIFFERENCES, part, others))
    return tables


def _table(appraisal: Appraisal, title: str, names: Sequence[str], part: str, ids: Sequence[str]) -> FigureTable:
    unit = units(appraisal.case.settings.currency)
    figures = appraisal.part(part)
    rows = (
        FigureRow(GLOSSARY[name].label, _unit_words(unit[name]), tuple(_cell(name, figures[i][name]) for i in ids))
        for name in names
    )
    labels = tuple(appraisal.case.settings.system(i).label for i in ids)
    return FigureTable(title, labels, tuple(rows))


def flow_table(appraisal: Appraisal) -> FigureTable:
    """Return the flows of every system by year, undiscounted: what the NPV is made from."""
    currency = appraisal.case.settings.currency
    labels = tuple(appraisal.case.settings.system(name).label for name in appraisal.flows)
    years = zip(*appraisal.flows.values(), strict=True)
    rows = (
        FigureRow(f"Year {year}", currency, tuple(figures_text(float(flow)) for flow in flows))
        for year, flows in enumerate(years)
    )
    return FigureTable("flows by year", labels, tuple(rows))


def _unit_words(unit: str) -> str:
    return {"share": "%", "share/year": "% a year"}.get(unit, unit_words(unit))


def _cell(name: str, value: float) -> str:
    if math.isnan(value):
        return DASH
    return figures_text(100 * value if GLOSSARY[name].unit.startswith("share") else value)


def other_crops(appraisal: Appraisal) -> Iterator[str]:
    """Yield a sentence for each season of another crop: kilograms of different crops are never added."""
    names = [name for title in OF_MAIN_CROP for name in GROUPS[title]]
    for plan in appraisal.layout.structure.systems:
        for season in plan.seasons:
            if season.crop != appraisal.layout.structure.main_crop:
                figures = appraisal.seasons[f"{plan.id}/{season.season}"]
                words = (
                    f"{GLOSSARY[n].label.lower()} {figures_text(figures[n])} {unit_words(GLOSSARY[n].unit)}"
                    for n in names
                )
                yield f"{season.crop} in {season.season}, {plan.label}: {', '.join(words)}."


def reasons(appraisal: Appraisal) -> list[str]:
    """Return the reasons of dashes and of what must be read with care, each with the places it holds for."""
    places: dict[str, list[str]] = {}
    for path, sentence in appraisal.why.items():
        part, system, name = path.split("/")
        if name in SHOWN:
            label = appraisal.case.settings.system(system).label
            against = "" if part == "systems" else f", {part.replace('_', ' ')}"
            places.setdefault(sentence, []).append(f"{GLOSSARY[name].label} of {label}{against}")
    return [f"{sentence[0].upper()}{sentence[1:]}: {'; '.join(where)}." for sentence, where in places.items()]
