"""The charts of a trial that is being planned: rows in, Altair chart out; no chart computes a result.

As in `charts.py`: a chart is made once, `<chart>_data` lays its rows out, a live panel changes the rows alone. Shares
become per cent here. Differences far beyond what is asked stay in the table and are not drawn.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.ground.amounts import figures_text, share_text
from plotworth.show import theme
from plotworth.show.charts import spread

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

CURVE_HEIGHT, AXIS_ROOM = 300, 64
PERCENT = 100.0
REACH = 2.5  # times the greater of the smallest gain and what the trial shows: how far up a chart goes
ROOM_ABOVE, HEAD_ROOM = 1.1, 1.15
LOW_SHARE = 0.15  # of a chart's height: a line lower than this has its words above it, not on the axis
CLEAR = 1.3  # times the last difference: a line higher than this has its words at its right end, clear of the curve
GAIN_WORDS = {"under": ("left", 0, 10), "over": ("left", 0, -10), "right": ("right", "width", -10)}
"""Where the words of the smallest gain stand: how they are aligned, from which edge, how far below the line."""
CLOSE_PERCENT = 2.0  # precisions nearer than this would have their labels on one another
MAP_ROW, KEY_ROW, MAP_ROOM = 52, 22, 120
LEFT_OF_MAP = 0.13  # part of its width kept for the names of blocks
DIGITS = 2
CURVE, BAND_OPACITY = theme.COLOURS[0], 0.16
DIFFERENCE = "Difference that shows [% of the mean]"


def _percent(share: float) -> str:
    return share_text(share, digits=DIGITS)


def _reach(rows: Rows, gain: float) -> float:
    """Return how far up a chart of differences goes [share of the mean]."""
    chosen = next(row for row in rows if row["chosen"])
    ends = [float(chosen[key]) for key in ("detectable", "high") if key in chosen]
    return max(REACH * max(gain, ends[0]), ROOM_ABOVE * max(ends))


def _drawn(rows: Rows, keys: Sequence[str], reach: float) -> list[dict[str, Any]]:
    """Return rows whose difference lies within reach, the named shares in per cent and cut off at the reach."""
    return [
        {**row, **{key: PERCENT * min(float(row[key]), reach) for key in keys}}
        for row in rows
        if float(row["detectable"]) <= reach
    ]


def _gain_row(gain: float, reach: float, last: float) -> dict[str, Any]:
    """Return the line of the smallest gain and where its words keep clear of axis and curve."""
    place = "right" if gain > CLEAR * last else "over" if gain < LOW_SHARE * reach else "under"
    return {"gain": PERCENT * gain, "text": f"smallest gain: {_percent(gain)}", "place": place}


def blocks_data(rows: Rows, *, gain: float, cvs: Mapping[str, float], name: str = "blocks") -> Datasets:
    """Lay out `choose.plan_chart_rows.block_rows` for `blocks_chart`.

    Parameters: rows; smallest gain worth having [share]; the CV of each of the columns detectable, low and high.
    """
    reach = _reach(rows, gain)
    written = [{**row, **{key: PERCENT * float(row[key]) for key in cvs}} for row in rows]
    drawn = _drawn(rows, list(cvs), reach)
    chosen = next(row for row in drawn if row["chosen"])
    text = f"{chosen['blocks']} blocks: {_percent(chosen['detectable'] / PERCENT)}"
    return {
        name: written,
        f"{name}_drawn": drawn,
        f"{name}_chosen": [{**chosen, "text": text}],
        f"{name}_gain": [_gain_row(gain, reach, float(rows[-1]["detectable"]))],
        f"{name}_ends": _ends(drawn[-1], cvs, reach),
        f"{name}_reach": [{"reach": PERCENT * reach}],
    }


def _ends(last: Mapping[str, Any], cvs: Mapping[str, float], reach: float) -> list[dict[str, Any]]:
    """Return the words at the right end of line and band, kept apart: the CV that each stands for."""
    line = PERCENT * reach * theme.LINE_HEIGHT / (CURVE_HEIGHT - AXIS_ROOM)
    heights = spread([float(last[key]) for key in cvs], [line] * len(cvs))
    return [
        {"blocks": last["blocks"], "at": height, "text": f"CV {_percent(cv)}"}
        for height, cv in zip(heights, cvs.values(), strict=True)
    ]


def blocks_chart(*, name: str = "blocks") -> alt.LayerChart:
    """Return the detectable difference against blocks: a line for the expected CV, a band between its two ends."""
    axis = alt.Axis(title="Blocks", format="d", tickMinStep=1, grid=False, labelSeparation=8)
    x = alt.X("blocks:Q", axis=axis, scale=alt.Scale(nice=False, zero=False, padding=14))
    room = alt.Scale(zero=True, nice=False)  # the band is cut off at the top of the chart, not under it
    y = alt.Y("detectable:Q", axis=theme.measure_axis(DIFFERENCE, upright=True), scale=room)
    drawn = alt.Chart(alt.NamedData(f"{name}_drawn")).encode(x=x)
    band = drawn.mark_area(color=CURVE, opacity=BAND_OPACITY).encode(y=alt.Y("low:Q"), y2="high:Q")
    line = drawn.mark_line(color=CURVE).encode(y=y)
    ends = alt.Chart(alt.NamedData(f"{name}_ends")).encode(x=x, y="at:Q", text="text:N")
    layers = [
        _unseen(name),
        band,
        *_gain(name),
        line,
        *_haloed(ends, align="left", dx=8, dy=0),
        *_chosen(name, x, y),
    ]
    return theme.dress(alt.layer(*layers), height=CURVE_HEIGHT, tables=[_blocks_table(name)])


def _unseen(name: str) -> alt.Chart:
    """Return a mark that is not seen and makes the upright axis reach as far as the data set says."""
    return alt.Chart(alt.NamedData(f"{name}_reach")).mark_point(opacity=0).encode(y="reach:Q")


def _haloed(encoded: alt.Chart, *, align: str, dx: int, dy: int) -> list[alt.Chart]:
    """Return words on a halo that keeps lines out of the letters."""
    halo = encoded.mark_text(align=align, baseline="middle", dx=dx, dy=dy, stroke=theme.PAPER, strokeWidth=4)
    return [halo, encoded.mark_text(align=align, baseline="middle", dx=dx, dy=dy)]


def _gain(name: str) -> list[alt.Chart]:
    """Return the dashed line of the smallest gain worth having, and its words where they keep clear."""
    gain = alt.Chart(alt.NamedData(f"{name}_gain")).encode(y="gain:Q")
    words = []
    for place, (align, edge, dy) in GAIN_WORDS.items():
        placed = gain.transform_filter(alt.datum.place == place).encode(x=alt.value(edge), text="text:N")
        words += _haloed(placed, align=align, dx=4 if align == "left" else -4, dy=dy)
    return [gain.mark_rule(color=theme.LOSS, strokeDash=[6, 4], strokeWidth=1.5), *words]


def _chosen(name: str, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Return the mark of what is chosen and its words, above and right of it."""
    chosen = alt.Chart(alt.NamedData(f"{name}_chosen")).encode(x=x, y=y)
    mark = chosen.mark_point(shape="circle", color=theme.INK, size=110, filled=True)
    return [mark, *_haloed(chosen.encode(text="text:N"), align="left", dx=8, dy=-14)]


