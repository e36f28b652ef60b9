"""The charts of cash and labour by month: rows of `choose.cash_rows` in, Altair chart out; no chart computes a result.

As in `charts.py`: a chart is made once, `<chart>_data` lays its rows out, a live panel changes the rows alone.
"""

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.ground.amounts import figures_text
from plotworth.show import theme
from plotworth.show.charts import spread

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

BALANCE_HEIGHT, AXIS_ROOM = 330, 64
CALENDAR_ROW, CALENDAR_HEAD = 25, 44
LABOUR_HEIGHT = 230
LABEL_ROOM = 1.15
MONTHS_PER_YEAR = 12
MARKS_AT = 8
NEAR_END = 5  # months before the end in which a deepest point has no room for its number beside the end labels
HEAD_LETTERS, HEAD_GAP, TITLE_GAP = 11, 6, 26
LEAN_SIGN = "▼"
STRONG = 0.75
"""Shade of the greatest amount on the calendar of cash: text in ink stays readable on it."""
LABOUR_PARTS: Mapping[str, tuple[str, str]] = {
    "family": ("Family", theme.COLOURS[0]),
    "hired": ("Hired", theme.COLOURS[4]),
}
"""Parts of a month's hours from the axis up: their words and colours."""


def balance_data(rows: Rows, *, name: str = "balance") -> Datasets:
    """Lay out `balance_rows` for `balance_chart`: the words at the ends kept apart, the deepest months written."""
    ends = list({row["system"]: row for row in sorted(rows, key=lambda row: float(row["month"]))}.values())
    deepest = [row for row in rows if row["deepest"]]
    texts = [f"{theme.wrap(str(row['label']))}\n{figures_text(float(row['closing']))}" for row in ends]
    reach = [float(row["closing"]) for row in rows] + [0.0]
    line = (max(reach) - min(reach)) * theme.LINE_HEIGHT / (BALANCE_HEIGHT - AXIS_ROOM - 2 * theme.PLOT_PADDING)
    sizes = [line * LABEL_ROOM * (text.count(theme.LINE_BREAK) + 1) for text in texts]
    places = spread([float(row["closing"]) for row in ends], sizes)
    return {
        name: [dict(row) for row in rows],
        f"{name}_ends": [
            {**row, "text": text, "text_at": place} for row, text, place in zip(ends, texts, places, strict=True)
        ],
        f"{name}_deepest": [{**row, "text": _depth(row, ends)} for row in deepest],
    }


def _depth(row: Mapping[str, Any], ends: Rows) -> str:
    """Return the depth as text; none near the end of the lines, where the words at the ends say it."""
    last = max(float(end["month"]) for end in ends)
    return "" if float(row["month"]) > last - NEAR_END else figures_text(float(row["closing"]))


