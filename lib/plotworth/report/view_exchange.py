"""Views, sizes and programme of an appraisal as JSON: numbers as computed, null with its reason."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from plotworth.choose.appraise import Appraisal
from plotworth.choose.programme import ProgrammeYears, programme_years
from plotworth.choose.scale_ladder import has_shared_lines, sharing_rows
from plotworth.choose.size_table import ladder
from plotworth.choose.views import Seen, three_views, three_wages
from plotworth.choose.who_works import planned_hours, recorded_hours

Number = float | None
NO_RATIO = "its costs are not above those it is set against, or it needs less money first, so a ratio says nothing"
NOTHING_PAID = "nothing is paid, so a ratio says nothing"
NO_FAMILY_WORK = "the family does no work in this system"
NO_PROGRAMME = "case.toml states no [programme]"
NO_RESERVOIRS = "the case has no reservoirs whose units could be counted"
NO_LESS_WATER = "no less water is drawn than by present practice"
NO_MORE_YIELD = "no more of the main crop is grown than by present practice"
PROGRAMME_SUMS = (
    "households",
    "npv",
    "gain_per_household",
    "paid_out_per_household",
    "paid_out_per_m3",
    "paid_out_per_t",
)
PROGRAMME_YEARS = ("joining", "taking_part", "household_flows", "costs", "paid_out", "less_water_m3", "more_kg")


def number(value: float) -> Number:
    """Return a number as JSON holds it: null where it has no value."""
    return value if math.isfinite(value) else None


def other_data(appraisal: Appraisal) -> dict[str, Any]:
    """Return views, wage views, sizes, sharing, programme and who works; null or empty where not stated."""
    layout, values = appraisal.layout, appraisal.values
    shared = sharing_rows(layout, values) if has_shared_lines(layout) else []
    return {
        "views": _views(three_views(layout, values)),
        "wage_views": _views(three_wages(layout, values)),
        "sizes": _columns([_size(row) for row in ladder(appraisal)]),
        "sharing": _columns([_plain(asdict(row)) for row in shared]),
        "programme": _programme(programme_years(layout, values)),
        "who_works": {
            "planned": {name: _plain(own) for name, own in planned_hours(layout, values).items()},
            "recorded": _plain(recorded_hours(layout)),
        },
    }


def _views(seen: Sequence[Seen]) -> dict[str, Any]:
    return {
        one.view: {part: {name: _plain(own) for name, own in systems.items()} for part, systems in one.figures.items()}
        for one in seen
    }


def _plain(row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: number(value) if isinstance(value, float) else value for key, value in row.items()}


def _size(row: Any) -> dict[str, Any]:
    return _plain({**asdict(row), "npv_per_household": row.npv_per_household, "npv_per_m2": row.npv_per_m2})


def _columns(rows: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, list[Any]]]:
    """Return rows of several systems as lists by system and name, in the order of the rows."""
    found: dict[str, dict[str, list[Any]]] = {}
    for row in rows:
        own = found.setdefault(row["system"], {name: [] for name in row if name != "system"})
        for name, column in own.items():
            column.append(row[name])
    return found


def _programme(years: ProgrammeYears | None) -> dict[str, Any] | None:
    if years is None:
        return None
    sums = {name: number(getattr(years, name)) for name in PROGRAMME_SUMS}
    return {**sums, **{name: [number(float(one)) for one in getattr(years, name)] for name in PROGRAMME_YEARS}}


def why_of_others(appraisal: Appraisal, data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield the reason of every null in `other_data`, by path."""
    for group in ("views", "wage_views"):
        for view, parts in data[group].items():
            yield from _why_of_view(appraisal, f"{group}/{view}", parts)
    for group in ("sizes", "sharing"):
        for system, columns in data[group].items():
            for name in (name for name, column in columns.items() if None in column):
                yield f"{group}/{system}/{name}", _why_of_column(appraisal, system, name)
    for system, hours in data["who_works"]["planned"].items():
        for who in (who for who, done in hours.items() if done is None):
            yield f"who_works/planned/{system}/{who}", appraisal.why.get(f"systems/{system}/family_hours", "")
    yield from _why_of_programme(appraisal, data["programme"])


def _why_of_view(appraisal: Appraisal, path: str, parts: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for part, systems in parts.items():
        for system, own in systems.items():
            for name in (name for name, value in own.items() if value is None):
                known = appraisal.why.get(f"{part}/{system}/npv")
                yield f"{path}/{part}/{system}/{name}", known or _why_of_figure(part, name)


def _why_of_figure(part: str, name: str) -> str:
    if name == "return_per_family_day":
        return NO_FAMILY_WORK
    return NOTHING_PAID if part == "systems" else NO_RATIO


def _why_of_column(appraisal: Appraisal, system: str, name: str) -> str:
    if name == "units":
        return NO_RESERVOIRS
    if name == "wells":
        return appraisal.why.get(f"systems/{system}/wells", "")
    part = "against_today" if name == "gain_on_today" else "systems"
    own = appraisal.why.get(f"{part}/{system}/npv")
    return own or appraisal.why.get(f"systems/{appraisal.case.settings.today}/npv", "")


def _why_of_programme(appraisal: Appraisal, data: Mapping[str, Any] | None) -> Iterator[tuple[str, str]]:
    programme = appraisal.case.settings.programme
    if data is None or programme is None:
        yield "programme", NO_PROGRAMME
        return
    waits = appraisal.why.get(f"against_today/{programme.system}/npv", "")
    for name, value in data.items():
        if value is None or (isinstance(value, list) and None in value):
            own = {"paid_out_per_m3": NO_LESS_WATER, "paid_out_per_t": NO_MORE_YIELD}.get(name)
            yield f"programme/{name}", waits or own or "nobody is reached"
