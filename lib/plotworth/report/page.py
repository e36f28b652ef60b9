"""An appraisal as a page of text: what each system is worth, what it yields, takes and costs, side by side."""

import textwrap
from collections.abc import Iterable, Iterator

from plotworth.case.settings import Settings
from plotworth.choose.appraise import Appraisal
from plotworth.choose.figure_table import DASH, FigureTable, figure_tables, flow_table, other_crops, reasons
from plotworth.choose.guard import flags, unchecked
from plotworth.choose.programme_table import programme_notes, programme_tables
from plotworth.choose.size_table import sharing_table, size_notes, size_tables
from plotworth.choose.soil_table import soil_notes, soil_tables
from plotworth.choose.trial_sentences import trial_sentences
from plotworth.choose.trial_table import trial_notes, trial_tables
from plotworth.choose.views_table import views_notes, views_table, wage_table
from plotworth.choose.who_works import who_tables
from plotworth.ground.amounts import share_text
from plotworth.ground.cautions import DECISION_SUPPORT

WIDTH = 100
NAME_WIDTH = 34
UNIT_WIDTH = 12
LEAST_COLUMN = 10
INVENTED = " - INVENTED DATA"
HOLDS = {True: "holds", False: "FAILS, so do not use these figures"}


def appraisal_text(appraisal: Appraisal) -> str:
    """Return the page of an appraisal, lines of at most `WIDTH` characters."""
    lines = [*_opening(appraisal)]
    soil = _group("NUTRIENTS AND SALT", soil_tables(appraisal), soil_notes(appraisal))
    lines += [*tables_lines(trial_tables(appraisal)), *_trial_lines(appraisal), *soil]
    lines += tables_lines((*figure_tables(appraisal), flow_table(appraisal)))
    for sentence in other_crops(appraisal):
        lines += ["", *wrapped(sentence)]
    lines += _other_groups(appraisal)
    if told := [*trial_notes(appraisal), *reasons(appraisal)]:
        lines += ["", f"WHY A {DASH}, AND WHAT TO READ WITH CARE", *(line for s in told for line in wrapped(f"- {s}"))]
    lines += ["", *_guard_lines(appraisal)]
    checks = [f"Check: {check.sentence}: {HOLDS[check.holds]}." for check in appraisal.checks]
    lines += ["", *(line for sentence in checks for line in wrapped(sentence))]
    return "\n".join([*lines, "", *wrapped(DECISION_SUPPORT)])


def tables_lines(tables: Iterable[FigureTable]) -> Iterator[str]:
    """Yield the lines of tables, a blank line before each."""
    for table in tables:
        yield ""
        yield from _table_lines(table)


def _group(heading: str, tables: Iterable[FigureTable], sentences: Iterable[str]) -> Iterator[str]:
    """Yield the lines of a group: its heading, its tables, then what stands behind them."""
    yield from ("", heading)
    yield from tables_lines(tables)
    yield ""
    yield from (line for sentence in sentences for line in wrapped(f"- {sentence}"))


def _trial_lines(appraisal: Appraisal) -> Iterator[str]:
    """Yield what the trial's design and intervals allow one to say, nothing without a trial."""
    said = trial_sentences(appraisal)
    if said is not None:
        yield from _group("WHAT THE TRIAL ALLOWS ONE TO SAY", (), said.lines())


def _other_groups(appraisal: Appraisal) -> Iterator[str]:
    """Yield the case in its views, at other sizes, as a programme where one is stated, and who does the work."""
    views = views_table(appraisal), wage_table(appraisal)
    yield from _group("THE SAME CASE IN THREE VIEWS", views, views_notes(appraisal))
    shared = [table for table in (sharing_table(appraisal),) if table is not None]
    yield from _group("AT OTHER SIZES", [*size_tables(appraisal), *shared], size_notes(appraisal))
    if programme := programme_tables(appraisal):
        yield from _group("AS A PROGRAMME", programme, programme_notes(appraisal))
    yield from tables_lines(who_tables(appraisal))


def _guard_lines(appraisal: Appraisal) -> list[str]:
    """Return the plausibility flags, which change no number, and what could be held against nothing."""
    raised = [flag.sentence for flag in flags(appraisal)] or ["None is raised."]
    sentences = [*raised, *(f"Not checked: {sentence}" for sentence in unchecked(appraisal))]
    return ["FLAGS: QUESTIONS TO ASK, NO NUMBER IS CHANGED", *(line for s in sentences for line in wrapped(f"- {s}"))]


def wrapped(text: str, *, hanging: int = 2) -> list[str]:
    """Return a sentence as lines of at most `WIDTH` characters, all but the first set in by `hanging`."""
    return textwrap.wrap(text, WIDTH, subsequent_indent=" " * hanging, break_on_hyphens=False)


def title_lines(settings: Settings) -> list[str]:
    """Return the title of a case, with the mark of invented data."""
    return wrapped(settings.title + (INVENTED if settings.invented else ""))


def _opening(appraisal: Appraisal) -> Iterator[str]:
    settings = appraisal.case.settings
    rate = appraisal.layout.inputs["discount_rate"].value
    prices = f"{settings.currency} at {settings.price_year} prices"
    yield from title_lines(settings)
    yield from wrapped(settings.question)
    yield f"{settings.area_m2:g} m², {settings.horizon_years} years, {prices}."
    yield f"Real discount rate {share_text(rate)} a year. Family work at its wage, food eaten at home in kind."
    yield ""
    yield from wrapped(appraisal.headline)
    for verdict in appraisal.verdicts:
        yield from wrapped(f"- {verdict.sentence}")


def _table_lines(table: FigureTable) -> Iterator[str]:
    """Yield a table's lines, its systems in as many blocks as the width asks for."""
    yield from wrapped(table.title.upper())
    widths = [max(len(label), LEAST_COLUMN) + 2 for label in _headings(table)]
    for block in _blocks(widths):
        yield " " * (NAME_WIDTH + UNIT_WIDTH) + _right_aligned(_headings(table)[block], widths[block])
        for row in table.rows:
            *above, label = textwrap.wrap(row.label, NAME_WIDTH - 2, subsequent_indent="  ", break_on_hyphens=False)
            yield from above
            yield f"{label:<{NAME_WIDTH}}{row.unit:<{UNIT_WIDTH}}{_right_aligned(row.cells[block], widths[block])}"


def _headings(table: FigureTable) -> tuple[str, ...]:
    """Return the labels of the systems, the longest ones cut to the room beside the row's name."""
    room = WIDTH - NAME_WIDTH - UNIT_WIDTH - 2
    return tuple(textwrap.shorten(label, room, placeholder="...") for label in table.systems)


def _blocks(widths: list[int]) -> Iterator[slice]:
    """Yield the columns that fit beside each other: slices of the systems."""
    start, taken = 0, 0
    for column, width in enumerate(widths):
        if column > start and taken + width > WIDTH - NAME_WIDTH - UNIT_WIDTH:
            yield slice(start, column)
            start, taken = column, 0
        taken += width
    if widths:
        yield slice(start, len(widths))


def _right_aligned(cells: tuple[str, ...], widths: list[int]) -> str:
    return "".join(cell.rjust(width) for cell, width in zip(cells, widths, strict=True))
