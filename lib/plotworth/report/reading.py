"""What was read from a case: tables and rows, what the trial measured, what is missing and what that means."""

from collections.abc import Iterator

from plotworth.case.folder import Case
from plotworth.choose.layout import Layout
from plotworth.ground.amounts import interval_text, share_text, unit_words
from plotworth.report.page import title_lines, wrapped

YIELD_UNIT = "kg/m2"


def reading_text(case: Case, layout: Layout) -> str:
    """Return the page that `plotworth check` prints for a case without faults."""
    lines = [*_settings_lines(case), *_table_lines(case), *_trial_lines(layout), *_notices(case, layout)]
    return "\n".join([*title_lines(case.settings), *(short for line in lines for short in wrapped(line) or [""])])


def _settings_lines(case: Case) -> Iterator[str]:
    settings = case.settings
    yield f"case.toml: {len(settings.systems)} systems ({', '.join(system.id for system in settings.systems)})"
    yield f"assumptions: {len(case.book.rows)} rows"
    yield f"costs: {len(case.costs)} lines"
    if case.scenarios:
        yield f"scenarios: {', '.join(case.scenarios)}"


def _table_lines(case: Case) -> Iterator[str]:
    for name, table in case.tables.items():
        days = f", {table['date'].min():%Y-%m-%d} to {table['date'].max():%Y-%m-%d}" if "date" in table else ""
        yield f"{name}: {len(table)} rows{days}"


def _trial_lines(layout: Layout) -> Iterator[str]:
    if layout.trial is None:
        return
    yield ""
    yield "Marketable yield of the trial, mean over plots with its 95 % interval:"
    for row in layout.trial.treatments.reset_index().to_dict("records"):
        ends = row["yield_low_kg_per_m2"], row["yield_high_kg_per_m2"]
        plots = f"{row['plots']:g} plots"
        mean = interval_text(row["yield_kg_per_m2"], *ends, unit_words(YIELD_UNIT))
        yield f"  {row['treatment']}: {mean}, {plots}{_disagreement(row['disagreement_share'])}"


def _disagreement(share: float) -> str:
    """Return how far the counted kilograms lie from the weighed ones where a picking has both, else nothing."""
    if share != share:
        return ""
    return f"; counted kilograms {share_text(abs(share), digits=2)} {'above' if share > 0 else 'below'} the weighed"


def _notices(case: Case, layout: Layout) -> Iterator[str]:
    absent = [one for one in layout.inputs.values() if one.origin == "absent" and one.value == one.value]
    unknown = [one for one in layout.inputs.values() if one.origin == "unknown"]
    notices = [*case.notices]
    if absent:
        notices.append(
            "not in the book: " + ", ".join(f"{one.address} (taken as {one.value:g})" for one in absent) + "."
        )
    if unknown:
        notices.append("unknown, so left as a gap: " + ", ".join(one.address for one in unknown) + ".")
    if notices:
        yield ""
        yield "To know:"
        yield from (f"- {notice}" for notice in notices)
