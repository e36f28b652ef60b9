"""Prices and harvest by month, from `prices.csv`: inputs by address, and which months price a season."""

from typing import Any

from plotworth.case.folder import Case
from plotworth.choose.computed import HARVEST_SHARE, PRICE_INDEX
from plotworth.choose.input import Input
from plotworth.ground.errors import Fault

FILE = "prices.csv"
MONTHS = 12
MOST = 1e6
SHARES_SUM = 1.0
SUM_SLACK = 0.005
INDEX_SLACK = 0.05


def month_inputs(case: Case) -> dict[str, Input]:
    """Return price index and harvest share of every month of the table as inputs, by address.

    A blank harvest share is 0; a blank index stands only where nothing is picked.
    """
    inputs = {}
    for row in case.rows("prices"):
        for end, value, label in (
            (HARVEST_SHARE, row.harvest_share, "harvest share"),
            (PRICE_INDEX, row.price_index, "price index"),
        ):
            at = f"{_month(row)}{end}"
            inputs[at] = _input(at, f"{row.crop} in month {int(row.month)}: {label}", value, int(row.line))
    return inputs


def _month(row: Any) -> str:
    return f"prices/{row.crop}/{int(row.month)}"


def _input(at: str, label: str, value: float, line: int) -> Input:
    return Input(
        address=at,
        label=label,
        unit="1" if at.endswith(PRICE_INDEX) else "share",
        group="market",
        value=0.0 if value != value else float(value),
        low=None,
        high=None,
        lowest=0.0,
        highest=1.0 if at.endswith(HARVEST_SHARE) else MOST,
        nature="yearly",
        spread="fixed",
        origin="typed",
        grade="",
        source="prices by month of the case",
        file=FILE,
        line=line,
    )


def season_months(first_month: int, months: int) -> list[int]:
    """Return the calendar months of a season, 1-12, in their order."""
    return [(first_month - 1 + k) % MONTHS + 1 for k in range(months)]


def pricing_months(case: Case, season: Any) -> dict[str, str]:
    """Return the inputs of a season's price factor, by name: months of the season in which its crop is picked."""
    window = season_months(int(season.first_month), int(season.months))
    rows = [row for row in case.rows("prices") if row.crop == season.crop and int(row.month) in window]
    return {
        f"{int(row.month)}{end}": f"{_month(row)}{end}"
        for row in rows
        if row.harvest_share > 0
        for end in (HARVEST_SHARE, PRICE_INDEX)
    }


def has_prices(case: Case, crop: str) -> bool:
    """Whether the table has rows for a crop."""
    return any(row.crop == crop for row in case.rows("prices"))


def price_faults(case: Case) -> list[Fault]:
    """Return the faults of the table: gaps where something is picked, shares and indices that do not come to one."""
    faults, rows = [], list(case.rows("prices"))
    for crop in dict.fromkeys(row.crop for row in rows):
        own = [row for row in rows if row.crop == crop]
        faults += _crop_faults(crop, own)
    for season in case.rows("seasons"):
        if has_prices(case, season.crop) and not pricing_months(case, season):
            rule = f"no month of the season {season.season} has a harvest share of {season.crop}"
            faults.append(Fault(FILE, 0, season.crop, "", rule, "write the share picked in each of its months"))
    return list(dict.fromkeys(faults))


def _crop_faults(crop: str, rows: list[Any]) -> list[Fault]:
    faults = []
    picked = [row for row in rows if row.harvest_share > 0]
    for row in picked:
        if row.price_index != row.price_index:
            rule = f"{crop} is picked in this month and its price is a gap"
            faults.append(Fault(FILE, int(row.line), "price_index", "", rule, "write its price over the year's mean"))
    total = sum(float(row.harvest_share) for row in picked)
    if abs(total - SHARES_SUM) > SUM_SLACK:
        rule = f"the harvest shares of {crop} come to {total:g} over the year"
        faults.append(Fault(FILE, int(rows[0].line), "harvest_share", "", rule, "make them come to 1"))
    indices = [float(row.price_index) for row in rows if row.price_index == row.price_index]
    if len(indices) == MONTHS and abs(sum(indices) / MONTHS - 1.0) > INDEX_SLACK:
        rule = f"the twelve indices of {crop} have a mean of {sum(indices) / MONTHS:.3g}"
        faults.append(Fault(FILE, int(rows[0].line), "price_index", "", rule, "divide each by that mean"))
    return faults
