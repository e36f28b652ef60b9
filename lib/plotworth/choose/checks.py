"""Master checks of an appraisal: what must hold whatever the case says, each found by a second route.

A check is a sentence and a function of the evidence in `CHECKS`; whatever else is checked is one more pair there.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plotworth.choose.structure import AREA, SeasonPlan
from plotworth.choose.system import SystemYear
from plotworth.ground.arrays import Array
from plotworth.ground.conversions import LITRES_PER_M3
from plotworth.ground.glossary import GLOSSARY

Figures = Mapping[str, Mapping[str, float]]
TOLERANCE = 1e-9
HOUR, CAPITAL, SEASONAL = "hour", "capital", "seasonal"


@dataclass(frozen=True)
class Check:
    """A check: what must hold, in words, and whether it does."""

    sentence: str
    holds: bool


@dataclass(frozen=True)
class Evidence:
    """What the checks look at.

    Figures of `systems` and of `differences` by part, each in its own unit; `references`, the system each part is
    taken from; figures by season; `flows` by system [money], year 0..T; `rate` of discount [share/year]; `years`, the
    systems in a full year; `values` in force by address, shapes (1, 1).
    """

    systems: Figures
    differences: Mapping[str, Figures]
    references: Mapping[str, str]
    seasons: Figures
    flows: Mapping[str, NDArray[np.float64]]
    rate: float
    years: Mapping[str, SystemYear]
    values: Mapping[str, Array]

    def of_seasons(self, system: str) -> Iterator[tuple[SeasonPlan, Mapping[str, float]]]:
        """Yield the plan and the figures of every season of a system."""
        for plan in self.years[system].plan.seasons:
            yield plan, self.seasons[f"{system}/{plan.season}"]

    def value(self, address: str) -> float:
        """Return the value in force at an address, in its own unit."""
        return float(self.values[address].flat[0])


def master_checks(evidence: Evidence) -> tuple[Check, ...]:
    """Return the checks of one appraisal, in the order of `CHECKS`."""
    return tuple(Check(sentence, holds(evidence)) for sentence, holds in CHECKS)


def _npv_agrees(evidence: Evidence) -> bool:
    """Whether the present values by totals equal the flows discounted one by one by a library of finance."""
    import numpy_financial as npf

    return all(
        _same(figures["npv"], float(npf.npv(evidence.rate, flows)), float(np.abs(flows).sum()))
        for figures, flows in ((figures, evidence.flows[name]) for name, figures in evidence.systems.items())
    )


def _differences_agree(evidence: Evidence) -> bool:
    systems = evidence.systems
    return all(
        _same(figures["npv"], systems[name]["npv"] - systems[evidence.references[part]]["npv"], systems[name]["npv"])
        for part, by_system in evidence.differences.items()
        for name, figures in by_system.items()
    )


def _chain_conserves(evidence: Evidence) -> bool:
    return all(
        _same(s["marketable_kg"], s["lost_kg"] + s["eaten_kg"] + s["sold_kg"], s["marketable_kg"])
        for s in evidence.seasons.values()
    )


def _harvest_is_priced(evidence: Evidence) -> bool:
    """Whether kilograms of the seasons x their price are what the system sells, eats and is credited with."""
    return all(_is_priced(evidence, name, figures) for name, figures in evidence.systems.items())


def _is_priced(evidence: Evidence, name: str, figures: Mapping[str, float]) -> bool:
    seasons, year = [season for _, season in evidence.of_seasons(name)], evidence.years[name]
    sold = sum(season["sold_kg"] * season["farm_gate_price_per_kg"] for season in seasons)
    eaten = sum(season["eaten_kg"] * season["farm_gate_price_per_kg"] for season in seasons)
    benefit, counted = _total(year.amounts.benefit), _number(year.seasons[0].eaten_share)
    routes = ((figures["sales"], sold), (figures["eaten_value"], eaten), (benefit, sold + counted * eaten))
    return all(_same(one, other, sold + eaten) for one, other in routes)


def _water_adds_up(evidence: Evidence) -> bool:
    """Whether water drawn x delivery is what is applied, and drawn water x ground is the year's."""
    return all(_water_of_year(evidence, name, figures["water_m3"]) for name, figures in evidence.systems.items())


