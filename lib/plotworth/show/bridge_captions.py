"""What the bridge chart says in words, made from the rows it is drawn from."""

from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import money_text
from plotworth.show.captions import join_words

Rows = Sequence[Mapping[str, Any]]
PART = "part"
MOST_NAMED = 2
LARGE_SHARE = 0.25
"""A part is named in the title where it is at least this share of all that moved, ups and downs added."""


def bridge_title(rows: Rows, system: str, currency: str) -> str:
    """Return by how much a system's NPV moved, and what did most of it, by `bridge_rows`."""
    if not rows:
        return f"Why the worth of {system} moved is not known"
    before, after = float(rows[0]["amount"]), float(rows[-1]["amount"])
    parts = [row for row in rows[1:-1] if row["kind"] == PART]
    if not parts:
        return f"{system}: nothing that moved changes its NPV of {money_text(before, currency)}"
    verb = "gains" if after > before else "loses"
    size = money_text(abs(after - before), currency)
    moved = sum(abs(float(row["amount"])) for row in rows[1:-1])
    large = [row for row in parts if abs(float(row["amount"])) >= LARGE_SHARE * moved][:MOST_NAMED] or parts[:1]
    names = join_words([str(row["label"]).lower() for row in large])
    same = "does not move on balance" if after == before else f"{verb} {size}"
    return f"{system} {same}; what moves it most: {names}"


def bridge_text(rows: Rows, system: str, currency: str) -> str:
    """Return the spoken form of `bridge_chart`: the value before, what each part adds, the value after."""
    if not rows:
        return f"Bridge chart for {system}; nothing is drawn, since an assumption is unknown."
    parts = [f"{row['label']} {money_text(float(row['amount']), currency)}" for row in rows[1:-1]]
    told = "; ".join(parts) if parts else "nothing"
    before, after = (money_text(float(row["amount"]), currency) for row in (rows[0], rows[-1]))
    return (
        f"Bridge chart of the NPV of {system}. {rows[0]['label']}: {before}. What moved it, from the greatest: {told}. "
        f"{rows[-1]['label']}: {after}."
    )
