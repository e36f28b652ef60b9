"""Where the decision turns, as JSON, for other programs: numbers as computed, null where there is none."""

import json
import math
from typing import Any

from plotworth.choose.appraise import Appraisal
from plotworth.choose.break_even_grid import BreakEvenGrid
from plotworth.choose.case_crossover import CaseCrossover
from plotworth.choose.crossover import BreakEven
from plotworth.choose.crossover_table import crossover_sentences
from plotworth.choose.input_names import input_name
from plotworth.choose.joint_change import JointChange, MovedRow
from plotworth.choose.switching import SwitchingValue

Number = float | None


def crossover_json(appraisal: Appraisal, found: CaseCrossover) -> str:
    """Return the crossover of an appraised case as JSON text; the same case gives the same bytes."""
    return json.dumps(crossover_data(appraisal, found), allow_nan=False, indent=2)


def crossover_data(appraisal: Appraisal, found: CaseCrossover) -> dict[str, Any]:
    """Return what the JSON holds: case, pair, areas, inputs, switching values, joint change, grid, sentences.

    `reference` is null where a system is held against 0; `ahead` is 1 for the system, -1 for its reference.
    """
    settings = appraisal.case.settings
    return {
        "case": {
            "title": settings.title,
            "invented": settings.invented,
            "currency": settings.currency,
            "price_year": settings.price_year,
            "area_m2": settings.area_m2,
            "view": "full",
        },
        "system": found.system,
        "reference": found.reference or None,
        "areas": [_break_even(appraisal, one) for one in found.areas],
        "inputs": [_break_even(appraisal, one) for one in found.inputs],
        "switching_values": [_switching(appraisal, one) for one in found.switching],
        "joint_change": _joint(appraisal, found.joint),
        "grid": None if found.grid is None else _grid(found.grid),
        "sentences": crossover_sentences(appraisal, found),
    }


def _break_even(appraisal: Appraisal, found: BreakEven) -> dict[str, Any]:
    return {
        "address": found.address,
        "name": input_name(appraisal.layout, found.address),
        "unit": found.unit,
        "value": _number(found.value),
        "system": found.system,
        "reference": found.reference or None,
        "low": found.low,
        "high": found.high,
        "ahead_at_low": found.ahead_at_low,
        "crossings": [
            {"at": one.at, "is_step": one.is_step, "ahead_above": one.ahead_above, "left_over": _number(one.left_over)}
            for one in found.crossings
        ],
        "is_certain": found.is_certain,
        "why": found.why,
    }


def _switching(appraisal: Appraisal, row: SwitchingValue) -> dict[str, Any]:
    return {
        **_break_even(appraisal, row.found),
        "switching_value": _number(row.at),
        "is_step": row.is_step,
        "change_share": _number(row.change_share),
        "believed_low": row.input.low,
        "believed_high": row.input.high,
        "is_believed": row.is_believed,
        "grade": row.input.grade,
        "nature": row.input.nature,
    }


def _joint(appraisal: Appraisal, joint: JointChange) -> dict[str, Any]:
    together = joint.together
    return {
        "ahead": joint.ahead,
        "distance": _number(joint.distance),
        "rows": [_moved(appraisal, row) for row in joint.rows],
        "together": None
        if together is None
        else {"way_share": _number(together.way_share), "rows": [_moved(appraisal, row) for row in together.rows]},
        "left_out": list(joint.left_out),
        "why": joint.why,
    }


def _moved(appraisal: Appraisal, row: MovedRow) -> dict[str, Any]:
    return {
        "address": row.input.address,
        "name": input_name(appraisal.layout, row.input.address),
        "unit": row.input.unit,
        "value": row.value,
        "moved_to": row.moved_to,
        "share_of_range": row.width_share,
    }


def _grid(grid: BreakEvenGrid) -> dict[str, Any]:
    return {
        "first": grid.first.address,
        "second": grid.second.address,
        "first_values": list(grid.first_values),
        "second_values": list(grid.second_values),
        "difference": [[_number(float(cell)) for cell in row] for row in grid.difference],
    }


def _number(value: float) -> Number:
    return value if math.isfinite(value) else None
