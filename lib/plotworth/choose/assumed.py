"""Which row of the book holds in which season, and what it is worth: typed, from the trial, unknown or absent."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import NamedTuple

from plotworth.case.book import COMPUTED, KEYS_BY_SCOPE, TRIAL, UNKNOWN, Assumption, address
from plotworth.case.folder import BOOK_FILE, Case
from plotworth.choose.computed import FORMULAS, ComputedItem
from plotworth.choose.input import Input, input_of_term
from plotworth.choose.measured import Measured, Trial, measured_figures
from plotworth.choose.month_prices import FILE as PRICES
from plotworth.choose.month_prices import has_prices, month_inputs, price_faults, pricing_months
from plotworth.choose.structure import SimulatedItem
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import GLOSSARY, Term, unit_text

NOT_FOR_THE_COMPOSITION = ("evapotranspiration_l_per_m2",)
YIELD, FRUITS, FRUIT_MASS = "yield_kg_per_m2", "fruits_per_m2", "fruit_mass_g"
YIELD_NAMES = (YIELD, FRUITS, FRUIT_MASS)
WITH_COMPUTED = "with computed"
WORDS_OF_ABSENCE = ("needed", "hours", "energy", "where used", UNKNOWN, WITH_COMPUTED)
UNKNOWN_VALUE = float("nan")
PRICE_FACTOR = "price_factor"
SIMULATION_GROUPS = ("demand", "reservoir")
SIMULATION_NAMES = tuple(term.name for term in GLOSSARY.values() if term.group in SIMULATION_GROUPS)
SIMULATED_NAMES = (
    "water_applied_l_per_m2",
    "peak_requirement_l_per_m2_per_day",
    "water_limited_share",
    "salt_limited_share",
)
"""What daily simulations and the handbook give for a season, see `simulated`."""


class SeasonKey(NamedTuple):
    """The keys of a season of a system, as the book's rows are keyed."""

    system: str
    crop: str
    season: str


@dataclass
class _Reader:
    case: Case
    trial: Trial | None
    inputs: dict[str, Input]
    faults: dict[str, Fault]
    computed: dict[str, ComputedItem]
    simulated: dict[str, SimulatedItem]

    def fault(self, key: str, line: int, name: str, found: str, rule: str, remedy: str) -> None:
        """Add a fault, once for each key."""
        self.faults.setdefault(key, Fault(BOOK_FILE, line, name, found, rule, remedy))


@dataclass(frozen=True)
class Assumed:
    """A book laid out: for each season the address of every assumption, the inputs by address, what is worked out.

    `water` for each season: the addresses of the rows that daily simulations stand on, those that the book states.
    """

    addresses: dict[SeasonKey, dict[str, str]]
    water: dict[SeasonKey, dict[str, str]]
    inputs: dict[str, Input]
    computed: tuple[ComputedItem, ...]
    simulated: tuple[SimulatedItem, ...]


def read_assumptions(case: Case, keys: Sequence[SeasonKey], trial: Trial | None) -> tuple[Assumed, list[Fault]]:
    """Return the book of a case laid out by season, and the faults found on the way."""
    reader = _Reader(case, trial, month_inputs(case), {}, {}, {})
    left_out = (*NOT_FOR_THE_COMPOSITION, *(t.name for t in GLOSSARY.values() if t.absent == WITH_COMPUTED))
    names = [t.name for t in GLOSSARY.values() if t.is_assumption and t.name not in left_out]
    addresses: dict[SeasonKey, dict[str, str]] = {}
    for key in keys:
        addresses[key] = {name: _resolve(reader, name, key) for name in names if name not in YIELD_NAMES}
        addresses[key] |= {name: _resolve(reader, name, key) for name in _yield_route(reader, key)}
    water = {key: _stated_water(reader, key) for key in keys}
    found = tuple(reader.computed.values()), tuple(reader.simulated.values())
    return Assumed(addresses, water, reader.inputs, *found), [*reader.faults.values(), *price_faults(case)]


