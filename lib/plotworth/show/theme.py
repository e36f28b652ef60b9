"""The look of every chart: colours, dashes and shapes by system, type, grid, axes.

Colours are those of Okabe and Ito (2008, "Color universal design"), less the yellow, which is too pale for
lines on white. A system keeps its place in the case, and so its colour, dash and shape, on every chart;
text is always in ink, since the brighter colours are too pale to read.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.ground.amounts import GROUP_MARK

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
DASHES = ((1, 0), (7, 3), (2, 2), (9, 3, 2, 3), (4, 4))
SHAPES = ("circle", "square", "triangle-up", "diamond", "cross", "triangle-down")
GAIN, LOSS = COLOURS[0], COLOURS[1]
INK, MUTED, GRID, PAPER = "#1f2a30", "#56626a", "#e4e7e9", "#ffffff"
FONT = "system-ui, -apple-system, 'Segoe UI', 'Noto Sans', 'Liberation Sans', 'DejaVu Sans', sans-serif"
TEXT_SIZE, LINE_HEIGHT = 13, 16
LABEL_LETTERS = 16
PADDING, PLOT_PADDING = 6, 20
LINE_BREAK = "\n"
GROUPED = f"replace(format(datum.value, ',.12~g'), regexp(',', 'g'), '{GROUP_MARK}')"


def place(items: Sequence[str], item: str, marks: Sequence[Any]) -> Any:
    """Return the mark (colour, dash, shape) of an item by its place among the items, starting over at the end."""
    return marks[list(items).index(item) % len(marks)]


def colour_scale(items: Sequence[str]) -> alt.Scale:
    """Return the scale that gives each item the colour of its place."""
    return alt.Scale(domain=list(items), range=[place(items, item, COLOURS) for item in items])


def dash_scale(items: Sequence[str]) -> alt.Scale:
    """Return the scale that gives each item the dash of its place."""
    return alt.Scale(domain=list(items), range=[list(place(items, item, DASHES)) for item in items])


def shape_scale(items: Sequence[str]) -> alt.Scale:
    """Return the scale that gives each item the point shape of its place."""
    return alt.Scale(domain=list(items), range=[place(items, item, SHAPES) for item in items])


def wrap(label: str) -> str:
    """Return a label broken into lines of about sixteen letters, at blanks only."""
    lines = [""]
    for word in label.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > LABEL_LETTERS:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return LINE_BREAK.join(lines)


def measure_axis(title: str, *, upright: bool, grid: bool = True) -> alt.Axis:
    """Return an axis of a measured quantity; its title holds the unit. Upright: the title lies above the axis."""
    above = {"titleAngle": 0, "titleAlign": "left", "titleAnchor": "start", "titleX": 0, "titleY": 0}
    options: Mapping[str, Any] = above if upright else {}
    return alt.Axis.from_dict({"title": title, "labelExpr": GROUPED, "tickCount": 5, "grid": grid, **options})


def money_axis(title: str, currency: str) -> alt.Axis:
    """Return an upright axis of money: its title carries the ISO 4217 code of the currency."""
    return measure_axis(f"{title} [{currency}]", upright=True)


def year_axis() -> alt.Axis:
    """Return the axis of the years of the plan, whole years only."""
    return alt.Axis(title="Year (0 = investment)", format="d", tickMinStep=1, grid=False)


def dress(chart: alt.LayerChart, *, height: int, tables: Sequence[Mapping[str, Any]]) -> alt.LayerChart:
    """Return the chart in this theme: as wide as its place, of fixed height [px], with its tables described.

    `tables` says, for the disclosure under a live chart
    and for reports, which named data hold the chart's numbers: name, caption, columns as [key, heading].
    """
    return chart.properties(
        width="container",
        height=height,
        autosize=alt.AutoSizeParams(type="fit", contains="padding"),
        padding=PADDING,
        usermeta={"plotworth": {"tables": [dict(table) for table in tables]}},
    ).configure(
        background=PAPER,
        font=FONT,
        aria=False,
        view=alt.ViewConfig(stroke=None),
        axis=alt.AxisConfig(
            labelFontSize=TEXT_SIZE,
            titleFontSize=TEXT_SIZE,
            labelColor=INK,
            titleColor=MUTED,
            titleFontWeight="normal",
            titlePadding=8,
            domainColor=MUTED,
            gridColor=GRID,
            ticks=False,
            domain=False,
            labelPadding=6,
        ),
        text=alt.MarkConfig(fontSize=TEXT_SIZE, color=INK, lineHeight=LINE_HEIGHT, lineBreak=LINE_BREAK),
        line=alt.LineConfig(strokeWidth=2.5),
        point=alt.MarkConfig(filled=True, size=70, opacity=1),
    )
