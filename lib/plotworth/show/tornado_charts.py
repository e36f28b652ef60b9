"""The charts of influence: tornado, shares of variance, values of knowing, what rests on which grade of evidence.

As in `charts.py`: rows in, Altair chart out; no chart computes a result. A grade keeps its colour and shape.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.ground.amounts import figures_text, money_text, share_text
from plotworth.show import theme

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

GRADES = ("measured here", "published", "quoted", "judged", "no grade")
BAR_ROW, NAME_AT, WORDS_AT, BAR_AT, BAR = 60, -20, -4, 14, 8
DOT_ROW, DOT_NAME_AT, DOT_AT = 42, -10, 10
SHARE_AXIS = "Share of the spread [%]"
AXIS_ROOM, PALE = 56, 0.55
PER_CENT = 100.0
TEXT_DIGITS = 2
PLAIN = "plain"
"""Mark of what rests on no evidence: the decider's own choices, the value of knowing everything."""
CROSS = "cross"


def _grade_scale() -> alt.Scale:
    colours = [theme.place(GRADES, grade, theme.COLOURS) for grade in GRADES]
    return alt.Scale(domain=[*GRADES, PLAIN], range=[*colours, theme.MUTED])


def _colour(field: str) -> alt.Color:
    return alt.Color(f"{field}:N", scale=_grade_scale(), legend=None)


def _shape(field: str) -> alt.Shape:
    kinds = [*GRADES, PLAIN]
    shapes = [theme.place(GRADES, grade, theme.SHAPES) for grade in GRADES]
    return alt.Shape(f"{field}:N", scale=alt.Scale(domain=kinds, range=[*shapes, "triangle-down"]), legend=None)


def _rows_axis(keys: Sequence[str]) -> alt.Y:
    return alt.Y("key:N", scale=alt.Scale(type="band", domain=list(keys), padding=0), axis=None)


def _keys(count: int) -> list[str]:
    return [f"{place:02d}" for place in range(count)]


def _zero(at: float = 0.0, dash: Sequence[int] = (1, 0)) -> alt.Chart:
    rule = alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1, strokeDash=list(dash))
    return rule.encode(x=alt.datum(at))


def _left(base: alt.Chart, text: str, weight: str, dy: int) -> list[alt.Chart]:
    """Return words in a row at the left edge of the chart, on a halo that keeps lines out of the letters."""
    words = base.encode(x=alt.value(0), text=text)
    style = {"align": "left", "baseline": "middle", "dx": 4, "dy": dy, "fontWeight": weight}
    return [words.mark_text(**style, stroke=theme.PAPER, strokeWidth=4), words.mark_text(**style)]


def tornado_data(rows: Rows, *, name: str = "tornado") -> Datasets:
    """Lay out `tornado_rows` for `tornado_chart`: a key for each row in its order; choices have their own mark."""
    bars = [
        {**row, "key": key, "mark": PLAIN if row["is_choice"] else row["grade_words"]}
        for key, row in zip(_keys(len(rows)), rows, strict=True)
    ]
    case = [{"base": row["base"], "text": "this case"} for row in rows[:1]]
    return {name: bars, f"{name}_ties": [row for row in bars if row["tie"]], f"{name}_case": case}


def tornado_chart(count: int, *, currency: str, title: str, name: str = "tornado") -> alt.LayerChart:
    """Return `count` bars from the outcome with a row at its low end (open mark) to that at its high end (filled mark).

    Colour and shape say the grade of evidence, grey triangles the decider's own choices; a cross stands at 0 where the
    bar passes it; the dashed line is the case. `title` says of what, as `NPV of the tank less that of the well`.
    """
    y = _rows_axis(_keys(count))
    x = alt.X("at_low:Q", axis=theme.measure_axis(f"{title} [{currency}]", upright=False), scale=_room())
    colour, shape = _colour("mark"), _shape("mark")
    base, ties = (alt.Chart(alt.NamedData(f"{name}{part}")).encode(y=y) for part in ("", "_ties"))
    case = alt.Chart(alt.NamedData(f"{name}_case")).mark_rule(color=theme.INK, strokeDash=[4, 3], strokeWidth=1)
    low = base.mark_point(size=90, yOffset=BAR_AT, filled=True, fill=theme.PAPER, strokeWidth=2)
    high = base.mark_point(size=110, yOffset=BAR_AT)
    cross = ties.mark_point(shape=CROSS, angle=45, size=150, yOffset=BAR_AT, color=theme.INK, opacity=1)
    layers = [
        _zero(),
        case.encode(x=alt.X("base:Q")),
        base.mark_rule(strokeWidth=BAR, opacity=PALE, yOffset=BAR_AT).encode(x=x, x2="at_high:Q", color=colour),
        low.encode(x=x, stroke=alt.Stroke("mark:N", scale=_grade_scale(), legend=None), shape=shape),
        high.encode(x=alt.X("at_high:Q"), color=colour, shape=shape),
        cross.encode(x=alt.datum(0.0)),
        *_left(base, "name:N", "bold", NAME_AT),
        *_left(base, "words:N", "normal", WORDS_AT),
    ]
    columns = [["name", "Row"], ["words", "From and to"], ["at_low", f"At its low end [{currency}]"]]
    columns += [["at_high", f"At its high end [{currency}]"], ["tie", "Tie at"]]
    table = {"name": name, "caption": f"{title}, each row alone at either end", "columns": columns}
    return theme.dress(alt.layer(*layers), height=BAR_ROW * max(count, 1) + AXIS_ROOM, tables=[table])


