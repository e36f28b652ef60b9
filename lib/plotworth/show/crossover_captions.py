"""What the charts of the crossover say in words, made from the rows they are drawn from."""

from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import amount_text, money_text
from plotworth.show.captions import join_words

Rows = Sequence[Mapping[str, Any]]
AREA_UNIT = "m²"
MOST_TURNS = 3


def area_title(ties: Rows) -> str:
    """Return where two systems change places, by `tie_rows`."""
    if not ties:
        return "No two systems change places at any area shown"
    if len(ties) > MOST_TURNS:
        return f"Systems change places at {len(ties)} areas, as steps of capacity fall in"
    words = [f"{row['above']} overtakes {row['below']} at {row['text']}" for row in ties]
    return join_words(words)


def area_text(rows: Rows, ties: Rows, currency: str) -> str:
    """Return the spoken form of `area_chart`: NPV of every system at both ends, and where two change places."""
    known = [row for row in rows if row["npv"] == row["npv"]]
    if not known:
        return "Line chart of net present value by area; nothing is drawn, since an assumption is unknown."
    parts = []
    for label in dict.fromkeys(str(row["label"]) for row in known):
        own = [row for row in known if row["label"] == label]
        low, high = (money_text(float(row["npv"]), currency) for row in (own[0], own[-1]))
        parts.append(f"{label} from {low} to {high}")
    ends = [amount_text(float(row["area_m2"]), AREA_UNIT) for row in (known[0], known[-1])]
    return (
        f"Line chart of net present value from {ends[0]} to {ends[1]}, logarithmic axis: {'; '.join(parts)}. "
        f"{area_title(ties)}."
    )


def grid_title(rows: Rows, system: str, reference: str) -> str:
    """Return in how many cells of a grid which of the two is worth more."""
    known = [row for row in rows if row["ahead"] == row["ahead"]]
    ahead = sum(row["ahead"] > 0 for row in known)
    if not known:
        return "Which is worth more is not known"
    if ahead in (0, len(known)):
        return f"{system if ahead else reference} is worth more in every cell"
    return f"{system} is worth more in {ahead} of {len(known)} cells (blue, above 0), {reference} in the others"


def grid_text(rows: Rows, system: str, reference: str, currency: str) -> str:
    """Return the spoken form of `grid_chart`: its least and its greatest number, and who is worth more where."""
    known = [row for row in rows if row["difference"] == row["difference"]]
    if not known:
        return "Grid of two assumptions; no number is known, since an assumption is unknown."
    ends = [choose(known, key=lambda row: float(row["difference"])) for choose in (min, max)]
    words = [f"{money_text(float(r['difference']), currency)} at {r['first']} and {r['second']}" for r in ends]
    return (
        f"Grid of NPV of {system} less that of {reference}: from {words[0]} to {words[1]}. "
        f"{grid_title(rows, system, reference)}."
    )


def switching_title(rows: Rows) -> str:
    """Return which assumptions turn the order within what one would believe, by `switching_rows`."""
    believed = [str(row["name"]) for row in rows if row["is_believed"]]
    if not rows:
        return "No assumption by itself turns the order"
    if not believed:
        return f"No assumption turns the order within its believed range; nearest: {rows[0]['name']}"
    if len(believed) == 1:
        return f"{believed[0]} could turn the order by itself"
    return f"{len(believed)} of the assumptions shown could each turn the order by itself; nearest: {believed[0]}"


def switching_text(rows: Rows) -> str:
    """Return the spoken form of `switching_chart`: each assumption with its tie."""
    if not rows:
        return "Chart of switching values; no assumption by itself turns the order."
    words = "; ".join(f"{row['name']}, {row['words']}" for row in rows)
    return f"Ranges of assumptions with the value at which the two tie: {words}. {switching_title(rows)}."
