"""Who does the work: hours by the words of the labour plan and of the trial's records. A plain record, no judgement."""

from collections.abc import Mapping

import numpy as np

from plotworth.choose.appraise import Appraisal
from plotworth.choose.evaluate import run_systems
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.system import SystemYear
from plotworth.ground.amounts import figures_text
from plotworth.ground.arrays import Array
from plotworth.ground.conversions import MINUTES_PER_HOUR

Values = Mapping[str, Array]
NOT_SAID = "not said"
CARRYING = "carrying water (who: not said)"
HIRED_LINES = "cost lines in hours (who: not said)"
UNIT = "hour/year"


def planned_hours(layout: Layout, values: Values) -> dict[str, dict[str, float]]:
    """Return the hours of a full year by system and who does them [hour/year]; family and hired together.

    `values` by address, shapes (1, 1). The words are those of the column `who` of the labour plan; carrying and cost
    lines counted in hours stand by themselves, since nothing says whose they are. They add up to all hours.
    """
    systems = run_systems(layout.structure, values, expected_shocks(layout.structure, values))
    return {name: _of_system(layout, values, system) for name, system in systems.items()}


def _of_system(layout: Layout, values: Values, system: SystemYear) -> dict[str, float]:
    hours: dict[str, float] = {}
    rows = [row for row in layout.case.rows("labour_plan") if row.system in ("", system.plan.id)]
    for row, item in zip(rows, system.plan.labour, strict=True):
        stated = float(values[item.hours_address][0, 0])
        ground = [float(season.planted_m2[0, 0]) for season in system.seasons]
        done = sum(stated * (ground[k] if item.is_per_m2 else 1.0) for k in item.seasons)
        who = row.who or NOT_SAID
        hours[who] = hours.get(who, 0.0) + done
    hours[CARRYING] = float(sum(season.carrying_h[0, 0] for season in system.seasons))
    hours[HIRED_LINES] = float(system.bill.hours[0, 0])
    return hours


def recorded_hours(layout: Layout) -> dict[str, float]:
    """Return the hours of the trial's labour records by who did them [hour]; empty without records."""
    hours: dict[str, float] = {}
    for row in layout.case.rows("labour"):
        who = row.who or NOT_SAID
        hours[who] = hours.get(who, 0.0) + row.person_minutes / MINUTES_PER_HOUR
    return hours


def who_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return hours by who of the plan, and of the trial's records; none where no row says who."""
    return [*_planned_table(appraisal), *_recorded_table(appraisal)]


def _planned_table(appraisal: Appraisal) -> list[FigureTable]:
    layout = appraisal.layout
    if not any(row.who for row in layout.case.rows("labour_plan")):
        return []
    hours = planned_hours(layout, appraisal.values)
    words = dict.fromkeys(who for own in hours.values() for who in own)
    rows = tuple(
        FigureRow(who, UNIT, tuple(_text(own.get(who, 0.0)) for own in hours.values()))
        for who in words
        if any(own.get(who) for own in hours.values())
    )
    labels = tuple(plan.label for plan in layout.structure.systems)
    return [FigureTable("who does the work, as planned: hours of a full year", labels, rows)]


def _recorded_table(appraisal: Appraisal) -> list[FigureTable]:
    hours = recorded_hours(appraisal.layout)
    if not any(who != NOT_SAID for who in hours):
        return []
    rows = tuple(FigureRow(who, "hour", (_text(done),)) for who, done in hours.items())
    return [FigureTable("who did the work in the trial, as recorded", ("all plots",), rows)]


def _text(value: float) -> str:
    return DASH if np.isnan(value) else figures_text(value)
