"""Trials drawn from a seed whose result is known beforehand: what they allow one to say can be reasoned out on paper.

Plot errors come from the seed, are cleared of blocks and treatments and scaled so that the error mean square is
(cv x 2 kg/m2)^2 exactly. The differences found are then the true ones, and in b complete blocks of three treatments
the interval of a difference is effect -+ t(2 (b - 1)) x cv x sqrt(2 / b), in shares of the reference's 2 kg/m2.
Every figure is invented.
"""

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from field_tables import records
from plotworth.field.arrangement import Arrangement, complete_blocks, completely_randomised, split_plot
from plotworth.field.interspersion import Standing

TABLE = Path(__file__).parent / "trial_claims.csv"
REFERENCE_KG_PER_M2, AREA_M2, PLANTS = 2.0, 4.0, 12
BLOCK_STEP_KG_PER_M2 = 0.05
DAYS, SHARES = ("2026-05-01", "2026-05-15", "2026-06-01"), (0.3, 0.3, 0.4)
WATER_L_PER_M2 = {"tank": 100.0, "hand": 200.0, "drip": 150.0}
WATER_SPREAD = 0.03
FACTORS = ["factor_water", "factor_inoculation"]


@dataclass(frozen=True)
class Row:
    """A line of the table: what is drawn, and what follows from it."""

    number: str
    layout: str
    blocks: int
    effect: float
    cv: float
    gain: float | None
    flaw: str
    seed: int
    finds: frozenset[str]
    allows: frozenset[str]
    forbids: frozenset[str]
    because: str


def rows() -> list[Row]:
    """Every line of `trial_claims.csv`."""
    with TABLE.open(newline="", encoding="utf-8") as lines:
        return [_row(line) for line in csv.DictReader(lines)]


def _row(line: dict[str, str]) -> Row:
    kinds = {name: frozenset(filter(None, line[name].split("; "))) for name in ("finds", "allows", "forbids")}
    gain = float(line["gain"]) if line["gain"] else None
    numbers = int(line["blocks"]), float(line["effect"]), float(line["cv"]), gain
    return Row(
        line["number"], line["layout"], *numbers, line["flaw"], int(line["seed"]), **kinds, because=line["because"]
    )


@dataclass
class Trial:
    """The tables of a trial, and how it was drawn."""

    plots: pd.DataFrame
    harvests: pd.DataFrame
    arrangement: Arrangement | None
    inputs: pd.DataFrame | None = None
    water: pd.DataFrame | None = None
    references: dict[str, str] | None = None
    standings: tuple[Standing, ...] = ()


def plots_of(row: Row) -> pd.DataFrame:
    """The plots of a layout, one treatment after another within each block."""
    factorial = row.layout in ("factorial", "split", "interaction")
    cells = [(w, i) for w in ("tank", "hand") for i in ("fungus", "none")] if factorial else []
    names = [w if i == "none" else f"{w}+{i}" for w, i in cells] or ["tank", "hand", "drip"][
        : 2 if row.layout == "pair" else 3
    ]
    held = [(f"B{b + 1}", n, k) for b in range(row.blocks) for k, n in enumerate(names)]
    lines = [
        {
            "plot": f"P{i + 1:02d}",
            "block": b,
            "treatment": n,
            "crop": "pepper",
            "net_area_m2": AREA_M2,
            "plants": PLANTS,
        }
        for i, (b, n, _) in enumerate(held)
    ]
    plots = records("plots", *lines)
    plots["planted_on"] = pd.Timestamp("2026-02-01")
    if factorial:
        plots[FACTORS] = [cells[k] for _, _, k in held]
    return plots if row.layout != "random" else plots.assign(block="")


def arrangement_of(row: Row) -> Arrangement | None:
    if row.layout == "split":
        return split_plot(whole=("factor_water",), sub=("factor_inoculation",))
    if row.layout in ("factorial", "interaction"):
        return complete_blocks(*FACTORS)
    return completely_randomised("treatment") if row.layout == "random" else complete_blocks("treatment")


def yields_of(row: Row, plots: pd.DataFrame) -> np.ndarray:
    """True means, block steps and errors that disturb neither."""
    water = plots["treatment"].str.split("+").str[0].to_numpy()
    with_fungus = plots["treatment"].str.contains("+", regex=False).to_numpy()
    raised = (water == "tank") & (with_fungus if row.layout == "interaction" else True)
    mean = REFERENCE_KG_PER_M2 * (1 + row.effect * raised)
    number = pd.factorize(plots["block"])[0]
    step = BLOCK_STEP_KG_PER_M2 * (number - number.max() / 2)
    return mean + step + _errors(row, plots)


def _errors(row: Row, plots: pd.DataFrame) -> np.ndarray:
    random = np.random.default_rng(row.seed)
    sd = row.cv * REFERENCE_KG_PER_M2
    if row.layout != "split":
        return _cleared(random.normal(size=len(plots)), plots[["block", "treatment"]], sd)
    wholes = plots[["block", "factor_water"]].drop_duplicates()
    whole = _cleared(random.normal(size=len(wholes)), wholes, sd)
    plot = _cleared(
        random.normal(size=len(plots)), plots.assign(w=plots["block"] + plots["factor_water"])[["w", "treatment"]], sd
    )
    return np.repeat(whole, 2) + plot


def _cleared(errors: np.ndarray, by: pd.DataFrame, sd: float) -> np.ndarray:
    """Errors without any part that the columns explain, of mean square sd^2; zeros where nothing is left."""
    columns = np.hstack([pd.get_dummies(by[name]).to_numpy(float) for name in by])
    rest = errors - columns @ np.linalg.lstsq(columns, errors, rcond=None)[0]
    freedom = len(errors) - np.linalg.matrix_rank(columns)
    return rest * sd * np.sqrt(freedom / (rest @ rest)) if freedom > 0 else np.zeros(len(errors))


def harvests_of(plots: pd.DataFrame, values: np.ndarray) -> pd.DataFrame:
    """Three weighed pickings of every plot, all plants alive."""
    lines = [
        {"plot": p, "date": day, "marketable_kg": v * area * share, "plants_alive": PLANTS}
        for p, v, area in zip(plots["plot"], values, plots["net_area_m2"], strict=True)
        for day, share in zip(DAYS, SHARES, strict=True)
    ]
    return records("harvests", *lines)


def water_of(row: Row, plots: pd.DataFrame) -> pd.DataFrame:
    """One irrigation a plot, each read on its own meter: half as much for the tank as by hand."""
    random = np.random.default_rng(row.seed + 1)
    lines = [
        {
            "plot": p,
            "date": DAYS[0],
            "kind": "irrigation",
            "meter": f"m-{p}",
            "litres": AREA_M2 * WATER_L_PER_M2[t] * noise,
        }
        for p, t, noise in zip(
            plots["plot"], plots["treatment"], 1 + WATER_SPREAD * random.uniform(-1, 1, len(plots)), strict=True
        )
    ]
    return records("water", *lines)