def balance_chart(
    systems: Mapping[str, str], *, currency: str, last_month: int, name: str = "balance"
) -> alt.LayerChart:
    """Return lines of the closing balance of each system by month, with the deepest month of each.

    `systems` gives the label of each system id, in the order of the case; data by `balance_data`.
    """
    ids = list(systems)
    colour = alt.Color("system:N", scale=theme.colour_scale(ids), legend=None)
    axis = alt.Axis(
        title="Month (0 = investment)",
        values=list(range(0, last_month + 1, MONTHS_PER_YEAR // 2)),
        format="d",
        grid=False,
    )
    x = alt.X("month:Q", axis=axis, scale=alt.Scale(nice=False, padding=8))
    room = alt.Scale(zero=True, padding=theme.PLOT_PADDING)
    y = alt.Y("closing:Q", axis=theme.money_axis("Balance at the end of the month", currency), scale=room)
    dash = alt.StrokeDash("system:N", scale=theme.dash_scale(ids), legend=None)
    lines = alt.Chart(alt.NamedData(name)).mark_line().encode(x=x, y=y, color=colour, strokeDash=dash)
    ends = alt.Chart(alt.NamedData(f"{name}_ends")).encode(x=x)
    deepest = alt.Chart(alt.NamedData(f"{name}_deepest")).encode(x=x, y=y)
    stroke = alt.Stroke("system:N", scale=theme.colour_scale(ids), legend=None)
    shape = alt.Shape("system:N", scale=theme.shape_scale(ids), legend=None)
    layers = [
        _zero_line(),
        lines,
        ends.mark_point().encode(y=y, color=colour, shape=shape),
        deepest.mark_point(shape="triangle-down", fill=theme.PAPER, strokeWidth=2, size=80).encode(stroke=stroke),
        *_words(ends.encode(y=alt.Y("text_at:Q")), align="left", dx=10, dy=0),
        *_words(deepest, align="center", dx=0, dy=16),
    ]
    columns = [
        ["label", "System"],
        ["month", "Month"],
        ["when", "When"],
        ["net", f"Net cash [{currency}]"],
        ["closing", f"Balance at its end [{currency}]"],
    ]
    table = {"name": name, "caption": "Cash by month and the balance at the end of each", "columns": columns}
    return theme.dress(alt.layer(*layers), height=BALANCE_HEIGHT, tables=[table])


def _zero_line() -> alt.Chart:
    return alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(y=alt.datum(0))


def _words(base: alt.Chart, *, align: str, dx: int, dy: int) -> list[alt.Chart]:
    """Return the words of a data set at their point, on a halo that keeps lines out of the letters."""
    encoded = base.encode(text=alt.Text("text:N"))
    style = {"align": align, "baseline": "middle", "dx": dx, "dy": dy}
    halo = encoded.mark_text(**style, stroke=theme.PAPER, strokeWidth=4)
    return [halo, encoded.mark_text(**style)]


def calendar_data(rows: Rows, *, name: str = "calendar") -> Datasets:
    """Lay out `calendar_rows` for `calendar_chart`: how strongly each month is shaded, and its amount as text."""
    most = max((abs(float(row["net"])) for row in rows), default=0.0)
    written = [
        {
            **row,
            "shade": STRONG * abs(float(row["net"])) / most if most > 0.0 else 0.0,
            "text": f"{LEAN_SIGN} {figures_text(float(row['net']))}"
            if row["lean"]
            else figures_text(float(row["net"])),
            "lean_text": "yes" if row["lean"] else "",
        }
        for row in rows
    ]
    heads = {row["system"]: {"system": row["system"], "text": _head(str(row["label"]))} for row in rows}
    return {name: written, f"{name}_heads": list(heads.values())}


def _head(label: str) -> str:
    """Return a label broken into lines narrow enough for a column among several on a telephone."""
    return theme.LINE_BREAK.join(textwrap.wrap(label, HEAD_LETTERS, break_long_words=False, break_on_hyphens=False))


def calendar_chart(
    systems: Mapping[str, str], months: Sequence[str], *, currency: str, name: str = "calendar"
) -> alt.LayerChart:
    """Return the calendar of cash: a normal year's net by month (down) and system (across), lean months marked.

    `systems` gives the label of each system id, in the order of the case, `months` the names of the months from month 1
    on. Money that comes in and money that goes out have a colour each, the stronger the more; every amount is written.
    """
    tall = HEAD_GAP + theme.LINE_HEIGHT * max(_head(label).count(theme.LINE_BREAK) + 1 for label in systems.values())
    x = alt.X("system:N", scale=alt.Scale(domain=list(systems), padding=0), axis=None)
    title = f"Net cash of the month [{currency}]; {LEAN_SIGN} lean"
    above = {"titleAngle": 0, "titleAlign": "left", "titleAnchor": "start", "titleX": 0, "titleY": -tall - TITLE_GAP}
    axis = alt.Axis.from_dict({"title": title, "grid": False, **above})
    y = alt.Y("name:N", scale=alt.Scale(domain=list(months), padding=0), axis=axis)
    base = alt.Chart(alt.NamedData(name)).encode(x=x, y=y)
    colour = alt.condition("datum.net < 0", alt.value(theme.LOSS), alt.value(theme.GAIN))
    cells = base.mark_rect(stroke=theme.PAPER, strokeWidth=2).encode(
        color=colour, fillOpacity=alt.FillOpacity("shade:Q", scale=None)
    )
    lean = base.transform_filter("datum.lean").mark_rect(filled=False, stroke=theme.INK, strokeWidth=1.5)
    words = base.mark_text(baseline="middle").encode(text="text:N")
    heads = alt.Chart(alt.NamedData(f"{name}_heads")).encode(x=x, y=alt.value(-tall), text="text:N")
    columns = [["label", "System"], ["name", "Month"], ["net", f"Net cash [{currency}]"], ["lean_text", "Lean"]]
    table = {"name": name, "caption": "Net cash of a normal year by month", "columns": columns}
    layers = (cells, lean, words, heads.mark_text(baseline="top"))
    height = CALENDAR_ROW * len(months) + tall + CALENDAR_HEAD
    return theme.dress(alt.layer(*layers), height=height, tables=[table])


def labour_reach(rows: Rows) -> float:
    """Return the most hours of a month, or those at hand where they are more, over the rows of all systems shown."""
    hours = [float(row["family"]) + float(row["hired"]) for row in rows]
    return max((hour for hour in (*hours, *(float(row["at_hand"]) for row in rows)) if hour == hour), default=0.0)


def labour_data(rows: Rows, *, reach: float, name: str = "labour") -> Datasets:
    """Lay out `labour_rows` of one system for `labour_chart`; `reach` is shared by all systems."""
    at_hand = float(rows[0]["at_hand"]) if rows else float("nan")
    line = [{"at_hand": at_hand, "text": f"at hand: {figures_text(at_hand)}"}] if at_hand == at_hand else []
    return {
        name: [{**row, "month": str(row["name"])[:3]} for row in rows],
        f"{name}_parts": [piece for row in rows for piece in _stacked(row)],
        f"{name}_short": [{"month": str(row["name"])[:3]} for row in rows if float(row["short"]) > 0.0],
        f"{name}_line": line,
        f"{name}_reach": [{"reach": LABEL_ROOM * reach}],
    }


def _stacked(row: Mapping[str, Any]) -> list[dict[str, Any]]:
    pieces, low = [], 0.0
    for key, (words, _) in LABOUR_PARTS.items():
        high = low + float(row[key])
        pieces.append({"month": str(row["name"])[:3], "part": words, "low": low, "high": high})
        low = high
    return pieces


def labour_chart(months: Sequence[str], *, name: str = "labour") -> alt.LayerChart:
    """Return the calendar of labour of one system: hours of family and hired work by month, and the hours at hand.

    `months` are the names of the months from month 1 on; a triangle stands over a month with more family work than
    hours at hand.
    """
    words, colours = zip(*LABOUR_PARTS.values(), strict=True)
    legend = alt.Legend(orient="top", title=None, columns=2, symbolType="square", labelFontSize=theme.TEXT_SIZE)
    colour = alt.Color("part:N", scale=alt.Scale(domain=list(words), range=list(colours)), legend=legend)
    axis = alt.Axis(title=None, labelAngle=0, labelOverlap="parity", labelSeparation=6, grid=False)
    x = alt.X("month:N", scale=alt.Scale(domain=[month[:3] for month in months]), axis=axis)
    title = f"Work [hour a month]; {LEAN_SIGN} beyond those at hand"
    y = alt.Y("low:Q", axis=theme.measure_axis(title, upright=True), scale=alt.Scale(zero=True))
    pieces = alt.Chart(alt.NamedData(f"{name}_parts"))
    bars = pieces.mark_bar(stroke=theme.PAPER, strokeWidth=0.7).encode(x=x, y=y, y2="high:Q", color=colour)
    short = alt.Chart(alt.NamedData(f"{name}_short")).mark_point(
        shape="triangle-down", color=theme.LOSS, filled=True, size=60
    )
    line = alt.Chart(alt.NamedData(f"{name}_line"))
    rule = line.mark_rule(color=theme.INK, strokeDash=[6, 4], strokeWidth=1.5).encode(y="at_hand:Q")
    reach = alt.Chart(alt.NamedData(f"{name}_reach")).mark_point(opacity=0).encode(y="reach:Q")
    said = line.encode(x=alt.value("width"), y=alt.Y("at_hand:Q"))
    layers = [
        bars,
        short.encode(x=x, y=alt.value(MARKS_AT)),
        rule,
        *_words(said, align="right", dx=-4, dy=-10),
        reach,
    ]
    columns = [["name", "Month"], ["family", "Family [hour]"], ["hired", "Hired [hour]"], ["short", "Short [hour]"]]
    table = {"name": name, "caption": "Hours of work by month", "columns": columns}
    return theme.dress(alt.layer(*layers), height=LABOUR_HEIGHT, tables=[table])