def _blocks_table(name: str) -> dict[str, Any]:
    columns = [["blocks", "Blocks"], ["plots", "Plots"], ["detectable", "Shows from, expected CV [%]"]]
    columns += [["low", "CV at best [%]"], ["high", "CV at worst [%]"]]
    return {"name": name, "caption": "Difference that shows with 80 % power, by blocks", "columns": columns}


def splits_data(rows: Rows, *, gain: float, name: str = "splits") -> Datasets:
    """Lay out `choose.plan_chart_rows.split_rows` for `splits_chart`."""
    reach = _reach(rows, gain)
    shares = ("detectable", "plot_cv")
    written = [{**row, **{key: PERCENT * float(row[key]) for key in shares}} for row in rows]
    drawn = [row for row in written if row["detectable"] <= PERCENT * reach]
    return {
        name: written,
        f"{name}_drawn": [{**row, "text": str(row["plants"])} for row in drawn],
        f"{name}_chosen": [row for row in drawn if row["chosen"]],
        f"{name}_gain": [_gain_row(gain, reach, float(rows[-1]["detectable"]))],
        f"{name}_reach": [{"reach": PERCENT * reach}],
    }


def splits_chart(*, name: str = "splits") -> alt.LayerChart:
    """Return what shows with the same plants in few blocks of large plots or in many of small ones."""
    axis = alt.Axis(title="Blocks (number at a dot: plants of a plot)", labelAngle=0, grid=False)
    x = alt.X("blocks:O", axis=axis, sort="ascending", scale=alt.Scale(padding=0.4))
    y = alt.Y("detectable:Q", axis=theme.measure_axis(DIFFERENCE, upright=True), scale=alt.Scale(zero=True))
    drawn = alt.Chart(alt.NamedData(f"{name}_drawn")).encode(x=x, y=y)
    chosen = alt.Chart(alt.NamedData(f"{name}_chosen")).encode(x=x, y=y)
    layers = [
        _unseen(name),
        *_gain(name),
        drawn.mark_line(color=CURVE, strokeWidth=1.5),
        drawn.mark_point(color=CURVE, size=70),
        chosen.mark_point(color=theme.INK, size=110),
        *_haloed(drawn.encode(text="text:N"), align="center", dx=0, dy=-15),
    ]
    columns = [["blocks", "Blocks"], ["plants", "Plants of a plot"], ["plot_cv", "CV between plots [%]"]]
    columns += [["detectable", "Difference that shows [%]"]]
    table = {"name": name, "caption": "The same plants of a treatment, parted into blocks", "columns": columns}
    return theme.dress(alt.layer(*layers), height=CURVE_HEIGHT, tables=[table])


