"""Small trials for the tests of the audit. Invented."""

from collections.abc import Callable

import pandas as pd

from field_tables import picking, plot, records
from plotworth.field.arrangement import complete_blocks
from plotworth.field.audit import audit
from plotworth.field.finding import Finding

BLOCKS = complete_blocks("treatment")


def blocks_of(*treatments: str, blocks: int = 4, **more: object) -> pd.DataFrame:
    """Plots of complete blocks, named by block and treatment."""
    held = [(b, t) for b in range(1, blocks + 1) for t in treatments]
    return records("plots", *(plot(f"{b}{t}", t, block=f"B{b}", **more) for b, t in held))


def picked(
    plots: pd.DataFrame, kg: Callable[[pd.Series], float] = lambda _: 2.0, days: tuple[int, ...] = (1, 8)
) -> pd.DataFrame:
    rows = [
        picking(row["plot"], kg=kg(row), day=day, plants_alive=row["plants"])
        for _, row in plots.iterrows()
        for day in days
    ]
    return records("harvests", *rows)


def audited(plots: pd.DataFrame, harvests: pd.DataFrame | None = None, **more: object) -> tuple[Finding, ...]:
    more.setdefault("arrangement", BLOCKS)
    return audit(plots, picked(plots) if harvests is None else harvests, **more)


def one(found: tuple[Finding, ...], kind: str) -> Finding:
    own = [finding for finding in found if finding.kind == kind]
    assert len(own) == 1, found
    return own[0]


def kinds(found: tuple[Finding, ...]) -> set[str]:
    return {finding.kind for finding in found}
