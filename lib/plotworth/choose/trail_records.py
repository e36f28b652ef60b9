"""The record rows behind a value, by file and line: what the trial's plots brought, the weather of a season."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from plotworth.choose.layout import Layout
from plotworth.choose.measured import APPLIED, FRUITS, Trial
from plotworth.choose.structure import SeasonPlan
from plotworth.choose.trial_model import YIELD, cell_weights
from plotworth.choose.water_case import Values, water_of_season
from plotworth.field.block_model import ONE_TRIAL, BlockModel, solve

PLANTS, MASS, CULLS, DELIVERY = "plants_per_m2", "fruit_mass_g", "cull_share", "delivery_share"
DRAWN = ("first_fill", "refill", "irrigation")
APPLIED_KINDS = (*DRAWN, "left_over", "leak")
MODELLED = {YIELD: (YIELD,), FRUITS: (FRUITS,), MASS: (YIELD, FRUITS), PLANTS: (PLANTS,), APPLIED: (APPLIED,)}
"""Figures whose value is a block model's mean, and the models it is made from; others are of the treatment's own."""
FILES = {
    YIELD: ("harvests", "fruit_masses"),
    FRUITS: ("harvests",),
    MASS: ("harvests", "fruit_masses"),
    CULLS: ("harvests", "fruit_masses"),
    PLANTS: ("harvests",),
    APPLIED: ("water",),
    DELIVERY: ("water",),
}
NUDGE, MOVED = 0.01, 1e-9
"""Part of the spread of plots by which one is moved; part of that by which a mean then moves at the least."""
ACROSS = "other plots: one is missing, and the block model clears the mean of blocks with all that are left"
MOST_RANGES = 40
"""More lines than so many ranges are cut short in words; the JSON has all of them."""


@dataclass(frozen=True)
class RecordRows:
    """Rows of one record file: its name, the lines, what they are in words."""

    file: str
    lines: tuple[int, ...]
    what: str


def trial_rows(layout: Layout, at: str) -> tuple[RecordRows, ...]:
    """Return the rows of the trial's tables that a value of origin `trial` was taken from.

    Parameters: at, its address. The rows are those of the plots that move the block model's mean: the treatment's
    own, and where plots are missing others beside them. They are remembered, since a trial does not change.
    """
    key = "record rows", at
    if key not in layout.memory:
        layout.memory[key] = _trial_rows(layout, at)
    return layout.memory[key]  # type: ignore[no-any-return]


def _trial_rows(layout: Layout, at: str) -> tuple[RecordRows, ...]:
    name = at.split("/")[0]
    treatment, crop = _grown(layout, at)
    if layout.trial is None or not treatment:
        return ()
    own = list(layout.trial.units.loc[layout.trial.units["treatment"] == treatment, "plot"])
    moving = _plots(layout.trial, name, treatment) if name in MODELLED else own
    others = [plot for plot in moving if plot not in own]
    found = [*_rows(layout, name, own, f"plots of treatment {treatment}, {crop}"), *_rows(layout, name, others, ACROSS)]
    return tuple(rows for rows in found if rows.lines)


def _grown(layout: Layout, at: str) -> tuple[str, str]:
    """Return treatment and crop of the season whose value stands at an address."""
    for system in layout.structure.systems:
        for plan in system.seasons:
            if at in plan.addresses.values():
                return layout.case.settings.system(system.id).treatment, plan.crop
    return "", ""


def _plots(trial: Trial, name: str, treatment: str) -> list[str]:
    """Return the plots whose value moves a treatment's mean of a figure, or of those it is made from."""
    parts = [part for figure in MODELLED[name] for part in _moving(trial, figure, treatment)]
    return list(dict.fromkeys(plot for part in parts for plot in part))


def _moving(trial: Trial, figure: str, treatment: str) -> Iterator[Sequence[str]]:
    """Yield the plots that move a treatment's mean, one trial of a crop, site and season after the other."""
    units = trial.units
    for key, model in trial.models[figure].items():
        here = units[(units[list(ONE_TRIAL)].astype(str) == list(key)).all(axis=1)]
        own = here[here["treatment"] == treatment]
        weights = cell_weights(model, own)
        if weights.any():
            seen = here.loc[here[figure].notna(), "plot"].to_numpy()
            yield list(seen[_moves_mean(model, weights)])