def weighing_data(rows: Rows, *, name: str = "weighing") -> Datasets:
    """Lay out `choose.plan_chart_rows.weighing_rows` for `weighing_chart`."""
    written = [{**row, "precision": PERCENT * float(row["precision"])} for row in rows]
    chosen = next(row for row in written if row["chosen"])
    lines = [
        {"precision": row["precision"], "weigh": row[key], "of": of}
        for key, of in (("weigh", "fruits"), ("weigh_of_many", "many"))
        for row in written
    ]
    few, many = chosen["weigh"], chosen["weigh_of_many"]
    told = f"±{_percent(chosen['precision'] / PERCENT)}: {few} of {figures_text(chosen['fruits'])}"
    text = f"{told}; {many} of any number" if many > few else told
    return {
        name: written,
        f"{name}_lines": lines,
        f"{name}_reach": [{"reach": HEAD_ROOM * float(written[0]["weigh_of_many"])}],
        f"{name}_words": _weighing_words(written),
        f"{name}_chosen": [{**chosen, "text": text}],
    }


def _weighing_words(rows: Rows) -> list[dict[str, Any]]:
    """Return the words at the upper end of the line of any number; none where those of the choice would cover them."""
    first, chosen = rows[0], next(row for row in rows if row["chosen"])
    if chosen["precision"] - first["precision"] < CLOSE_PERCENT:
        return []
    return [{"precision": first["precision"], "weigh": first["weigh_of_many"], "text": "of any number of fruit"}]


def weighing_chart(*, name: str = "weighing") -> alt.LayerChart:
    """Return the fruit to weigh against the precision of their mean: of the fruit there are, and of any number."""
    axis = theme.measure_axis("Precision of the mean fruit mass, ± [%]", upright=False, grid=False)
    x = alt.X("precision:Q", axis=axis, scale=alt.Scale(nice=False, zero=False, padding=10))
    y = alt.Y("weigh:Q", axis=theme.measure_axis("Fruit to weigh [fruit]", upright=True), scale=alt.Scale(zero=True))
    kinds = ["fruits", "many"]
    lines = alt.Chart(alt.NamedData(f"{name}_lines")).mark_line().encode(
        x=x,
        y=y,
        color=alt.Color("of:N", scale=alt.Scale(domain=kinds, range=[CURVE, theme.MUTED]), legend=None),
        strokeDash=alt.StrokeDash("of:N", scale=alt.Scale(domain=kinds, range=[[1, 0], [5, 4]]), legend=None),
    )  # fmt: skip
    words = alt.Chart(alt.NamedData(f"{name}_words")).encode(x=x, y=y, text="text:N")
    chosen = alt.Chart(alt.NamedData(f"{name}_chosen")).encode(x=x)
    top = chosen.encode(y="weigh_of_many:Q", text="text:N")
    layers = [
        _unseen(name),
        lines,
        chosen.mark_rule(color=theme.INK, strokeWidth=1).encode(y=y, y2="weigh_of_many:Q"),
        chosen.mark_point(shape="circle", color=theme.INK, size=110, filled=True).encode(y=y),
        *_haloed(words, align="left", dx=16, dy=0),
        *_haloed(top, align="left", dx=8, dy=-14),
    ]
    columns = [["precision", "Precision, ± [%]"], ["weigh", "Weigh, of those there are"], ["fruits", "There are"]]
    columns += [["weigh_of_many", "Weigh, of any number"]]
    table = {"name": name, "caption": "Fruit to weigh for a precision of the mean mass", "columns": columns}
    return theme.dress(alt.layer(*layers), height=CURVE_HEIGHT, tables=[table])


