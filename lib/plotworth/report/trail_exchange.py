"""The trail of an outcome as JSON, for other programs: numbers as computed, null where there is none."""

import json
import math
from dataclasses import asdict
from typing import Any

from plotworth.choose.appraise import Appraisal
from plotworth.choose.dead_inputs import dead_inputs
from plotworth.choose.recorded import record
from plotworth.choose.trail import Trail, TrailInput, outcome_paths, trail


def trail_json(appraisal: Appraisal, path: str) -> str:
    """Return one outcome's trail as JSON text, ASCII; PlotworthError where there is no such outcome."""
    return json.dumps(trail_data(trail(appraisal, path)), allow_nan=False, indent=2)


def outcomes_json(appraisal: Appraisal) -> str:
    """Return the paths of all outcomes, and the rows of the case that move none of them, as JSON text."""
    dead = dead_inputs(appraisal, record(appraisal.layout, appraisal.values))
    data = {"outcomes": list(outcome_paths(appraisal)), "dead_inputs": [asdict(one) for one in dead]}
    return json.dumps(data, allow_nan=False, indent=2)


def trail_data(found: Trail) -> dict[str, Any]:
    """Return what the JSON of a trail holds: the outcome, its formula, inputs with their own, records by file."""
    return {
        "path": found.path,
        "label": found.label,
        "meaning": found.meaning,
        "value": _number(found.value),
        "unit": found.unit,
        "why": found.reason,
        "formula": found.formula,
        "worked": found.worked,
        "inputs": [_input_data(one) for one in found.inputs],
        "still": [_input_data(one) for one in found.still],
    }


def _input_data(one: TrailInput) -> dict[str, Any]:
    given = one.input
    return {
        "address": given.address,
        "label": given.label,
        "value": _number(one.value),
        "unit": given.unit,
        "low": given.low,
        "high": given.high,
        "origin": given.origin,
        "file": given.file,
        "line": given.line or None,
        "grade": given.grade,
        "source": given.source,
        "still": one.still,
        "formula": one.formula,
        "stands_on": [_input_data(below) for below in one.stands_on],
        "records": [{"file": rows.file, "lines": list(rows.lines), "what": rows.what} for rows in one.records],
        "notes": list(one.notes),
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
