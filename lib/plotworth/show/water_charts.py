"""The charts of a season's water: rows in, Altair chart out; no chart computes a result.

As in `charts.py`: a chart is made once, `<chart>_data` lays its rows out, a live panel changes the rows alone. A
chart of one system takes a `name` for each, and a `reach` that all share, so that neighbours have one scale.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from plotworth.ground.amounts import amount_text, figures_text
from plotworth.show import theme

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

CALENDAR_HEIGHT, LEVEL_HEIGHT, AXIS_ROOM = 300, 260, 64
LEDGER_ROW, LEDGER_BAR, LEDGER_BAR_AT, LEDGER_HEAD_AT = 38, 11, 7, -1
LIFT_ROW, LIFT_BAR, LIFT_BAR_AT, LIFT_HEAD_AT = 58, 18, 13, -1
YEAR_ROW, DOTS_AT, YEAR_HEAD_AT = 58, 12, 2
MARKS_AT = 8
HEAD_ROOM = 1.15  # part of a full tank that its chart reaches up to, so that words and marks stand clear of the line
PER_AREA = "L/m²"
COVERS: Mapping[str, tuple[str, str]] = {
    "rain_mm": ("Rain it can use", theme.COLOURS[5]),
    "watering_mm": ("Watering or wick", theme.COLOURS[0]),
    "soil_mm": ("Soil's store", theme.COLOURS[4]),
    "short_mm": ("Short", theme.COLOURS[1]),
}
"""Parts of the calendar from the axis up: their words and colours; light and dark alternate."""
LEDGER_KINDS = {"in": theme.COLOURS[0], "plants": theme.COLOURS[2], "out": theme.COLOURS[4]}
MONTHS = (
    "utcFormat(datum.value, '%b') + (utcmonth(datum.value) === 0 ? utcFormat(datum.value, ' %Y') : '')"  # in English
)


def _time(field: str, *, title: str | None = None) -> alt.X:
    """Return the axis of days: moments in universal time, a label a month."""
    axis = alt.Axis.from_dict(
        {"title": title, "labelExpr": MONTHS, "tickCount": "month", "grid": False, "labelFlush": False}
    )
    return alt.X(f"{field}:T", scale=alt.Scale(type="utc", nice=False), axis=axis)


def _rows_of(keys: Sequence[Any]) -> alt.Scale:
    """Return the scale that gives each key a row of its own, all of one height."""
    return alt.Scale(type="band", domain=list(keys), padding=0)


def _reaching(name: str, channel: str) -> alt.Chart:
    """Return an unseen mark that makes a scale reach as far as the data set says."""
    seen = alt.X("reach:Q") if channel == "x" else alt.Y("reach:Q")
    return alt.Chart(alt.NamedData(f"{name}_reach")).mark_point(opacity=0).encode(seen)


def _heads(base: alt.Chart, dy: int) -> list[alt.Chart]:
    """Return the words above a row of a chart, from its left edge, on a halo that keeps lines out of the letters."""
    encoded = base.encode(x=alt.value(0), text="text:N")
    halo = encoded.mark_text(align="left", baseline="bottom", dy=dy, dx=4, stroke=theme.PAPER, strokeWidth=4)
    return [halo, encoded.mark_text(align="left", baseline="bottom", dy=dy, dx=4)]


def requirement_reach(rows: Rows) -> float:
    """Return the greatest depth a day [mm] that the crop takes in a week, over the rows of all systems shown."""
    return max((float(row["taken_mm"]) / float(row["days"]) for row in rows), default=0.0)


def requirement_data(rows: Rows, *, reach: float, name: str = "requirement") -> Datasets:
    """Lay out rows of `choose.water_chart_rows.requirement_rows` of one system for `requirement_chart`."""
    return {
        name: [dict(row) for row in rows],
        f"{name}_parts": [part for row in rows for part in _stacked(row)],
        f"{name}_reach": [{"reach": reach}],
    }


def _stacked(row: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the parts of a week as pieces of its column [mm a day]."""
    pieces, low = [], 0.0
    for key, (words, _) in COVERS.items():
        high = low + float(row[key]) / float(row["days"])
        pieces.append({"from_ms": row["from_ms"], "to_ms": row["to_ms"], "part": words, "low": low, "high": high})
        low = high
    return pieces


