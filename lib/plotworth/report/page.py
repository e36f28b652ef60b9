"""An appraisal as a page of text: what each system is worth, what it yields, takes and costs, side by side."""

import math
import textwrap
from collections.abc import Iterator, Mapping, Sequence

from plotworth.choose.appraise import Appraisal, reference_ids, units
from plotworth.choose.verdict import headline
from plotworth.ground.amounts import figures_text, share_text
from plotworth.ground.glossary import GLOSSARY

WIDTH = 100
NAME_WIDTH = 34
UNIT_WIDTH = 12
DASH = "–"
CAUTION = (
    "Decision support from the case's own figures; no financial, engineering or legal advice. Local codes and "
    "licensed practice come first, above all for wells, pumps and permits."
)
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
        "running_cost",
        "gross_margin_per_m2",
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


def appraisal_text(appraisal: Appraisal) -> str:
    """Return the page of an appraisal, lines of at most `WIDTH` characters where its labels allow."""
    return "\n".join([*_opening(appraisal), *_tables(appraisal), *_reasons(appraisal), "", *_wrapped(CAUTION)])


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ")


def _opening(appraisal: Appraisal) -> Iterator[str]:
    settings = appraisal.case.settings
    rate = appraisal.layout.inputs["discount_rate"].value
    yield settings.title + (" - INVENTED DATA" if settings.invented else "")
    yield from _wrapped(settings.question)
    prices = f"{settings.currency} at {settings.price_year} prices"
    yield f"{settings.area_m2:g} m2, {settings.horizon_years} years, {prices}."
    yield f"Real discount rate {share_text(rate)} a year. Family work at its wage, food eaten at home in kind."
    yield ""
    yield from _wrapped(headline(appraisal.case, {"systems": appraisal.systems}))
    for verdict in appraisal.verdicts:
        yield from _wrapped(f"- {verdict.sentence}")


def _tables(appraisal: Appraisal) -> Iterator[str]:
    ids = list(appraisal.systems)
    for title, names in GROUPS.items():
        crop = f"{appraisal.layout.structure.main_crop}, " if title in OF_MAIN_CROP else ""
        yield from _table(appraisal, f"{crop}{title}", names, "systems", ids)
    yield from _other_crops(appraisal)
    for part, reference in reference_ids(appraisal.case).items():
        title = f"{part.replace('_', ' ')}: less {appraisal.case.settings.system(reference).label}"
        yield from _table(appraisal, title, DIFFERENCES, part, [name for name in ids if name != reference])


def _other_crops(appraisal: Appraisal) -> Iterator[str]:
    """Yield the seasons of other crops: kilograms of different crops are never added."""
    names = (*GROUPS["per planted m2 and season"], *GROUPS["kilograms in a full year"])
    for plan in appraisal.layout.structure.systems:
        for season in plan.seasons:
            if season.crop != appraisal.layout.structure.main_crop:
                figures = appraisal.seasons[f"{plan.id}/{season.season}"]
                words = (f"{GLOSSARY[n].label.lower()} {figures_text(figures[n])} {GLOSSARY[n].unit}" for n in names)
                yield from ("", *_wrapped(f"{season.crop} in {season.season}, {plan.label}: {', '.join(words)}."))


def _table(appraisal: Appraisal, title: str, names: Sequence[str], part: str, ids: Sequence[str]) -> Iterator[str]:
    labels = [appraisal.case.settings.system(name).label for name in ids]
    widths = [max(len(label), 10) + 2 for label in labels]
    unit = units(appraisal.case.settings.currency)
    yield ""
    yield title.upper()
    yield " " * (NAME_WIDTH + UNIT_WIDTH) + "".join(label.rjust(w) for label, w in zip(labels, widths, strict=True))
    for name in names:
        cells = [_cell(appraisal, part, system, name) for system in ids]
        row = "".join(cell.rjust(width) for cell, width in zip(cells, widths, strict=True))
        yield f"{GLOSSARY[name].label:<{NAME_WIDTH}}{_unit_words(unit[name]):<{UNIT_WIDTH}}{row}"


def _unit_words(unit: str) -> str:
    return {"1": "", "share": "%", "share/year": "% a year"}.get(unit, unit)


def _cell(appraisal: Appraisal, part: str, system: str, name: str) -> str:
    value = appraisal.part(part)[system][name]
    if math.isnan(value):
        return DASH
    return figures_text(100 * value if GLOSSARY[name].unit.startswith("share") else value)


def _reasons(appraisal: Appraisal) -> Iterator[str]:
    shown = {name for names in (*GROUPS.values(), DIFFERENCES) for name in names}
    by_sentence: dict[str, list[str]] = {}
    for path, sentence in appraisal.why.items():
        part, system, name = path.split("/")
        if name in shown:
            label = appraisal.case.settings.system(system).label
            against = "" if part == "systems" else f", {part.replace('_', ' ')}"
            by_sentence.setdefault(sentence, []).append(f"{GLOSSARY[name].label} of {label}{against}")
    if by_sentence:
        yield ""
        yield f"WHY A {DASH}, AND WHAT TO READ WITH CARE"
    for sentence, places in by_sentence.items():
        yield from _wrapped(f"- {sentence}: {'; '.join(places)}.")
