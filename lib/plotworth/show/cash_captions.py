"""Titles and spoken forms of the charts of cash and labour by month, made from the rows they show."""

from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import figures_text, money_text

Rows = Sequence[Mapping[str, Any]]


def _of(rows: Rows) -> dict[str, list[Mapping[str, Any]]]:
    """Return the rows of each label, in their order."""
    found: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows:
        found.setdefault(str(row["label"]), []).append(row)
    return found


def balance_title(rows: Rows, currency: str) -> str:
    """Return whose balance goes deepest in the months shown, and when."""
    deepest = min(rows, key=lambda row: float(row["closing"]))
    if float(deepest["closing"]) >= 0.0:
        return "No balance falls below zero in the months shown"
    depth = money_text(float(deepest["closing"]), currency)
    return f"Deepest balance: {deepest['label']}, {depth} in month {deepest['month']} ({deepest['when']})"


def balance_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `balance_chart`, a sentence a system."""
    sentences = [_balance_sentence(label, own, currency) for label, own in _of(rows).items()]
    return f"Line chart of the balance at the end of each month, in {currency}. {' '.join(sentences)}"


def _balance_sentence(label: str, rows: Rows, currency: str) -> str:
    lowest, last = min(rows, key=lambda row: float(row["closing"])), rows[-1]
    depth, end = (money_text(float(row["closing"]), currency) for row in (lowest, last))
    below = sum(float(row["closing"]) < 0.0 for row in rows)
    return (
        f"{label}: lowest {depth} in month {lowest['month']}, {lowest['when']}; below zero at the end of {below} of "
        f"{len(rows)} months; at the end of month {last['month']} {end}."
    )


def calendar_title(rows: Rows) -> str:
    """Return the lean months of the systems: those of all of them, or each system's own."""
    lean = {label: [str(row["name"]) for row in own if row["lean"]] for label, own in _of(rows).items()}
    if len({tuple(months) for months in lean.values()}) == 1:
        return f"Lean months of a normal year: {_listed(next(iter(lean.values())))}"
    shared = [month for month in next(iter(lean.values())) if all(month in months for months in lean.values())]
    if shared:
        return f"Lean months of a normal year, in every system: {_listed(shared)}"
    return "Lean months: " + "; ".join(f"{label} {_listed(months)}" for label, months in lean.items())


def _listed(months: Sequence[str]) -> str:
    if len(months) < 2:
        return "".join(months) or "none"
    return f"{', '.join(months[:-1])} and {months[-1]}"


def calendar_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `calendar_chart`: each system's lean months with their amounts, and its best month."""
    sentences = []
    for label, own in _of(rows).items():
        lean = [f"{row['name']} {money_text(float(row['net']), currency)}" for row in own if row["lean"]]
        best = max(own, key=lambda row: float(row["net"]))
        most = money_text(float(best["net"]), currency)
        sentences.append(f"{label}: lean in {_listed(lean)}; most in {best['name']}, {most}.")
    return f"Calendar of the net cash of a normal year by month and system, in {currency}. {' '.join(sentences)}"


def labour_title(rows: Rows) -> str:
    """Return a system's month of most family work, against the hours at hand where the book states them."""
    label, peak = rows[0]["label"], max(rows, key=lambda row: float(row["family"]))
    most = f"{figures_text(float(peak['family']))} family hours in {peak['name']}"
    at_hand = float(peak["at_hand"])
    if at_hand != at_hand:
        return f"{label}: most work of the family, {most}; hours at hand are not stated"
    short = [str(row["name"]) for row in rows if float(row["short"]) > 0.0]
    if not short:
        return f"{label}: {most} at most, within the {figures_text(at_hand)} at hand"
    return f"{label}: {most}, above the {figures_text(at_hand)} at hand; short in {_listed(short)}"


def labour_text(rows: Rows) -> str:
    """Return the spoken form of `labour_chart`, month by month."""
    months = [
        f"{row['name']} {figures_text(float(row['family']))} family and {figures_text(float(row['hired']))} hired"
        for row in rows
    ]
    return f"Bar chart of the hours of work of {rows[0]['label']} by month: {', '.join(months)}."
