"""The charts: rows in, Altair chart out; no chart computes a result.

A chart is made once from what does not move (systems, currency), and reads its rows from data sets by name, so
that a live panel changes the rows alone. For each chart `<chart>_data` lays rows out for drawing: wraps labels,
keeps them apart, writes numbers as text. The message of a chart and its spoken form are in `captions.py`.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import altair as alt

from plotworth.ground.amounts import amount_text, figures_text, interval_text
from plotworth.show import theme

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

CASH_HEIGHT, FLOW_HEIGHT, AXIS_ROOM = 330, 260, 64
PLOT_ROW, HEAD_AT, DOTS_AT, MEAN_AT = 96, -20, 8, 28
WATER_ROW, BAR, BAR_HEAD_AT = 66, 18, -29
LABEL_ROOM = 1.15
NEAR_END = 2  # years before the end in which a deepest point has no room for its number beside the end labels
PER_AREA = "L/m²"


def spread(values: Sequence[float], sizes: Sequence[float]) -> list[float]:
    """Return label places, in the order of the values and around the same middle, where no label covers another.

    `sizes` are the heights of the labels, in the unit of the values.
    """
    moved = list(values)
    order = sorted(range(len(moved)), key=lambda index: moved[index])
    for lower, upper in pairwise(order):
        moved[upper] = max(moved[upper], moved[lower] + (sizes[lower] + sizes[upper]) / 2)
    shift = (sum(moved) - sum(values)) / len(moved) if moved else 0.0
    return [value - shift for value in moved]


def _ends(rows: Rows) -> list[Mapping[str, Any]]:
    """Return the row of the last year of each system."""
    return list({row["system"]: row for row in sorted(rows, key=lambda row: float(row["year"]))}.values())


def _line_of_text(rows: Rows) -> float:
    """Return how much cash one line of text covers on the cash chart."""
    reach = [float(row["cumulative"]) for row in rows] + [0.0]
    return (max(reach) - min(reach)) * theme.LINE_HEIGHT / (CASH_HEIGHT - AXIS_ROOM - 2 * theme.PLOT_PADDING)


def _placed(rows: Rows, texts: Sequence[str], *, line: float, kind: str) -> list[dict[str, Any]]:
    """Return rows with their words and a height for the words at which none covers another."""
    sizes = [line * LABEL_ROOM * (text.count(theme.LINE_BREAK) + 1) for text in texts]
    heights = spread([float(row["cumulative"]) for row in rows], sizes)
    return [
        {**{key: row[key] for key in ("system", "year", "cumulative")}, "kind": kind, "text": text, "text_at": height}
        for row, text, height in zip(rows, texts, heights, strict=True)
    ]


def _end_text(end: Mapping[str, Any], paybacks: Mapping[Any, Mapping[str, Any]]) -> str:
    """Return the words at the end of a line: its label, and when it has paid back or that it has not."""
    label, reached = theme.wrap(str(end["label"])), figures_text(float(end["cumulative"]))
    if end["system"] in paybacks:
        row = paybacks[end["system"]]
        return f"{label}\nrepaid year {figures_text(float(row.get('payback_years', row['year'])), digits=2)}"
    return f"{label}\n{reached}" if float(end["cumulative"]) >= 0 else f"{label}\n{reached}, not repaid"


def cumulative_cash_data(rows: Rows, *, name: str = "cash") -> Datasets:
    """Lay out rows {system, label, year, cumulative, deepest, payback} for `cumulative_cash_chart`.

    `deepest` and `payback` are true in the row of that year. A `payback_years` in the payback row is written
    in place of its whole year.
    """
    line, ends = _line_of_text(rows), _ends(rows)
    paybacks = {row["system"]: row for row in rows if row["payback"]}
    deepest = [row for row in rows if row["deepest"]]
    last = max((float(row["year"]) for row in rows), default=0.0)
    depths = [figures_text(float(row["cumulative"])) if float(row["year"]) < last - NEAR_END else "" for row in deepest]
    return {
        name: [dict(row) for row in rows],
        f"{name}_ends": _placed(ends, [_end_text(end, paybacks) for end in ends], line=line, kind="end"),
        f"{name}_marks": _placed(deepest, depths, line=line, kind="deepest")
        + _placed(list(paybacks.values()), [""] * len(paybacks), line=0.0, kind="payback"),
    }


def cumulative_cash_chart(systems: Mapping[str, str], *, currency: str, name: str = "cash") -> alt.LayerChart:
    """Return lines of the cumulative discounted net benefit of each system, with its deepest point and its payback.

    `systems` gives the label of each system id, in the order of the case; data by `cumulative_cash_data`.
    """
    ids = list(systems)
    colour = alt.Color("system:N", scale=theme.colour_scale(ids), legend=None)
    shape = alt.Shape("system:N", scale=theme.shape_scale(ids), legend=None)
    x = alt.X("year:Q", axis=theme.year_axis(), scale=alt.Scale(nice=False, padding=8))
    room = alt.Scale(zero=True, padding=theme.PLOT_PADDING)
    y = alt.Y("cumulative:Q", axis=theme.money_axis("Cumulative net benefit, discounted", currency), scale=room)
    dash = alt.StrokeDash("system:N", scale=theme.dash_scale(ids), legend=None)
    stroke = alt.Stroke("system:N", scale=theme.colour_scale(ids), legend=None)
    lines = alt.Chart(alt.NamedData(name)).mark_line().encode(x=x, y=y, color=colour, strokeDash=dash)
    ends = alt.Chart(alt.NamedData(f"{name}_ends")).encode(x=x)
    marks = alt.Chart(alt.NamedData(f"{name}_marks")).encode(x=x)
    layers = [
        ends.mark_point().encode(y=y, color=colour, shape=shape),
        *(_event(marks, kind).encode(y=y, stroke=stroke) for kind in ("deepest", "payback")),
        *_words(ends, 10, 0),
        *_words(marks, 9, 12),
    ]
    tables = [_cash_table(name, currency)]
    return theme.dress(alt.layer(_zero_line(), lines, *layers), height=CASH_HEIGHT, tables=tables)


def _event(marks: alt.Chart, kind: str) -> alt.Chart:
    """Return the hollow marks of one kind of event on the cash lines."""
    shape = "triangle-down" if kind == "deepest" else "circle"
    chosen = marks.transform_filter(alt.datum.kind == kind)
    return chosen.mark_point(shape=shape, fill=theme.PAPER, strokeWidth=2, size=80)


def _words(base: alt.Chart, dx: int, dy: int) -> list[alt.Chart]:
    """Return the words of a data set right of their point, on a halo that keeps lines out of the letters."""
    encoded = base.encode(y=alt.Y("text_at:Q"), text=alt.Text("text:N"))
    halo = encoded.mark_text(align="left", baseline="middle", dx=dx, dy=dy, stroke=theme.PAPER, strokeWidth=4)
    return [halo, encoded.mark_text(align="left", baseline="middle", dx=dx, dy=dy)]


def _zero_line() -> alt.Chart:
    return alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(y=alt.datum(0))


def _cash_table(name: str, currency: str) -> dict[str, Any]:
    columns = [
        ["label", "System"],
        ["year", "Year"],
        ["cumulative", f"Cumulative net benefit, discounted [{currency}]"],
    ]
    return {"name": name, "caption": "Cumulative net benefit by year, discounted", "columns": columns}


def yearly_flow_data(rows: Rows, *, name: str = "flow") -> Datasets:
    """Lay out rows {year, flow} for `yearly_flow_chart`."""
    return {name: [dict(row) for row in rows]}


def yearly_flow_chart(label: str, baseline: str, *, currency: str, name: str = "flow") -> alt.LayerChart:
    """Return bars of what one system brings in (up) or costs (down) in each year, less its baseline."""
    bars = (
        alt.Chart(alt.NamedData(name))
        .mark_bar(width={"band": 0.7}, cornerRadius=1)
        .encode(
            x=alt.X("year:O", axis=alt.Axis(title="Year (0 = investment)", labelAngle=0, labelOverlap=True)),
            y=alt.Y("flow:Q", axis=theme.money_axis("Net benefit, difference", currency)),
            color=alt.condition("datum.flow < 0", alt.value(theme.LOSS), alt.value(theme.GAIN)),
        )
    )
    columns = [["year", "Year"], ["flow", f"{label} less {baseline} [{currency}]"]]
    table = {"name": name, "caption": f"Yearly net benefit, {label} less {baseline}", "columns": columns}
    return theme.dress(alt.layer(bars, _zero_line()), height=FLOW_HEIGHT, tables=[table])


def plot_yield_data(plots: Rows, means: Rows, *, name: str = "yields") -> Datasets:
    """Lay out rows {treatment, label, block, kg_per_m2} and {treatment, label, mean, low, high} for `plot_yield_chart`.

    A row without a number (a missing plot, an interval that is not finite) stays in the table and is not drawn.
    """
    return {name: [dict(row) for row in plots], f"{name}_means": [{**row, "text": _mean_text(row)} for row in means]}


def _mean_text(row: Mapping[str, Any]) -> str:
    interval = interval_text(float(row["mean"]), float(row["low"]), float(row["high"]), "kg/m²")
    return f"{row['label']}{theme.LINE_BREAK}mean {interval}"


def plot_yield_chart(
    treatments: Sequence[str], *, joined: Sequence[str] | None = None, name: str = "yields"
) -> alt.LayerChart:
    """Return every plot's yield as a dot, with each treatment's mean and 95 % interval.

    `treatments` are ids in the order of the systems they stand for, so that they take the same colours. The plots
    of a block are joined among the treatments `joined`, neighbours in that order; all of them if left out.
    """
    y = alt.Y("treatment:N", scale=alt.Scale(domain=list(treatments), padding=0), axis=None)
    x = alt.X("kg_per_m2:Q", axis=theme.measure_axis("Marketable yield [kg/m²]", upright=False))
    colour = alt.Color("treatment:N", scale=theme.colour_scale(treatments), legend=None)
    shape = alt.Shape("treatment:N", scale=theme.shape_scale(treatments), legend=None)
    plots = alt.Chart(alt.NamedData(name)).transform_filter("isValid(datum.kg_per_m2)").encode(x=x, y=y)
    ordered = plots.transform_calculate(place=f"indexof({list(treatments)}, datum.treatment)")
    paired = list(treatments if joined is None else joined)
    ordered = ordered.transform_filter(alt.FieldOneOfPredicate(field="treatment", oneOf=paired))
    blocks = ordered.mark_line(color=theme.MUTED, strokeWidth=1, opacity=0.45, yOffset=DOTS_AT)
    dots = plots.mark_point(yOffset=DOTS_AT).encode(color=colour, shape=shape)
    layers = [blocks.encode(detail="block:N", order=alt.Order("place:Q")), dots, *_mean_layers(name, y)]
    height = PLOT_ROW * len(treatments) + AXIS_ROOM
    return theme.dress(alt.layer(*layers), height=height, tables=_yield_tables(name))


def _mean_layers(name: str, y: alt.Y) -> list[alt.Chart]:
    """Return interval and mean, drawn under the dots of a treatment, and its name and numbers above them."""
    means = alt.Chart(alt.NamedData(f"{name}_means")).encode(y=y)
    bar = means.mark_rule(color=theme.INK, strokeWidth=3, yOffset=MEAN_AT).encode(x="low:Q", x2="high:Q")
    mean = means.mark_tick(color=theme.INK, thickness=3, size=16, opacity=1, yOffset=MEAN_AT).encode(x="mean:Q")
    return [bar, mean, *_heads(means, HEAD_AT)]


def _heads(base: alt.Chart, dy: int) -> list[alt.Chart]:
    """Return the words above a row of a chart, from its left edge, on a halo that keeps lines out of the letters."""
    encoded = base.encode(x=alt.value(0), text="text:N")
    halo = encoded.mark_text(align="left", baseline="bottom", dy=dy, dx=4, stroke=theme.PAPER, strokeWidth=4)
    return [halo, encoded.mark_text(align="left", baseline="bottom", dy=dy, dx=4)]


def _yield_tables(name: str) -> list[dict[str, Any]]:
    plots = [["label", "Treatment"], ["block", "Block"], ["kg_per_m2", "Marketable yield [kg/m²]"]]
    means = [["label", "Treatment"], ["mean", "Mean [kg/m²]"], ["low", "Low, 95 %"], ["high", "High, 95 %"]]
    return [
        {"name": f"{name}_means", "caption": "Mean yield with its 95 % interval over plots", "columns": means},
        {"name": name, "caption": "Yield of every plot", "columns": plots},
    ]


def water_data(rows: Rows, *, unit: str = PER_AREA, name: str = "water") -> Datasets:
    """Lay out rows {system, label, part, litres} for `water_chart`; litres per the unit, part "" for a single bar."""
    written = [{**row, "key": f"{row['system']}/{row['part']}", "text": _water_text(row, unit)} for row in rows]
    return {name: written}


def _water_text(row: Mapping[str, Any], unit: str) -> str:
    part = f"{row['part']}: " if row["part"] else ""
    return f"{row['label']}{theme.LINE_BREAK}{part}{amount_text(float(row['litres']), unit)}"


def water_chart(
    systems: Sequence[str], parts: Sequence[str] = ("",), *, unit: str = PER_AREA, name: str = "water"
) -> alt.LayerChart:
    """Return a bar of water for each system and part, its name and litres written above it.

    `systems` are ids in the order of the case; `parts` are what each system's water is told apart into ("" for none).
    """
    keys = [f"{system}/{part}" for system in systems for part in parts]
    y = alt.Y("key:N", scale=alt.Scale(domain=keys, padding=0), axis=None)
    base = alt.Chart(alt.NamedData(name)).encode(y=y)
    axis = theme.measure_axis(f"Water [{unit}]", upright=False, grid=False)
    colour = alt.Color("system:N", scale=theme.colour_scale(systems), legend=None)
    bars = base.mark_bar(cornerRadius=1, height=BAR).encode(x=alt.X("litres:Q", axis=axis), color=colour)
    columns = [["label", "System"], ["part", "Part"], ["litres", f"Water [{unit}]"]]
    table = {"name": name, "caption": "Water by system", "columns": columns}
    height = WATER_ROW * len(keys) + AXIS_ROOM
    return theme.dress(alt.layer(bars, *_heads(base, BAR_HEAD_AT)), height=height, tables=[table])
