"""The charts of a trial's season and of its factors: pickings added up, size of fruit, one factor against another.

As in `trial_charts.py`: rows in, Altair chart out; no chart computes a result.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.show import theme
from plotworth.show.charts import spread
from plotworth.show.trial_charts import Datasets, Rows, named, treatment_marks
from plotworth.show.water_charts import MONTHS

AXIS_ROOM, SEASON_HEIGHT, CROSS_HEIGHT = 64, 340, 320
LABEL_ROOM, LABEL_GAP, CROSS_GAP = 1.15, 10, 16
BESIDE_MS = 18_000_000  # five hours, so that the intervals of one day stand beside each other


def _time(field: str) -> alt.X:
    """Return the axis of picking days: moments in universal time, a label a month."""
    axis = alt.Axis.from_dict(
        {"title": None, "labelExpr": MONTHS, "tickCount": "month", "grid": False, "labelFlush": False}
    )
    return alt.X(f"{field}:T", scale=alt.Scale(type="utc", nice=False, padding=6), axis=axis)


def cumulative_data(rows: Rows, early: Mapping[str, Any], *, name: str = "pickings") -> Datasets:
    """Lay out `cumulative_rows` and `early_row` for `cumulative_chart`."""
    plots, means = ([dict(row) for row in rows if (row["plot"] == "") is mean] for mean in (False, True))
    ends = list({row["treatment"]: row for row in means}.values())
    text = f"early: to {early['date']}" if early else ""
    return {
        name: means,
        f"{name}_plots": plots,
        f"{name}_ends": _placed(ends, "kg_per_m2", reach=max((row["kg_per_m2"] for row in rows), default=0.0)),
        f"{name}_early": [{**early, "text": text}] if early else [],
    }


def _placed(ends: Rows, field: str, *, reach: float) -> list[dict[str, Any]]:
    """Return the ends of lines with their words at heights where none covers another; `reach` is the axis' length."""
    line = reach * theme.LINE_HEIGHT / (SEASON_HEIGHT - AXIS_ROOM - theme.PLOT_PADDING)
    texts = [theme.wrap(str(row["label"])) for row in ends]
    sizes = [line * LABEL_ROOM * (text.count(theme.LINE_BREAK) + 1) for text in texts]
    heights = spread([float(row[field]) for row in ends], sizes)
    return [{**row, "text": text, "text_at": at} for row, text, at in zip(ends, texts, heights, strict=True)]


def cumulative_chart(treatments: Sequence[str], *, name: str = "pickings") -> alt.LayerChart:
    """Return the yield added up over the picking days: a thin line a plot, a thick one the mean of a treatment."""
    colour = alt.Color("treatment:N", scale=theme.colour_scale(treatments), legend=None)
    x, axis = _time("at_ms"), theme.measure_axis("Picked up to the day [kg/m²]", upright=True)
    y = alt.Y("kg_per_m2:Q", axis=axis, scale=alt.Scale(zero=True))
    thin = named(f"{name}_plots").mark_line(strokeWidth=0.8, opacity=0.3).encode(x=x, y=y, color=colour)
    dash = alt.StrokeDash("treatment:N", scale=theme.dash_scale(treatments), legend=None)
    early = named(f"{name}_early").encode(x=_time("at_ms"))
    halo = early.encode(y=alt.datum(0), text="text:N")
    words = {"align": "left", "baseline": "bottom", "dx": 6, "dy": -4}
    layers = [
        thin.encode(detail="plot:N"),
        early.mark_rule(color=theme.MUTED, strokeDash=[4, 3], strokeWidth=1),
        halo.mark_text(**words, stroke=theme.PAPER, strokeWidth=4),
        halo.mark_text(**words),
        named(name).mark_line(strokeWidth=2.5).encode(x=x, y=y, color=colour, strokeDash=dash),
        *_ends(f"{name}_ends", treatments, "kg_per_m2"),
    ]
    columns = [["label", "Treatment"], ["date", "Picked up to"], ["kg_per_m2", "Mean over plots [kg/m²]"]]
    plots = [["plot", "Plot"], *columns[:2], ["kg_per_m2", "Picked so far [kg/m²]"]]
    tables = [
        {"name": name, "caption": "Yield added up over the picking days, means over plots", "columns": columns},
        {"name": f"{name}_plots", "caption": "Yield added up over the picking days, every plot", "columns": plots},
    ]
    return theme.dress(alt.layer(*layers), height=SEASON_HEIGHT, tables=tables)


def _ends(data: str, treatments: Sequence[str], field: str) -> list[alt.Chart]:
    """Return the mark and the words at the end of every line."""
    ends = named(data).encode(x=_time("at_ms"))
    words = ends.encode(y=alt.Y("text_at:Q"), text="text:N")
    style = {"align": "left", "baseline": "middle", "dx": LABEL_GAP}
    return [
        ends.mark_point().encode(y=alt.Y(f"{field}:Q"), **treatment_marks(treatments)),
        words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4),
        words.mark_text(**style),
    ]


