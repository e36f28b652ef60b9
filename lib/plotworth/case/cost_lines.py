"""The cost lines of a case: what is paid for, by which system, when, and counted on what basis."""

import datetime
from dataclasses import dataclass

from plotworth.case.book import ALL, Context
from plotworth.case.sheet import Sheet
from plotworth.case.table import Entry, check_sheet
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import suggest

CAPITAL, SEASONAL, YEARLY = "capital", "seasonal", "yearly"
HOUR = "hour"
RANGES = ("quantity", "unit_price", "life")


@dataclass(frozen=True)
class CostLine:
    """A cost line. `quantity` is counted on `basis`; `unit_price` [money], None where the wage prices it.

    `life_years` [year] for capital only; `step_m2` [m2 gross] is the capacity of one; `residual_share`
    [share of the unexpired value]; `month` 1-12 or None; `economic_factor`, economic over market price [1];
    `is_shared` with other households or uses; dates of the quote, None where not stated.
    """

    system: str
    season: str
    item: str
    group: str
    basis: str
    quantity: float
    unit_price: float | None
    life_years: int | None
    step_m2: float | None
    residual_share: float
    month: int | None
    ranges: tuple[tuple[float | None, float | None], ...]
    price_year: int | None
    source: str
    grade: str
    line: int
    economic_factor: float = 1.0
    is_shared: bool = False
    quoted_on: datetime.date | None = None
    valid_until: datetime.date | None = None

    @property
    def address(self) -> str:
        """The line's address: cost/system/item, to which /quantity, /unit_price or /life_years is added."""
        return f"cost/{self.system or ALL}/{self.item}"

    def range_of(self, what: str) -> tuple[float | None, float | None]:
        """Return low and high of `quantity`, `unit_price` or `life`."""
        return self.ranges[RANGES.index(what)]


def read_cost_lines(sheet: Sheet, context: Context) -> tuple[tuple[CostLine, ...], list[Fault]]:
    """Return the cost lines in a sheet and every fault found in it."""
    entries, faults = check_sheet(sheet, "costs")
    if not faults:
        faults = [fault for entry in entries for fault in _line_faults(entry, sheet.file, context)]
        faults += _twins(entries, sheet.file)
    return () if faults else tuple(_cost_line(entry) for entry in entries), faults


def _line_faults(entry: Entry, file: str, context: Context) -> list[Fault]:
    found = _key_faults(entry, context) + _capital_faults(entry) + _basis_faults(entry) + _range_faults(entry)
    return [Fault(file, entry.line, entry.text("item"), *fault) for fault in found]


Reason = tuple[str, str, str]


def _key_faults(entry: Entry, context: Context) -> list[Reason]:
    faults = []
    for key in ("system", "season"):
        word, words = entry.text(key), context.words(key)
        if word and words and word not in words:
            near = suggest(word, words)
            remedy = f"did you mean {near}" if near else f"write one of {', '.join(words)} or leave it blank"
            faults.append((word, f"the case has no such {key}", remedy))
    if "/" in entry.text("item"):
        faults.append((entry.text("item"), "a / parts an address", "name the item without a /"))
    if entry.text("season") and entry.text("group") != SEASONAL:
        faults.append((entry.text("season"), "only a seasonal line belongs to a season", "leave season blank"))
    return faults


def _capital_faults(entry: Entry) -> list[Reason]:
    capital = entry.text("group") == CAPITAL
    life, residual = entry.number("life_years"), entry.number("residual_share")
    faults = []
    if capital and life is None:
        faults.append(("", "capital needs a life", "write life_years, the years until it is bought again"))
    if not capital and life is not None:
        faults.append((f"{life:g}", "only capital has a life", "leave life_years blank, or write group capital"))
    if not capital and residual is not None:
        faults.append((f"{residual:g}", "only capital has a residual", "leave residual_share blank"))
    return faults


def _basis_faults(entry: Entry) -> list[Reason]:
    basis, price = entry.text("basis"), entry.number("unit_price")
    faults = []
    if basis == HOUR and price is not None:
        rule = "hours are priced by hired_wage_per_hour of the book"
        faults.append((f"{price:g}", rule, "leave unit_price blank"))
    if basis != HOUR and price is None:
        faults.append(("", "the price is blank", "write unit_price, 0 where nothing is paid"))
    if entry.text("group") == CAPITAL and basis in ("m3", "kg_sold"):
        faults.append((basis, "capital is not bought by the m3 or kilogram", "write another basis or group"))
    if entry.number("step_m2") is not None and basis not in ("scheme", "dry_hole"):
        remedy = "write basis scheme, or leave step_m2 blank"
        faults.append((basis, "only a line of basis scheme or dry_hole comes in steps of area", remedy))
    if basis == HOUR and entry.number("economic_factor") is not None:
        rule = "hours follow economic_hired_wage_factor of the book"
        faults.append((f"{entry.number('economic_factor'):g}", rule, "leave economic_factor blank"))
    if basis == HOUR and entry.text("shared") == "yes":
        faults.append(
            (basis, "hours are no thing to share", "leave shared blank, or write the hours of this household")
        )
    return faults


def _range_faults(entry: Entry) -> list[Reason]:
    faults = []
    for what, value_name in zip(RANGES, ("quantity", "unit_price", "life_years"), strict=True):
        low, high, value = (entry.number(name) for name in (f"{what}_low", f"{what}_high", value_name))
        if (low is None) != (high is None):
            faults.append(("", f"{what}_low and {what}_high stand together", "write both, or neither"))
        elif low is not None and high is not None and value is not None:
            faults += _order_faults(what, low, value, high)
    return faults


def _order_faults(what: str, low: float, value: float, high: float) -> list[Reason]:
    if low > high:
        found = f"{what}_low {low:g} and {what}_high {high:g}"
        return [(found, "low is above high", f"write low {high:g} and high {low:g}")]
    if not low <= value <= high:
        rule = f"the {what} lies outside its own range {low:g} to {high:g}"
        return [(f"{value:g}", rule, "widen the range or correct the value")]
    return []


def _twins(entries: list[Entry], file: str) -> list[Fault]:
    first: dict[tuple[str, str], int] = {}
    faults = []
    for entry in entries:
        key = entry.text("system"), entry.text("item")
        line = first.setdefault(key, entry.line)
        if line != entry.line:
            rule = f"line {line} has the same item for the same system"
            faults.append(Fault(file, entry.line, key[1], key[1], rule, "give each line an item name of its own"))
    return faults


def _cost_line(entry: Entry) -> CostLine:
    factor = entry.number("economic_factor")
    life, month, year = (entry.number(name) for name in ("life_years", "month", "price_year"))
    texts = {k: entry.text(k) for k in ("system", "season", "item", "group", "basis", "source", "grade")}
    return CostLine(
        quantity=entry.number("quantity") or 0.0,
        unit_price=entry.number("unit_price"),
        life_years=None if life is None else int(life),
        step_m2=entry.number("step_m2"),
        residual_share=entry.number("residual_share") or 0.0,
        month=None if month is None else int(month),
        ranges=tuple((entry.number(f"{what}_low"), entry.number(f"{what}_high")) for what in RANGES),
        price_year=None if year is None else int(year),
        line=entry.line,
        economic_factor=1.0 if factor is None else factor,
        is_shared=entry.text("shared") == "yes",
        quoted_on=_date(entry, "quoted_on"),
        valid_until=_date(entry, "valid_until"),
        **texts,
    )


def _date(entry: Entry, column: str) -> datetime.date | None:
    value = entry.values.get(column)
    return value if isinstance(value, datetime.date) else None
