"""What the charts of risk say in words, made from the rows they are drawn from."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from plotworth.ground.amounts import NO_BREAK, amount_text, money_text, number_text
from plotworth.show.captions import join_words

Rows = Sequence[Mapping[str, Any]]
AREA_UNIT = "m²"
EVEN, PERCENT = 0.5, 100.0
UNKNOWN = "How sure it is is not known, since an assumption is unknown"
NATURE = (
    "Numbers that are unknown but stay what they are were drawn once a case, those that differ from year to year anew "
    "in every year; choices were not drawn."
)


def _percent(share: float) -> str:
    return f"{number_text(PERCENT * share, decimals=0)}{NO_BREAK}%"


def spread_title(rows: Rows, system: str, reference: str) -> str:
    """Return in which share of draws a system is worth more than a reference, by `difference_rows` and two labels."""
    if not rows:
        return UNKNOWN
    better = sum(row["share"] for row in rows if row["is_gain"])
    return f"{system} is worth more than {reference} in {_percent(better)} of draws"


def spread_text(rows: Rows, percentiles: Rows, system: str, reference: str, currency: str) -> str:
    """Return the spoken form of `spread_chart`."""
    if not rows:
        return f"Histogram; nothing is drawn. {UNKNOWN}."
    ends = (money_text(float(end), currency) for end in (rows[0]["low"], rows[-1]["high"]))
    marks = (f"{row['name']} {money_text(float(row['value']), currency)}" for row in percentiles)
    return (
        f"Histogram of NPV of {system} less {reference}, from {' to '.join(ends)}. {join_words(list(marks))}. "
        f"{spread_title(rows, system, reference)}. {NATURE}"
    )


def area_chance_title(rows: Rows, reference: str) -> str:
    """Return from which area the chance of being better passes one half, by `area_chance_rows`."""
    known = [row for row in rows if row["chance"] == row["chance"]]
    if not known:
        return UNKNOWN
    parts = [_turn(own) for own in _by_system(known)]
    return f"Against {reference}: {join_words(parts)}"


def _by_system(rows: Rows) -> list[list[Mapping[str, Any]]]:
    systems = dict.fromkeys(row["system"] for row in rows)
    return [sorted((r for r in rows if r["system"] == one), key=lambda r: float(r["area_m2"])) for one in systems]


def _turn(own: Rows) -> str:
    turns = [
        (after, after["chance"] > EVEN)
        for before, after in pairwise(own)
        if (before["chance"] > EVEN) != (after["chance"] > EVEN)
    ]
    label = own[0]["label"]
    if not turns:
        return f"{label} is {'likely' if own[0]['chance'] > EVEN else 'unlikely'} to be better at every area shown"
    if len(turns) > 1:
        return f"the chance of {label} passes one half {len(turns)} times"
    row, rises = turns[0]
    area = amount_text(float(row["area_m2"]), AREA_UNIT, digits=2)
    return f"{label} is likely to be better {'from' if rises else 'below'} about {area}"


def area_chance_text(rows: Rows, reference: str) -> str:
    """Return the spoken form of `area_chance_chart`: chances at both ends, and where they pass one half."""
    known = [row for row in rows if row["chance"] == row["chance"]]
    if not known:
        return f"Line chart; nothing is drawn. {UNKNOWN}."
    ends = [
        f"{own[0]['label']} from {_percent(own[0]['chance'])} to {_percent(own[-1]['chance'])}"
        for own in _by_system(known)
    ]
    return (
        f"Line chart of the chance of being better than {reference} by area, logarithmic axis: {'; '.join(ends)}. "
        f"{area_chance_title(rows, reference)}. The bands show what other draws would have given. {NATURE}"
    )


def years_title(rows: Rows) -> str:
    """Return in how many years out of ten each system covers its running costs, by `year_rows`."""
    if not rows:
        return UNKNOWN
    measure = rows[0]["measure"]
    parts = [f"{row['label']} in {row['of_ten']:.1f}" for row in rows if row["measure"] == measure]
    return f"Of ten years, {join_words(parts)} {measure}"


def years_text(rows: Rows) -> str:
    """Return the spoken form of `years_chart`."""
    parts = (
        f"{measure}: {', '.join(_said(row) for row in rows if row['measure'] == measure)}"
        for measure in dict.fromkeys(row["measure"] for row in rows)
    )
    return f"Bar chart of years out of ten, past learning, that {'; '.join(parts)}. {NATURE}"


def _said(row: Mapping[str, Any]) -> str:
    return f"{row['label']} {row['of_ten']:.1f}"


def settling_title(rows: Rows) -> str:
    """Return how near the chance is known with the draws taken, by `settling_rows`."""
    if not rows:
        return UNKNOWN
    last = rows[-1]
    ends = f"{_percent(last['chance_low'])} to {_percent(last['chance_high'])}"
    return f"After {number_text(last['draws'], decimals=0)} draws the chance lies within {ends}"


def settling_text(rows: Rows) -> str:
    """Return the spoken form of `settling_chart`."""
    if not rows:
        return f"Line chart; nothing is drawn. {UNKNOWN}."
    first, last = rows[0], rows[-1]
    return (
        f"Line chart of the chance of being better as draws are added: {_percent(first['chance'])} after "
        f"{number_text(first['draws'], decimals=0)}, {_percent(last['chance'])} after "
        f"{number_text(last['draws'], decimals=0)}. {settling_title(rows)}."
    )
