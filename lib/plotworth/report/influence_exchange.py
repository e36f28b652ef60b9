"""What moves a case, what it rests on and what would be worth knowing, as JSON for other programs."""

import math
from dataclasses import asdict
from typing import Any

from plotworth.choose.influence import Influence
from plotworth.choose.information_value import Worth
from plotworth.choose.risk_share_table import compared, influence_groups, influence_notes
from plotworth.choose.tornado import Bar


def influence_data(found: Influence) -> dict[str, Any]:
    """Return all bars, shares, parts by grade and values of knowing, by address; null where there is no number."""
    return {
        "of": compared(found),
        "system": found.tornado.system,
        "reference": found.tornado.reference or None,
        "draws": found.draws,
        "seed": found.seed,
        "base": _number(found.tornado.base),
        "bars": [_bar(bar) for bar in found.tornado.bars],
        "choices": [_bar(bar) for bar in found.tornado.choices],
        "no_outcome_at_an_end_of": list(found.tornado.not_told),
        "shares_of_variance": [_plain(asdict(row)) for row in found.shares],
        "share_of_no_row_alone": _number(found.rest),
        "by_grade": {
            "of_swings": [_plain(asdict(one)) for one in found.by_swing],
            "of_variance": [_plain(asdict(one)) for one in found.by_spread],
        },
        "value_of_knowing": {
            "everything": _worth(found.everything),
            "one_more_trial_season": None if found.season is None else _worth(found.season),
            "trial_seasons": found.seasons,
            "rows": [{"address": row.address, "grade": row.grade, **_worth(row.worth)} for row in found.worth],
        },
        "sentences": [sentence for group in influence_groups(found) for sentence in group.sentences],
        "notes": influence_notes(found),
    }


def _bar(bar: Bar) -> dict[str, Any]:
    told = {"low": bar.low, "high": bar.high, "at_low": bar.at_low, "at_high": bar.at_high, "tie": bar.switching}
    return {
        "address": bar.input.address,
        "unit": bar.input.unit,
        "kind": bar.kind,
        "grade": bar.grade,
        **_plain({**told, "swing": bar.swing}),
    }


def _worth(worth: Worth) -> dict[str, Any]:
    return {"value": _number(worth.value), "standard_error": _number(worth.error)}


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    return {key: _number(value) if isinstance(value, float) else value for key, value in row.items()}


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
