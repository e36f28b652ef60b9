"""Charts of the panel on money that stand on one system or one day: before and after financing, a day of family work.

As in `charts.py`: rows in, Altair chart out; titles and spoken texts are made from the same rows.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import altair as alt

from plotworth.ground.amounts import figures_text, money_text
from plotworth.show import cash_charts, theme
from plotworth.show.captions import join_words

Rows = Sequence[Mapping[str, Any]]
Datasets = dict[str, list[dict[str, Any]]]

BEFORE, AFTER = "before", "after"
FINANCED = {BEFORE: "before financing", AFTER: "after financing"}
NEAR, NEAR_MONTHS = 0.3, 8
"""Part of the chart's height and months within which the number of one point would lie on the line of another."""
LEFT, RIGHT = "left", "right"
DAY_ROW, DAY_ROOM, NAME_AT, DOT_AT, WAGE_ROOM = 46, 74, -10, 10, 22


def financed_rows(before: Rows, after: Rows) -> list[dict[str, Any]]:
    """Return the balance of one system before and after financing as two lines; one where financing moves nothing.

    Parameters: rows of that system by `balance_rows`, without financing and with it.
    """
    rows = [{**row, "system": BEFORE, "label": FINANCED[BEFORE]} for row in before]
    if all(one["closing"] == other["closing"] for one, other in zip(before, after, strict=True)):
        return [{**row, "label": "no loan or grant"} for row in rows]
    return rows + [{**row, "system": AFTER, "label": FINANCED[AFTER]} for row in after]


def financed_data(rows: Rows, *, name: str = "financed") -> Datasets:
    """Lay out `financed_rows` for `balance_chart`; of two deepest points close together the lower alone is written."""
    data = cash_charts.balance_data(rows, name=name)
    reach = [float(row["closing"]) for row in rows] + [0.0]
    deepest = sorted(data[f"{name}_deepest"], key=lambda row: float(row["closing"]))
    for lower, upper in pairwise(deepest):
        apart = float(upper["closing"]) - float(lower["closing"])
        is_near = abs(upper["month"] - lower["month"]) < NEAR_MONTHS and apart < NEAR * (max(reach) - min(reach))
        upper["text"] = "" if is_near else upper["text"]
    return data


def financed_title(label: str, rows: Rows, currency: str) -> str:
    """Return how deep the balance of a system goes before and after financing in the months shown, `financed_rows`."""
    lowest = [
        min((row for row in rows if row["system"] == name), key=lambda row: float(row["closing"]))
        for name in dict.fromkeys(row["system"] for row in rows)
    ]
    words = [
        f"{row['label']} {money_text(min(float(row['closing']), 0.0), currency)} in month {row['month']}"
        for row in lowest
    ]
    return f"{label}, deepest balance of the months shown: {join_words(words)}"


def day_data(rows: Rows, *, name: str = "day") -> Datasets:
    """Lay out `day_rows` for `day_chart`: numbers written, and the wage of a day with its words."""
    wage = float(rows[0]["wage"]) if rows else float("nan")
    words = {"wage": wage, "text": f"wage of a day: {figures_text(wage)}", "side": _roomier_side(rows, wage)}
    line = [words] if wage == wage else []
    written = [{**row, "text": f"{row['label']}: {_day_text(row)}"} for row in rows]
    return {name: written, f"{name}_wage": line}


def _roomier_side(rows: Rows, wage: float) -> str:
    """Return on which side of the wage there is more room for its words."""
    known = [day for row in rows if (day := float(row["per_day"])) == day] + [0.0, wage]
    return LEFT if wage > (min(known) + max(known)) / 2 else RIGHT


def _day_text(row: Mapping[str, Any]) -> str:
    day = float(row["per_day"])
    return "no family work, or not known" if day != day else figures_text(day)


def day_chart(systems: Sequence[str], *, currency: str, name: str = "day") -> alt.LayerChart:
    """Return a dot for what a day of family work brings in each system, drawn from 0, and the wage as a dashed line."""
    y = alt.Y("system:N", scale=alt.Scale(type="band", domain=list(systems), padding=0), axis=None)
    axis = theme.measure_axis(f"Return per family day [{currency}/day]", upright=False)
    x = alt.X("per_day:Q", axis=axis, scale=alt.Scale(zero=True, padding=theme.PLOT_PADDING))
    colour = alt.Color("system:N", scale=theme.colour_scale(systems), legend=None)
    shape = alt.Shape("system:N", scale=theme.shape_scale(systems), legend=None)
    base, wage = alt.Chart(alt.NamedData(name)).encode(y=y), alt.Chart(alt.NamedData(f"{name}_wage"))
    drawn = base.transform_filter("isValid(datum.per_day)")
    zero = alt.Chart(alt.Data(values=[{}])).mark_rule(color=theme.MUTED, strokeWidth=1).encode(x=alt.datum(0))
    layers = [
        zero,
        wage.mark_rule(color=theme.INK, strokeDash=[6, 4], strokeWidth=1.5).encode(x="wage:Q"),
        drawn.mark_rule(strokeWidth=2.5, yOffset=DOT_AT).encode(x=x, x2=alt.datum(0), color=colour),
        drawn.mark_point(size=110, yOffset=DOT_AT).encode(x=x, color=colour, shape=shape),
        *_words(base.encode(x=alt.value(0), text="text:N"), align="left", dx=4, dy=NAME_AT),
        *_wage_words(wage, LEFT, "right"),
        *_wage_words(wage, RIGHT, "left"),
    ]
    columns = [["label", "System"], ["per_day", f"A day brings [{currency}]"], ["wage", f"Its wage [{currency}]"]]
    table = {"name": name, "caption": "What a day of family work brings, and its wage", "columns": columns}
    return theme.dress(alt.layer(*layers), height=DAY_ROW * len(systems) + DAY_ROOM, tables=[table])


def _wage_words(wage: alt.Chart, side: str, align: str) -> list[alt.Chart]:
    """Return the words above the line of the wage, those that stand on this side of it."""
    own = wage.transform_filter(alt.datum.side == side).encode(x="wage:Q", y=alt.value(0), text="text:N")
    return _words(own, align=align, dx=0, dy=-WAGE_ROOM / 2)


def _words(base: alt.Chart, *, align: str, dx: int, dy: float) -> list[alt.Chart]:
    """Return words on a halo that keeps lines out of the letters."""
    style = {"align": align, "baseline": "middle", "dx": dx, "dy": dy}
    return [base.mark_text(**style, stroke=theme.PAPER, strokeWidth=4), base.mark_text(**style)]


def day_title(rows: Rows, currency: str) -> str:
    """Return which systems bring a day of family work more than its wage."""
    wage, known = float(rows[0]["wage"]), [row for row in rows if row["per_day"] == row["per_day"]]
    if wage != wage or not known:
        return "What a day of family work brings cannot be set against its wage"
    above = [str(row["label"]) for row in known if float(row["per_day"]) > wage]
    named = join_words(above) if above else "No system"
    verb = "bring" if len(above) > 1 else "brings"
    return f"{named} {verb} a day of family work more than its wage of {money_text(wage, currency)}"


def day_text(rows: Rows, currency: str) -> str:
    """Return the spoken form of `day_chart`."""
    days = [f"{row['label']} {_day_text(row)}" for row in rows]
    return f"Dot plot of the return per family day, in {currency}: {', '.join(days)}. {day_title(rows, currency)}."