def _room() -> alt.Scale:
    return alt.Scale(zero=True, padding=theme.PLOT_PADDING)


def share_data(rows: Rows, *, name: str = "shares") -> Datasets:
    """Lay out `share_rows` for `share_chart`: per cent, a name with its number for each row."""
    dots = [
        {
            **row,
            "key": key,
            **{f"{part}_pct": PER_CENT * float(row[part]) for part in ("share", "low", "high")},
            "words": f"{share_text(float(row['share']), digits=TEXT_DIGITS)} of the spread; {row['grade_words']}",
            "mark": row["grade_words"],
        }
        for key, row in zip(_keys(len(rows)), rows, strict=True)
    ]
    return {name: dots}


def share_chart(count: int, *, name: str = "shares") -> alt.LayerChart:
    """Return a dot for each share of the variance with the line of its standard errors; colour and shape by grade."""
    return _dots(count, SHARE_AXIS, "share_pct", ("low_pct", "high_pct"), name)


def worth_data(rows: Rows, currency: str, *, name: str = "worth") -> Datasets:
    """Lay out `worth_rows` for `worth_chart`: a name with its number for each row."""
    bars = [
        {
            **row,
            "key": key,
            "words": money_text(float(row["value"]), currency) + (f"; {row['grade_words']}" if row["is_row"] else ""),
            "mark": row["grade_words"] if row["is_row"] else PLAIN,
        }
        for key, row in zip(_keys(len(rows)), rows, strict=True)
    ]
    return {name: bars}


def worth_chart(count: int, *, currency: str, name: str = "worth") -> alt.LayerChart:
    """Return a bar for what each piece of knowledge is worth, with the line of its error from the draws."""
    axis = f"Value of knowing before choosing [{currency}]"
    return _dots(count, axis, "value", ("low", "high"), name, is_bar=True)


def _dots(
    count: int, axis: str, field: str, ends: tuple[str, str], name: str, *, is_bar: bool = False
) -> alt.LayerChart:
    y = _rows_axis(_keys(count))
    x = alt.X(f"{field}:Q", axis=theme.measure_axis(axis, upright=False), scale=_room())
    base = alt.Chart(alt.NamedData(name)).encode(y=y)
    error = base.mark_rule(strokeWidth=2, yOffset=BAR_AT, color=theme.INK)
    stem = base.mark_rule(strokeWidth=BAR if is_bar else 1, opacity=PALE, yOffset=BAR_AT)
    layers = [
        _zero(),
        stem.encode(x=x, x2=alt.datum(0.0), color=_colour("mark")),
        error.encode(x=alt.X(f"{ends[0]}:Q"), x2=f"{ends[1]}:Q"),
        base.mark_point(size=110, yOffset=BAR_AT).encode(x=x, color=_colour("mark"), shape=_shape("mark")),
        *_left(base, "name:N", "bold", NAME_AT),
        *_left(base, "words:N", "normal", WORDS_AT),
    ]
    columns = [["name", "Row"], ["grade_words", "Evidence"], [field, axis], [ends[0], "95 % from"], [ends[1], "to"]]
    table = {"name": name, "caption": axis, "columns": columns}
    return theme.dress(alt.layer(*layers), height=BAR_ROW * max(count, 1) + AXIS_ROOM, tables=[table])


def evidence_data(rows: Rows, *, name: str = "evidence") -> Datasets:
    """Lay out `evidence_rows` for `evidence_chart`: per cent, words for each grade."""
    bars = [
        {
            **row,
            "key": key,
            "spread_pct": PER_CENT * float(row["spread"]),
            "swing_pct": PER_CENT * float(row["swing"]),
            "text": f"{str(row['grade_words']).capitalize()}: {share_text(float(row['spread']), digits=TEXT_DIGITS)} "
            f"of the spread, {figures_text(float(row['rows']))} rows",
        }
        for key, row in zip(_keys(len(rows)), rows, strict=True)
    ]
    return {name: bars}


def evidence_chart(count: int, *, name: str = "evidence") -> alt.LayerChart:
    """Return a bar for the part of the spread that rests on each grade, and a tick for its part of the swings."""
    y = _rows_axis(_keys(count))
    axis = theme.measure_axis(f"{SHARE_AXIS}; tick: of the swings", upright=False)
    x = alt.X("spread_pct:Q", axis=axis, scale=_room())
    base = alt.Chart(alt.NamedData(name)).encode(y=y)
    tick = base.mark_point(shape="stroke", angle=90, size=260, strokeWidth=2.5, yOffset=DOT_AT, stroke=theme.INK)
    layers = [
        _zero(),
        base.mark_rule(strokeWidth=BAR, opacity=PALE, yOffset=DOT_AT).encode(
            x=x, x2=alt.datum(0.0), color=_colour("grade_words")
        ),
        base.mark_point(size=110, yOffset=DOT_AT).encode(
            x=x, color=_colour("grade_words"), shape=_shape("grade_words")
        ),
        tick.encode(x=alt.X("swing_pct:Q")),
        *_left(base, "text:N", "normal", DOT_NAME_AT),
    ]
    columns = [["grade_words", "Evidence"], ["rows", "Rows drawn"], ["spread_pct", "Part of the spread [%]"]]
    columns += [["swing_pct", "Part of the swings [%]"]]
    table = {"name": name, "caption": "What it rests on, by grade of evidence", "columns": columns}
    return theme.dress(alt.layer(*layers), height=DOT_ROW * max(count, 1) + AXIS_ROOM, tables=[table])
