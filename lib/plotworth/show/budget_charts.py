"""The chart of a partial budget: the net benefit curve. Rows of `choose.budget_rows` in, Altair chart out."""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.show import theme
from plotworth.show.charts import spread

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

HEIGHT, AXIS_ROOM = 340, 64
LABEL_ROOM, LABEL_GAP, X_PADDING = 1.15, 12, 24
POINT_SIZE, HOLLOW_WIDTH = 110, 2
LEFT, RIGHT = "left", "right"
MOST_NAMED = 6
"""Treatments up to which the dominated ones are named on the chart; of more, the table under it names them."""


def curve_data(rows: Rows, *, name: str = "budget") -> Datasets:
    """Lay out `net_benefit_rows` for `curve_chart`: points, the curve of undominated ones, words kept apart."""
    points = [dict(row) for row in rows]
    costs = [float(row["costs"]) for row in rows]
    middle = (min(costs) + max(costs)) / 2.0 if costs else 0.0
    words = [{**row, "side": RIGHT if row["costs"] <= middle else LEFT, "text": _words(row)} for row in _named(points)]
    return {
        name: points,
        f"{name}_curve": [row for row in points if not row["dominated"]],
        f"{name}_words": [*_apart(words, LEFT, rows), *_apart(words, RIGHT, rows)],
    }


def _named(points: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return points if len(points) <= MOST_NAMED else [row for row in points if not row["dominated"]]


def _words(row: Mapping[str, Any]) -> str:
    marks = {"recommended": "recommended", "dominated": "dominated"}
    told = [text for key, text in marks.items() if row[key]]
    return theme.LINE_BREAK.join([theme.wrap(str(row["label"])), *(f"({text})" for text in told)])


def _apart(words: Sequence[dict[str, Any]], side: str, rows: Rows) -> list[dict[str, Any]]:
    """Return the words on one side of their points, at heights where none covers another."""
    own = [row for row in words if row["side"] == side]
    if not own:
        return []
    benefits = [float(row["benefit"]) for row in rows]
    reach = max(benefits) - min(benefits)
    line = reach * theme.LINE_HEIGHT / (HEIGHT - AXIS_ROOM - 2 * theme.PLOT_PADDING)
    sizes = [line * LABEL_ROOM * (str(row["text"]).count(theme.LINE_BREAK) + 1) for row in own]
    heights = spread([float(row["benefit"]) for row in own], sizes)
    return [{**row, "text_at": at} for row, at in zip(own, heights, strict=True)]


def curve_chart(systems: Mapping[str, str], *, currency: str, name: str = "budget") -> alt.LayerChart:
    """Return net benefit against costs that vary: undominated treatments joined, dominated ones hollow.

    `systems` gives the label of each system id, in the order of the case; data by `curve_data`.
    """
    ids = list(systems)
    unit = f"{currency}/m²"
    axis = theme.measure_axis(f"Costs that vary [{unit} planted and season]", upright=False, grid=False)
    room = {"zero": False, "nice": False}
    x = alt.X("costs:Q", axis=axis, scale=alt.Scale(**room, padding=X_PADDING))
    scale = alt.Scale(**room, padding=theme.PLOT_PADDING)
    y = alt.Y("benefit:Q", axis=theme.money_axis("Net benefit", unit), scale=scale)
    colour = alt.Color("system:N", scale=theme.colour_scale(ids), legend=None)
    stroke = alt.Stroke("system:N", scale=theme.colour_scale(ids), legend=None)
    shape = alt.Shape("system:N", scale=theme.shape_scale(ids), legend=None)
    curve = alt.Chart(alt.NamedData(f"{name}_curve")).encode(x=x, y=y, order=alt.Order("costs:Q"))
    points = alt.Chart(alt.NamedData(name)).encode(x=x, y=y, shape=shape)
    dominated = "datum.dominated"
    layers = [
        curve.mark_line(color=theme.MUTED),
        points.transform_filter(f"!{dominated}").mark_point(size=POINT_SIZE).encode(color=colour),
        points.transform_filter(dominated)
        .mark_point(size=POINT_SIZE, fill=theme.PAPER, strokeWidth=HOLLOW_WIDTH)
        .encode(stroke=stroke),
        *_beside(name, x),
    ]
    columns = [
        ["label", "Treatment"],
        ["costs", f"Costs that vary [{unit}]"],
        ["benefit", f"Net benefit [{unit}]"],
        ["rate", "Marginal rate of return [share]"],
        ["dominated", "Dominated"],
    ]
    table = {"name": name, "caption": "Net benefit by costs that vary, per planted m² and season", "columns": columns}
    return theme.dress(alt.layer(*layers), height=HEIGHT, tables=[table])


def _beside(name: str, x: alt.X) -> list[alt.Chart]:
    """Return the words beside the points, on a halo that keeps the curve out of the letters."""
    base = alt.Chart(alt.NamedData(f"{name}_words")).encode(x=x, y=alt.Y("text_at:Q"), text=alt.Text("text:N"))
    charts = []
    for side, align, gap in ((RIGHT, LEFT, LABEL_GAP), (LEFT, RIGHT, -LABEL_GAP)):
        own = base.transform_filter(f"datum.side === '{side}'")
        style: dict[str, Any] = {"align": align, "baseline": "middle", "dx": gap}
        charts += [own.mark_text(**style, stroke=theme.PAPER, strokeWidth=4), own.mark_text(**style)]
    return charts
