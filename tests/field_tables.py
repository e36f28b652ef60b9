"""Small record tables for the tests of the field rooms, and readers of their published values."""

import csv
from pathlib import Path

import numpy as np
import pandas as pd

from plotworth.field.yields import plot_yields
from plotworth.ground.glossary import read_shipped_table

PUBLISHED = Path(__file__).parent / "published"
NAN = np.nan
SCHEMA = pd.DataFrame(read_shipped_table("records"))


def columns(table: str) -> dict[str, str]:
    """Kind of every column of a record table, by name."""
    rows = SCHEMA[SCHEMA["table"] == table]
    return dict(zip(rows["column"], rows["kind"], strict=True))


def records(table: str, *rows: dict[str, object]) -> pd.DataFrame:
    """A record table as the case floor hands it over: all columns, blanks NaN or ""."""
    frame = pd.DataFrame(list(rows), columns=list(columns(table)))
    for name, kind in columns(table).items():
        if kind in ("text", "choice"):
            frame[name] = frame[name].astype(object).where(frame[name].notna(), "").astype(str)
        elif kind == "date":
            frame[name] = pd.to_datetime(frame[name])
        else:
            frame[name] = frame[name].astype(float)
    return frame.assign(line=range(2, len(frame) + 2))


def bare(table: str) -> pd.DataFrame:
    """An empty table whose columns have no type."""
    return pd.DataFrame(columns=[*columns(table), "line"])


def plot(name: str, treatment: str = "drip", **more: object) -> dict[str, object]:
    return {"plot": name, "treatment": treatment, "crop": "pepper", "net_area_m2": 2.0, "plants": 6, **more}


def picking(name: str, fruits: float = NAN, kg: float = NAN, day: int = 1, **more: object) -> dict[str, object]:
    return {"plot": name, "marketable_fruits": fruits, "marketable_kg": kg, "date": f"2026-05-{day:02d}", **more}


def singles(name: str, *masses_g: float, day: int = 1) -> list[dict[str, object]]:
    return [{"plot": name, "fruits": 1, "total_mass_g": mass, "date": f"2026-05-{day:02d}"} for mass in masses_g]


def batch(name: str, fruits: int, mass_g: float, day: int = 1) -> dict[str, object]:
    return {"plot": name, "fruits": fruits, "total_mass_g": mass_g, "date": f"2026-05-{day:02d}"}


def water(name: str, kind: str, litres: float, meter: str = "", day: int = 1) -> dict[str, object]:
    return {"plot": name, "kind": kind, "litres": litres, "meter": meter, "date": f"2026-05-{day:02d}"}


def reading(name: str, mm: float, day: int) -> dict[str, object]:
    return {"plot": name, "mm": mm, "date": f"2026-05-{day:02d}"}


def measured(plots: list, harvests: list, masses: list, yield_from: str = "counts") -> pd.DataFrame:
    """Plot yields of these rows by plot."""
    tables = records("plots", *plots), records("harvests", *harvests), records("fruit_masses", *masses)
    return plot_yields(*tables, yield_from=yield_from).set_index("plot", drop=False)


def published(name: str) -> pd.DataFrame:
    """Published data; codes such as NA and -9999 become NaN."""
    return pd.read_csv(PUBLISHED / f"field_{name}.csv", na_values=[-9999.0, "-9999", "NA"])


def reference(data: str, group: str) -> dict[str, float]:
    """Outside values of one group by name of the quantity."""
    with (PUBLISHED / "field_reference.csv").open(newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if (row["data"], row["group"]) == (data, group)]
    return {row["quantity"]: float(row["value"]) for row in rows}