def requirement_chart(*, name: str = "requirement") -> alt.LayerChart:
    """Return the calendar of one season: by week what the crop takes a day, and what covers it, stacked."""
    words, colours = zip(*COVERS.values(), strict=True)
    legend = alt.Legend(
        orient="top", title=None, columns=2, labelLimit=200, symbolType="square", labelFontSize=theme.TEXT_SIZE
    )
    colour = alt.Color("part:N", scale=alt.Scale(domain=list(words), range=list(colours)), legend=legend)
    axis = theme.measure_axis("The crop takes [L/m² a day; 1 L/m² is 1 mm]", upright=True)
    y = alt.Y("low:Q", axis=axis, scale=alt.Scale(zero=True))
    pieces = alt.Chart(alt.NamedData(f"{name}_parts"))
    columns = pieces.mark_bar(stroke=theme.PAPER, strokeWidth=0.7).encode(
        x=_time("from_ms"), x2="to_ms:T", y=y, y2="high:Q", color=colour
    )
    return theme.dress(
        alt.layer(columns, _reaching(name, "y")), height=CALENDAR_HEIGHT, tables=[_requirement_table(name)]
    )


def _requirement_table(name: str) -> dict[str, Any]:
    parts = [[key, f"{words} [{PER_AREA}]"] for key, (words, _) in COVERS.items()]
    columns = [["week", "Week"], ["first_day", "From"], ["days", "Days"], ["taken_mm", f"Crop takes [{PER_AREA}]"]]
    return {"name": name, "caption": "What the crop takes by week and what covers it", "columns": columns + parts}


def level_data(levels: Rows, refills: Rows, short: Rows, capacity_l: float, *, name: str = "tank") -> Datasets:
    """Lay out `level_rows`, `refill_rows` and `short_rows` of one tank and its capacity [l] for `level_chart`."""
    return {
        name: [{**row, "place": place} for place, row in enumerate(levels)],
        f"{name}_refills": [dict(row) for row in refills],
        f"{name}_short": [dict(row) for row in short],
        f"{name}_full": [{"litres": capacity_l, "text": f"full: {amount_text(capacity_l, 'L')}"}],
        f"{name}_reach": [{"reach": HEAD_ROOM * capacity_l}],
    }


def level_chart(*, name: str = "tank") -> alt.LayerChart:
    """Return the litres in one tank by day: fillings as dots, days on which plants are short as bands, the brim."""
    x = _time("at_ms")
    y = alt.Y(
        "litres:Q",
        axis=theme.measure_axis("In one tank [L]; ● filled, ▼ plants short", upright=True),
        scale=alt.Scale(zero=True),
    )
    short = alt.Chart(alt.NamedData(f"{name}_short"))
    band = short.mark_rect(color=theme.LOSS, opacity=0.3).encode(x=_time("from_ms"), x2="to_ms:T")
    mark = short.mark_point(shape="triangle-down", color=theme.LOSS, size=60, filled=True)
    marks = mark.transform_calculate(middle="(datum.from_ms + datum.to_ms) / 2").encode(
        x=_time("middle"), y=alt.value(MARKS_AT)
    )
    line = alt.Chart(alt.NamedData(name)).mark_line(color=theme.COLOURS[0], strokeWidth=1.5)
    refills = alt.Chart(alt.NamedData(f"{name}_refills")).mark_point(
        shape="circle", filled=True, color=theme.INK, size=30
    )
    layers = [
        band,
        _reaching(name, "y"),
        *_brim(name, y),
        line.encode(x=x, y=y, order=alt.Order("place:Q")),
        refills.encode(x=x, y=y),
        marks,
    ]
    return theme.dress(alt.layer(*layers), height=LEVEL_HEIGHT, tables=_level_tables(name))


