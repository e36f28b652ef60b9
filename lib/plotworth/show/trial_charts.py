"""The charts of a trial: rows in, Altair chart out; no chart computes a result.

As in `charts.py`: a chart is made once from what does not move, `<chart>_data` lays its rows out, a live panel
changes the rows alone. Treatments keep colour, dash and shape of their place on every chart.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.ground.amounts import figures_text, interval_text
from plotworth.show import theme

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

AXIS_ROOM, LEGEND_ROOM = 64, 44
PAIRED_ROW, PAIRED_HEAD_AT, DOTS_AT, MEAN_AT = 84, -18, 6, 26
RATIO_ROW, RATIO_HEAD_AT, RATIO_AT, BAND = 56, -1, 12, 22
WATER_ROW, WATER_HEAD_AT, WATER_AT, PUBLISHED_BAR, PUBLISHED_TICK = 56, -1, 12, 8, 16
PER_MARKS: Mapping[str, tuple[str, str]] = {
    "irrigated": ("circle", theme.COLOURS[0]),
    "all inflow": ("square", theme.COLOURS[2]),
    "evapotranspiration": ("triangle-up", theme.COLOURS[1]),
}
PUBLISHED = "published"


def _bands(keys: Sequence[str]) -> alt.Y:
    """Return a row of its own for each key, all of one height, without axis: the words stand in the row."""
    return alt.Y("key:N", scale=alt.Scale(type="band", domain=list(keys), padding=0), axis=None)


def _heads(base: alt.Chart, dy: int) -> list[alt.Chart]:
    """Return the words above a row of a chart, from its left edge, on a halo that keeps lines out of the letters."""
    encoded = base.encode(x=alt.value(0), text="text:N")
    halo = encoded.mark_text(align="left", baseline="bottom", dy=dy, dx=4, stroke=theme.PAPER, strokeWidth=4)
    return [halo, encoded.mark_text(align="left", baseline="bottom", dy=dy, dx=4)]


def treatment_marks(treatments: Sequence[str]) -> dict[str, Any]:
    """Return colour and shape of each treatment."""
    return {
        "color": alt.Color("treatment:N", scale=theme.colour_scale(treatments), legend=None),
        "shape": alt.Shape("treatment:N", scale=theme.shape_scale(treatments), legend=None),
    }


def named(name: str, valid: str = "") -> alt.Chart:
    """Return a chart of a data set, of its rows alone whose field holds a number."""
    chart = alt.Chart(alt.NamedData(name))
    return chart.transform_filter(f"isValid(datum.{valid})") if valid else chart


def paired_data(dots: Rows, means: Rows, *, unit: str, name: str = "paired") -> Datasets:
    """Lay out `dot_rows` and `mean_rows` of one outcome for `paired_chart`."""
    written = [{**row, "key": row["treatment"], "text": _mean_text(row, unit)} for row in means]
    return {name: [{**row, "key": row["treatment"]} for row in dots], f"{name}_means": written}


def _mean_text(row: Mapping[str, Any], unit: str) -> str:
    interval = interval_text(float(row["mean"]), float(row["low"]), float(row["high"]), unit)
    return f"{row['label']}: {interval}"


def paired_chart(
    treatments: Sequence[str], pair: Sequence[str], *, heading: str, unit: str, name: str = "paired"
) -> alt.LayerChart:
    """Return every plot as a dot with each treatment's mean and 95 % interval, the plots of a block joined for a pair.

    The pair stands on top, the other treatments below it in their order; all keep the colour of their place. A plot
    left out is hollow. `heading` and `unit` are those of the outcome.
    """
    y = _bands([*pair, *(treatment for treatment in treatments if treatment not in pair)])
    x = alt.X("value:Q", axis=theme.measure_axis(f"{heading} [{unit}]", upright=False))
    plots = named(name, "value").encode(x=x, y=y)
    joined = plots.transform_filter("datum.block !== '' && !datum.left_out")
    joined = joined.transform_calculate(place=f"indexof({list(pair)}, datum.treatment)")
    joined = joined.transform_filter("datum.place >= 0")
    blocks = joined.mark_line(color=theme.MUTED, strokeWidth=1, opacity=0.6, yOffset=DOTS_AT)
    taken = plots.transform_filter("!datum.left_out").mark_point(yOffset=DOTS_AT, opacity=0.85)
    out = plots.transform_filter("datum.left_out").mark_point(yOffset=DOTS_AT, filled=False, strokeWidth=2)
    marks = treatment_marks(treatments)
    layers = [
        blocks.encode(detail="block:N", order=alt.Order("place:Q")),
        taken.encode(**marks),
        out.encode(**marks),
        *_interval(f"{name}_means", y),
        *_heads(named(f"{name}_means").encode(y=y), PAIRED_HEAD_AT),
    ]
    height = PAIRED_ROW * len(treatments) + AXIS_ROOM
    return theme.dress(alt.layer(*layers), height=height, tables=_paired_tables(name, heading, unit))


def _interval(data: str, y: alt.Y) -> list[alt.Chart]:
    """Return the mean as a tick on its interval, drawn under the dots of a treatment."""
    bar = named(data, "low").mark_rule(color=theme.INK, strokeWidth=3, yOffset=MEAN_AT)
    mean = named(data, "mean").mark_tick(color=theme.INK, thickness=3, size=16, opacity=1, yOffset=MEAN_AT)
    return [bar.encode(y=y, x="low:Q", x2="high:Q"), mean.encode(y=y, x="mean:Q")]


def _paired_tables(name: str, heading: str, unit: str) -> list[dict[str, Any]]:
    means = [["label", "Treatment"], ["plots", "Plots"], ["mean", f"Mean [{unit}]"], ["low", "Low, 95 %"]]
    plots = [["plot", "Plot"], ["label", "Treatment"], ["block", "Block"], ["value", f"{heading} [{unit}]"]]
    return [
        {"name": f"{name}_means", "caption": f"{heading}: means", "columns": [*means, ["high", "High, 95 %"]]},
        {"name": name, "caption": f"{heading} of every plot", "columns": plots},
    ]


def ratio_data(rows: Rows, *, by: str, name: str = "ratios") -> Datasets:
    """Lay out `ratio_rows` for `ratio_chart`; `by` is the column that tells the rows apart: outcome or label."""
    return {name: [{**row, "text": _ratio_text(row, by)} for row in rows], f"{name}_even": [{"even": 1.0}]}


def _ratio_text(row: Mapping[str, Any], by: str) -> str:
    if math.isnan(float(row["ratio"])):
        return f"{row[by]}: no ratio"
    return f"{row[by]}: {interval_text(float(row['ratio']), float(row['low']), float(row['high']), 'times')}"


def ratio_chart(keys: Sequence[str], *, reference: str, name: str = "ratios") -> alt.LayerChart:
    """Return a ratio to the reference on each row with its 95 % interval; a grey band where a gain is too small.

    `keys` are those of the rows, from the top down; `reference` is a label. A ratio of 1 is no difference.
    """
    y, base = _bands(keys), named(name, "ratio")
    axis = theme.measure_axis(f"Ratio to {reference} [1 is no difference]", upright=False)
    x = alt.X("ratio:Q", axis=axis, scale=alt.Scale(zero=False, padding=theme.PLOT_PADDING))
    band = named(name, "worth_from").mark_bar(color=theme.GRID, height=BAND, yOffset=RATIO_AT)
    even = named(f"{name}_even").mark_rule(color=theme.MUTED, strokeWidth=1.5, strokeDash=[4, 3]).encode(x="even:Q")
    bar = named(name, "low").mark_rule(color=theme.INK, strokeWidth=3, yOffset=RATIO_AT)
    dot = base.mark_point(color=theme.COLOURS[0], size=90, shape="diamond", yOffset=RATIO_AT)
    layers = [
        band.encode(y=y, x=alt.X("worth_from:Q"), x2="worth_to:Q"),
        even,
        bar.encode(y=y, x="low:Q", x2="high:Q"),
        dot.encode(x=x, y=y),
        *_heads(named(name).encode(y=y), RATIO_HEAD_AT),
    ]
    columns = [["outcome", "Outcome"], ["label", "Treatment"], ["ratio", f"Ratio to {reference}"]]
    columns += [["low", "Low, 95 %"], ["high", "High, 95 %"], ["reason", "Why not"]]
    table = {"name": name, "caption": f"Ratios to {reference}", "columns": columns}
    return theme.dress(alt.layer(*layers), height=RATIO_ROW * len(keys) + AXIS_ROOM, tables=[table])


def productivity_data(rows: Rows, published: Rows, *, name: str = "per_water") -> Datasets:
    """Lay out `productivity_rows` and `published_rows` for `productivity_chart`."""
    heads: dict[str, list[str]] = {}
    for row in rows:
        value = float(row["kg_per_m3"])
        if not math.isnan(value):
            heads.setdefault(row["treatment"], []).append(f"{figures_text(value)} {row['per']}")
    labels = {row["treatment"]: row["label"] for row in rows}
    written = [
        {"key": key, "text": f"{label}: {', '.join(heads.get(key, ['not known']))}"} for key, label in labels.items()
    ]
    ranges = [
        {**row, "key": f"{PUBLISHED}{place}", "text": _published_text(row)} for place, row in enumerate(published)
    ]
    return {
        name: [{**row, "key": row["treatment"]} for row in rows],
        f"{name}_heads": [*written, *({"key": row["key"], "text": row["text"]} for row in ranges)],
        f"{name}_published": ranges,
    }


def _published_text(row: Mapping[str, Any]) -> str:
    low, high = (figures_text(float(row[end])) for end in ("low", "high"))
    reach = low if low == high else f"{low} to {high}"
    return f"Published, {row['condition'].split(';')[0]}: {reach}"


def productivity_chart(
    treatments: Sequence[str], known: Sequence[str], *, published: int, name: str = "per_water"
) -> alt.LayerChart:
    """Return kilograms per m3 of each treatment, several ways, published ranges of the crop in rows below them.

    Parameters: known, which m3 stand below a line (keys of PER_MARKS), told by shape and colour; published, how many
    ranges there are.
    """
    y = _bands([*treatments, *(f"{PUBLISHED}{place}" for place in range(published))])
    x = alt.X("kg_per_m3:Q", axis=theme.measure_axis("Marketable yield per water [kg/m³]", upright=False))
    per = [name for name in PER_MARKS if name in known]
    shapes, colours = ([PER_MARKS[name][place] for name in per] for place in (0, 1))
    legend = alt.Legend(orient="top", title="per m³", columns=2, labelFontSize=theme.TEXT_SIZE, labelLimit=200)
    dots = (
        named(name, "kg_per_m3")
        .mark_point(yOffset=WATER_AT, size=90)
        .encode(
            x=x.scale(zero=True),
            y=y,
            color=alt.Color("per:N", scale=alt.Scale(domain=per, range=colours), legend=legend),
            shape=alt.Shape("per:N", scale=alt.Scale(domain=per, range=shapes), legend=legend),
        )
    )
    band = named(f"{name}_published").mark_bar(color=theme.MUTED, height=PUBLISHED_BAR, yOffset=WATER_AT)
    ranges = band.encode(y=y, x="low:Q", x2="high:Q")
    point = named(f"{name}_published").mark_tick(color=theme.MUTED, thickness=4, size=PUBLISHED_TICK, yOffset=WATER_AT)
    heads = _heads(named(f"{name}_heads").encode(y=y), WATER_HEAD_AT)
    height = WATER_ROW * (len(treatments) + published) + AXIS_ROOM + LEGEND_ROOM
    layers = [ranges, point.encode(y=y, x="low:Q"), dots, *heads]
    return theme.dress(alt.layer(*layers), height=height, tables=_productivity_tables(name))


def _productivity_tables(name: str) -> list[dict[str, Any]]:
    own = [
        ["label", "Treatment"],
        ["per", "Per m³ of"],
        ["kg_per_m3", "Yield per water [kg/m³]"],
        ["reason", "Why not"],
    ]
    ranges = [["condition", "Published for"], ["low", "Low [kg/m³]"], ["high", "High [kg/m³]"], ["source", "Source"]]
    return [
        {"name": name, "caption": "Kilograms per m³, by three denominators", "columns": own},
        {"name": f"{name}_published", "caption": "Published ranges", "columns": ranges},
    ]
