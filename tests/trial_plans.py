"""Small designs and plans for the tests of planning; every figure in them is invented."""

import datetime
from dataclasses import replace

from plotworth.case.plan import Plan, PlannedFactor
from plotworth.field.design import Design, Factor
from plotworth.field.layout import REDRAW_RULE
from plotworth.planning import drawn_plan

WATER = Factor("water", ("tank", "drip", "hand"))
FUNGUS = Factor("inoculation", ("fungus", "none"))


def design(kind: str = "blocks", *, blocks: int = 4) -> Design:
    """A design of three water systems, in split plots and factorials with and without inoculation."""
    return Design(kind, (WATER,) if kind == "blocks" else (WATER, FUNGUS), blocks)


OUTLINE = Plan(
    question="Does the tank yield as much as drip?",
    outcome="yield_kg_per_m2",
    contrast_of="treatment",
    contrast=("tank", "drip"),
    smallest_gain_share=0.2,
    design="blocks",
    factors=(PlannedFactor("water", WATER.levels),),
    blocks=4,
    seed=11,
    redraws=0,
    redraw_rule=REDRAW_RULE,
    columns=0,
    gradient_from="north, uphill",
    crop="pepper",
    rows=2,
    plants_per_row=6,
    spacing_in_row_m=0.5,
    spacing_between_rows_m=0.6,
    guard_rows=1,
    guard_plants=1,
    analysis="analysis of variance for complete blocks",
    frozen_on=datetime.date(2026, 1, 10),
    plots=(),
    expected_cv=0.15,
)
SPLIT_OUTLINE = replace(
    OUTLINE,
    design="split",
    factors=(PlannedFactor("water", WATER.levels), PlannedFactor("inoculation", FUNGUS.levels)),
    contrast_of="water",
)


def plan(outline: Plan = OUTLINE) -> Plan:
    """The plan that an outline's seed draws."""
    return drawn_plan(outline)