def _stated_water(reader: _Reader, key: SeasonKey) -> dict[str, str]:
    """Return the addresses of the rows of a season that daily simulations stand on and the book states."""
    book, keys = reader.case.book, key._asdict()
    return {name: _resolve(reader, name, key) for name in SIMULATION_NAMES if book.find(name, **keys) is not None}


def _yield_route(reader: _Reader, key: SeasonKey) -> tuple[str, ...]:
    """Return the assumptions that state the yield of a season: the yield itself, or fruits and their mass."""
    found = {name: reader.case.book.find(name, **key._asdict()) for name in YIELD_NAMES}
    rank = {name: -1 if row is None else sum(map(bool, row.keys)) for name, row in found.items()}
    direct, counted = rank[YIELD], rank[FRUITS]
    row = found[FRUITS]
    if row is not None and direct == counted:
        where = ", ".join(key)
        rule = f"the yield of {where} is stated as kilograms and as fruits, equally specific"
        reader.fault(f"yield {where}", row.line, FRUITS, "", rule, "keep one of the two")
    return (YIELD,) if direct >= counted else (FRUITS, FRUIT_MASS)


def _resolve(reader: _Reader, name: str, key: SeasonKey) -> str:
    row = reader.case.book.find(name, **key._asdict())
    if name == PRICE_FACTOR and has_prices(reader.case, key.crop) and (row is None or row.value == COMPUTED):
        return _priced_by_month(reader, key)
    if row is None:
        return _absent(reader, GLOSSARY[name], key)
    if row.value == TRIAL:
        return _measured(reader, row, key)
    if row.value == COMPUTED:
        return _computed(reader, row, key)
    if row.address not in reader.inputs:
        unknown = row.value == UNKNOWN
        value = UNKNOWN_VALUE if isinstance(row.value, str) else row.value
        reader.inputs[row.address] = _input(
            row, row.address, value, "unknown" if unknown else "typed", row.low, row.high
        )
    return row.address


def _input(row: Assumption, at: str, value: float, origin: str, low: float | None, high: float | None) -> Input:
    term = GLOSSARY[row.name]
    return Input(
        address=at,
        label=term.label,
        unit=row.unit,
        group=term.group,
        value=value,
        low=low,
        high=high,
        lowest=term.lowest,
        highest=term.highest,
        nature=row.nature,
        spread=row.spread,
        origin=origin,
        grade=row.grade,
        source=row.source,
        file=BOOK_FILE,
        line=row.line,
    )


def _measured(reader: _Reader, row: Assumption, key: SeasonKey) -> str:
    at = address(row.name, key.system, key.crop, row.season)
    if at in reader.inputs:
        return at
    system = reader.case.settings.system(key.system)
    figures: Mapping[str, Measured] = {}
    if reader.trial is not None and system.treatment:
        figures = measured_figures(reader.trial, system.treatment, key.crop)
    figure = figures.get(row.name)
    if figure is None:
        plots = f"plots of treatment {system.treatment}" if system.treatment else "no treatment named for the system"
        rule = f"the trial holds no {GLOSSARY[row.name].label.lower()} for {key.system} and {key.crop} ({plots})"
        reader.fault(at, row.line, row.name, TRIAL, rule, "write a number, or record it in the trial's tables")
        return at
    reader.inputs[at] = _input(row, at, figure.value, TRIAL, *_range(row, figure))
    return at


def _computed(reader: _Reader, row: Assumption, key: SeasonKey) -> str:
    """Return the address of a value that is worked out, one for each system, and resolve what it stands on."""
    scope = KEYS_BY_SCOPE[GLOSSARY[row.name].per]
    at = address(row.name, *(getattr(key, name) for name in scope))
    if at in reader.inputs:
        return at
    reader.inputs[at] = _input(row, at, UNKNOWN_VALUE, COMPUTED, row.low, row.high)
    if row.name in SIMULATED_NAMES:
        reader.simulated[at] = SimulatedItem(at, row.name, key.system, key.season if "season" in scope else "")
    else:
        inputs = {name: _resolve(reader, name, key) for name in FORMULAS[row.name].inputs}
        reader.computed[at] = ComputedItem(at, row.name, inputs)
    return at


