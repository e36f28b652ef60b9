"""Lays a case out for the composition: its structure, its values by address, and where each came from."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from plotworth.case.folder import Case
from plotworth.case.settings import FILE
from plotworth.choose.assumed import Assumed, SeasonKey, read_assumptions
from plotworth.choose.computed import with_computed
from plotworth.choose.correlations import correlation_faults
from plotworth.choose.financing_inputs import financing_inputs
from plotworth.choose.input import Input, input_of_term
from plotworth.choose.layout import Layout
from plotworth.choose.measured import read_trial
from plotworth.choose.planned import (
    basis_faults,
    cost_inputs,
    cost_items,
    labour_inputs,
    labour_items,
    season_faults,
)
from plotworth.choose.price_year import price_year_faults
from plotworth.choose.simulated import with_simulated
from plotworth.choose.structure import AREA, HarvestKey, SeasonPlan, Structure, SystemPlan
from plotworth.ground.arrays import Array, cell
from plotworth.ground.errors import FaultsError
from plotworth.ground.glossary import GLOSSARY


def lay_out(case: Case) -> Layout:
    """Return a case laid out for the composition.

    Raises FaultsError where an assumption is missing, stated in two ways, or `trial` where nothing measured it,
    where a cost line or row of the labour plan has nothing it could be counted on, and where a daily simulation
    lacks rows or weather.
    """
    trial = read_trial(case)
    keys = _season_keys(case)
    assumed, faults = read_assumptions(case, keys, trial)
    faults += basis_faults(case) + season_faults(case) + price_year_faults(case)
    if faults:
        raise FaultsError(faults)
    inputs = {**assumed.inputs, AREA: _area_input(case), **cost_inputs(case), **labour_inputs(case)}
    inputs |= financing_inputs(case)
    if wrong := correlation_faults(case, inputs):
        raise FaultsError(wrong)
    systems = tuple(_system_plan(case, system.id, assumed) for system in case.settings.systems)
    structure = Structure(
        systems=systems,
        today=case.settings.today,
        baseline=case.settings.baseline,
        horizon_years=case.settings.horizon_years,
        main_crop=case.settings.main_crop or _first_crop(case),
        computed=assumed.computed,
        simulated=assumed.simulated,
    )
    typed = {address: cell(one.value) for address, one in inputs.items()}
    return _worked_out(Layout(case, structure, typed, inputs, trial))


def _worked_out(layout: Layout) -> Layout:
    """Return a layout with the values that daily simulations and closed formulas give, among its inputs too."""
    values = with_computed(layout.structure.computed, with_simulated(layout, layout.values))
    found = {item.address for item in layout.structure.simulated} | {i.address for i in layout.structure.computed}
    numbers = {address: float(values[address][0, 0]) for address in found}
    filled = {address: replace(layout.inputs[address], value=number) for address, number in numbers.items()}
    return replace(layout, values=values, inputs={**layout.inputs, **filled})


def expected_shocks(structure: Structure, values: Mapping[str, Array]) -> dict[HarvestKey, Array]:
    """Return the shocks' expected values: each season brings 1 less its chance of failing, in every year.

    Shapes (1, site or 1, draw or 1) [share of a full harvest].
    """
    return {
        (plan.id, season.season): (1.0 - values[season.addresses["failed_season_chance"]])[None]
        for plan in structure.systems
        for season in plan.seasons
    }


def _season_keys(case: Case) -> list[SeasonKey]:
    return [SeasonKey(row.system, row.crop, row.season) for row in case.rows("seasons")]


def _season_plans(case: Case, system: str, assumed: Assumed) -> Iterator[SeasonPlan]:
    for row in case.rows("seasons"):
        if row.system == system:
            key = SeasonKey(system, row.crop, row.season)
            months = int(row.first_month), int(row.months)
            addresses = assumed.addresses[key], assumed.water[key]
            yield SeasonPlan(row.season, row.crop, *months, float(row.share_of_area), *addresses)


def _system_plan(case: Case, system: str, assumed: Assumed) -> SystemPlan:
    seasons = tuple(_season_plans(case, system, assumed))
    names = [season.season for season in seasons]
    wage = seasons[0].addresses["hired_wage_per_hour"]
    return SystemPlan(
        id=system,
        label=case.settings.system(system).label,
        seasons=seasons,
        costs=cost_items(case, system, names, wage),
        labour=labour_items(case, system, names),
        addresses=seasons[0].addresses,
    )


def _first_crop(case: Case) -> str:
    return next(str(row.crop) for row in case.rows("seasons") if row.system == case.settings.baseline)


def _area_input(case: Case) -> Input:
    term = GLOSSARY[AREA]
    return input_of_term(
        term, unit=term.unit, value=case.settings.area_m2, origin="typed", source="the case", file=FILE
    )
