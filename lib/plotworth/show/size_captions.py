"""What the charts of size, views and programme say in words, made from the rows they are drawn from."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from plotworth.ground.amounts import amount_text, figures_text, money_text
from plotworth.show.captions import join_words

Rows = Sequence[Mapping[str, Any]]
AREA_UNIT = "m²"
MOST_CHANGES = 3


def _area(row: Mapping[str, Any]) -> str:
    return amount_text(float(row["area_m2"]), AREA_UNIT)


def _best(rows: Rows) -> list[Mapping[str, Any]]:
    """Return the row of the best system at each size, from the smallest."""
    return sorted((row for row in rows if row["is_best"]), key=lambda row: float(row["area_m2"]))


def size_title(rows: Rows) -> str:
    """Return which system is worth most from which size on, by `size_curve`."""
    best = _best(rows)
    if not best:
        return "Which system is worth most at which size is not known"
    turns = [row for before, row in pairwise(best) if before["system"] != row["system"]]
    verb = "is worth most" if any(float(row["npv"]) > 0 for row in best) else "loses least"
    if not turns:
        return f"{best[0]['label']} {verb} at every size shown"
    if len(turns) > MOST_CHANGES:
        return f"Which system {verb} changes {len(turns)} times with size, as steps of capacity fall in"
    words = [f"{row['label']} above {_area(row)}" for row in turns]
    return f"{best[0]['label']} {verb} at small sizes, {join_words(words)}"


def size_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `size_chart`: the sizes, and NPV for each household at both ends."""
    known = [row for row in rows if row["npv_per_household"] == row["npv_per_household"]]
    if not known:
        return "Line chart of worth by size; nothing is drawn, since an assumption is unknown."
    parts = []
    for label in dict.fromkeys(row["label"] for row in known):
        own = [row for row in known if row["label"] == label]
        ends = [money_text(float(row["npv_per_household"]), currency) for row in (own[0], own[-1])]
        parts.append(f"{label} from {ends[0]} to {ends[1]}")
    return (
        f"Line chart of NPV for each household from {_area(known[0])} to {_area(known[-1])}, logarithmic axis: "
        f"{'; '.join(parts)}. {size_title(rows)}."
    )


def views_title(rows: Rows) -> str:
    """Return whether the view changes which system is worth most, by `view_rows`."""
    if any(row["npv"] != row["npv"] for row in rows):
        return "What the views come to is not known for every system"
    best = {
        view: max((row for row in rows if row["view"] == view), key=lambda row: float(row["npv"]))
        for view in dict.fromkeys(row["view"] for row in rows)
    }
    labels = {str(row["label"]) for row in best.values()}
    verb = "is worth most" if all(float(row["npv"]) > 0 for row in best.values()) else "does best"
    if len(labels) == 1:
        others = "; the order of the others changes" if _orders(rows) > 1 else ""
        return f"{labels.pop()} {verb} in every view{others}"
    words = [f"{row['label']} in the {view} view" for view, row in best.items()]
    return f"Which system does best depends on the view: {join_words(words)}"


def _orders(rows: Rows) -> int:
    """Return how many orders of the systems by NPV there are over the views."""
    orders = set()
    for view in dict.fromkeys(row["view"] for row in rows):
        own = sorted((row for row in rows if row["view"] == view), key=lambda row: -float(row["npv"]))
        orders.add(tuple(row["system"] for row in own))
    return len(orders)


def views_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `views_chart`: NPV of every system in each view."""
    parts = []
    for view in dict.fromkeys(row["view"] for row in rows):
        own = (row for row in rows if row["view"] == view)
        sums = (f"{row['label']} {money_text(float(row['npv']), currency)}" for row in own)
        parts.append(f"In the {view} view: {', '.join(sums)}.")
    return f"Dot plot of NPV. {' '.join(parts)}"


def adoption_title(rows: Rows) -> str:
    """Return how many households join, and how many farm with it at most, by `adoption_rows`."""
    joined = figures_text(round(float(rows[-1]["joined"])))
    most = max(rows, key=lambda row: float(row["taking_part"]))
    farming = figures_text(round(float(most["taking_part"])))
    return f"{joined} households join; at most {farming} take part, in year {most['year']}"


def adoption_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `adoption_chart`, with what is paid out in all and in the dearest year."""
    total = money_text(sum(float(row["paid_out"]) for row in rows), currency)
    dearest = max(rows, key=lambda row: float(row["paid_out"]))
    half = next(row for row in rows if float(row["joined"]) >= float(rows[-1]["joined"]) / 2)
    return (
        f"Line chart over {len(rows) - 1} years. {adoption_title(rows)}. Half of them have joined by the end of year "
        f"{half['year']}. Who has farmed to the end of the horizon, or dropped out, no longer takes part. Paid out: "
        f"{total}, most in year {dearest['year']}."
    )