def _brim(name: str, y: alt.Y) -> list[alt.Chart]:
    """Return the dashed line of a full tank and its words above the left end."""
    full = alt.Chart(alt.NamedData(f"{name}_full")).encode(y=y)
    rule = full.mark_rule(color=theme.MUTED, strokeDash=[4, 4], strokeWidth=1)
    placed = full.encode(x=alt.value(0), text="text:N")
    halo = placed.mark_text(align="left", baseline="bottom", dx=4, dy=-6, stroke=theme.PAPER, strokeWidth=4)
    return [rule, halo, placed.mark_text(align="left", baseline="bottom", dx=4, dy=-6)]


def _level_tables(name: str) -> list[dict[str, Any]]:
    short = [["first_day", "From"], ["days", "Days short"], ["short_l", "Missing, one tank's plants [L]"]]
    refills = [["date", "Filled on"], ["carried_l", "Carried there [L]"], ["litres", "In the tank then [L]"]]
    levels = [["date", "Day"], ["when", "When"], ["litres", "In the tank [L]"]]
    return [
        {"name": f"{name}_short", "caption": "Days on which the plants get less than they ask", "columns": short},
        {"name": f"{name}_refills", "caption": "Fillings of one tank", "columns": refills},
        {"name": name, "caption": "Litres in one tank", "columns": levels},
    ]


def ledger_reach(rows: Rows) -> float:
    """Return the greatest sum of what comes in [l/m2] over the rows of all systems shown."""
    sums: dict[str, float] = {}
    for row in rows:
        if row["side"] == "in":
            sums[row["system"]] = sums.get(row["system"], 0.0) + float(row["litres"])
    return max(sums.values(), default=0.0)


def ledger_data(rows: Rows, *, reach: float, name: str = "ledger") -> Datasets:
    """Lay out `ledger_rows` of one system for `ledger_chart`: each part begins where the one before it ended."""
    level, drawn = 0.0, []
    for row in rows:
        coming, before = row["side"] == "in", level
        level += float(row["litres"]) if coming else -float(row["litres"])
        kind = "in" if coming else "plants" if row["through_plants"] else "out"
        words = f"{'In' if coming else 'Out'}: {row['part'][:1].lower()}{row['part'][1:]}"
        text = f"{words}, {amount_text(float(row['litres']), PER_AREA)}"
        drawn.append({**row, "kind": kind, "from": before, "to": level, "text": text})
    return {name: drawn, f"{name}_reach": [{"reach": reach}]}


def ledger_chart(parts: int, *, name: str = "ledger") -> alt.LayerChart:
    """Return one system's season as a stair: what comes in leads up, what goes out leads down to nothing.

    `parts` is how many rows its ledger has.
    """
    y = alt.Y("place:O", scale=_rows_of(range(parts)), axis=None)
    base = alt.Chart(alt.NamedData(name)).encode(y=y)
    kinds = alt.Scale(domain=list(LEDGER_KINDS), range=list(LEDGER_KINDS.values()))
    axis = theme.measure_axis(f"Water of the season [{PER_AREA}]", upright=False)
    bars = base.mark_bar(height=LEDGER_BAR, yOffset=LEDGER_BAR_AT).encode(
        x=alt.X("from:Q", axis=axis, scale=alt.Scale(domainMin=0, padding=0)),
        x2="to:Q",
        color=alt.Color("kind:N", scale=kinds, legend=None),
    )
    columns = [["side", "In or out"], ["part", "Part"], ["litres", f"Water [{PER_AREA}]"]]
    table = {"name": name, "caption": "Where the water of the season comes from and goes to", "columns": columns}
    layers = [_reaching(name, "x"), bars, *_heads(base, LEDGER_HEAD_AT)]
    return theme.dress(alt.layer(*layers), height=LEDGER_ROW * parts + AXIS_ROOM, tables=[table])


