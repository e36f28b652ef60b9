"""The charts of size, views and programme: worth by size with its steps, the views side by side, adoption by year.

As in `charts.py`: rows in, Altair chart out; no chart computes a result.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import altair as alt

from plotworth.ground.amounts import amount_text, figures_text
from plotworth.show import theme
from plotworth.show.charts import spread

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

SIZE_HEIGHT, ADOPTION_HEIGHT, AXIS_ROOM = 340, 320, 64
VIEW_ROW, HEAD_AT, NAME_AT, DOT_AT = 42, 8, -8, 10
SEEN_PART = 0.01
TENS = [10.0**power for power in range(-1, 9)]
LABEL_ROOM, LABEL_GAP = 1.15, 10
OWN_LINES = 3
LEFT, RIGHT = "left", "right"
JOINED, TAKING_PART = "joined", "taking_part"
LINES = {JOINED: "joined so far", TAKING_PART: "taking part"}


def _spread_texts(rows: Rows, field: str, texts: Sequence[str], *, height: int) -> list[float]:
    """Return heights for words beside rows at which none covers another, on a chart of this height [px]."""
    reach = max(float(row["reach"]) for row in rows)
    line = reach * theme.LINE_HEIGHT / (height - AXIS_ROOM - 2 * theme.PLOT_PADDING)
    sizes = [line * LABEL_ROOM * (text.count(theme.LINE_BREAK) + 1) for text in texts]
    return spread([float(row[field]) for row in rows], sizes)


def _known(rows: Rows, key: str) -> list[dict[str, Any]]:
    return [dict(row) for row in rows if row[key] == row[key]]


def size_data(rows: Rows, own_m2: float, *, name: str = "size") -> Datasets:
    """Lay out `size_curve` for `size_chart`; `own_m2`, the area of the case, which one household works [m2].

    Steps too small to be seen are not marked; rows without a number are left out.
    """
    known = _known(rows, "npv_per_household")
    ends = list({row["system"]: row for row in known}.values())
    values = [row["npv_per_household"] for row in known] + [0.0]
    reach = max(values) - min(values)
    spread_out = [{**row, "reach": reach} for row in ends]
    texts = [theme.wrap(str(row["label"])) for row in ends]
    heights = _spread_texts(spread_out, "npv_per_household", texts, height=SIZE_HEIGHT) if ends else []
    return {
        name: known,
        f"{name}_steps": _seen_steps(known, reach),
        f"{name}_own": [_own_area(known, own_m2)],
        f"{name}_ends": [{**row, "text": t, "text_at": at} for row, t, at in zip(ends, texts, heights, strict=True)],
    }


def _own_area(rows: Rows, own_m2: float) -> dict[str, Any]:
    """Return the area of the case with its words, and on which side of it there is more room for them."""
    sizes = [float(row["area_m2"]) for row in rows] or [own_m2]
    side = LEFT if own_m2**2 > min(sizes) * max(sizes) else RIGHT
    text = theme.LINE_BREAK.join(("one", "household:", amount_text(own_m2, "m²")))  # narrow, for a telephone
    return {"area_m2": own_m2, "text": text, "side": side}


def _seen_steps(rows: Rows, reach: float) -> list[dict[str, Any]]:
    """Return the rows just above a capacity step at which the worth falls by a part of the reach that can be seen."""
    seen = []
    for before, row in pairwise(rows_by_system(rows)):
        is_fall = before["npv_per_household"] - row["npv_per_household"] > SEEN_PART * reach
        if row["is_step"] and before["system"] == row["system"] and is_fall:
            seen.append(dict(row))
    return seen


def rows_by_system(rows: Rows) -> list[Mapping[str, Any]]:
    """Return rows system after system, each in its own order."""
    return [row for system in dict.fromkeys(row["system"] for row in rows) for row in rows if row["system"] == system]


def size_chart(systems: Sequence[str], *, currency: str, name: str = "size") -> alt.LayerChart:
    """Return a line a system: NPV for each household by size, the area on a logarithmic axis, a mark at each step.

    The dashed rule stands at the area of the case; left of it one household works it all, right of it more do.
    """
    colour = alt.Color("system:N", scale=theme.colour_scale(systems), legend=None)
    shape = alt.Shape("system:N", scale=theme.shape_scale(systems), legend=None)
    dash = alt.StrokeDash("system:N", scale=theme.dash_scale(systems), legend=None)
    axis = {"title": "Gross area [m²], each mark ten times the last", "labelExpr": theme.GROUPED, "grid": False}
    tens = alt.Axis.from_dict({**axis, "values": TENS})
    x = alt.X("area_m2:Q", scale=alt.Scale(type="log", nice=False, padding=8), axis=tens)
    room = alt.Scale(zero=True, padding=theme.PLOT_PADDING)
    y = alt.Y("npv_per_household:Q", axis=theme.money_axis("NPV for each household", currency), scale=room)
    lines = alt.Chart(alt.NamedData(name)).mark_line().encode(x=x, y=y, color=colour, strokeDash=dash)
    steps = alt.Chart(alt.NamedData(f"{name}_steps")).mark_point(shape="stroke", angle=90, size=90, strokeWidth=1.5)
    ends, own = alt.Chart(alt.NamedData(f"{name}_ends")), alt.Chart(alt.NamedData(f"{name}_own")).encode(x=x)
    layers = [
        _zero_rule(),
        own.mark_rule(color=theme.MUTED, strokeDash=[4, 3], strokeWidth=1),
        *(_own_words(own, side) for side in (LEFT, RIGHT)),
        lines,
        steps.encode(x=x, y=y, stroke=alt.Stroke("system:N", scale=theme.colour_scale(systems), legend=None)),
        ends.mark_point().encode(x=x, y=y, color=colour, shape=shape),
        *_beside(ends, x),
    ]
    columns = [["label", "System"], ["area_m2", "Gross area [m²]"], ["households", "Households"]]
    columns += [
        ["npv", f"NPV of the whole [{currency}]"],
        ["npv_per_household", f"NPV for each household [{currency}]"],
    ]
    table = {"name": name, "caption": "NPV by size, both sides of every capacity step", "columns": columns}
    return theme.dress(alt.layer(*layers), height=SIZE_HEIGHT, tables=[table])


def _own_words(own: alt.Chart, side: str) -> alt.Chart:
    """Return the words at the foot of the rule at the case's area, those that stand on this side of it."""
    align, dx = ("right", -6) if side == LEFT else ("left", 6)
    words = own.transform_filter(alt.datum.side == side).encode(y=alt.value("height"), text="text:N")
    return words.mark_text(align=align, baseline="bottom", dx=dx, dy=-4 - (OWN_LINES - 1) * theme.LINE_HEIGHT)


