"""What each chart of a trial says in words: a title that states the message, and a text spoken for the picture.

Both are made from the rows the chart is drawn from. They report means and ratios with their intervals; what may be
concluded from them is said by the trial's claims, never by a title.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import amount_text, centre_text, figures_text, interval_text, share_text
from plotworth.show.captions import join_words, plural

Rows = Sequence[Mapping[str, Any]]
PER = {
    "irrigated": "per m³ irrigated",
    "all inflow": "per m³ of all inflow",
    "evapotranspiration": "per m³ of evapotranspiration",
}
TIMES = "times"


def _known(rows: Rows, key: str) -> list[Mapping[str, Any]]:
    return [row for row in rows if not math.isnan(float(row[key]))]


def _interval(row: Mapping[str, Any], value: str, unit: str) -> str:
    return interval_text(float(row[value]), float(row["low"]), float(row["high"]), unit)


def _centre(row: Mapping[str, Any], value: str, unit: str) -> str:
    return centre_text(float(row[value]), float(row["low"]), float(row["high"]), unit)


def paired_title(means: Rows, *, heading: str, unit: str) -> str:
    """Return the highest and the lowest mean; no difference is claimed."""
    known = sorted(_known(means, "mean"), key=lambda row: -float(row["mean"]))
    if not known:
        return f"{heading}: no plot has a value"
    ends = known[:1] if len(known) == 1 else [known[0], known[-1]]
    words = [f"{row['label']} {_centre(row, 'mean', unit)}" for row in ends]
    return f"{heading}, mean over blocks: {' to '.join(words)}"


def paired_text(dots: Rows, means: Rows, *, heading: str, unit: str) -> str:
    """Return the spoken form of `paired_chart`: plots, range and mean with its interval by treatment."""
    sentences = [_treatment_sentence([d for d in dots if d["label"] == row["label"]], row, unit) for row in means]
    out = [str(dot["plot"]) for dot in dots if dot["left_out"]]
    hollow = f" Left out: {join_words(out)}." if out else ""
    return f"Dot chart of every plot, {heading.lower()}. {' '.join(sentences)}{hollow}"


def _treatment_sentence(dots: Rows, mean: Mapping[str, Any], unit: str) -> str:
    values = [float(dot["value"]) for dot in _known(dots, "value")]
    reach = f" from {figures_text(min(values))} to {figures_text(max(values))}" if values else ""
    written = _interval(mean, "mean", unit)
    return f"{mean['label']}: {plural(len(values), 'plot')}{reach}, mean and 95 % interval {written}."


def ratio_title(rows: Rows, *, reference: str, by: str) -> str:
    """Return the first ratio with its interval; `by` is the column that tells the rows apart, outcome or label."""
    known = _known(rows, "ratio")
    if not known:
        return f"No ratio to {reference} can be worked out"
    first = known[0]
    what = f"{first['label']}, {str(first['outcome']).lower()}" if by == "outcome" else first[by]
    many = f", and {plural(len(known) - 1, 'more ratio')}" if len(known) > 1 else ""
    return f"{what}: {_interval(first, 'ratio', TIMES)} that of {reference}{many}"


def ratio_text(rows: Rows, *, reference: str, by: str) -> str:
    """Return the spoken form of `ratio_chart`, row by row, with the band of gains too small to matter."""
    words = [f"{row[by]}: {_ratio_words(row)}" for row in rows]
    worth = _known(rows, "worth_from")
    band = ""
    if worth:
        low, high = (figures_text(float(worth[0][end])) for end in ("worth_from", "worth_to"))
        band = f" The band of {low} to {high} holds differences in yield smaller than the gain worth having."
    return f"Dot chart of ratios to {reference} with 95 % intervals. {'; '.join(words)}.{band}"


def _ratio_words(row: Mapping[str, Any]) -> str:
    if math.isnan(float(row["ratio"])):
        return f"not known, {row['reason']}" if row["reason"] else "not known"
    return _interval(row, "ratio", TIMES)


def cumulative_title(rows: Rows, early: Mapping[str, Any], *, pair: Sequence[str]) -> str:
    """Return what share of the pair's season had been picked by the end of the early days."""
    words = [f"{label} {share_text(share, digits=2)}" for label, share in _early_shares(rows, early, pair)]
    if not words:
        return "Nothing was picked"
    return f"Picked by {early['date']}, share of the season: {join_words(words)}"


def _early_shares(rows: Rows, early: Mapping[str, Any], pair: Sequence[str]) -> list[tuple[str, float]]:
    found = []
    for treatment in pair:
        means = [row for row in rows if row["treatment"] == treatment and row["plot"] == ""]
        total = float(means[-1]["kg_per_m2"]) if means else 0.0
        first = [float(row["kg_per_m2"]) for row in means if early and row["at_ms"] <= early["at_ms"]]
        if total > 0 and first:
            found.append((str(means[-1]["label"]), first[-1] / total))
    return found


