"""The handbook: finders over the shipped tables of crops, nutrients, efficiencies and published ranges.

A finder takes a name as the trade says it (`bell pepper`, `aubergine`, `Tomatoes`) and returns the rows under its one
name here. A crop that no shipped table knows is refused with the nearest names; a crop that is known but has no row
of that kind (okra) is said to be without one. Nothing is guessed from a relative.
"""

import difflib
from collections.abc import Iterable
from typing import TypeVar

from plotworth.ground.errors import PlotworthError
from plotworth.ground.glossary import read_shipped_table
from plotworth.ground.handbook_rows import (
    CropCoefficients,
    CropRow,
    Efficiency,
    OrganicInput,
    Published,
    Removal,
    Rooting,
    SaltTolerance,
    StageLengths,
    YieldResponse,
    read_rows,
)

__all__ = [
    "CropCoefficients",
    "Efficiency",
    "HandbookError",
    "OrganicInput",
    "Published",
    "Removal",
    "Rooting",
    "SaltTolerance",
    "StageLengths",
    "YieldResponse",
    "application_efficiency",
    "find_crop_coefficients",
    "find_organic_input",
    "find_published",
    "find_removal",
    "find_rooting",
    "find_salt_tolerance",
    "find_stage_lengths",
    "find_yield_response",
    "handbook_name",
]

Kind = TypeVar("Kind", bound=CropRow)

STAGE_LENGTHS = read_rows("crop_stages", StageLengths)
CROP_COEFFICIENTS = read_rows("crop_coefficients", CropCoefficients)
ROOTING = read_rows("crop_rooting", Rooting)
SALT_TOLERANCE = read_rows("crop_salt", SaltTolerance)
YIELD_RESPONSE = read_rows("crop_yield_response", YieldResponse)
REMOVAL = read_rows("crop_removal", Removal)
PUBLISHED = read_rows("published_ranges", Published)
ORGANIC_INPUTS = {row.name: row for row in read_rows("organic_inputs", OrganicInput)}
EFFICIENCIES = {row.method: row for row in read_rows("application_efficiencies", Efficiency)}
WORDS = read_shipped_table("handbook_words")
CROPS = frozenset(
    row.crop
    for table in (STAGE_LENGTHS, CROP_COEFFICIENTS, ROOTING, SALT_TOLERANCE, YIELD_RESPONSE, REMOVAL, PUBLISHED)
    for row in table
) | {row["name"] for row in WORDS if row["kind"] == "crop"}
NEAREST = 3
NEAR_ENOUGH = 0.6
PLURAL_ENDINGS = ("s", "es")


class HandbookError(PlotworthError):
    """A name that the shipped tables do not know, or a known one without a row of the kind asked for."""


def find_stage_lengths(crop: str) -> tuple[StageLengths, ...]:
    """Return every row of stage lengths [day] of a crop, by planting and region (FAO-56 Table 11)."""
    return _find(STAGE_LENGTHS, crop, "stage lengths")


def find_crop_coefficients(crop: str) -> CropCoefficients:
    """Return the crop coefficients [1] and the height [m] of a crop (FAO-56 Tables 12 and 17)."""
    return _find(CROP_COEFFICIENTS, crop, "crop coefficients")[0]


def find_rooting(crop: str) -> Rooting:
    """Return the rooting depth [m] and depletion share [0-1] of a crop (FAO-56 Table 22)."""
    return _find(ROOTING, crop, "rooting depth")[0]


def find_salt_tolerance(crop: str) -> SaltTolerance:
    """Return the salt threshold [dS/m] and slope [% per dS/m] of a crop (FAO-56 Table 23)."""
    return _find(SALT_TOLERANCE, crop, "salt tolerance")[0]


def find_yield_response(crop: str) -> YieldResponse:
    """Return the seasonal yield response factor [1] of a crop (FAO-56 Table 24)."""
    return _find(YIELD_RESPONSE, crop, "yield response")[0]


def find_removal(crop: str) -> tuple[Removal, ...]:
    """Return what a harvest takes off [kg per t fresh], one row a source; the sources disagree, so keep the range."""
    return _find(REMOVAL, crop, "nutrient removal")


def find_published(crop: str, what: str) -> tuple[Published, ...]:
    """Return the published ranges of a figure (`yield_kg_per_m2`, `water_productivity_kg_per_m3`, ...) of a crop."""
    rows = _find(PUBLISHED, crop, "published ranges")
    found = tuple(row for row in rows if row.what == what)
    if not found:
        offered = ", ".join(dict.fromkeys(row.what for row in rows))
        raise HandbookError(f"no published range of {what!r} for {rows[0].crop}; the handbook has {offered}")
    return found


def find_organic_input(name: str) -> OrganicInput:
    """Return the contents [kg per t] of a manure or compost, None where no source was found."""
    return ORGANIC_INPUTS[_known_name(name, "input", ORGANIC_INPUTS, "manure or compost")]


def application_efficiency(method: str) -> Efficiency:
    """Return the share [0-1] of applied water that an irrigation method brings into the root zone."""
    return EFFICIENCIES[_known_name(method, "method", EFFICIENCIES, "irrigation method")]


def handbook_name(crop: str) -> str:
    """Return the one name that the shipped tables have for a crop; refuse a crop that none of them knows."""
    return _known_name(crop, "crop", CROPS, "crop")


def _find(rows: tuple[Kind, ...], crop: str, what: str) -> tuple[Kind, ...]:
    name = handbook_name(crop)
    found = tuple(row for row in rows if row.crop == name)
    if not found:
        raise HandbookError(
            f"{name} is without a handbook row of {what}{_why(name)}; state your own value and its source"
        )
    return found


def _why(name: str) -> str:
    """Return what is known of a name that has no row of its own, in brackets."""
    notes = [row["note"] for row in WORDS if row["word"] == row["name"] == name and row["note"]]
    return f" ({notes[0]})" if notes else ""


def _known_name(word: str, kind: str, names: Iterable[str], noun: str) -> str:
    """Return the name among `names` that a word stands for, as it is, by another word for it, or in the plural."""
    known = {name: name for name in names}
    words = {row["word"]: row["name"] for row in WORDS if row["kind"] == kind and row["name"] in known} | known
    for form in _forms(word):
        if form in words:
            return words[form]
    near = difflib.get_close_matches(_folded(word), words, n=NEAREST, cutoff=NEAR_ENOUGH)
    offered = list(dict.fromkeys(words[form] for form in near))
    hint = f"did you mean {' or '.join(offered)}?" if offered else f"it has {', '.join(sorted(known))}"
    raise HandbookError(f"the handbook has no {noun} {word!r}; {hint}")


def _folded(word: str) -> str:
    return " ".join(word.lower().replace("_", " ").split())


def _forms(word: str) -> list[str]:
    folded = _folded(word)
    return [folded, *(folded.removesuffix(ending) for ending in PLURAL_ENDINGS)]
