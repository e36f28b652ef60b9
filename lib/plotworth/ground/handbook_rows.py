"""Rows of the shipped handbook tables, each with its unit, source, table, condition and status.

Where sources disagree a row holds their range as `_low` and `_high`; None is "unknown", never zero. Status of a row:
`printed` (the printed number was seen), `computed` (follows from printed numbers; the condition says how),
`from memory, to be verified`.
"""

from dataclasses import dataclass, fields
from typing import Any, TypeVar

from plotworth.ground.conversions import FORMS, K2O_PER_K, P2O5_PER_P
from plotworth.ground.glossary import read_shipped_table


@dataclass(frozen=True, kw_only=True)
class Provenance:
    """Where a row comes from: unit of its numbers, source, table in it, condition it holds under, status."""

    unit: str = ""
    source: str = ""
    table: str = ""
    condition: str = ""
    status: str = ""


@dataclass(frozen=True)
class CropRow(Provenance):
    """A row about one crop, under the crop's one name in the handbook."""

    crop: str


@dataclass(frozen=True)
class StageLengths(CropRow):
    """Lengths of a crop's four stages [day], when and where it was planted (FAO-56 Table 11)."""

    initial_days: int
    development_days: int
    mid_days: int
    late_days: int
    planting: str
    region: str

    @property
    def total_days(self) -> int:
        """Length of the season [day]: the sum of the stages."""
        return self.initial_days + self.development_days + self.mid_days + self.late_days


@dataclass(frozen=True)
class CropCoefficients(CropRow):
    """Crop coefficients [1] and height [m] of a crop (FAO-56 Table 12), basal ones beside them (Table 17).

    They stand for RHmin 45 % and wind of 2 m/s; a staked or trellised crop, 1.5 to 2 m tall, takes `mid_staked`.
    `basal_end` is the middle of its range.
    """

    initial: float
    mid: float
    end_low: float
    end_high: float
    mid_staked: float | None
    height_m: float
    basal_initial: float | None
    basal_mid: float | None
    basal_end: float | None
    basal_end_low: float | None = None
    basal_end_high: float | None = None
    staked_height_low_m: float | None = None
    staked_height_high_m: float | None = None
    basal_status: str = ""


@dataclass(frozen=True)
class Rooting(CropRow):
    """Maximum rooting depth [m] and share of the available water used without stress at 5 mm/day (FAO-56 Table 22)."""

    depth_low_m: float
    depth_high_m: float
    depletion_share: float


@dataclass(frozen=True)
class SaltTolerance(CropRow):
    """Threshold [dS/m, ECe of the saturated extract] and yield lost above it [% per dS/m] (FAO-56 Table 23)."""

    threshold_low_ds_m: float
    threshold_high_ds_m: float
    slope_low_pct: float
    slope_high_pct: float


@dataclass(frozen=True)
class YieldResponse(CropRow):
    """Seasonal yield response factor Ky [1]: 1 - Ya/Ym = Ky (1 - ETa/ETm) (FAO-56 Table 24)."""

    ky_low: float
    ky_high: float


@dataclass(frozen=True)
class Removal(CropRow):
    """Nutrients taken off with the harvest [kg per t of fresh produce], phosphorus and potassium as oxides."""

    n_kg_per_t_low: float
    n_kg_per_t_high: float
    p2o5_kg_per_t_low: float
    p2o5_kg_per_t_high: float
    k2o_kg_per_t_low: float
    k2o_kg_per_t_high: float


@dataclass(frozen=True)
class OrganicInput(Provenance):
    """Total nutrients of a manure or compost [kg per t as spread] and the share of each a first season gets [0-1].

    None is unknown: nothing was found in print for it, and no default stands in.
    """

    name: str
    n_kg_per_t_low: float | None
    n_kg_per_t_high: float | None
    p2o5_kg_per_t_low: float | None
    p2o5_kg_per_t_high: float | None
    k2o_kg_per_t_low: float | None
    k2o_kg_per_t_high: float | None
    first_season_n_share_low: float | None
    first_season_n_share_high: float | None
    first_season_p2o5_share_low: float | None
    first_season_p2o5_share_high: float | None
    first_season_k2o_share_low: float | None
    first_season_k2o_share_high: float | None
    first_season_source: str


@dataclass(frozen=True)
class Published(CropRow):
    """A published range of a figure (`what`) for a crop, under the condition it was found in."""

    what: str
    low: float
    high: float


@dataclass(frozen=True)
class Efficiency(Provenance):
    """Share [0-1] of the applied water that a method brings into the root zone; low and high over the sources."""

    method: str
    share: float
    low: float
    high: float


Row = TypeVar("Row", bound=Provenance)


def read_rows(table: str, kind: type[Row]) -> tuple[Row, ...]:
    """Return the rows of a shipped table as objects of a kind, numbers as numbers, a blank number as None."""
    return tuple(_row(kind, _with_oxides(row)) for row in read_shipped_table(table))


def _row(kind: type[Row], cells: dict[str, str]) -> Row:
    known: dict[str, Any] = {field.name: _cell(cells[field.name], field.type) for field in fields(kind)}
    return kind(**known)


def _cell(text: str, kind: Any) -> str | int | float | None:
    if kind is str:
        return text
    if kind is int:
        return int(text)
    return float(text) if text else None


def _with_oxides(row: dict[str, str]) -> dict[str, str]:
    """Return a row with P2O5 and K2O [kg/t] made from its printed phosphorus and potassium, where it has them."""
    if "phosphorus_potassium_form" not in row:
        return row
    form = FORMS[row["phosphorus_potassium_form"]]
    for printed, oxide, factor in (("p", "p2o5", P2O5_PER_P), ("k", "k2o", K2O_PER_K)):
        for end in ("low", "high"):
            text = row[f"{printed}_kg_per_t_{end}"]
            row[f"{oxide}_kg_per_t_{end}"] = str(float(text) * (factor if end in form else 1.0)) if text else ""
    return row
