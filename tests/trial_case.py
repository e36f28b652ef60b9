"""The plain case with a trial: two treatments on two plots each, weighed and watered in round numbers. Invented.

Tank plots of 4 m2 yield 3 and 5 kg/m2 and draw 100 and 140 l/m2; hand plots yield 2 and 4 kg/m2 and draw 200 and 200.
"""

from collections.abc import Mapping
from pathlib import Path

from plain_case import COSTS, SEASONS, plain_case
from plotworth.case.folder import Case

PLOTS = """\
plot,block,treatment,crop,planted_on,net_area_m2,plants
T1,B1,tank,pepper,2026-02-01,4,12
T2,B2,tank,pepper,2026-02-01,4,8
H1,B1,hand,pepper,2026-02-01,4,12
H2,B2,hand,pepper,2026-02-01,4,12
"""
HARVESTS = """\
date,plot,marketable_fruits,marketable_kg,cull_kg
2026-05-01,T1,,12,3
2026-05-01,T2,,20,5
2026-05-01,H1,,8,
2026-05-01,H2,,16,
"""
WATER = """\
date,plot,kind,litres,meter
2026-02-01,T1,first_fill,400,a
2026-02-01,T2,first_fill,560,b
2026-05-02,T1,left_over,40,a
2026-05-02,T2,left_over,40,b
2026-03-01,H1,irrigation,800,c
2026-03-01,H2,irrigation,800,d
"""
TREATMENTS = {f'label = "{name}"': f'label = "{name}"\ntreatment = "{name.lower()}"' for name in ("Tank", "Hand")}
FROM_TRIAL: Mapping[str, float | str | None] = {
    "yield_kg_per_m2/tank/pepper": None,
    "yield_kg_per_m2/hand/pepper": None,
    "yield_kg_per_m2": "trial",
    "water_applied_l_per_m2": "trial",
    "delivery_share": "trial",
}


def trial_case(
    folder: Path,
    *,
    book: Mapping[str, float | str | None] | None = None,
    costs: tuple[str, ...] = COSTS,
    seasons: tuple[str, ...] = SEASONS,
    settings: Mapping[str, str] | None = None,
    files: Mapping[str, str | bytes | None] | None = None,
) -> Case:
    """Return the plain case with the trial, yields and water of both systems taken from it."""
    tables = {"plots.csv": PLOTS, "harvests.csv": HARVESTS, "water.csv": WATER, **(files or {})}
    return plain_case(
        folder,
        book={**FROM_TRIAL, **(book or {})},
        costs=costs,
        seasons=seasons,
        settings={**TREATMENTS, **(settings or {})},
        files=tables,
    )
