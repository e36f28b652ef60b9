"""What each chart says in words: a title that states the message, and a text spoken in place of the picture.

Both are made from the rows the chart is drawn from, so they change with the data and cannot disagree with it.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import amount_text, centre_text, figures_text, interval_text, money_text

Rows = Sequence[Mapping[str, Any]]


def join_words(words: Sequence[str]) -> str:
    """Return `a`, `a and b`, `a, b and c`."""
    return " and ".join(part for part in (", ".join(words[:-1]), "".join(words[-1:])) if part)


def plural(count: int, word: str) -> str:
    """Return `1 plot`, `2 plots`."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _labels(rows: Rows) -> list[str]:
    return list(dict.fromkeys(str(row["label"]) for row in rows))


def _of(rows: Rows, label: str) -> list[Mapping[str, Any]]:
    return [row for row in rows if row["label"] == label]


def _last(rows: Rows) -> Mapping[str, Any]:
    return max(rows, key=lambda row: float(row["year"]))


def _payback_words(rows: Rows) -> str:
    """Return when the money of one system has come back, or that it has not, within its rows."""
    row = next((row for row in rows if row["payback"]), None)
    if row is not None:
        return f"repaid in year {figures_text(float(row.get('payback_years', row['year'])), digits=2)}"
    return "not repaid" if float(_last(rows)["cumulative"]) < 0 else "nothing to repay"


def cumulative_cash_title(rows: Rows, currency: str) -> str:
    """Return whose added-up net benefit is highest in the last year and whose goes deepest."""
    highest = max((_last(_of(rows, label)) for label in _labels(rows)), key=lambda row: float(row["cumulative"]))
    deepest = min(rows, key=lambda row: float(row["cumulative"]))
    most, depth = (money_text(float(row["cumulative"]), currency) for row in (highest, deepest))
    return f"Highest after year {highest['year']}: {highest['label']}, {most}; deepest: {deepest['label']}, {depth}"


def cumulative_cash_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `cumulative_cash_chart`, one sentence a system."""
    sentences = [_cash_sentence(_of(rows, label), label, currency) for label in _labels(rows)]
    return f"Line chart of cumulative net benefit by year, discounted, in {currency}. {' '.join(sentences)}"


def _cash_sentence(rows: Rows, label: str, currency: str) -> str:
    deepest, end = min(rows, key=lambda row: float(row["cumulative"])), _last(rows)
    depth, reached = (money_text(float(row["cumulative"]), currency) for row in (deepest, end))
    lowest = f"{label}: lowest in year {deepest['year']}, {depth}"
    return f"{lowest}; {_payback_words(rows)}; in year {end['year']} {reached}."


def yearly_flow_title(rows: Rows, label: str, baseline: str, currency: str) -> str:
    """Return the difference in year 0 and in how many of the later years it is less."""
    start = next((money_text(float(row["flow"]), currency) for row in rows if int(row["year"]) == 0), "nothing")
    later = [float(row["flow"]) for row in rows if int(row["year"]) > 0]
    fewer = sum(flow < 0 for flow in later)
    return f"{label} less {baseline}: {start} in year 0, then worse in {fewer} of {len(later)} years"


def yearly_flow_text(rows: Rows, label: str, baseline: str, currency: str) -> str:
    """Return the spoken form of `yearly_flow_chart`, year by year."""
    years = [f"year {row['year']} {money_text(float(row['flow']), currency)}" for row in rows]
    return f"Bar chart of the yearly net benefit of {label} less that of {baseline}: {', '.join(years)}."


def plot_yield_title(means: Rows) -> str:
    """Return the means from high to low; no difference is claimed."""
    ranked = sorted(means, key=lambda row: -float(row["mean"]))
    return "Mean yield: " + join_words([f"{row['label']} {_mean_text(row)}" for row in ranked])


def _mean_text(row: Mapping[str, Any]) -> str:
    return centre_text(float(row["mean"]), float(row["low"]), float(row["high"]), "kg/m²")


def plot_yield_text(plots: Rows, means: Rows) -> str:
    """Return the spoken form of `plot_yield_chart`: plots, range and mean with its interval by treatment."""
    sentences = [_yield_sentence(_of(plots, str(mean["label"])), mean) for mean in means]
    return f"Dot chart of the marketable yield of every plot. {' '.join(sentences)}"


def _yield_sentence(plots: Rows, mean: Mapping[str, Any]) -> str:
    measured = [float(row["kg_per_m2"]) for row in plots if row["kg_per_m2"] == row["kg_per_m2"]]
    reach = f" from {figures_text(min(measured))} to {figures_text(max(measured))}" if measured else ""
    written = interval_text(float(mean["mean"]), float(mean["low"]), float(mean["high"]), "kg/m²")
    return f"{mean['label']}: {plural(len(measured), 'plot')}{reach}, mean and 95 % interval {written}."


def water_title(rows: Rows, unit: str) -> str:
    """Return who takes least and who takes most water, the parts of a system added up."""
    totals = {label: sum(float(row["litres"]) for row in _of(rows, label)) for label in _labels(rows)}
    least, most = min(totals, key=totals.__getitem__), max(totals, key=totals.__getitem__)
    if least == most:
        return f"Water: {least}, {amount_text(totals[least], unit)}"
    low, high = amount_text(totals[least], unit), amount_text(totals[most], unit)
    return f"Least water: {least}, {low}; most: {most}, {high}"


def water_text(rows: Rows, unit: str) -> str:
    """Return the spoken form of `water_chart`."""
    bars = [f"{_bar_name(row)} {amount_text(float(row['litres']), unit)}" for row in rows]
    return f"Bar chart of water by system: {', '.join(bars)}."


def _bar_name(row: Mapping[str, Any]) -> str:
    return f"{row['label']}, {row['part']}:" if row["part"] else f"{row['label']}:"