def map_data(rows: Rows, key: Mapping[str, str], *, name: str = "map") -> Datasets:
    """Lay out rows and key of a `choose.plan_map.FieldMap` for `map_chart`: edges of every plot, gross and net."""
    plots = [_plot(row, key) for row in rows]
    right, bottom = max(plot["right"] for plot in plots), max(plot["bottom"] for plot in plots)
    left = -LEFT_OF_MAP * right
    blocks: dict[str, list[float]] = {}
    for row in rows:
        blocks.setdefault(str(row["block"]), []).append(float(row["y_m"]))
    names = [{"block": block, "x": left / 2, "y": sum(ys) / len(ys)} for block, ys in blocks.items()]
    return {name: plots, f"{name}_blocks": names, f"{name}_reach": [{"x": left, "y": 0.0}, {"x": right, "y": bottom}]}


def _plot(row: Mapping[str, Any], key: Mapping[str, str]) -> dict[str, Any]:
    x, y = float(row["x_m"]), float(row["y_m"])
    wide, deep = float(row["gross_width_m"]) / 2, float(row["gross_depth_m"]) / 2
    net_wide, net_deep = float(row["net_width_m"]) / 2, float(row["net_depth_m"]) / 2
    return {
        **row,
        "treatment": key[row["letter"]],
        "label": key_label(row["letter"], key),
        "text": f"{row['letter']}*" if row["noted"] else row["letter"],
        "left": x - wide,
        "right": x + wide,
        "top": y - deep,
        "bottom": y + deep,
        "net_left": x - net_wide,
        "net_right": x + net_wide,
        "net_top": y - net_deep,
        "net_bottom": y + net_deep,
    }


def key_label(letter: str, key: Mapping[str, str]) -> str:
    """Return the words of a letter in the key of a map."""
    return f"{letter}  {key[letter]}"


def map_chart(
    key: Mapping[str, str], *, heading: str, gradient_from: str, plot_rows: int, name: str = "map"
) -> alt.LayerChart:
    """Return the trial on the ground: net plots by treatment, guards around them, blocks, the side of slope or door.

    Parameters: the key, letter and treatment; heading above the key, whether this is an example or was frozen; the side
    where the gradient begins; rows of plots on the ground.
    """
    labels = [key_label(letter, key) for letter in key]
    side = gradient_from or "the side where slope or way in begins"
    across = alt.Axis.from_dict({"title": f"▲ {side}", "orient": "top", "grid": False, "labels": False})
    along = alt.Axis.from_dict({"title": "From that side [m]", "grid": False, "tickCount": 5})
    x = {"scale": alt.Scale(nice=False, zero=False), "axis": across}
    y = {"scale": alt.Scale(nice=False, zero=False, reverse=True), "axis": along}
    legend = alt.Legend(
        orient="top",
        title=heading,
        columns=2,
        labelLimit=150,
        titleLimit=340,
        labelFontSize=theme.TEXT_SIZE,
        titleFontSize=theme.TEXT_SIZE,
    )
    scale = alt.Scale(domain=labels, range=[theme.place(labels, label, theme.COLOURS) for label in labels])
    plots, names = alt.Chart(alt.NamedData(name)), alt.Chart(alt.NamedData(f"{name}_blocks"))
    gross = plots.mark_rect(filled=False, stroke=theme.MUTED, strokeDash=[3, 3]).encode(
        x=alt.X("left:Q", **x), x2="right:Q", y=alt.Y("top:Q", **y), y2="bottom:Q"
    )
    net = plots.mark_rect(fillOpacity=0.35, strokeWidth=2).encode(
        x=alt.X("net_left:Q", **x),
        x2="net_right:Q",
        y=alt.Y("net_top:Q", **y),
        y2="net_bottom:Q",
        fill=alt.Fill("label:N", scale=scale, legend=legend),
        stroke=alt.Stroke("label:N", scale=scale, legend=legend),
    )
    letters = plots.mark_text(fontWeight="bold").encode(x=alt.X("x_m:Q", **x), y=alt.Y("y_m:Q", **y), text="text:N")
    blocks = names.mark_text(align="center").encode(x=alt.X("x:Q", **x), y=alt.Y("y:Q", **y), text="block:N")
    reach = alt.Chart(alt.NamedData(f"{name}_reach")).mark_point(opacity=0)
    edges = reach.encode(x=alt.X("x:Q", **x), y=alt.Y("y:Q", **y))
    height = MAP_ROW * plot_rows + KEY_ROW * ((len(labels) + 1) // 2) + MAP_ROOM
    return theme.dress(alt.layer(edges, gross, net, letters, blocks), height=height, tables=[_map_table(name)])


def _map_table(name: str) -> dict[str, Any]:
    columns = [["plot", "Plot"], ["block", "Block"], ["treatment", "Treatment"]]
    columns += [["x_m", "Middle, along the rows [m]"], ["y_m", "Middle, from the side [m]"]]
    columns += [["gross_width_m", "Width with guards [m]"], ["gross_depth_m", "Depth with guards [m]"]]
    return {"name": name, "caption": "Plots on the ground", "columns": columns}