def _priced_by_month(reader: _Reader, key: SeasonKey) -> str:
    """Return the address of a price factor that the table of prices by month gives."""
    at = address(PRICE_FACTOR, *key)
    if at not in reader.inputs:
        season = next(row for row in reader.case.rows("seasons") if SeasonKey(row.system, row.crop, row.season) == key)
        term = GLOSSARY[PRICE_FACTOR]
        reader.inputs[at] = replace(
            input_of_term(term, unit=term.unit, value=UNKNOWN_VALUE, origin=COMPUTED, source=PRICES, file=PRICES),
            address=at,
        )
        reader.computed[at] = ComputedItem(at, PRICE_FACTOR, pricing_months(reader.case, season))
    return at


def _range(row: Assumption, figure: Measured) -> tuple[float | None, float | None]:
    """Return the range that the book states, or else the trial's interval cut to what is possible."""
    if row.low is not None or not isfinite(figure.low):
        return row.low, row.high
    term = GLOSSARY[row.name]
    return max(figure.low, term.lowest), min(figure.high, term.highest)


def _absent(reader: _Reader, term: Term, key: SeasonKey) -> str:
    if term.name in YIELD_NAMES:
        _miss_yield(reader, term, key)
    elif term.absent in GLOSSARY:
        return _resolve(reader, term.absent, key)
    elif term.absent in ("needed", WITH_COMPUTED) or _is_needed(reader.case, term, key):
        unit = unit_text(term.unit, reader.case.settings.currency)
        keyed = f" for {key.crop}" if term.per == "season" else ""
        remedy = f"write a row {term.name}{keyed} in {unit}: {term.meaning.lower()}"
        reader.fault(f"{term.name}{keyed}", 0, term.name, "", "the assumption is missing", remedy)
    if term.name not in reader.inputs:
        reader.inputs[term.name] = _absent_input(term, reader.case.settings.currency)
    return term.name


def _miss_yield(reader: _Reader, term: Term, key: SeasonKey) -> None:
    where = ", ".join(key)
    rule = f"nothing states the yield of {where}"
    remedy = f"write a row for {YIELD}, or rows for {FRUITS} and {FRUIT_MASS}"
    if term.name == FRUIT_MASS:
        rule = f"the yield of {where} is stated as fruits without their mass"
        remedy = f"write a row for {FRUIT_MASS}, or state {YIELD} instead"
    reader.fault(f"yield {where}", 0, term.name, "", rule, remedy)


def _absent_input(term: Term, currency: str) -> Input:
    value = 0.0 if term.absent in NEEDED_WITH else UNKNOWN_VALUE
    if term.absent not in WORDS_OF_ABSENCE and term.absent not in GLOSSARY:
        value = float(term.absent)
    unit = unit_text(term.unit, currency)
    source = f"not stated; taken as {value:g}" if value == value else "not stated"
    return input_of_term(term, unit=unit, value=value, origin="absent", source=source, file=BOOK_FILE)


def _is_needed(case: Case, term: Term, key: SeasonKey) -> bool:
    """Whether a case holds what makes this assumption needed: hours for wages, a pump for the price of energy."""
    return term.absent in NEEDED_WITH and NEEDED_WITH[term.absent](case, key)


def _has_energy(case: Case, key: SeasonKey) -> bool:
    row = case.book.find("pump_energy_kwh_per_m3", system=key.system)
    return row is not None and row.value != 0


def _has_hours(case: Case, _key: SeasonKey) -> bool:
    carried = [row for row in case.book.rows if row.name == "carrying_h_per_m3" and row.value]
    return bool(carried) or "labour_plan" in case.tables or any(line.basis == "hour" for line in case.costs)


NEEDED_WITH: Mapping[str, Callable[[Case, SeasonKey], bool]] = {"hours": _has_hours, "energy": _has_energy}
