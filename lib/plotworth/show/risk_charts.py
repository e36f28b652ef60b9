"""The charts of risk: the spread of a difference, chances by area, years out of ten, how the draws settle.

As in `charts.py`: rows in, Altair chart out; no chart computes a result.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.ground.amounts import amount_text, figures_text
from plotworth.show import theme
from plotworth.show.charts import spread

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

SPREAD_HEIGHT, AREA_HEIGHT, SETTLING_HEIGHT, AXIS_ROOM = 300, 340, 280, 64
YEAR_ROW, HEAD_AT, NAME_AT, BAR_AT, BAR_SIZE = 40, 8, -8, 9, 12
TENS = [10.0**power for power in range(-1, 9)]
GAIN, LOSS = "better", "worse"
LABEL_GAP = 10
BAND = 0.22
TEN = 10
QUARTERS = [0, 0.25, 0.5, 0.75, 1]
NAMES_AT = (1.3, 1.2, 1.1)
"""Heights of the names of P10, P50 and P90 [tallest bar]: above the bars, one below the other."""


def spread_data(rows: Rows, percentiles: Rows, *, name: str = "spread") -> Datasets:
    """Lay out `difference_rows` and `percentile_rows` for `spread_chart`."""
    bars = [{**row, "outcome": GAIN if row["is_gain"] else LOSS} for row in rows]
    tallest = max((float(row["share"]) for row in rows), default=0.0)
    marks = [
        {**row, "text": f"{row['name']}: {figures_text(float(row['value']))}", "text_at": at * tallest}
        for row, at in zip(percentiles, NAMES_AT, strict=False)
    ]
    return {name: bars, f"{name}_marks": marks}


def spread_chart(*, currency: str, name: str = "spread") -> alt.LayerChart:
    """Return the draws of a difference as bars, those above 0 apart from those below, with P10, P50 and P90."""
    colours = alt.Scale(domain=[GAIN, LOSS], range=[theme.GAIN, theme.LOSS])
    axis = theme.measure_axis(f"Difference of NPV [{currency}]", upright=False, grid=False)
    x = alt.X("low:Q", axis=axis, scale=alt.Scale(zero=False, nice=False, padding=8))
    shares = alt.Axis(title="Share of draws", format="%", titleAngle=0, titleAlign="left", titleAnchor="start")
    shares.titleX, shares.titleY = 0, 0
    room = alt.Scale(zero=True, padding=0)
    bars = alt.Chart(alt.NamedData(name)).mark_bar(opacity=0.75, stroke=theme.PAPER, strokeWidth=0.5)
    marks = alt.Chart(alt.NamedData(f"{name}_marks"))
    at = alt.X("value:Q")
    words = marks.encode(x=at, y=alt.Y("text_at:Q"), text="text:N")
    style = {"align": "left", "baseline": "middle", "dx": 5}
    layers = [
        bars.encode(
            x=x,
            x2="high:Q",
            y=alt.Y("share:Q", axis=shares, scale=room),
            y2=alt.datum(0),
            color=alt.Color("outcome:N", scale=colours, legend=alt.Legend(title=None, orient="bottom")),
        ),
        alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.INK, strokeWidth=1.5).encode(x=alt.datum(0)),
        marks.mark_rule(color=theme.INK, strokeDash=[4, 3], strokeWidth=1).encode(x=at),
        words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4),
        words.mark_text(**style),
    ]
    columns = [["low", f"From [{currency}]"], ["high", f"To [{currency}]"], ["share", "Share of draws"]]
    tables = [
        {"name": name, "caption": "Draws of the difference of NPV, in even steps", "columns": columns},
        {
            "name": f"{name}_marks",
            "caption": "Percentiles",
            "columns": [["name", "Percentile"], ["value", f"Difference [{currency}]"]],
        },
    ]
    return theme.dress(alt.layer(*layers), height=SPREAD_HEIGHT, tables=tables)


def area_chance_data(rows: Rows, own_m2: float, *, name: str = "area_chance") -> Datasets:
    """Lay out `area_chance_rows` for `area_chance_chart`; `own_m2`, the area of the case [m2]."""
    known = [dict(row) for row in rows if row["chance"] == row["chance"]]
    ends = list({row["system"]: row for row in known}.values())
    texts = [theme.wrap(str(row["label"])) for row in ends]
    line = theme.LINE_HEIGHT / (AREA_HEIGHT - AXIS_ROOM)
    heights = spread([row["chance"] for row in ends], [line * (1 + text.count(theme.LINE_BREAK)) for text in texts])
    return {
        name: known,
        f"{name}_own": [{"area_m2": own_m2, "text": f"the case: {amount_text(own_m2, 'm²')}"}],
        f"{name}_ends": [{**row, "text": t, "text_at": at} for row, t, at in zip(ends, texts, heights, strict=True)],
    }


def area_chance_chart(systems: Sequence[str], *, name: str = "area_chance") -> alt.LayerChart:
    """Return a line a system: its chance of being better by area, with the band in which other draws would fall.

    `systems`: ids of all systems of the case, in its order; the area on a logarithmic axis; a rule at even chances.
    """
    colour = alt.Color("system:N", scale=theme.colour_scale(systems), legend=None)
    dash = alt.StrokeDash("system:N", scale=theme.dash_scale(systems), legend=None)
    shape = alt.Shape("system:N", scale=theme.shape_scale(systems), legend=None)
    axis = {"title": "Gross area [m²], logarithmic", "labelExpr": theme.GROUPED, "grid": False}
    tens = alt.Axis.from_dict({**axis, "values": TENS})
    x = alt.X("area_m2:Q", scale=alt.Scale(type="log", nice=False, padding=8), axis=tens)
    above = {"titleAngle": 0, "titleAlign": "left", "titleAnchor": "start", "titleX": 0, "titleY": 0}
    percent = alt.Axis.from_dict({"title": "Chance of being better", "format": "%", "values": QUARTERS, **above})
    room = alt.Scale(domain=[0, 1], padding=theme.PLOT_PADDING)
    y = alt.Y("chance:Q", axis=percent, scale=room)
    base, ends = alt.Chart(alt.NamedData(name)), alt.Chart(alt.NamedData(f"{name}_ends"))
    own = alt.Chart(alt.NamedData(f"{name}_own")).encode(x=x)
    fill = alt.Fill("system:N", scale=theme.colour_scale(systems), legend=None)
    words = ends.encode(x=x, y=alt.Y("text_at:Q"), text="text:N")
    style = {"align": "left", "baseline": "middle", "dx": LABEL_GAP}
    layers = [
        base.mark_area(opacity=BAND).encode(x=x, y=alt.Y("low:Q"), y2="high:Q", fill=fill),
        alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(y=alt.datum(0.5)),
        own.mark_rule(color=theme.MUTED, strokeDash=[4, 3], strokeWidth=1),
        own.encode(y=alt.value("height"), text="text:N").mark_text(align="right", baseline="bottom", dx=-6, dy=-4),
        base.mark_line().encode(x=x, y=y, color=colour, strokeDash=dash),
        ends.mark_point().encode(x=x, y=y, color=colour, shape=shape),
        words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4),
        words.mark_text(**style),
    ]
    columns = [["label", "System"], ["area_m2", "Gross area [m²]"], ["chance", "Chance of being better"]]
    columns += [["low", "Band from"], ["high", "Band to"]]
    table = {"name": name, "caption": "Chance of being better by area", "columns": columns}
    return theme.dress(alt.layer(*layers), height=AREA_HEIGHT, tables=[table])


def years_data(rows: Rows, *, name: str = "years") -> Datasets:
    """Lay out `year_rows` for `years_chart`."""
    written = [
        {**row, "key": f"{row['measure']}/{row['system']}", "text": f"{row['label']}: {row['of_ten']:.1f}"}
        for row in rows
    ]
    heads = [{"key": f"{measure}/", "text": f"{measure}:"} for measure in dict.fromkeys(row["measure"] for row in rows)]
    return {name: written, f"{name}_heads": heads}


def years_chart(rows: Rows, systems: Sequence[str], *, name: str = "years") -> alt.LayerChart:
    """Return a bar from 0 to 10 for every measure and system: in how many years out of ten it holds."""
    measures = dict.fromkeys(str(row["measure"]) for row in rows)
    keys = [key for measure in measures for key in _keys_of(rows, measure)]
    y = alt.Y("key:N", scale=alt.Scale(type="band", domain=keys, paddingInner=0.15), axis=None)
    axis = alt.Axis(title="Years out of ten", values=list(range(0, TEN + 1, 2)), grid=True)
    x = alt.X("of_ten:Q", axis=axis, scale=alt.Scale(domain=[0, TEN]))
    colour = alt.Color("system:N", scale=theme.colour_scale(systems), legend=None)
    base, heads = alt.Chart(alt.NamedData(name)).encode(y=y), alt.Chart(alt.NamedData(f"{name}_heads")).encode(y=y)
    layers = [
        base.mark_bar(size=BAR_SIZE, yOffset=BAR_AT).encode(x=x, color=colour),
        *_left(base, "normal", NAME_AT),
        *_left(heads, "bold", HEAD_AT),
    ]
    columns = [["measure", "Years that"], ["label", "System"], ["of_ten", "Years out of ten"]]
    table = {"name": name, "caption": "Years out of ten, past learning", "columns": columns}
    return theme.dress(alt.layer(*layers), height=YEAR_ROW * len(keys) + AXIS_ROOM, tables=[table])


def _keys_of(rows: Rows, measure: str) -> list[str]:
    return [f"{measure}/", *(f"{measure}/{row['system']}" for row in rows if row["measure"] == measure)]


def _left(base: alt.Chart, weight: str, dy: int) -> list[alt.Chart]:
    """Return words in a row at the left edge of the chart, on a halo that keeps bars out of the letters."""
    words = base.encode(x=alt.value(0), text="text:N")
    style = {"align": "left", "baseline": "middle", "dx": 4, "dy": dy, "fontWeight": weight}
    return [words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4), words.mark_text(**style)]


def settling_data(rows: Rows, *, name: str = "settling") -> Datasets:
    """Lay out `settling_rows` for `settling_chart`."""
    return {name: [dict(row) for row in rows]}


def settling_chart(*, name: str = "settling") -> alt.LayerChart:
    """Return the chance of being better as draws are added, with the band in which as many others would fall."""
    axis = alt.Axis.from_dict({"title": "Draws", "labelExpr": theme.GROUPED, "grid": False, "values": TENS})
    x = alt.X("draws:Q", scale=alt.Scale(type="log", nice=False, padding=8), axis=axis)
    above = {"titleAngle": 0, "titleAlign": "left", "titleAnchor": "start", "titleX": 0, "titleY": 0}
    percent = alt.Axis.from_dict({"title": "Chance of being better", "format": "%", "tickCount": 5, **above})
    y = alt.Y("chance:Q", axis=percent, scale=alt.Scale(zero=False, padding=theme.PLOT_PADDING))
    base = alt.Chart(alt.NamedData(name)).encode(x=x)
    layers = [
        base.mark_area(opacity=BAND, color=theme.COLOURS[0]).encode(y=alt.Y("chance_low:Q"), y2="chance_high:Q"),
        base.mark_line(color=theme.COLOURS[0]).encode(y=y),
    ]
    columns = [["draws", "Draws"], ["chance", "Chance"], ["chance_low", "Band from"], ["chance_high", "Band to"]]
    columns += [["mean", "Mean difference"], ["low", "Mean from"], ["high", "Mean to"]]
    table = {"name": name, "caption": "Chance and mean difference as draws are added", "columns": columns}
    return theme.dress(alt.layer(*layers), height=SETTLING_HEIGHT, tables=[table])
