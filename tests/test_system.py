"""A system of a case in a full year: seasons, lines, hours, working capital and weights, by hand."""

from collections.abc import Mapping
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from plain_case import plain_case
from plotworth.choose.evaluate import run_systems
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.system import SystemYear

TWO_SEASONS = ("tank,dry,pepper,2,5,0.8", "tank,wet,bean,8,3,0.5", "hand,dry,pepper,2,5,1")
BOOK: Mapping[str, float | str | None] = {
    "yield_kg_per_m2/all/bean": 1.0,
    "market_price_per_kg/all/bean": 0.8,
    "family_wage_per_hour": 0.3,
    "hired_wage_per_hour": 0.4,
    "planted_share": 0.5,
    "plants_per_m2/all/pepper": 4.0,
    "plants_per_m2/all/bean": 20.0,
    "m2_per_unit/tank": 2.4,
    "water_applied_l_per_m2/tank": 300.0,
    "carrying_h_per_m3/tank": 10.0,
    "carrying_family_share": 0.75,
}
LABOUR = ("tank,,weeding,,0.1,,0.5,no", "tank,dry,meetings,,,12,1,no", "tank,dry,picking,,0.2,,0.5,yes")


def tank(
    folder: Path,
    *costs: str,
    labour: tuple[str, ...] = (),
    settings: Mapping[str, str] | None = None,
    **more: float | str | None,
) -> SystemYear:
    """Return the tank on 100 m2 gross and 50 planted: 40 of pepper, 25 of bean; one cent's line where none is given."""
    lines = costs or ("hand,,cans,capital,scheme,1,0.01,2,,",)
    case = plain_case(folder, book={**BOOK, **more}, seasons=TWO_SEASONS, costs=lines, labour=labour, settings=settings)
    layout = lay_out(case)
    return run_systems(layout.structure, layout.values, expected_shocks(layout.structure, layout.values))["tank"]


def test_seasons_take_their_shares_of_the_planted_ground(tmp_path: Path) -> None:
    system = tank(tmp_path)
    assert_allclose([season.planted_m2.item() for season in system.seasons], [40, 25])
    assert_allclose([plants.item() for plants in system.sizes.plants], [160, 500])


def test_reservoir_units_stand_on_all_of_the_planted_ground_in_fractions(tmp_path: Path) -> None:
    """By hand: 50 m2 at 2.4 m2 each."""
    assert_allclose(tank(tmp_path).sizes.units, 50 / 2.4)


def test_lines_by_unit_and_plant_are_counted_on_their_sizes(tmp_path: Path) -> None:
    """By hand: 20.83 units at 11; the larger 500 plants at 0.1; 160 seedlings in the dry season alone."""
    lines = ("tank,,drum,capital,unit,1,11,6,,", "tank,,stakes,capital,plant,1,0.1,6,,")
    system = tank(tmp_path, *lines, "tank,dry,seedlings,seasonal,plant,1,0.05,,,")
    assert_allclose(system.amounts.investment, 50 / 2.4 * 11 + 50)
    assert_allclose([amount.item() for amount in system.bill.seasonal], [8, 0])


def test_carrying_belongs_to_each_season_and_is_shared_by_family_and_hired(tmp_path: Path) -> None:
    """By hand: 300 l/m2 on 40 and 25 m2 are 12 and 7.5 m3, carried in 195 hours, three quarters by family."""
    system = tank(tmp_path)
    assert_allclose([hours.family.item() for hours in system.work.steady], [90, 56.25])
    assert_allclose([hours.hired.item() for hours in system.work.steady], [30, 18.75])
    assert_allclose(system.direct[0], 90 * 0.3 + 30 * 0.4)


def test_hours_of_plan_carrying_and_cost_lines_add_up(tmp_path: Path) -> None:
    """By hand, family: 146.25 carrying + 3.25 weeding + 12 meetings + 4 picking; hired: 48.75 + 3.25 + 4 + 2 x 5."""
    system = tank(tmp_path, "tank,,guarding,seasonal,hour,5,,,,", labour=LABOUR)
    assert_allclose(system.family_hours, 146.25 + 3.25 + 12 + 4)
    assert_allclose(system.hired_hours, 48.75 + 3.25 + 4 + 10)
    assert_allclose(system.labour_cost, 165.5 * 0.3 + 66 * 0.4)
    assert_allclose(system.running_cost, system.labour_cost)


def test_running_cost_is_lines_and_hours_without_replacements(tmp_path: Path) -> None:
    """By hand: water fee 0.2 x 19.5 m3; permit 20; bags 0.01 for each kilogram sold (40 x 3 + 25); no capital."""
    lines = (
        "tank,,fee,seasonal,m3,1,0.2,,,",
        "tank,,permit,yearly,scheme,1,20,,,",
        "tank,,bags,yearly,kg_sold,1,0.01,,,",
    )
    system = tank(tmp_path, *lines, "tank,,drum,capital,unit,1,11,1,,", **{"carrying_h_per_m3/tank": 0.0})
    assert_allclose(system.running_cost, 3.9 + 20 + 1.45)
    assert_allclose([amount.item() for amount in system.bill.harvest], [1.2, 0.25])


def test_working_capital_covers_what_is_paid_without_a_harvest(tmp_path: Path) -> None:
    """By hand: 0.35 of the permit; picking and bags are paid from the harvest."""
    lines = ("tank,,permit,yearly,scheme,1,20,,,", "tank,,bags,seasonal,kg_sold,1,0.01,,,")
    more = {"working_capital_share": 0.35, "carrying_h_per_m3/tank": 0.0}
    assert_allclose(tank(tmp_path, *lines, labour=LABOUR[2:], **more).amounts.working_capital, 7)


@pytest.mark.parametrize(("horizon", "expected"), [(1, [0.6]), (2, [0.6, 0.8]), (4, [0.6, 0.8, 1, 1])])
def test_learning_takes_the_first_two_years_of_the_horizon_at_most(
    tmp_path: Path, horizon: int, expected: list[float]
) -> None:
    more = {"first_year_share/tank": 0.6, "second_year_share/tank": 0.8}
    system = tank(tmp_path, settings={"horizon_years = 4": f"horizon_years = {horizon}"}, **more)
    assert_allclose(system.weights[0][:, 0, 0], expected)


def test_learning_and_failed_seasons_multiply(tmp_path: Path) -> None:
    more = {"first_year_share/tank/pepper": 0.6, "failed_season_chance/tank": 0.1}
    system = tank(tmp_path, **more)
    assert_allclose(system.weights[0][:, 0, 0], [0.54, 0.9, 0.9, 0.9])
    assert_allclose(system.weights[1][:, 0, 0], [0.9, 0.9, 0.9, 0.9])


def test_two_certain_failures_leave_the_costs_and_no_harvest(tmp_path: Path) -> None:
    system = tank(tmp_path, "tank,,permit,yearly,scheme,1,20,,,", failed_season_chance=1.0)
    assert system.weights[0].sum() == 0
    assert system.running_cost > 20
