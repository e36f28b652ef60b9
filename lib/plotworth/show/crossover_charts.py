"""The charts of the crossover: worth by area with ties marked, the grid of two assumptions, switching values.

As in `charts.py`: rows in, Altair chart out; no chart computes a result.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import altair as alt

from plotworth.ground.amounts import amount_text, figures_text
from plotworth.show import theme
from plotworth.show.charts import spread
from plotworth.show.size_charts import TENS, rows_by_system

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

AREA_HEIGHT, AXIS_ROOM, SEEN_PART, LABEL_ROOM, LABEL_GAP = 360, 64, 0.01, 1.15, 10
CELL, HEADS, GRID_SIDE = 40, 64, 8
BAR_ROW, NAME_AT, WORDS_AT, BAR_AT = 60, -20, -4, 14
PALE = 0.22
SYSTEM, TIE, REFERENCE, UNKNOWN = "system", "tie", "reference", "unknown"
CELL_DIGITS = 2
MOST_WRITTEN = 4
"""Ties whose area is written beside them, left above and right below in turn; the table has them all."""
GRADES = {"A": "measured here", "B": "published", "C": "quoted", "D": "judged", "": "no grade"}
PER_CENT = 100.0


def area_data(rows: Rows, ties: Rows, own_m2: float, *, name: str = "crossover") -> Datasets:
    """Lay out `area_rows` and `tie_rows` for `area_chart`; `own_m2`, the area of the case [m2]."""
    known = [dict(row) for row in rows if row["npv"] == row["npv"]]
    ends = list({row["system"]: row for row in known}.values())
    numbers = [float(row["npv"]) for row in known] + [0.0]
    reach = max(numbers) - min(numbers)
    texts = [theme.wrap(str(row["label"])) for row in ends]
    line = reach * theme.LINE_HEIGHT / (AREA_HEIGHT - AXIS_ROOM - 2 * theme.PLOT_PADDING)
    sizes = [line * LABEL_ROOM * (text.count(theme.LINE_BREAK) + 1) for text in texts]
    heights = spread([float(row["npv"]) for row in ends], sizes) if ends else []
    words = zip(ends, texts, heights, strict=True)
    return {
        name: known,
        f"{name}_steps": _seen_steps(known, reach),
        f"{name}_ties": [dict(row) for row in ties],
        f"{name}_left": [dict(row) for row in ties[:MOST_WRITTEN:2]],
        f"{name}_right": [dict(row) for row in ties[1:MOST_WRITTEN:2]],
        f"{name}_own": [{"area_m2": own_m2, "text": f"this case: {amount_text(own_m2, 'm²')}"}],
        f"{name}_ends": [{**row, "text": text, "text_at": at} for row, text, at in words],
    }


def _seen_steps(rows: Rows, reach: float) -> list[dict[str, Any]]:
    """Return the rows just above a step of capacity at which NPV falls by a part of the reach that can be seen."""
    pairs = pairwise(rows_by_system(rows))
    return [
        dict(row)
        for before, row in pairs
        if row["is_step"] and before["system"] == row["system"] and before["npv"] - row["npv"] > SEEN_PART * reach
    ]


def area_chart(systems: Sequence[str], *, currency: str, name: str = "crossover") -> alt.LayerChart:
    """Return NPV of every system by area on a logarithmic axis, steps marked, a ring where two change places."""
    colour = alt.Color("system:N", scale=theme.colour_scale(systems), legend=None)
    shape = alt.Shape("system:N", scale=theme.shape_scale(systems), legend=None)
    dash = alt.StrokeDash("system:N", scale=theme.dash_scale(systems), legend=None)
    marks = [ten * part for ten in TENS for part in (1.0, 2.0, 5.0)]
    axis = {"title": "Gross area [m²], logarithmic", "labelExpr": theme.GROUPED, "grid": False, "values": marks}
    x = alt.X("area_m2:Q", scale=alt.Scale(type="log", nice=False, padding=8), axis=alt.Axis.from_dict(axis))
    room = alt.Scale(zero=True, padding=theme.PLOT_PADDING)
    y = alt.Y("npv:Q", axis=theme.money_axis("Net present value", currency), scale=room)
    lines, ends, own, ties = (alt.Chart(alt.NamedData(f"{name}{part}")) for part in ("", "_ends", "_own", "_ties"))
    left, right = (alt.Chart(alt.NamedData(f"{name}_{side}")) for side in ("left", "right"))
    steps = alt.Chart(alt.NamedData(f"{name}_steps")).mark_point(shape="stroke", angle=90, size=90, strokeWidth=1.5)
    zero = alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(y=alt.datum(0))
    rings = ties.mark_point(size=160, filled=False, stroke=theme.INK, strokeWidth=2, opacity=1)
    layers = [
        zero,
        own.mark_rule(color=theme.MUTED, strokeDash=[4, 3], strokeWidth=1).encode(x=x),
        own.mark_text(align="right", baseline="bottom", dx=-6, dy=-4).encode(x=x, y=alt.value("height"), text="text:N"),
        lines.mark_line().encode(x=x, y=y, color=colour, strokeDash=dash),
        steps.encode(x=x, y=y, stroke=alt.Stroke("system:N", scale=theme.colour_scale(systems), legend=None)),
        rings.encode(x=x, y=y),
        *_haloed(left, x, alt.Y("npv:Q"), {"align": "right", "baseline": "bottom", "dx": -6, "dy": -8}),
        *_haloed(right, x, alt.Y("npv:Q"), {"align": "left", "baseline": "top", "dx": 6, "dy": 8}),
        ends.mark_point().encode(x=x, y=y, color=colour, shape=shape),
        *_haloed(ends, x, alt.Y("text_at:Q"), {"align": "left", "baseline": "middle", "dx": LABEL_GAP}),
    ]
    columns = [["label", "System"], ["area_m2", "Gross area [m²]"], ["npv", f"NPV [{currency}]"]]
    turns = [["area_m2", "Gross area [m²]"], ["below", "Worth more below"], ["above", "Worth more above"]]
    tables = [
        {"name": f"{name}_ties", "caption": "Areas at which two systems change places", "columns": turns},
        {"name": name, "caption": "NPV by area, both sides of every step of capacity", "columns": columns},
    ]
    return theme.dress(alt.layer(*layers), height=AREA_HEIGHT, tables=tables)


def _haloed(base: alt.Chart, x: Any, y: Any, style: Mapping[str, Any]) -> list[alt.Chart]:
    """Return words on a halo that keeps lines out of the letters."""
    words = base.encode(x=x, y=y, text="text:N")
    return [words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4), words.mark_text(**style)]


def grid_data(rows: Rows, *, name: str = "grid") -> Datasets:
    """Lay out `grid_rows` for `grid_chart`: the number of each cell in words, and who is ahead in it."""
    who = {1.0: SYSTEM, 0.0: TIE, -1.0: REFERENCE}
    cells = [
        {
            **row,
            "text": figures_text(float(row["difference"]), digits=2),
            "who": who.get(float(row["ahead"]), "unknown"),
        }
        for row in rows
    ]
    return {name: cells}


def grid_chart(
    first: str, second: str, *, firsts: Sequence[str], seconds: Sequence[str], name: str = "grid"
) -> alt.LayerChart:
    """Return a cell for each pair of values, its number the difference in NPV, pale blue above 0 and pale red below.

    `first` across and `second` down in words, with their values in words in `firsts` and `seconds`.
    """
    base = alt.Chart(alt.NamedData(name))
    across = alt.Axis.from_dict({"title": first, "orient": "top", "labelAngle": 0, "grid": False})
    down = {"title": second, "titleAngle": 0, "titleAlign": "left", "titleAnchor": "start", "titleX": 0, "grid": False}
    x = alt.X("first:N", sort=list(firsts), axis=across, scale=alt.Scale(domain=list(firsts), paddingInner=0.04))
    y = alt.Y(
        "second:N",
        sort=list(seconds),
        axis=alt.Axis.from_dict({**down, "titleY": -46}),
        scale=alt.Scale(domain=list(seconds), paddingInner=0.06),
    )
    ranks = alt.Scale(
        domain=[SYSTEM, TIE, REFERENCE, "unknown"], range=[theme.GAIN, theme.GRID, theme.LOSS, theme.GRID]
    )
    cells = base.mark_rect(opacity=PALE).encode(x=x, y=y, color=alt.Color("who:N", scale=ranks, legend=None))
    numbers = base.mark_text(baseline="middle").encode(x=x, y=y, text="text:N")
    columns = [["second", second], ["first", first], ["difference", "Difference in NPV"]]
    table = {"name": name, "caption": "Difference in NPV for every pair of values", "columns": columns}
    return theme.dress(alt.layer(cells, numbers), height=CELL * len(seconds) + HEADS, tables=[table])


def switching_data(rows: Rows, *, name: str = "switching") -> Datasets:
    """Lay out `switching_rows` for `switching_chart`: shares in per cent, a name and what it takes for each row."""
    bars = [
        {
            **row,
            "tie_pct": PER_CENT * float(row["tie_share"]),
            "low_pct": PER_CENT * float(row["low_share"]),
            "high_pct": PER_CENT * float(row["high_share"]),
            "grade_words": GRADES[str(row["grade"])],
            "words": f"{row['words']} ({GRADES[str(row['grade'])]})",
        }
        for row in rows
    ]
    return {name: bars}


def switching_chart(names: Sequence[str], *, name: str = "switching") -> alt.LayerChart:
    """Return for each assumption its believed range as a bar and its tie as a diamond, in per cent of its value."""
    y = alt.Y("name:N", scale=alt.Scale(type="band", domain=list(names), padding=0), axis=None)
    room = alt.Scale(zero=False, nice=False, padding=theme.PLOT_PADDING)
    x = alt.X("tie_pct:Q", axis=theme.measure_axis("% of the value of the case", upright=False), scale=room)
    kinds = list(GRADES.values())
    colour = alt.Color("grade_words:N", scale=theme.colour_scale(kinds), legend=None)
    base = alt.Chart(alt.NamedData(name)).encode(y=y)
    ranged = base.transform_filter("isValid(datum.low_pct)")
    here = alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(x=alt.datum(PER_CENT))
    bars = ranged.mark_rule(strokeWidth=7, opacity=0.55, yOffset=BAR_AT)
    diamonds = base.mark_point(shape="diamond", size=120, yOffset=BAR_AT, color=theme.INK, opacity=1)
    layers = [
        here,
        bars.encode(x=alt.X("low_pct:Q"), x2="high_pct:Q", color=colour),
        diamonds.encode(x=x),
        *_left(base, "name:N", "bold", NAME_AT),
        *_left(base, "words:N", "normal", WORDS_AT),
    ]
    columns = [["name", "Assumption"], ["words", "Tie at"], ["low_pct", "Believed from [%]"], ["high_pct", "to [%]"]]
    table = {"name": name, "caption": "Switching values, in per cent of the value of the case", "columns": columns}
    return theme.dress(alt.layer(*layers), height=BAR_ROW * max(len(names), 1) + AXIS_ROOM, tables=[table])


def _left(base: alt.Chart, text: str, weight: str, dy: int) -> list[alt.Chart]:
    """Return words in a row at the left edge of the chart, on a halo that keeps lines out of the letters."""
    words = base.encode(x=alt.value(0), text=text)
    style = {"align": "left", "baseline": "middle", "dx": 4, "dy": dy, "fontWeight": weight}
    return [words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4), words.mark_text(**style)]
