"""Tables and sentences of a panel as HTML; every text is escaped, no number is worked out."""

import html
from collections.abc import Sequence

from plotworth.choose.figure_table import FigureTable

STYLE = """<style>
.pw-panel { max-width: 1180px; }
.pw-panel, .pw-panel .widget-html-content { font-family: system-ui, -apple-system, "Segoe UI", "Noto Sans",
  "Liberation Sans", "DejaVu Sans", sans-serif; color: #1f2a30; line-height: 1.4; }
.pw-panel .widget-html-content { white-space: normal; overflow-wrap: anywhere; min-width: 0; flex: 1 1 auto; }
.pw-invented { display: inline-block; padding: 2px 8px; background: #1f2a30; color: #ffffff; font-size: 13px; }
.pw-headline { font-size: 18px; font-weight: 600; margin: 6px 0; }
.pw-verdicts { margin: 0; padding-left: 20px; font-size: 14px; }
.pw-status { font-size: 14px; margin: 4px 0; }
.pw-status .pw-problem { background: #fff4e5; border-left: 4px solid #d55e00; padding: 4px 10px; margin: 2px 0; }
.pw-status .pw-warning { border-left: 4px solid #56626a; padding: 4px 10px; margin: 2px 0; }
.pw-dials { display: grid !important; grid-template-columns: repeat(auto-fill, minmax(min(100%, 280px), 1fr));
  gap: 4px 24px; margin: 10px 0; overflow: visible; }
.pw-dial, .pw-dial .widget-hbox { overflow: visible; width: 100%; }
.pw-dial .widget-hbox { align-items: center; }
.pw-dial .widget-hslider { flex: 1 1 auto; min-width: 0; width: auto; margin: 0; }
.pw-dial .widget-hslider .widget-label, .pw-dial .widget-text .widget-label { position: absolute;
  width: 1px !important; height: 1px; overflow: hidden; clip-path: inset(50%); }
.pw-dial-name { font-size: 13px; font-weight: 600; }
.pw-dial .widget-hslider .slider-container { margin: 0 10px 0 8px; }
.pw-dial .widget-text { margin: 0; flex: 0 0 auto; }
.pw-dial .widget-html { margin: 0; height: auto; }
.pw-origin { font-size: 12px; line-height: 1.3; color: #56626a; }
.pw-figures { border-collapse: collapse; font-size: 14px; margin: 2px 0 14px; }
.pw-figures caption { text-align: left; font-weight: 600; padding: 6px 0 4px; }
.pw-figures caption::first-letter { text-transform: uppercase; }
.pw-figures th, .pw-figures td { padding: 3px 14px 3px 0; border-bottom: 1px solid #e4e7e9; font-weight: 400;
  text-align: left; background: #ffffff; }
.pw-figures thead th, .pw-figures thead th.pw-cell { font-weight: 600; vertical-align: bottom; white-space: normal; }
.pw-figures td.pw-cell, .pw-figures th.pw-cell { text-align: right; white-space: nowrap;
  font-variant-numeric: tabular-nums; }
.pw-figures tbody th { min-width: 7.5em; }
.pw-figures td:nth-child(2) { white-space: nowrap; }
.pw-scroll { overflow-x: auto; overflow-wrap: normal; }
.pw-more summary { cursor: pointer; color: #0b5c8f; padding: 4px 0; width: fit-content; }
.pw-panel .jupyter-widget-Collapse-header { background: none; border: none; color: #0b5c8f; padding: 4px 0; }
.pw-panel .jupyter-widget-Collapse-contents { border: none; padding: 0; }
.pw-more summary:focus-visible { outline: 2px solid #0b5c8f; outline-offset: 2px; }
.pw-stale-text { opacity: 0.45; }
</style>"""


def figures_html(table: FigureTable) -> str:
    """Return a table of figures; headings scoped, numbers aligned right."""
    head = "".join(f"<th scope='col' class='pw-cell'>{html.escape(label)}</th>" for label in table.systems)
    body = "".join(
        f"<tr><th scope='row'>{html.escape(row.label)}</th><td>{html.escape(row.unit)}</td>"
        + "".join(f"<td class='pw-cell'>{html.escape(cell)}</td>" for cell in row.cells)
        + "</tr>"
        for row in table.rows
    )
    heading = f"<thead><tr><th scope='col'></th><th scope='col'>Unit</th>{head}</tr></thead>"
    caption = f"<caption>{html.escape(table.title)}</caption>"
    return f"<div class='pw-scroll'><table class='pw-figures'>{caption}{heading}<tbody>{body}</tbody></table></div>"


def cells_html(caption: str, columns: Sequence[tuple[str, bool]], rows: Sequence[Sequence[str]]) -> str:
    """Return a table of text cells; each column is its heading and whether it holds numbers."""
    kinds = [" class='pw-cell'" if is_number else "" for _, is_number in columns]
    head = "".join(
        f"<th scope='col'{kind}>{html.escape(name)}</th>" for (name, _), kind in zip(columns, kinds, strict=True)
    )
    body = "".join(
        "<tr>" + "".join(f"<td{kind}>{html.escape(cell)}</td>" for cell, kind in zip(row, kinds, strict=True)) + "</tr>"
        for row in rows
    )
    return (
        f"<div class='pw-scroll'><table class='pw-figures'><caption>{html.escape(caption)}</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def list_html(sentences: Sequence[str], *, kind: str) -> str:
    """Return sentences as a list of one kind: pw-verdicts and the like."""
    return f"<ul class='{kind}'>{''.join(f'<li>{html.escape(s)}</li>' for s in sentences)}</ul>"


def folded_html(summary: str, inside: str) -> str:
    """Return HTML behind a line that opens it."""
    return f"<details class='pw-more'><summary>{html.escape(summary)}</summary>{inside}</details>"


def status_html(problems: Sequence[str], warnings: Sequence[str], echo: str) -> str:
    """Return what the panel says of its inputs, spoken when it changes: problems, warnings, what it computed with."""
    lines = [f"<div class='pw-problem'>{html.escape(text)}</div>" for text in problems]
    lines += [f"<div class='pw-warning'>{html.escape(text)}</div>" for text in warnings]
    return (
        f"<div class='pw-status' role='status' aria-live='polite'>{''.join(lines)}<div>{html.escape(echo)}</div></div>"
    )