def _zero_rule() -> alt.Chart:
    return alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(y=alt.datum(0))


def _beside(ends: alt.Chart, x: alt.X) -> list[alt.Chart]:
    """Return the words right of the end of each line, on a halo that keeps lines out of the letters."""
    words = ends.encode(x=x, y=alt.Y("text_at:Q"), text="text:N")
    style = {"align": "left", "baseline": "middle", "dx": LABEL_GAP}
    return [words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4), words.mark_text(**style)]


def views_data(rows: Rows, *, name: str = "views") -> Datasets:
    """Lay out rows {view, system, label, npv} for `views_chart`; a row without a number is written and not drawn."""
    written = [
        {**row, "key": f"{row['view']}/{row['system']}", "text": f"{row['label']}: {figures_text(float(row['npv']))}"}
        for row in rows
    ]
    views = dict.fromkeys(str(row["view"]) for row in rows)
    heads = [{"key": f"{view}/", "text": f"{view.capitalize()} view"} for view in views]
    return {name: written, f"{name}_heads": heads}


def views_chart(systems: Sequence[str], views: Sequence[str], *, currency: str, name: str = "views") -> alt.LayerChart:
    """Return a dot for the NPV of each system in each view, drawn from 0, its name and number above it.

    `systems` are ids in the order of the case; `views` from top to bottom, each with a row for every system.
    """
    keys = [f"{view}/{system}" for view in views for system in ("", *systems)]
    y = alt.Y("key:N", scale=alt.Scale(type="band", domain=keys, padding=0), axis=None)
    room = alt.Scale(zero=True, padding=theme.PLOT_PADDING)
    x = alt.X("npv:Q", axis=theme.measure_axis(f"Net present value [{currency}]", upright=False), scale=room)
    colour = alt.Color("system:N", scale=theme.colour_scale(systems), legend=None)
    shape = alt.Shape("system:N", scale=theme.shape_scale(systems), legend=None)
    base = alt.Chart(alt.NamedData(name)).encode(y=y)
    drawn = base.transform_filter("isValid(datum.npv)")
    zero = alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(x=alt.datum(0))
    stems = drawn.mark_rule(strokeWidth=2.5, yOffset=DOT_AT).encode(x=x, x2=alt.datum(0), color=colour)
    dots = drawn.mark_point(size=110, yOffset=DOT_AT).encode(x=x, color=colour, shape=shape)
    heads = alt.Chart(alt.NamedData(f"{name}_heads")).encode(y=y)
    layers = [zero, stems, dots, *_left(base, "normal", NAME_AT), *_left(heads, "bold", HEAD_AT)]
    columns = [["view", "View"], ["label", "System"], ["npv", f"NPV [{currency}]"]]
    table = {"name": name, "caption": "NPV of every system in each view", "columns": columns}
    return theme.dress(alt.layer(*layers), height=VIEW_ROW * len(keys) + AXIS_ROOM, tables=[table])


