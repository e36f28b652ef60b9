"""Trial records held against each other: plots that exist, dates that can be, counts beside kilograms."""

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from plotworth.case.table import Entry
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import suggest

PLOT_TABLES = ("harvests", "fruit_masses", "standing_fruits", "water", "soil_water", "inputs", "labour")
ONCE_A_DAY = ("harvests", "standing_fruits", "soil_water")


@dataclass(frozen=True)
class Table:
    """A checked table: the file it came from and its rows."""

    file: str
    entries: list[Entry]


def record_faults(tables: Mapping[str, Table], as_of: datetime.date) -> list[Fault]:
    """Return every fault between the record tables of a case, judged at `as_of`."""
    faults: list[Fault] = []
    for name, table in tables.items():
        faults += _date_faults(table, as_of)
        if name in PLOT_TABLES and "plots" in tables:
            faults += _plot_faults(table, tables["plots"])
        if name in ONCE_A_DAY:
            faults += _twin_faults(table, ("date", "plot"), "the plot has a row of this date already")
    if "plots" in tables:
        faults += _twin_faults(tables["plots"], ("plot",), "the plot has a row already")
    if "weather" in tables:
        faults += _twin_faults(tables["weather"], ("date",), "the day has a row already")
    if "harvests" in tables:
        faults += _harvest_faults(tables["harvests"], tables.get("plots"))
    return faults


def _date_faults(table: Table, as_of: datetime.date) -> Iterator[Fault]:
    for entry in table.entries:
        for column in ("date", "planted_on"):
            day = entry.values.get(column)
            if isinstance(day, datetime.date) and day > as_of:
                rule = f"the date lies after {as_of.isoformat()}, when the case is judged"
                remedy = "correct the year or day, or move as_of in case.toml"
                yield Fault(table.file, entry.line, column, day.isoformat(), rule, remedy)


def _plot_faults(table: Table, plots: Table) -> Iterator[Fault]:
    known = {entry.text("plot"): entry for entry in plots.entries}
    for entry in table.entries:
        plot = entry.text("plot")
        if plot and plot not in known:
            near = suggest(plot, known)
            remedy = f"did you mean {near}" if near else f"add the plot to {plots.file} or correct its name"
            yield Fault(table.file, entry.line, "plot", plot, f"{plots.file} has no such plot", remedy)
        elif plot and _before(entry.values.get("date"), known[plot].values.get("planted_on")):
            rule = "the date lies before the plot was planted"
            yield Fault(table.file, entry.line, "date", str(entry.values["date"]), rule, "correct one of the two dates")


def _before(day: object, planted: object) -> bool:
    return isinstance(day, datetime.date) and isinstance(planted, datetime.date) and day < planted


def _twin_faults(table: Table, keys: tuple[str, ...], rule: str) -> Iterator[Fault]:
    first: dict[tuple[object, ...], int] = {}
    for entry in table.entries:
        key = tuple(entry.values.get(name) for name in keys)
        line = first.setdefault(key, entry.line)
        if line != entry.line and None not in key:
            found = ", ".join(str(part) for part in key)
            remedy = f"keep line {line} or line {entry.line}, or correct the {keys[-1] if len(keys) == 1 else 'date'}"
            yield Fault(table.file, entry.line, keys[-1], found, f"{rule} (line {line})", remedy)