def cumulative_text(rows: Rows, early: Mapping[str, Any]) -> str:
    """Return the spoken form of `cumulative_chart`: by treatment, early and in all, and over how many plots."""
    sentences = []
    for treatment in dict.fromkeys(row["treatment"] for row in rows):
        own = [row for row in rows if row["treatment"] == treatment]
        means, plots = [row for row in own if row["plot"] == ""], {row["plot"] for row in own} - {""}
        first = [row for row in means if early and row["at_ms"] <= early["at_ms"]]
        begun = f"{amount_text(float(first[-1]['kg_per_m2']), 'kg/m²')} by {early['date']}, " if first else ""
        total = amount_text(float(means[-1]["kg_per_m2"]), "kg/m²")
        sentences.append(f"{means[-1]['label']}, {plural(len(plots), 'plot')}: {begun}{total} by {means[-1]['date']}.")
    return f"Line chart of the yield added up over the picking days. {' '.join(sentences)}"


def fruit_mass_title(rows: Rows, *, pair: Sequence[str]) -> str:
    """Return how the mean mass of a fruit changed from the first to the last picking, for the pair."""
    words = []
    for treatment in pair:
        own = [row for row in rows if row["treatment"] == treatment]
        if own:
            first, last = (figures_text(float(own[end]["mean"]), digits=2) for end in (0, -1))
            words.append(f"{own[0]['label']} {first} to {last} g")
    return f"Mean mass of a fruit, first to last picking: {join_words(words)}" if words else "No fruit was weighed"


def fruit_mass_text(rows: Rows) -> str:
    """Return the spoken form of `fruit_mass_chart`: by treatment every picking with its interval."""
    sentences = []
    for label in dict.fromkeys(str(row["label"]) for row in rows):
        days = [f"{row['date']} {_interval(row, 'mean', 'g')}" for row in rows if row["label"] == label]
        sentences.append(f"{label}: {', '.join(days)}.")
    return f"Line chart of the mean mass of a fruit by picking, with 95 % intervals over plots. {' '.join(sentences)}"


def productivity_title(rows: Rows, published: Rows) -> str:
    """Return who brings most and who least per m3 irrigated, and whether a published range stands beside it."""
    known = sorted(_known([row for row in rows if row["per"] == "irrigated"], "kg_per_m3"), key=_kilograms)
    if not known:
        return "Kilograms per m³ of water: not known"
    ends = [known[0]] if len(known) == 1 else [known[-1], known[0]]
    words = [f"{row['label']} {amount_text(_kilograms(row), 'kg/m³')}" for row in ends]
    beside = "" if published else "; no published range of this crop is known here"
    return f"Yield per m³ irrigated: {' to '.join(words)}{beside}"


def _kilograms(row: Mapping[str, Any]) -> float:
    return float(row["kg_per_m3"])


def productivity_text(rows: Rows, published: Rows) -> str:
    """Return the spoken form of `productivity_chart`: three ways by treatment, then the published ranges."""
    sentences = []
    for label in dict.fromkeys(str(row["label"]) for row in rows):
        words = [_productivity_words(row) for row in rows if row["label"] == label]
        sentences.append(f"{label}: {', '.join(words)}.")
    ranges = [
        f"{row['condition']}, {figures_text(float(row['low']))} to {amount_text(float(row['high']), 'kg/m³')}"
        for row in published
    ]
    beside = f" Published: {'; '.join(ranges)}." if ranges else " No published range of this crop is known here."
    return f"Dot chart of marketable yield per water. {' '.join(sentences)}{beside}"


def _productivity_words(row: Mapping[str, Any]) -> str:
    reason = f" ({row['reason']})" if row["reason"] else ""
    return f"{PER[row['per']]} {amount_text(_kilograms(row), 'kg/m³')}{reason}"


def crossing_title(rows: Rows, *, across: str, other: str, unit: str) -> str:
    """Return what the step of the second factor comes to at each level of the first."""
    steps = []
    for level in dict.fromkeys(str(row["first"]) for row in rows):
        means = [float(row["mean"]) for row in rows if row["first"] == level]
        steps.append(f"{level} {figures_text(means[-1] - means[0], digits=2)}")
    ends = list(dict.fromkeys(str(row["second"]) for row in rows))
    head = f"{other[0].upper()}{other[1:]}, {ends[-1]} less {ends[0]}"
    return f"{head}, by {across} [{unit}]: {join_words(steps)}"


def crossing_text(rows: Rows, *, across: str, other: str, unit: str) -> str:
    """Return the spoken form of `crossing_chart`, every mean with its interval."""
    means = [f"{row['first']}, {row['second']} {_interval(row, 'mean', unit)}" for row in rows]
    return f"Line chart of means by {across} and {other}, with 95 % intervals: {'; '.join(means)}."
