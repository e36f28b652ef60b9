"""Figures of a full year that are no measure of worth: kilograms, litres, hours, running costs."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from plotworth.choose.season import SeasonYear
from plotworth.choose.system import SystemYear
from plotworth.ground.arrays import Array, cell
from plotworth.ground.conversions import LITRES_PER_M3

PER_HUNDRED = 100.0
MAIN_CROP_FIGURES = (
    "yield_kg_per_m2",
    "water_applied_l_per_m2",
    "water_l_per_m2",
    "irrigation_productivity_kg_per_m3",
    "water_l_per_kg",
    "farm_gate_price_per_kg",
    "grown_kg",
    "marketable_kg",
    "lost_kg",
    "eaten_kg",
    "sold_kg",
)
NOT_SUBTRACTED = (
    "irrigation_productivity_kg_per_m3",
    "water_l_per_kg",
    "farm_gate_price_per_kg",
    "gross_margin_per_m3",
    "gross_margin_per_day",
    "gross_margin_per_unit",
    "gross_margin_per_100",
    "reservoir_units",
    "wells",
)

no_value = np.errstate(divide="ignore", invalid="ignore")
"""Where a divisor is 0 there is no value, and no warning."""


def _quotient(numerator: Array, denominator: Array) -> Array:
    quotient = numerator / denominator
    return np.where(np.isfinite(quotient), quotient, np.nan)


@no_value
def season_figures(year: SeasonYear) -> dict[str, Array]:
    """Return the figures of one season: per planted m2 and season, and kilograms of a full year."""
    return {
        "yield_kg_per_m2": year.yield_kg_per_m2,
        "water_applied_l_per_m2": year.water_applied_l_per_m2,
        "water_l_per_m2": year.water_l_per_m2,
        "irrigation_productivity_kg_per_m3": _quotient(
            LITRES_PER_M3 * year.yield_kg_per_m2, year.water_applied_l_per_m2
        ),
        "water_l_per_kg": _quotient(year.water_l_per_m2, year.yield_kg_per_m2),
        "farm_gate_price_per_kg": year.farm_gate_price_per_kg,
        "grown_kg": year.chain.picked,
        "marketable_kg": year.chain.marketable,
        "lost_kg": year.chain.lost,
        "eaten_kg": year.chain.eaten,
        "sold_kg": year.chain.sold,
    }


@no_value
def physical_figures(system: SystemYear, main_crop: str) -> dict[str, Array]:
    """Return a system's figures other than measures of money: the main crop's, then the whole year's."""
    figures = _main_crop_figures([season for season in system.seasons if season.crop == main_crop])
    sales = _total(season.sales for season in system.seasons)
    eaten_value = _total(season.eaten_value for season in system.seasons)
    running_cost, family_hours, hired_hours = system.running_cost, system.family_hours, system.hired_hours
    margin = sales + eaten_value * system.seasons[0].eaten_share - running_cost
    water_m3 = _total(season.water_m3 for season in system.seasons)
    laid_out = system.amounts.investment + system.amounts.working_capital
    return {
        **figures,
        "water_m3": water_m3,
        "sales": sales,
        "eaten_value": eaten_value,
        "family_hours": family_hours,
        "hired_hours": hired_hours,
        "labour_cost": system.labour_cost,
        "energy_kwh": _total(system.energy_kwh),
        "energy_cost": _total(system.energy),
        "running_cost": running_cost,
        "gross_margin_per_m2": margin / system.sizes.area_m2,
        "gross_margin_per_m3": _quotient(margin, water_m3),
        "gross_margin_per_day": _quotient(margin * system.hours_per_day, family_hours + hired_hours),
        "gross_margin_per_unit": _quotient(margin, system.sizes.units),
        "gross_margin_per_100": _quotient(PER_HUNDRED * margin, laid_out),
        "investment": system.amounts.investment,
        "working_capital": system.amounts.working_capital,
        "reservoir_units": system.sizes.units,
        "wells": system.sizes.wells,
    }


def _total(arrays: Iterable[Array]) -> Array:
    return sum(arrays, start=np.zeros((1, 1)))


def _main_crop_figures(seasons: Sequence[SeasonYear]) -> dict[str, Array]:
    if not seasons:
        return {name: cell(np.nan) for name in MAIN_CROP_FIGURES}
    if len(seasons) == 1:
        return season_figures(seasons[0])
    return _pooled([season_figures(season) for season in seasons], [season.planted_m2 for season in seasons])


def _pooled(figures: Sequence[dict[str, Array]], planted_m2: Sequence[Array]) -> dict[str, Array]:
    """Pool several seasons of the main crop: kilograms added, the rest as means weighted by planted area."""
    ground = _total(planted_m2)
    pooled: dict[str, Array] = {}
    for name in figures[0]:
        if name.endswith("_kg") and not name.endswith("_per_kg"):
            pooled[name] = _total(one[name] for one in figures)
        else:
            weighted = (one[name] * area for one, area in zip(figures, planted_m2, strict=True))
            pooled[name] = _total(weighted) / ground
    pooled["irrigation_productivity_kg_per_m3"] = _quotient(
        LITRES_PER_M3 * pooled["yield_kg_per_m2"], pooled["water_applied_l_per_m2"]
    )
    pooled["water_l_per_kg"] = _quotient(pooled["water_l_per_m2"], pooled["yield_kg_per_m2"])
    return pooled


@no_value
def physical_difference(own: Mapping[str, Array], reference: Mapping[str, Array]) -> dict[str, Array]:
    """Return a system's figures less the reference's; of water, the share drawn less as well."""
    shown = {name: own[name] - reference[name] for name in own if name not in NOT_SUBTRACTED}
    return {**shown, "less_water_share": 1.0 - _quotient(own["water_l_per_m2"], reference["water_l_per_m2"])}