def _harvest_faults(harvests: Table, plots: Table | None) -> Iterator[Fault]:
    plants = {entry.text("plot"): entry.number("plants") for entry in plots.entries} if plots else {}
    for entry in harvests.entries:
        count, mass = entry.number("marketable_fruits"), entry.number("marketable_kg")
        if count is None and mass is None:
            rule = "the row has neither a count nor kilograms"
            remedy = "write 0 where nothing was picked, or remove the row where nobody picked"
            yield Fault(harvests.file, entry.line, "marketable_fruits", "", rule, remedy)
        elif count == 0 and mass:
            remedy = "write the count, or leave it blank where the fruit was not counted"
            yield Fault(harvests.file, entry.line, "marketable_fruits", "0", f"{mass:g} kg from no fruit", remedy)
        elif mass == 0 and count:
            remedy = "write the kilograms, or leave them blank where the fruit was not weighed"
            yield Fault(harvests.file, entry.line, "marketable_kg", "0", f"{count:g} fruits of no mass", remedy)
        alive, set_plants = entry.number("plants_alive"), plants.get(entry.text("plot"))
        if alive is not None and set_plants is not None and alive > set_plants:
            rule = f"more plants alive than the {set_plants:g} set"
            yield Fault(harvests.file, entry.line, "plants_alive", f"{alive:g}", rule, "correct one of the two numbers")


def mass_faults(tables: Mapping[str, Table]) -> list[Fault]:
    """Return the fault of counting fruit of which none was weighed, crop by crop."""
    if "harvests" not in tables or "plots" not in tables:
        return []
    crop = {entry.text("plot"): entry.text("crop") for entry in tables["plots"].entries}
    weighed = {crop.get(entry.text("plot")) for entry in _entries(tables, "fruit_masses")}
    weighed |= {crop.get(e.text("plot")) for e in tables["harvests"].entries if _both(e)}
    faults: dict[str | None, Fault] = {}
    for entry in tables["harvests"].entries:
        name = crop.get(entry.text("plot"))
        if name and name not in weighed and entry.number("marketable_fruits") and entry.number("marketable_kg") is None:
            rule = f"fruit of {name} was counted here and none of it was ever weighed"
            remedy = "weigh some fruit into fruit_masses.csv, or weigh pickings into marketable_kg"
            faults.setdefault(name, Fault(tables["harvests"].file, entry.line, "marketable_fruits", "", rule, remedy))
    return list(faults.values())


def _both(entry: Entry) -> bool:
    return bool(entry.number("marketable_fruits")) and entry.number("marketable_kg") is not None


def _entries(tables: Mapping[str, Table], name: str) -> list[Entry]:
    return tables[name].entries if name in tables else []


def record_notices(tables: Mapping[str, Table]) -> list[str]:
    """Return what a reader of the records should know: counts without kilograms, plots without pickings."""
    notices: list[str] = []
    if "harvests" in tables:
        notices += _count_notices(tables["harvests"])
    if "harvests" in tables and "plots" in tables:
        notices += _plot_notices(tables["harvests"], tables["plots"])
    return notices


def _count_notices(harvests: Table) -> Iterator[str]:
    rows = [
        (e.number("marketable_fruits") is not None, e.number("marketable_kg") is not None) for e in harvests.entries
    ]
    counted, weighed = rows.count((True, False)), rows.count((False, True))
    if counted:
        yield (
            f"{harvests.file}: {counted} of {len(rows)} rows have a count and no kilograms; "
            "their kilograms are count x mean fruit mass."
        )
    if weighed:
        yield (
            f"{harvests.file}: {weighed} of {len(rows)} rows have kilograms and no count; "
            "their kilograms are taken as weighed and their fruit is missing from fruits per m2."
        )


def _plot_notices(harvests: Table, plots: Table) -> Iterator[str]:
    picked: dict[str, set[object]] = {}
    for entry in harvests.entries:
        picked.setdefault(entry.text("plot"), set()).add(entry.values["date"])
    for entry in plots.entries:
        if entry.text("plot") not in picked:
            note = f" ({entry.text('note')})" if entry.text("note") else ""
            yield f"{plots.file} line {entry.line}: plot {entry.text('plot')} has no picking: missing, not zero{note}."
    most = max((len(days) for days in picked.values()), default=0)
    fewer = sorted(plot for plot, days in picked.items() if len(days) < most)
    if fewer:
        yield f"{harvests.file}: {', '.join(fewer)} have fewer pickings than the {most} of the others."
