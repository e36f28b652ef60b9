"""Title and spoken form of the net benefit curve, made from the rows it shows."""

from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import money_text, share_text

Rows = Sequence[Mapping[str, Any]]


def curve_title(rows: Rows) -> str:
    """Return which treatment the partial budget recommends, and how many are dominated."""
    best = [str(row["label"]) for row in rows if row["recommended"]]
    if len(rows) < 2:
        return "There are not two treatments with a known net benefit to compare"
    dominated = sum(bool(row["dominated"]) for row in rows)
    others = f"; {dominated} of {len(rows)} (hollow) cost more and bring no more than another" if dominated else ""
    return f"{best[0]} pays best for what it costs{others}" if best else "No treatment can be recommended"


def curve_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `curve_chart`: costs that vary, net benefit and marginal rate of each treatment."""
    sentences = " ".join(_sentence(row, currency) for row in rows)
    return (
        f"Scatter of net benefit against costs that vary, in {currency} for a planted square metre and season. "
        f"{sentences} {curve_title(rows)}."
    )


def _sentence(row: Mapping[str, Any], currency: str) -> str:
    costs, benefit = (money_text(float(row[key]), currency) for key in ("costs", "benefit"))
    rate = "" if row["rate"] is None else f", marginal rate {share_text(float(row['rate']))}"
    return f"{row['label']}: costs {costs}, net benefit {benefit}{rate}{', dominated' if row['dominated'] else ''}."
