"""Lays a case out for the composition: its structure, its values by address, and where each came from."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from plotworth.case.folder import Case
from plotworth.case.settings import FILE
from plotworth.choose.assumed import SeasonKey, read_assumptions
from plotworth.choose.computed import with_computed
from plotworth.choose.input import Input, input_of_term
from plotworth.choose.measured import Trial, read_trial
from plotworth.choose.planned import (
    basis_faults,
    cost_inputs,
    cost_items,
    labour_inputs,
    labour_items,
    season_faults,
)
from plotworth.choose.structure import AREA, HarvestKey, SeasonPlan, Structure, SystemPlan
from plotworth.ground.arrays import Array, cell
from plotworth.ground.errors import FaultsError
from plotworth.ground.glossary import GLOSSARY


@dataclass(frozen=True)
class Layout:
    """A case laid out: `evaluate(structure, values, expected_shocks(structure, values))` appraises it.

    `inputs` by address says of every value what it is, where it stands and how far it may go; `trial` holds
    the measured tables, None where there is no trial.
    """

    structure: Structure
    values: Mapping[str, Array]
    inputs: Mapping[str, Input]
    trial: Trial | None


def lay_out(case: Case) -> Layout:
    """Return a case laid out for the composition.

    Raises FaultsError where an assumption is missing, stated in two ways, or `trial` where nothing measured it,
    and where a cost line or row of the labour plan has nothing it could be counted on.
    """
    trial = read_trial(case)
    keys = _season_keys(case)
    assumed, faults = read_assumptions(case, keys, trial)
    faults += basis_faults(case) + season_faults(case)
    if faults:
        raise FaultsError(faults)
    inputs = {**assumed.inputs, AREA: _area_input(case), **cost_inputs(case), **labour_inputs(case)}
    systems = tuple(_system_plan(case, system.id, assumed.addresses) for system in case.settings.systems)
    structure = Structure(
        systems=systems,
        today=case.settings.today,
        baseline=case.settings.baseline,
        horizon_years=case.settings.horizon_years,
        main_crop=case.settings.main_crop or _first_crop(case),
        computed=assumed.computed,
    )
    values = with_computed(structure.computed, {address: cell(one.value) for address, one in inputs.items()})
    for item in structure.computed:
        inputs[item.address] = replace(inputs[item.address], value=float(values[item.address][0, 0]))
    return Layout(structure, values, inputs, trial)


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


def _season_plans(case: Case, system: str, assumed: Mapping[SeasonKey, Mapping[str, str]]) -> Iterator[SeasonPlan]:
    for row in case.rows("seasons"):
        if row.system == system:
            addresses = assumed[SeasonKey(system, row.crop, row.season)]
            months = int(row.first_month), int(row.months)
            yield SeasonPlan(row.season, row.crop, *months, float(row.share_of_area), addresses)


def _system_plan(case: Case, system: str, assumed: Mapping[SeasonKey, Mapping[str, str]]) -> SystemPlan:
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
