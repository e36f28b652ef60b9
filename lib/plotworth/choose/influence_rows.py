"""Rows for the charts of influence: bars of the tornado, shares of variance, values of knowing, parts by grade."""

import math
from collections.abc import Iterator, Sequence
from typing import Any

from plotworth.choose.crossover_table import value_text
from plotworth.choose.drawn_rows import CHOICE, YEARLY
from plotworth.choose.evidence_share import GRADE_WORDS, NO_GRADE
from plotworth.choose.influence import Influence
from plotworth.choose.information_value import Worth
from plotworth.choose.input_names import input_name
from plotworth.choose.tornado import Bar

Rows = list[dict[str, Any]]
MOST_BARS, MOST_DOTS, MOST_WORTH = 10, 12, 8
SEEN_SHARE = 0.005
KIND_WORDS = {YEARLY: "every year alike", CHOICE: "a choice"}
EVERYTHING, SEASON = "Everything, luck of the years included", "One more season of the trial"
SURE = 1.96
"""Standard errors above 0 from which on a value of knowing is told from noise."""


def tornado_rows(found: Influence, *, most: int = MOST_BARS) -> Rows:
    """Return the greatest bars, then the choices.

    Rows: name, grade_words, kind, is_choice, at_low, at_high, base, swing, tie, words. `at_low` and `at_high` [money],
    with the row at its low and high end; `tie` in words, "" where the bar does not cross 0; `words`: the ends, the tie,
    what the row is.
    """
    return [_bar_row(found, bar) for bar in (*found.tornado.bars[:most], *found.tornado.choices)]


def _bar_row(found: Influence, bar: Bar) -> dict[str, Any]:
    unit = bar.input.unit
    tie = "" if math.isnan(bar.switching) else value_text(bar.switching, unit)
    ends = f"{value_text(bar.low, unit)} to {value_text(bar.high, unit)}"
    kind = KIND_WORDS.get(bar.kind, "")
    grade = GRADE_WORDS[bar.grade]
    told = [ends, f"tie at {tie}" if tie else "", kind or grade, grade if kind and bar.kind != CHOICE else ""]
    return {
        "name": input_name(found.layout, bar.input.address),
        "grade_words": grade,
        "kind": bar.kind,
        "is_choice": bar.kind == CHOICE,
        "at_low": bar.at_low,
        "at_high": bar.at_high,
        "base": bar.base,
        "swing": bar.swing,
        "tie": tie,
        "words": "; ".join(part for part in told if part),
    }


def share_rows(found: Influence, *, most: int = MOST_DOTS) -> Rows:
    """Return the greatest shares of variance of at least half a per cent: name, grade_words, share, low, high."""
    return [
        {
            "name": input_name(found.layout, row.address),
            "grade_words": GRADE_WORDS[row.grade],
            "share": row.share,
            "low": max(row.share - SURE * row.error, 0.0),
            "high": row.share + SURE * row.error,
        }
        for row in found.shares[:most]
        if row.share >= SEEN_SHARE
    ]


def worth_rows(found: Influence, *, most: int = MOST_WORTH) -> Rows:
    """Return what knowing is worth: everything, one more season, rows told from noise: name, grade_words, value, ends.

    `low` and `high` [money], 95 % of what as many draws could have given; `is_row`, false for the first two.
    """
    if not found.is_known:
        return []
    told = [row for row in found.worth if row.worth.value > SURE * row.worth.error][:most]
    season = [] if found.season is None else [_worth_row(SEASON, NO_GRADE, found.season, is_row=False)]
    rows = (_worth_row(input_name(found.layout, row.address), row.grade, row.worth, is_row=True) for row in told)
    return [_worth_row(EVERYTHING, NO_GRADE, found.everything, is_row=False), *season, *rows]


def _worth_row(name: str, grade: str, worth: Worth, *, is_row: bool) -> dict[str, Any]:
    return {
        "name": name,
        "grade_words": GRADE_WORDS[grade],
        "value": worth.value,
        "low": max(worth.value - SURE * worth.error, 0.0),
        "high": worth.value + SURE * worth.error,
        "is_row": is_row,
    }


def evidence_rows(found: Influence) -> Rows:
    """Return parts by grade: grade_words, rows (drawn), spread and swing [share]."""
    return list(_evidence_rows(found)) if found.is_known else []


def _evidence_rows(found: Influence) -> Iterator[dict[str, Any]]:
    swings = {one.grade: one.share for one in found.by_swing}
    for one in found.by_spread:
        yield {"grade_words": one.words, "rows": one.rows, "spread": one.share, "swing": swings.get(one.grade, 0.0)}


def names_of(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Return the names of rows in their order, each once: the places of a chart from top to bottom."""
    return list(dict.fromkeys(str(row["name"]) for row in rows))
