"""Why the answer moved, as JSON for other programs: numbers as computed, null where there is none."""

import json
import math
from collections.abc import Mapping

from plotworth.choose.bridge import Bridge


def explain_json(found: Bridge, *, names: tuple[str, str]) -> str:
    """Return a bridge as JSON text, ASCII; `names` those of its two sides."""
    data = {
        "from": names[0],
        "to": names[1],
        "by": found.by,
        "orders": found.orders or None,
        "outcomes": {
            path: {"unit": found.units[path], "before": _number(before), "after": _number(found.after[path])}
            for path, before in found.before.items()
        },
        "parts": [
            {
                "label": part.label,
                "inputs": [
                    {
                        "address": one.address,
                        "label": one.label,
                        "unit": one.unit,
                        "before": _number(one.before),
                        "after": _number(one.after),
                    }
                    for one in part.moved
                ],
                "amounts": _numbers(part.amounts),
                "errors": _numbers(part.errors),
            }
            for part in found.parts
        ],
    }
    return json.dumps(data, allow_nan=False, indent=2)


def _numbers(by_path: Mapping[str, float]) -> dict[str, float | None]:
    return {path: _number(number) for path, number in by_path.items()}


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
