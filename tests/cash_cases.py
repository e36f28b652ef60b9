"""Cases and values for the tests of cash by month. All figures are invented for these tests."""

from collections.abc import Mapping

import numpy as np

from plotworth.choose.layout import Layout
from plotworth.ground.arrays import Array
from small_case import FILES

LAST_LINE = 'id = "hand"\nlabel = "Hand"\nwater_method = "hand"\n'
LOAN = """
[[loans]]
system = "tank"
label = "bank"
amount_share_of_investment = 1.0
rate_per_year = 0.12
years = 1
kind = "annuity"
payments_per_year = 12
"""
GRANT = """
[[grants]]
system = "tank"
label = "fund"
share_of_investment = 0.5
"""
LABOUR = (
    "tank,dry,planting,2,0.1,,0.8,no",
    "tank,dry,picking,4,,10,0.5,yes",
    "tank,dry,picking,5,,30,0.5,yes",
    ",,meetings,,,5,1,no",
)
WAGES = {"family_wage_per_hour": 0.2, "hired_wage_per_hour": 0.3}


def with_tables(text: str) -> dict[str, str]:
    """Return what `plain_case` takes as `settings` to add tables at the end of its case.toml."""
    assert FILES["case.toml"].endswith(LAST_LINE)
    return {LAST_LINE: LAST_LINE + text}


def moved(layout: Layout, seed: int, shape: tuple[int, int] = (1, 1)) -> dict[str, Array]:
    """Return values each multiplied by its own random factor and kept within its bounds, shares below 1."""
    random = np.random.default_rng(seed)
    values = {}
    for address, one in layout.inputs.items():
        highest = min(one.highest, 0.95) if one.unit.startswith("share") else None
        values[address] = np.clip(one.value * random.uniform(0.6, 1.4, shape), one.lowest, highest)
    return values


def changed_to(values: Mapping[str, Array], address: str, number: float) -> dict[str, Array]:
    """Return values with one of them replaced."""
    assert address in values, address
    return {**values, address: np.full((1, 1), number)}