def lifting_data(rows: Rows, quantity: str, *, unit: str, name: str) -> Datasets:
    """Lay out `lifting_rows` for `lifting_chart`; `quantity` is the column drawn: carrying_h or energy_kwh."""
    return {
        name: [
            {**row, "text": f"{row['label']}: {amount_text(float(row[quantity]), unit)}"}
            for row in rows
        ]
    }  # fmt: skip


def lifting_chart(systems: Sequence[str], quantity: str, *, heading: str, unit: str, name: str) -> alt.LayerChart:
    """Return a bar for each system of what bringing its water takes in a year: hours of carrying, or kWh of pumping."""
    y = alt.Y("system:N", scale=_rows_of(systems), axis=None)
    base = alt.Chart(alt.NamedData(name)).encode(y=y)
    axis = theme.measure_axis(f"{heading} [{unit} a year]", upright=False, grid=False)
    colour = alt.Color("system:N", scale=theme.colour_scale(systems), legend=None)
    bars = base.mark_bar(cornerRadius=1, height=LIFT_BAR, yOffset=LIFT_BAR_AT).encode(
        x=alt.X(f"{quantity}:Q", axis=axis), color=colour
    )
    columns = [["label", "System"], ["water_m3", "Water drawn [m³ a year]"], [quantity, f"{heading} [{unit} a year]"]]
    table = {"name": name, "caption": f"{heading} by system", "columns": columns}
    height = LIFT_ROW * len(systems) + AXIS_ROOM
    return theme.dress(alt.layer(bars, *_heads(base, LIFT_HEAD_AT)), height=height, tables=[table])


def years_data(rows: Rows, *, name: str = "years") -> Datasets:
    """Lay out `year_rows` of all systems for `years_chart`."""
    systems: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows:
        systems.setdefault(str(row["system"]), []).append(row)
    heads = [{"system": system, "text": _years_text(own)} for system, own in systems.items()]
    return {name: [dict(row) for row in rows], f"{name}_heads": heads}


def _years_text(rows: Rows) -> str:
    litres = [float(row["litres"]) for row in rows]
    if len(rows) == 1:
        return f"{rows[0]['label']}: {amount_text(litres[0], PER_AREA)}, one year"
    mean = figures_text(sum(litres) / len(litres))
    reach = f"{figures_text(min(litres))} to {figures_text(max(litres))}"
    return f"{rows[0]['label']}: mean {mean}, {reach} {PER_AREA}"


def years_chart(systems: Sequence[str], *, name: str = "years") -> alt.LayerChart:
    """Return a dot for each year of weather and system: the water the season requires at the bed."""
    y = alt.Y("system:N", scale=_rows_of(systems), axis=None)
    axis = theme.measure_axis(f"Required by the season [{PER_AREA}]", upright=False)
    dots = alt.Chart(alt.NamedData(name)).mark_point(yOffset=DOTS_AT, opacity=0.75)
    encoded = dots.encode(
        x=alt.X("litres:Q", axis=axis, scale=alt.Scale(zero=True)),
        y=y,
        color=alt.Color("system:N", scale=theme.colour_scale(systems), legend=None),
        shape=alt.Shape("system:N", scale=theme.shape_scale(systems), legend=None),
    )
    heads = alt.Chart(alt.NamedData(f"{name}_heads")).encode(y=y)
    columns = [["label", "System"], ["year", "Planted in"], ["litres", f"Required [{PER_AREA}]"]]
    columns += [["taken", f"Crop takes [{PER_AREA}]"], ["rain", f"Rain it can use [{PER_AREA}]"]]
    columns += [["applied", f"To be applied [{PER_AREA}]"]]
    table = {"name": name, "caption": "Requirement of the season by year of weather", "columns": columns}
    height = YEAR_ROW * len(systems) + AXIS_ROOM
    return theme.dress(alt.layer(encoded, *_heads(heads, YEAR_HEAD_AT)), height=height, tables=[table])
