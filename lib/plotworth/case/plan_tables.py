"""The tables that plan a year: seasons of each system, labour, prices; held against the settings."""

from collections.abc import Iterator, Mapping

from plotworth.case.records import Table
from plotworth.case.settings import FILE, RESERVOIR, Settings
from plotworth.case.table import Entry
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import suggest

MONTHS = 12


def plan_faults(tables: Mapping[str, Table], settings: Settings) -> list[Fault]:
    """Return every fault of the seasons and the labour plan, and of treatments that no plot had."""
    faults = list(_season_faults(tables["seasons"], settings))
    if "labour_plan" in tables:
        faults += _labour_faults(tables["labour_plan"], tables["seasons"], settings)
    if "visits" in tables:
        faults += _visit_faults(tables["visits"], tables["seasons"], settings)
    if tables.get("plots"):
        faults += _treatment_faults(tables["plots"], settings)
    return faults


def _season_faults(seasons: Table, settings: Settings) -> Iterator[Fault]:
    ids = [system.id for system in settings.systems]
    for entry in seasons.entries:
        if entry.text("system") not in ids:
            yield _unknown(seasons.file, entry, "system", ids)
    for name in ids:
        rows = [entry for entry in seasons.entries if entry.text("system") == name]
        if not rows:
            remedy = "write a row with its season, crop, first_month, months and share_of_area"
            yield Fault(seasons.file, 0, name, "", f"the system {name} has no season", remedy)
        yield from _overlap_faults(seasons.file, rows)
    crops = sorted({entry.text("crop") for entry in seasons.entries})
    if settings.main_crop and settings.main_crop not in crops:
        near = suggest(settings.main_crop, crops)
        remedy = f"did you mean {near}" if near else f"write one of {', '.join(crops)}"
        yield Fault(FILE, 0, "main_crop", settings.main_crop, "no season grows this crop", remedy)


def _overlap_faults(file: str, rows: list[Entry]) -> Iterator[Fault]:
    shares = [0.0] * MONTHS
    names: set[str] = set()
    for entry in rows:
        if entry.text("season") in names:
            rule = "the system has this season already"
            yield Fault(file, entry.line, "season", entry.text("season"), rule, "name each season of a system once")
        names.add(entry.text("season"))
        first, months = int(entry.number("first_month") or 1), int(entry.number("months") or 1)
        for month in range(first - 1, first - 1 + months):
            shares[month % MONTHS] += entry.number("share_of_area") or 0.0
        if max(shares) > 1 + 1e-9:
            rule = f"seasons that overlap take {max(shares):g} of the area"
            yield Fault(file, entry.line, "share_of_area", "", rule, "shorten a season or lower a share_of_area")
            return


def _labour_faults(plan: Table, seasons: Table, settings: Settings) -> Iterator[Fault]:
    ids = [system.id for system in settings.systems]
    names = sorted({entry.text("season") for entry in seasons.entries})
    first: dict[tuple[object, ...], int] = {}
    for entry in plan.entries:
        for key, words in (("system", ids), ("season", names)):
            if entry.text(key) and entry.text(key) not in words:
                yield _unknown(plan.file, entry, key, words)
        if (entry.number("hours_per_m2") is None) == (entry.number("hours") is None):
            remedy = "write hours_per_m2 for work that grows with the area, or hours for work that does not"
            yield Fault(plan.file, entry.line, entry.text("task"), "", "needs one of hours_per_m2 and hours", remedy)
        twin = tuple(entry.values[key] for key in ("system", "season", "task", "month"))
        line = first.setdefault(twin, entry.line)
        if line != entry.line:
            rule = f"line {line} plans the same task in the same month"
            yield Fault(
                plan.file, entry.line, entry.text("task"), entry.text("task"), rule, "add the hours up in one row"
            )


def _visit_faults(visits: Table, seasons: Table, settings: Settings) -> Iterator[Fault]:
    ids = [system.id for system in settings.systems if system.water_method == RESERVOIR]
    names = sorted({entry.text("season") for entry in seasons.entries})
    for entry in visits.entries:
        for key, words in (("system", ids), ("season", names)):
            if entry.text(key) and entry.text(key) not in words:
                rule = f"the case has no such {key}" + (" watered from a reservoir" if key == "system" else "")
                yield _unknown(visits.file, entry, key, words, rule)


def _treatment_faults(plots: Table, settings: Settings) -> Iterator[Fault]:
    treatments = sorted({entry.text("treatment") for entry in plots.entries})
    for system in settings.systems:
        if system.treatment and system.treatment not in treatments:
            near = suggest(system.treatment, treatments)
            others = f"write one of {', '.join(treatments)}" if treatments else "add its plots, or remove the setting"
            remedy = f"did you mean {near}" if near else others
            yield Fault(FILE, 0, "treatment", system.treatment, f"{plots.file} has no plot with it", remedy)


def _unknown(file: str, entry: Entry, key: str, words: list[str], rule: str = "") -> Fault:
    near = suggest(entry.text(key), words)
    others = f"write one of {', '.join(words)}" if words else "remove the row"
    remedy = f"did you mean {near}" if near else others
    return Fault(file, entry.line, key, entry.text(key), rule or f"the case has no such {key}", remedy)
