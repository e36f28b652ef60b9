"""The trial as it was done held against the plan that was frozen: plots, blocks, treatments, and what was noted."""

import datetime
from collections.abc import Iterator, Mapping

from plotworth.case.plan import FILE, Plan, PlannedPlot, factor_columns
from plotworth.case.records import Table
from plotworth.case.table import Entry
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import suggest

DEVIATIONS_FILE = "deviations.csv"


def deviation_faults(tables: Mapping[str, Table]) -> list[Fault]:
    """Return the fault of every deviation that names a plot that is none, or excludes without naming a plot."""
    deviations = tables.get("deviations")
    if deviations is None:
        return []
    plots = tables.get("plots")
    known = [entry.text("plot") for entry in plots.entries] if plots else []
    return [fault for entry in deviations.entries for fault in _deviation_faults(deviations.file, entry, known)]


def _deviation_faults(file: str, entry: Entry, known: list[str]) -> Iterator[Fault]:
    plot = entry.text("plot")
    if plot and plot not in known:
        near = suggest(plot, known)
        remedy = f"did you mean {near}" if near else "correct the name, or leave it blank for the whole trial"
        yield Fault(file, entry.line, "plot", plot, "the case has no such plot", remedy)
    if entry.text("exclude") == "yes" and not plot:
        yield Fault(file, entry.line, "plot", "", "nothing is named to leave out", "name the plot, or write no")


def agreement_faults(plan: Plan | None, tables: Mapping[str, Table], as_of: datetime.date) -> list[Fault]:
    """Return every fault between a frozen plan and the plots: one missing, added, or with another block or treatment.

    A plot that differs is let pass where `deviations.csv` has a row for it. Without a plan, or while no plot
    is written down, there is nothing to compare.
    """
    if plan is None:
        return []
    faults = []
    if plan.frozen_on > as_of:
        rule = f"the plan was frozen after {as_of.isoformat()}, when the case is judged"
        faults.append(Fault(FILE, 0, "frozen_on", plan.frozen_on.isoformat(), rule, "move as_of in case.toml"))
    plots = tables.get("plots")
    if plots is None or not plots.entries:
        return faults
    entries = _planned_entries(plan, plots)
    planned = {plot.plot: plot for plot in plan.plots}
    noted = _noted(tables)
    for entry in entries.values():
        faults += _plot_faults(plots.file, entry, plan, noted)
    for name in sorted(planned.keys() - entries.keys()):
        rule = f"the frozen plan has the plot, {_words(planned[name])}, and the table has not"
        remedy = f"add its row; a lost plot keeps its row and gets one in {DEVIATIONS_FILE}"
        faults.append(Fault(plots.file, 0, "plot", name, rule, remedy))
    return faults


def _planned_entries(plan: Plan, plots: Table) -> dict[str, Entry]:
    """Return the rows of the plan's own site and year by plot; other trials of the case are not its matter."""
    own = [
        entry
        for entry in plots.entries
        if plan.site in ("", entry.text("site")) and plan.trial_year in ("", entry.text("trial_year"))
    ]
    return {entry.text("plot"): entry for entry in own}


def _noted(tables: Mapping[str, Table]) -> set[str]:
    return {entry.text("plot") for entry in tables["deviations"].entries} if "deviations" in tables else set()


def _words(plot: PlannedPlot) -> str:
    return f"block {plot.block}, treatment {plot.treatment}"


def _plot_faults(file: str, entry: Entry, plan: Plan, noted: set[str]) -> Iterator[Fault]:
    name, planned = entry.text("plot"), {plot.plot: plot for plot in plan.plots}
    if name in noted:
        return
    if name not in planned:
        near = suggest(name, planned)
        remedy = f"did you mean {near}" if near else f"remove it, or say in {DEVIATIONS_FILE} why it was added"
        yield Fault(file, entry.line, "plot", name, "the frozen plan has no such plot", remedy)
        return
    for column, wanted in _wanted(plan, planned[name]).items():
        if entry.text(column) != wanted:
            rule = f"the frozen plan has {wanted} for plot {name}"
            remedy = f"write {wanted}, or say in {DEVIATIONS_FILE} what was done to the plot and why"
            yield Fault(file, entry.line, column, entry.text(column), rule, remedy)


def _wanted(plan: Plan, plot: PlannedPlot) -> dict[str, str]:
    levels = dict(zip(factor_columns(plan), plot.levels, strict=False))
    return {"block": plot.block, "treatment": plot.treatment, **levels}


def plan_notices(plan: Plan | None, tables: Mapping[str, Table]) -> list[str]:
    """Return what a reader should know of the plan: when it was frozen, what was done otherwise, what is left out."""
    notices = [] if plan is None else [_frozen_notice(plan, tables)]
    if "deviations" in tables:
        entries = tables["deviations"].entries
        out = sorted({entry.text("plot") for entry in entries if entry.text("exclude") == "yes"})
        left_out = f"; left out of the comparison: {', '.join(out)}" if out else "; no plot is left out"
        rows = f"{len(entries)} deviation{'' if len(entries) == 1 else 's'} noted"
        notices.append(f"{tables['deviations'].file}: {rows}{left_out}.")
    return notices


def _frozen_notice(plan: Plan, tables: Mapping[str, Table]) -> str:
    entries = _planned_entries(plan, tables["plots"]).values() if "plots" in tables else []
    days = [day for entry in entries if isinstance(day := entry.values.get("planted_on"), datetime.date)]
    frozen = f"{FILE}: frozen on {plan.frozen_on.isoformat()}, hash {plan.sha256[:12]} holds"
    if days and plan.frozen_on > min(days):
        return f"{frozen}; that is after the planting on {min(days).isoformat()}: no plan made beforehand."
    return f"{frozen}."
