"""The demo with every value drawn: what the benchmark of the composition gives to the library and to its peers."""

from pathlib import Path

import numpy as np

from plotworth.case.folder import open_case
from plotworth.choose.inputs import expected_shocks, lay_out

DEMO = Path(__file__).parent.parent.parent / "data_demo"
SPREAD = 0.25  # half the width where the book states no range, invented for the benchmark
SHARE_AT_MOST = 0.98


def layout():
    return lay_out(open_case(DEMO))


def drawn(layout, draws: int, *, seed: int = 1) -> dict:
    """Return values by address, shape (1, draws): triangles over the book's ranges, else a quarter up and down."""
    random, values = np.random.default_rng(seed), {}
    for address, one in layout.inputs.items():
        low, high = (one.low, one.high) if one.low is not None else (one.value * (1 - SPREAD), one.value * (1 + SPREAD))
        high = min(high, SHARE_AT_MOST) if one.unit.startswith("share") and one.value < SHARE_AT_MOST else high
        fixed = not low < high or np.isnan(one.value)
        spread = (
            np.full(draws, one.value) if fixed else random.triangular(low, np.clip(one.value, low, high), high, draws)
        )
        values[address] = spread[None]
    return values


def flat(outcome) -> dict:
    """Return an Outcome's arrays by path, facts left out."""
    parts = ("systems", "against_baseline", "against_today", "seasons")
    return {f"{p}/{k}/{n}": a for p in parts for k, figures in getattr(outcome, p).items() for n, a in figures.items()}


def shocks(layout, values: dict) -> dict:
    return expected_shocks(layout.structure, values)