def _moves_mean(model: BlockModel, weights: np.ndarray) -> np.ndarray:
    """Return which of a model's values move a mix of its cells: each is moved in turn and the model solved anew."""
    values = model.values
    nudge = NUDGE * (float(np.ptp(values)) or 1.0)
    eye = nudge * np.eye(len(values))
    means = [float(weights @ solve(model.matrices, values + move).estimates) for move in eye]
    return np.abs(np.array(means) - float(weights @ model.estimates)) > MOVED * nudge


def _rows(layout: Layout, name: str, plots: Sequence[str], what: str) -> Iterator[RecordRows]:
    yield _of_plots(layout, "plots", plots, what)
    counted = layout.case.settings.yield_from != "weighed"
    for table in FILES[name]:
        if table in layout.case.tables and (table != "fruit_masses" or counted):
            yield _of_plots(
                layout, table, plots, f"{what}{_kinds(name)}" if table == "water" else what, _kinds_of(name)
            )


def _kinds_of(name: str) -> tuple[str, ...]:
    return APPLIED_KINDS if name in (APPLIED, DELIVERY) else ()


def _kinds(name: str) -> str:
    return f" ({', '.join(kind.replace('_', ' ') for kind in _kinds_of(name))})"


def _of_plots(layout: Layout, table: str, plots: Sequence[str], what: str, kinds: tuple[str, ...] = ()) -> RecordRows:
    rows = layout.case.table(table)
    chosen = rows["plot"].isin(plots) & (rows["kind"].isin(kinds) if kinds else True)
    return RecordRows(f"{table}.csv", tuple(int(line) for line in rows.loc[chosen, "line"]), what)


def weather_rows(layout: Layout, values: Values, system: str, plans: Sequence[SeasonPlan]) -> tuple[RecordRows, ...]:
    """Return the days of weather that the simulated seasons of a system were followed through.

    Parameters: values by address; the system's id; plans of its seasons.
    """
    table = layout.case.table("weather")
    days = pd.DatetimeIndex(table["date"])
    used = np.zeros(len(table), dtype=np.bool_)
    for plan in plans:
        for year in water_of_season(layout, values, system, plan).years:
            used |= np.asarray(days.isin(year.weather.dates))
    seasons = " and ".join(plan.season for plan in plans)
    return (RecordRows("weather.csv", tuple(int(n) for n in table.loc[used, "line"]), f"days of {seasons}"),)


def handbook_notes(layout: Layout, values: Values, system: str, plans: Sequence[SeasonPlan]) -> tuple[str, ...]:
    """Return what a simulation took from handbooks or assumed, in sentences; parameters as `weather_rows`."""
    found = [note for plan in plans for note in water_of_season(layout, values, system, plan).shown.notes]
    return tuple(dict.fromkeys(found))


def records_words(rows: RecordRows, *, elsewhere: str = "") -> str:
    """Return record rows as `harvests.csv lines 2-9, 14 (9 rows): plots of treatment tank`.

    `elsewhere` is added where ranges are left out: where all of them are.
    """
    ranges = line_ranges(rows.lines).split(", ")
    lines = ", ".join(ranges)
    if len(ranges) > MOST_RANGES:
        lines = f"{', '.join(ranges[:MOST_RANGES])} and more up to {max(rows.lines)}{elsewhere}"
    return f"{rows.file} lines {lines} ({len(rows.lines)} rows): {rows.what}"


def line_ranges(lines: Sequence[int]) -> str:
    """Return line numbers in order, those that follow each other as a range: `2-9, 14`."""
    ranges: list[list[int]] = []
    for line in sorted(lines):
        if ranges and line == ranges[-1][1] + 1:
            ranges[-1][1] = line
        else:
            ranges.append([line, line])
    return ", ".join(f"{first}" if first == last else f"{first}-{last}" for first, last in ranges)
