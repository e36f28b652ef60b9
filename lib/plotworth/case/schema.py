"""Columns of the case's tables, from the shipped `tables/records.csv`: name, kind, unit, bounds, meaning."""

from dataclasses import dataclass
from functools import cache

from plotworth.ground.glossary import read_shipped_table

OBLIGATORY = ("assumptions", "costs", "seasons")
FACTOR_PREFIX = "factor_"
ABSENT = {
    "plots": "no trial: nothing is said about plots, and no value may be `trial`",
    "harvests": "no pickings: yield cannot come from the trial",
    "fruit_masses": "no fruit was weighed: yield stands on weighed kilograms alone",
    "water": "no water ledger: litres cannot come from the trial",
    "soil_water": "soil water was not read: its change stands as 0 in the ledger",
    "labour_plan": "no labour plan: only carrying and cost lines counted in hours hold labour",
    "weather": "no weather: demand for water is not compared",
    "standing_fruits": "fruit still on the plants was not counted: no forecast",
    "prices": "no prices by month: a year has one price",
    "inputs": "no inputs recorded: nutrients are not compared",
    "labour": "no jobs recorded: labour is as planned",
}


@dataclass(frozen=True)
class Column:
    """A column of a table: kind (text, number, whole, date, choice, value), unit, bounds, choices, meaning."""

    name: str
    kind: str
    unit: str
    needed: bool
    lowest: float
    highest: float
    choices: tuple[str, ...]
    meaning: str


@cache
def table_columns() -> dict[str, dict[str, Column]]:
    """Return the columns of every table, by table and column name, in the order of the file."""
    tables: dict[str, dict[str, Column]] = {}
    for row in read_shipped_table("records"):
        tables.setdefault(row["table"], {})[row["column"]] = Column(
            name=row["column"],
            kind=row["kind"],
            unit=row["unit"],
            needed=row["needed"] == "yes",
            lowest=float(row["lowest"] or "-inf"),
            highest=float(row["highest"] or "inf"),
            choices=tuple(row["choices"].split()),
            meaning=row["meaning"],
        )
    return tables