def fruit_mass_data(rows: Rows, shown: Sequence[str], *, name: str = "fruit_mass") -> Datasets:
    """Lay out `fruit_mass_rows` for `fruit_mass_chart`; `shown` are the treatments whose intervals are drawn."""
    places = {treatment: place for place, treatment in enumerate(shown)}
    middle = (len(places) - 1) / 2
    bars = [
        {**row, "at_ms": row["at_ms"] + round((places[row["treatment"]] - middle) * BESIDE_MS)}
        for row in rows
        if row["treatment"] in places
    ]
    ends = list({row["treatment"]: row for row in rows}.values())
    values = [float(row[key]) for row in rows for key in ("mean", "low", "high") if row[key] == row[key]]
    reach = max(values, default=1.0) - min(values, default=0.0)
    return {name: [dict(row) for row in rows], f"{name}_bars": bars, f"{name}_ends": _placed(ends, "mean", reach=reach)}


def fruit_mass_chart(treatments: Sequence[str], *, name: str = "fruit_mass") -> alt.LayerChart:
    """Return the mean mass of a fruit by picking: a line a treatment, with 95 % intervals over plots where laid out."""
    marks = treatment_marks(treatments)
    dash = alt.StrokeDash("treatment:N", scale=theme.dash_scale(treatments), legend=None)
    axis = theme.measure_axis("Mean mass of a fruit [g]", upright=True)
    y = alt.Y("mean:Q", axis=axis, scale=alt.Scale(zero=False, padding=theme.PLOT_PADDING))
    x, bars = _time("at_ms"), named(f"{name}_bars", "low")
    layers = [
        named(name).mark_line(strokeWidth=1.5).encode(x=x, y=y, color=marks["color"], strokeDash=dash),
        bars.mark_rule(strokeWidth=2).encode(x=x, y=alt.Y("low:Q"), y2="high:Q", color=marks["color"]),
        named(f"{name}_bars").mark_point(size=50).encode(x=x, y=y, **marks),
        *_ends(f"{name}_ends", treatments, "mean"),
    ]
    columns = [["label", "Treatment"], ["date", "Picked on"], ["mean", "Mean mass of a fruit [g]"]]
    columns += [["low", "Low, 95 %"], ["high", "High, 95 %"], ["plots", "Plots"], ["fruits", "Fruit weighed"]]
    table = {"name": name, "caption": "Mean mass of a fruit by picking, over plots", "columns": columns}
    return theme.dress(alt.layer(*layers), height=SEASON_HEIGHT, tables=[table])


def crossing_data(rows: Rows, *, name: str = "crossing") -> Datasets:
    """Lay out `interaction_rows` for `crossing_chart`."""
    ends = list({row["second"]: row for row in rows}.values())
    values = [float(row[key]) for row in rows for key in ("mean", "low", "high") if row[key] == row[key]]
    labelled = [{**row, "label": row["second"]} for row in ends]
    reach = max(values, default=1.0) - min(values, default=0.0)
    return {name: [dict(row) for row in rows], f"{name}_ends": _placed(labelled, "mean", reach=reach)}


def crossing_chart(
    first: Sequence[str], second: Sequence[str], *, across: str, heading: str, unit: str, name: str = "crossing"
) -> alt.LayerChart:
    """Return the mean at every pair of levels: those of one factor along the axis, a line a level of the other.

    Parameters: levels of the two factors; across, the name of the first; heading and unit of the outcome. Lines that
    run alike mean that one factor does the same at every level of the other.
    """
    colour = alt.Color("second:N", scale=theme.colour_scale(second), legend=None)
    shape = alt.Shape("second:N", scale=theme.shape_scale(second), legend=None)
    dash = alt.StrokeDash("second:N", scale=theme.dash_scale(second), legend=None)
    beside = alt.XOffset("second:N", scale=alt.Scale(domain=list(second), range=[-6, 6]))
    x = alt.X("first:N", sort=list(first), axis=alt.Axis(title=across, labelAngle=0, grid=False), scale=_points())
    axis = theme.measure_axis(f"{heading} [{unit}]", upright=True)
    y = alt.Y("mean:Q", axis=axis, scale=alt.Scale(zero=False, padding=theme.PLOT_PADDING))
    base, ends = named(name, "mean").encode(x=x, xOffset=beside), named(f"{name}_ends").encode(x=x)
    words, style = ends.encode(y=alt.Y("text_at:Q"), text="text:N"), {"align": "left", "baseline": "middle"}
    layers = [
        base.mark_line(strokeWidth=2).encode(y=y, color=colour, strokeDash=dash),
        base.transform_filter("isValid(datum.low)")
        .mark_rule(strokeWidth=2)
        .encode(y=alt.Y("low:Q"), y2="high:Q", color=colour),
        base.mark_point(size=80).encode(y=y, color=colour, shape=shape),
        words.mark_text(**style, dx=CROSS_GAP, stroke=theme.PAPER, strokeWidth=4),
        words.mark_text(**style, dx=CROSS_GAP),
    ]
    columns = [["first", across], ["second", "Other factor"], ["mean", f"Mean [{unit}]"], ["low", "Low, 95 %"]]
    table = {"name": name, "caption": f"{heading} by both factors", "columns": [*columns, ["high", "High, 95 %"]]}
    return theme.dress(alt.layer(*layers), height=CROSS_HEIGHT, tables=[table])


def _points() -> alt.Scale:
    """Return the scale that sets levels evenly apart, with room for words after the last."""
    return alt.Scale(type="point", padding=0.5)
