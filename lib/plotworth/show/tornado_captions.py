"""What the charts of influence say in words, made from the rows they are drawn from."""

from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import money_text, share_text
from plotworth.show.captions import plural

Rows = Sequence[Mapping[str, Any]]
MOST_NAMED, HALF, DIGITS = 3, 0.5, 2
JUDGEMENT = ("judged", "no grade")


def _listed(names: Sequence[str]) -> str:
    """Return names that hold commas themselves, told apart by semicolons."""
    return "; ".join(names)


def _judged(rows: Rows) -> float:
    return sum(float(row["spread"]) for row in rows if row["grade_words"] in JUDGEMENT)


def tornado_title(rows: Rows) -> str:
    """Return which row moves the outcome most and how many turn the decision alone, by `tornado_rows`."""
    bars = [row for row in rows if not row["is_choice"]]
    if not bars:
        return "No row with a range moves the outcome"
    turning = [str(row["name"]) for row in bars if row["tie"]]
    if not turning:
        return f"{bars[0]['name']} moves it most; no row shown turns the decision alone"
    if len(turning) > MOST_NAMED:
        return f"{bars[0]['name']} moves it most; {len(turning)} rows each turn the decision alone"
    return f"{bars[0]['name']} moves it most. Alone would turn the decision: {_listed(turning)}"


def tornado_text(rows: Rows, title: str, currency: str) -> str:
    """Return the spoken form of `tornado_chart`: every bar with its ends and its tie."""
    if not rows:
        return f"Tornado chart of {title}; nothing is drawn."
    parts = [
        f"{row['name']} ({row['words']}): {money_text(float(row['at_low']), currency)} to "
        f"{money_text(float(row['at_high']), currency)}"
        for row in rows
    ]
    case = money_text(float(rows[0]["base"]), currency)
    return f"Tornado chart of {title}, {case} in this case, each row alone at either end. {'; '.join(parts)}."


def share_title(rows: Rows) -> str:
    """Return which rows most of the spread comes from, by `share_rows`."""
    if not rows:
        return "No row alone makes the spread"
    total, few = 0.0, []
    for row in rows:
        few.append(str(row["name"]))
        total += float(row["share"])
        if total >= HALF or len(few) == MOST_NAMED:
            break
    return f"{share_text(total, digits=DIGITS)} of the spread comes from: {_listed(few)}"


def share_text_spoken(rows: Rows, title: str) -> str:
    """Return the spoken form of `share_chart`: every share with its grade."""
    parts = [f"{row['name']} {share_text(float(row['share']), digits=DIGITS)}, {row['grade_words']}" for row in rows]
    return f"Dot chart of shares of the spread of {title}: {'; '.join(parts) or 'no row has one'}."


def worth_title(rows: Rows, currency: str) -> str:
    """Return what is most worth knowing, by `worth_rows`."""
    if not rows:
        return "What knowing would be worth is not known"
    found = [row for row in rows if row["is_row"]]
    everything = money_text(float(rows[0]["value"]), currency)
    if not found:
        return f"Knowing everything is worth {everything}; no row alone would change the choice"
    value = money_text(float(found[0]["value"]), currency, digits=DIGITS)
    return f"{found[0]['name']} is most worth knowing: {value}, of {everything} for everything"


def worth_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `worth_chart`: every value with its interval."""
    parts = [
        f"{row['name']} {money_text(float(row['value']), currency, digits=DIGITS)} "
        f"({money_text(float(row['low']), currency, digits=DIGITS)} to "
        f"{money_text(float(row['high']), currency, digits=DIGITS)})"
        for row in rows
    ]
    return (
        f"Bar chart of what knowing would be worth before choosing: {'; '.join(parts)}. {worth_title(rows, currency)}."
    )


def evidence_title(rows: Rows) -> str:
    """Return how much of the spread rests on judged rows, by `evidence_rows`."""
    if not rows or any(row["spread"] != row["spread"] for row in rows):
        return "No row moves the outcome, so that it rests on none"
    judged = _judged(rows)
    start = "More than half" if judged > HALF else share_text(judged, digits=DIGITS)
    end = f", {share_text(judged, digits=DIGITS)}," if judged > HALF else ""
    return f"{start} of the spread{end} rests on judged rows"


def evidence_text(rows: Rows, title: str) -> str:
    """Return the spoken form of `evidence_chart`: every grade with its parts and rows."""
    parts = [
        f"{row['grade_words']}: {share_text(float(row['spread']), digits=DIGITS)} of the spread and "
        f"{share_text(float(row['swing']), digits=DIGITS)} of the swings from {plural(int(row['rows']), 'row')}"
        for row in rows
    ]
    return f"Bar chart of what {title} rests on by grade of evidence: {'; '.join(parts)}."