def _water_of_year(evidence: Evidence, name: str, year_m3: float) -> bool:
    total, agree = 0.0, True
    for plan, season in evidence.of_seasons(name):
        at = plan.addresses
        applied = season["water_l_per_m2"] * evidence.value(at["delivery_share"])
        agree &= _same(season["water_applied_l_per_m2"], applied, applied)
        planted = evidence.value(AREA) * evidence.value(at["planted_share"]) * plan.share_of_area
        total += season["water_l_per_m2"] * planted / LITRES_PER_M3
    return agree and _same(year_m3, total, total)


def _hours_add_up(evidence: Evidence) -> bool:
    """Whether the rows of the labour plan, carrying and cost lines in hours are family and hired hours."""
    return all(
        _same(figures["family_hours"] + figures["hired_hours"], hours, hours)
        for figures, hours in ((figures, _hours(evidence, name)) for name, figures in evidence.systems.items())
    )


def _hours(evidence: Evidence, name: str) -> float:
    year, value = evidence.years[name], evidence.value
    planted = [_number(season.planted_m2) for season in year.seasons]
    planned = sum(
        value(row.hours_address) * (planted[k] if row.is_per_m2 else 1.0)
        for row in year.plan.labour
        for k in row.seasons
    )
    lines = sum(
        value(line.quantity_address) * (len(line.seasons) if line.group == SEASONAL else 1)
        for line in year.plan.costs
        if line.basis == HOUR and line.group != CAPITAL
    )
    return planned + lines + evidence.systems[name]["water_m3"] * value(year.plan.addresses["carrying_h_per_m3"])


def _labour_is_paid(evidence: Evidence) -> bool:
    """Whether labour cost is hours x wages, and running cost is cost lines, energy and the hours of the plan."""
    return all(_is_paid(evidence.years[name], figures) for name, figures in evidence.systems.items())


def _is_paid(year: SystemYear, figures: Mapping[str, float]) -> bool:
    family, hired = _number(year.wages.family), _number(year.wages.hired)
    labour = figures["family_hours"] * family + figures["hired_hours"] * hired
    lines = _number(year.bill.yearly) + _total(year.bill.seasonal) + _total(year.bill.harvest) + _total(year.energy)
    planned_h = figures["family_hours"], figures["hired_hours"] - _number(year.bill.hours)
    running = lines + planned_h[0] * family + planned_h[1] * hired
    return _same(figures["labour_cost"], labour, labour) and _same(figures["running_cost"], running, running)


def _annual_value_recovers(evidence: Evidence) -> bool:
    """Whether the equivalent annual value, paid at the end of every year and discounted, is the NPV again."""
    import numpy_financial as npf

    horizon_years = max(len(flows) for flows in evidence.flows.values()) - 1
    parts = [evidence.systems, *evidence.differences.values()]
    return all(
        _same(figures["npv"], float(npf.npv(evidence.rate, [0.0, *[yearly] * horizon_years])), figures["npv"])
        for part in parts
        for figures, yearly in ((figures, figures["equivalent_annual_value"]) for figures in part.values())
    )


def _units_are_known(evidence: Evidence) -> bool:
    parts = [evidence.systems, *evidence.differences.values(), evidence.seasons]
    names = {name for part in parts for figures in part.values() for name in figures}
    return all(name in GLOSSARY and GLOSSARY[name].is_outcome and GLOSSARY[name].unit for name in names)


CHECKS: tuple[tuple[str, Callable[[Evidence], bool]], ...] = (
    ("NPV of every system, by totals and year by year", _npv_agrees),
    ("every difference in NPV is with less without", _differences_agree),
    ("marketable kilograms are lost, eaten and sold kilograms", _chain_conserves),
    ("kilograms at the farm-gate price are sales, eaten value and benefit", _harvest_is_priced),
    ("water drawn x delivery is what is applied, and adds up to the year's", _water_adds_up),
    ("hours of the labour plan, carrying and cost lines are family and hired hours", _hours_add_up),
    ("labour cost is hours x wages, and running cost is cost lines, energy and hours", _labour_is_paid),
    ("the equivalent annual value, discounted, is the NPV again", _annual_value_recovers),
    ("every outcome has its unit", _units_are_known),
)
"""What must hold, and the function that finds out."""


def _number(array: Array) -> float:
    return float(array.flat[0])


def _total(arrays: tuple[Array, ...]) -> float:
    return sum(_number(array) for array in arrays)


def _same(one: float, other: float, size: float) -> bool:
    """Whether two numbers agree to rounding of a sum of this size; two gaps agree."""
    return bool(np.isnan(one) and np.isnan(other)) or abs(one - other) <= TOLERANCE * (1.0 + abs(size))