def _left(base: alt.Chart, weight: str, dy: int) -> list[alt.Chart]:
    """Return words in a row at the left edge of the chart, on a halo that keeps lines out of the letters."""
    words = base.encode(x=alt.value(0), text="text:N")
    style = {"align": "left", "baseline": "middle", "dx": 4, "dy": dy, "fontWeight": weight}
    return [words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4), words.mark_text(**style)]


def adoption_data(rows: Rows, *, name: str = "adoption") -> Datasets:
    """Lay out `adoption_rows` for `adoption_chart`: one line for those joined so far, one for those taking part."""
    long = [
        {"year": row["year"], "line": line, "households": row[line], "paid_out": row["paid_out"]}
        for line in LINES
        for row in rows
    ]
    ends = list({row["line"]: row for row in long}.values())
    most = max((float(row["households"]) for row in long), default=0.0)
    texts = [f"{LINES[row['line']]}{theme.LINE_BREAK}{figures_text(round(float(row['households'])))}" for row in ends]
    marked = [{**row, "reach": most} for row in ends]
    heights = _spread_texts(marked, "households", texts, height=ADOPTION_HEIGHT) if ends else []
    words = [{**row, "text": t, "text_at": at} for row, t, at in zip(ends, texts, heights, strict=True)]
    return {name: [dict(row) for row in rows], f"{name}_lines": long, f"{name}_ends": words}


def adoption_chart(*, currency: str, name: str = "adoption") -> alt.LayerChart:
    """Return the households that have joined and those that still take part, by the end of each programme year."""
    ids = list(LINES)
    colour = alt.Color("line:N", scale=theme.colour_scale(ids), legend=None)
    shape = alt.Shape("line:N", scale=theme.shape_scale(ids), legend=None)
    dash = alt.StrokeDash("line:N", scale=theme.dash_scale(ids), legend=None)
    axis = alt.Axis(title="Year (0 = start of the programme)", format="d", tickMinStep=1, grid=False)
    x = alt.X("year:Q", axis=axis, scale=alt.Scale(nice=False, padding=8))
    y = alt.Y("households:Q", axis=theme.measure_axis("Households", upright=True), scale=alt.Scale(zero=True))
    lines = alt.Chart(alt.NamedData(f"{name}_lines")).encode(x=x, y=y, color=colour)
    ends = alt.Chart(alt.NamedData(f"{name}_ends"))
    layers = [
        lines.mark_line().encode(strokeDash=dash),
        lines.mark_point(size=36).encode(shape=shape),
        *_beside(ends, x),
    ]
    columns = [["year", "Year"], [JOINED, "Joined so far"], [TAKING_PART, "Taking part"]]
    columns += [["paid_out", f"Paid out [{currency}]"]]
    table = {"name": name, "caption": "Households and money paid out by year of the programme", "columns": columns}
    return theme.dress(alt.layer(*layers), height=ADOPTION_HEIGHT, tables=[table])
