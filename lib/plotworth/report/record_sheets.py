"""The record sheets as one self-contained page to print: the map of the plots, a sheet for each kind of record."""

import html
from collections.abc import Sequence
from pathlib import Path

from plotworth.case.plan import Plan, PlannedPlot
from plotworth.case.schema import Column
from plotworth.ground.amounts import unit_words
from plotworth.report.record_forms import BLANK_RULE, FORMS, Form, form_columns
from plotworth.show.theme import COLOURS, place

STYLE_FILE = "record_page.css"
INVENTED = "INVENTED DATA"
WIDE = ("note", "what", "why", "task", "meter")
GIVEN = ("plot", "block", "treatment")
HASH_DIGITS = 12
PLOT_PX, BLOCK_PX = 92, 40  # a map narrower than its plots are scrolls in its own box
PLAIN_SIDE = "the side nearest block 1"


def record_page(plan: Plan, facts: Sequence[str], *, invented: bool) -> str:
    """Return the printable page of a plan.

    Parameters: plan, drawn; facts, sentences to stand under the map (sizes, guards, what the trial can show); whether
    the case is invented, which the page then says.
    """
    style = (Path(__file__).parent / STYLE_FILE).read_text(encoding="utf-8")
    mark = f"<p class='invented'>{INVENTED}</p>" if invented else ""
    head = f"{mark}<h1>{_safe(plan.question)}</h1><p>{_safe(_asked(plan))}</p>"
    listed = "".join(f"<li>{_safe(fact)}</li>" for fact in facts)
    body = f"{head}<p class='rule'>{_safe(BLANK_RULE)}</p>{_map(plan)}<ul class='facts'>{listed}</ul>{_foot(plan)}"
    sheets = "".join(_sheet(form, plan) for form in FORMS)
    return (
        "<!DOCTYPE html>\n<html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width, initial-scale=1'>"
        f"<title>Record sheets: {_safe(plan.question)}</title><style>\n{style}</style></head>\n"
        f"<body>{body}{sheets}</body></html>\n"
    )


def _safe(text: str) -> str:
    return html.escape(text)


def _asked(plan: Plan) -> str:
    first, second = plan.contrast
    return f"{plan.crop}: {first} against {second}. {len(plan.plots)} plots in {plan.blocks} blocks."


def _foot(plan: Plan) -> str:
    drawn = f"drawn by lot with seed {plan.seed}"
    frozen = f"Plan frozen on {plan.frozen_on.isoformat()}, {drawn}; hash {plan.sha256[:HASH_DIGITS]}."
    return f"<p class='foot'>{_safe(frozen)}</p>"


def _map(plan: Plan) -> str:
    """Return the plots as they lie, row 1 at the top, where the gradient begins."""
    side = f"<div class='side' style='grid-column: 1 / -1'>&#9650; {_safe(plan.gradient_from or PLAIN_SIDE)}</div>"
    cells = []
    for plot in sorted(plan.plots, key=lambda plot: (plot.row, plot.column)):
        if plot.column == 1:
            cells.append(f"<div class='block'>{_safe(plot.block)}</div>")
        cells.append(_plot(plan, plot))
    narrowest = plan.columns * PLOT_PX + BLOCK_PX
    grid = f"grid-template-columns: auto repeat({plan.columns}, minmax(0, 1fr)); min-width: {narrowest}px"
    inside = f"<div class='map' style='{grid}'>{side}{''.join(cells)}</div>"
    return f"<div {_scrolled('Map of the plots')}>{inside}</div>"


def _scrolled(label: str) -> str:
    """Return the attributes of a box that scrolls sideways by keyboard too."""
    return f"class='scroll' tabindex='0' role='region' aria-label='{_safe(label)}'"


def _plot(plan: Plan, plot: PlannedPlot) -> str:
    guarded = " guarded" if plan.guard_rows or plan.guard_plants else ""
    colour = place(sorted(plan.treatments), plot.treatment, COLOURS)
    net = f"<b>{_safe(plot.plot)}</b><span>{_safe(plot.treatment).replace('+', '+<wbr>')}</span>"
    return f"<div class='plot{guarded}'><div class='net' style='border-color: {colour}'>{net}</div></div>"


def _sheet(form: Form, plan: Plan) -> str:
    columns = form_columns(form)
    rows = [_row(columns, None)] * form.blank_rows or [_row(columns, plot) for plot in plan.plots]
    once = f"<p class='once'>{_once(form.once.capitalize())}{_once('Written by')}</p>" if form.once else ""
    head = "".join(_heading(column) for column in columns)
    table = f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>"
    return (
        f"<section id='{form.table}'><h2>{_safe(form.heading)}</h2><p class='advice'>{_safe(form.advice)}</p>"
        f"<p class='rule'>{_safe(BLANK_RULE)}</p>{once}"
        f"<div {_scrolled(form.heading)}>{table}</div></section>"
    )


def _once(name: str) -> str:
    return f"<label>{name}: <span>&nbsp;</span></label>"


def _heading(column: Column) -> str:
    words = column.name.replace("_", " ")
    unit = unit_words(column.unit)
    told = ", ".join(column.choices).replace("_", " ") or (f"[{unit}]" if unit and unit not in words.split() else "")
    width = "wide" if column.name in WIDE else "narrow" if column.name in GIVEN else "usual"
    return f"<th scope='col' class='{width}'>{_safe(words)}<small>{_safe(told)}</small></th>"


def _row(columns: Sequence[Column], plot: PlannedPlot | None) -> str:
    """Return a row to write on; what the plan knows of its plot is written in."""
    cells = []
    for column in columns:
        if plot is None or column.name not in GIVEN:
            cells.append("<td></td>")
        elif column.name == "plot":
            cells.append(f"<th scope='row'>{_safe(plot.plot)}</th>")
        else:
            cells.append(f"<td class='given'>{_safe(str(getattr(plot, column.name)))}</td>")
    return f"<tr>{''.join(cells)}</tr>"
