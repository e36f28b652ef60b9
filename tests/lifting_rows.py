"""The published rows of lifting: read once, handed to the room that computes them."""

import csv
from pathlib import Path

METRES_PER_FOOT = 0.3048  # exact
MILLIMETRES_PER_INCH = 25.4  # exact

Row = dict[str, str]

with (Path(__file__).parent / "published" / "supply_lifting.csv").open(encoding="utf-8", newline="") as lines:
    ROWS: list[Row] = list(csv.DictReader(lines))


def rows_of(room: str) -> list[Row]:
    return [row for row in ROWS if row["room"] == room]


def name_of(row: Row) -> str:
    return row["name"]


def inputs(row: Row) -> dict[str, float]:
    """The row's inputs that are numbers."""
    pairs = (pair.split("=") for pair in row["inputs"].split(";"))
    return {name: float(number) for name, number in pairs if name != "drive"}


def drive(row: Row) -> str:
    """The drive that the row's inputs name."""
    return dict(pair.split("=") for pair in row["inputs"].split(";"))["drive"]


def allowance(row: Row) -> float:
    """Half a unit of the last printed digit, or the row's own allowance, whose reason stands in its note."""
    return float(row["allowance"]) if row["allowance"] else 0.5 * 10.0 ** -int(row["decimals"])
