"""Cost lines and labour plan laid out for the composition: items with their addresses, inputs with their ranges."""

from collections.abc import Sequence
from typing import Any

from plotworth.case.book import ALL, address
from plotworth.case.cost_lines import CAPITAL, HOUR, CostLine
from plotworth.case.folder import Case
from plotworth.choose.input import Input
from plotworth.ground.errors import Fault
from plotworth.money.costs import CostItem
from plotworth.money.labour import LabourItem

COSTS_FILE = "costs.csv"
LABOUR_FILE = "labour_plan.csv"
MOST = 1e9
COUNTED = {
    "plant": "plants_per_m2",
    "unit": "m2_per_unit",
    "well": "area_per_well_m2",
    "dry_hole": "dry_hole_chance",
}


def cost_items(case: Case, system: str, seasons: Sequence[str], wage_address: str) -> tuple[CostItem, ...]:
    """Return the cost lines of one system as items; a line counted in hours is priced at the hired wage."""
    lines = [line for line in case.costs if line.system in ("", system)]
    return tuple(
        CostItem(
            quantity_address=f"{line.address}/quantity",
            price_address=wage_address if line.basis == HOUR else f"{line.address}/unit_price",
            group=line.group,
            basis=line.basis,
            seasons=_seasons(line, seasons),
            life_years=line.life_years,
            step_m2=line.step_m2,
            residual_share=line.residual_share,
            is_shared=line.is_shared,
        )
        for line in lines
    )


def _seasons(line: CostLine, seasons: Sequence[str]) -> tuple[int, ...]:
    if line.group == CAPITAL:
        return ()
    return tuple(k for k, season in enumerate(seasons) if line.season in ("", season))


def cost_inputs(case: Case) -> dict[str, Input]:
    """Return quantity and unit price of every cost line as inputs, by address."""
    inputs = {}
    for line in case.costs:
        for what, value in (("quantity", line.quantity), ("unit_price", line.unit_price)):
            if value is not None:
                inputs[f"{line.address}/{what}"] = _cost_input(line, what, value, case.settings.currency)
    return inputs


def _cost_input(line: CostLine, what: str, value: float, currency: str) -> Input:
    low, high = line.range_of(what)
    return Input(
        address=f"{line.address}/{what}",
        label=f"{line.item}: price" if what == "unit_price" else line.item,
        unit=currency if what == "unit_price" else _quantity_unit(line),
        group="costs",
        value=value,
        low=low,
        high=high,
        lowest=0.0,
        highest=MOST,
        nature="constant",
        spread="fixed" if low is None else "peaked",
        origin="typed",
        grade=line.grade,
        source=line.source,
        file=COSTS_FILE,
        line=line.line,
    )


def _quantity_unit(line: CostLine) -> str:
    return "1" if line.basis == "scheme" else f"for each {line.basis.replace('_', ' ')}"


def _labour_address(row: Any) -> str:
    month = "" if row.month != row.month else str(int(row.month))
    return "/".join(["labour", row.system or ALL, row.season or ALL, row.task, month or ALL])


def _is_per_m2(row: Any) -> bool:
    return bool(row.hours_per_m2 == row.hours_per_m2)


def labour_items(case: Case, system: str, seasons: Sequence[str]) -> tuple[LabourItem, ...]:
    """Return the labour plan of one system as items."""
    return tuple(
        LabourItem(
            hours_address=f"{_labour_address(row)}/{'hours_per_m2' if _is_per_m2(row) else 'hours'}",
            family_share_address=f"{_labour_address(row)}/family_share",
            is_per_m2=_is_per_m2(row),
            seasons=tuple(k for k, season in enumerate(seasons) if row.season in ("", season)),
            moves_with_harvest=row.harvest == "yes",
        )
        for row in case.rows("labour_plan")
        if row.system in ("", system)
    )


def labour_inputs(case: Case) -> dict[str, Input]:
    """Return hours and family share of every row of the labour plan as inputs, by address."""
    inputs = {}
    for row in case.rows("labour_plan"):
        per_m2 = _is_per_m2(row)
        hours = ("hours_per_m2", row.hours_per_m2, "hour/m2") if per_m2 else ("hours", row.hours, "hour")
        for what, value, unit in (hours, ("family_share", row.family_share, "share")):
            at = f"{_labour_address(row)}/{what}"
            inputs[at] = _labour_input(row, at, float(value), unit)
    return inputs


def _labour_input(row: Any, at: str, value: float, unit: str) -> Input:
    return Input(
        address=at,
        label=row.task,
        unit=unit,
        group="labour",
        value=value,
        low=None,
        high=None,
        lowest=0.0,
        highest=1.0 if unit == "share" else MOST,
        nature="constant",
        spread="fixed",
        origin="typed",
        grade="",
        source="labour plan of the case",
        file=LABOUR_FILE,
        line=int(row.line),
    )


def basis_faults(case: Case) -> list[Fault]:
    """Return a fault for every cost line counted on a size that the book leaves out."""
    faults, seasons = [], case.rows("seasons")
    for line in case.costs:
        counted = [row for row in seasons if _holds(line, row) and line.basis in COUNTED]
        lacking = [row for row in counted if not _is_stated(case, COUNTED[line.basis], row)]
        if lacking:
            name, row = COUNTED[line.basis], lacking[0]
            rule = f"a line counted by the {line.basis} needs {address(name, row.system, row.crop, row.season)}"
            remedy = f"write a row {name} in the book, or another basis"
            faults.append(Fault(COSTS_FILE, line.line, line.item, line.basis, rule, remedy))
    return faults


def season_faults(case: Case) -> list[Fault]:
    """Return a fault for every cost line and every row of the labour plan in a season that its system has not."""
    lines = [(COSTS_FILE, line.item, line) for line in case.costs]
    rows = [(LABOUR_FILE, row.task, row) for row in case.rows("labour_plan")]
    seasons = case.rows("seasons")
    return [
        Fault(
            file,
            int(one.line),
            name,
            one.season,
            f"the system {one.system} has no season {one.season}",
            "name one of its seasons",
        )
        for file, name, one in (*lines, *rows)
        if not any(_holds(one, season) for season in seasons)
    ]


def _holds(one: Any, season: Any) -> bool:
    """Whether a cost line or a row of the labour plan holds in a season of a system."""
    return one.system in ("", season.system) and one.season in ("", season.season)


def _is_stated(case: Case, name: str, season: Any) -> bool:
    return case.book.find(name, system=season.system, crop=season.crop, season=season.season) is not None
