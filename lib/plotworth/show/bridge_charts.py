"""The bridge chart: from an outcome before to the outcome after, a step for each input that moved.

As in `charts.py`: rows in, Altair chart out; no chart computes a result.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.ground.amounts import figures_text
from plotworth.show import theme

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]
ENDS = ("before", "after")
MORE, LESS, END = "more", "less", "end"
KINDS = (MORE, LESS, END)
COLOURS = (theme.GAIN, theme.LOSS, theme.MUTED)
ARROWS = ("triangle-right", "triangle-left", "circle")
ROW, AXIS_ROOM, TEXT_AT, BAR_AT, BAR = 44, 56, -10, 9, 8


def bridge_data(rows: Rows, *, name: str = "bridge") -> Datasets:
    """Lay out `bridge_rows` for `bridge_chart`: a key for each row in its order, the words beside it, its direction."""
    written = []
    for place, row in enumerate(rows):
        direction = END if row["kind"] in ENDS else MORE if float(row["amount"]) > 0 else LESS
        written.append({**row, "key": f"{place:02d}", "direction": direction, "text": _words(row)})
    return {name: written}


def _words(row: Mapping[str, Any]) -> str:
    amount = float(row["amount"])
    if row["kind"] in ENDS:
        return f"{row['label']}: {figures_text(amount)}"
    sign = "+" if amount > 0 else ""
    detail = f" ({row['detail']})" if row["detail"] else ""
    return f"{row['label']}: {sign}{figures_text(amount)}{detail}"


def bridge_chart(count: int, *, unit: str, title: str = "Net present value", name: str = "bridge") -> alt.LayerChart:
    """Return a waterfall of `count` rows from the value before to the value after.

    A bar runs from where the bars above it have come to; an arrow at its end says which way, as its colour does.
    `unit` and `title` are the outcome's.
    """
    keys = [f"{place:02d}" for place in range(count)]
    y = alt.Y("key:N", scale=alt.Scale(type="band", domain=keys, padding=0), axis=None)
    room = alt.Scale(zero=True, padding=theme.PLOT_PADDING)
    axis = theme.measure_axis(f"{title} [{unit}]", upright=False)
    x = alt.X("start:Q", axis=axis, scale=room)
    colour = alt.Color("direction:N", scale=alt.Scale(domain=list(KINDS), range=list(COLOURS)), legend=None)
    shape = alt.Shape("direction:N", scale=alt.Scale(domain=list(KINDS), range=list(ARROWS)), legend=None)
    base = alt.Chart(alt.NamedData(name)).encode(y=y)
    bars = base.mark_rule(strokeWidth=BAR, yOffset=BAR_AT).encode(x=x, x2="end:Q", color=colour)
    arrows = base.mark_point(size=110, yOffset=BAR_AT).encode(x=alt.X("end:Q"), color=colour, shape=shape)
    zero = alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(x=alt.datum(0))
    words = base.encode(x=alt.value(0), text="text:N")
    style = {"align": "left", "baseline": "middle", "dx": 4, "dy": TEXT_AT}
    layers = [
        zero,
        bars,
        arrows,
        words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4),
        words.mark_text(**style),
    ]
    columns = [["label", "Input"], ["detail", "From and to"], ["amount", f"Amount [{unit}]"]]
    table = {"name": name, "caption": f"{title} before, what each input adds, and after", "columns": columns}
    return theme.dress(alt.layer(*layers), height=ROW * count + AXIS_ROOM, tables=[table])
