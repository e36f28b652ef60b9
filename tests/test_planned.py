"""Cost lines and labour plan laid out, and the faults that show only against the book and the seasons."""

from pathlib import Path

import pytest

from plain_case import plain_case
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.ground.errors import FaultsError

TWO_SEASONS = ("tank,dry,pepper,2,5,1", "tank,wet,bean,8,3,1", "hand,dry,pepper,2,5,1")
BEAN = {"yield_kg_per_m2/all/bean": 1.0, "market_price_per_kg/all/bean": 0.8}
WAGES = {"family_wage_per_hour": 0.3, "hired_wage_per_hour": 0.35}


FENCE = (",,fence,capital,m2,1,1,9,,",)


def laid_out(folder: Path, costs: tuple[str, ...] = FENCE, labour: tuple[str, ...] = ()) -> Layout:
    return lay_out(plain_case(folder, book={**BEAN, **WAGES}, seasons=TWO_SEASONS, costs=costs, labour=labour))


def refused(folder: Path, costs: tuple[str, ...], labour: tuple[str, ...] = ()) -> str:
    with pytest.raises(FaultsError) as caught:
        laid_out(folder, costs, labour=labour)
    return str(caught.value)


def test_a_line_of_a_blank_system_is_one_input_that_every_system_pays(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, (",,fence,capital,m2,0.2,1.2,8,,0.3",))
    items = [plan.costs for plan in layout.structure.systems]
    assert items[0] == items[1]
    (item,) = items[0]
    assert (item.quantity_address, item.price_address) == ("cost/all/fence/quantity", "cost/all/fence/unit_price")
    assert (item.life_years, item.residual_share, item.seasons) == (8, 0.3, ())


def test_a_line_of_one_system_is_paid_by_no_other(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, ("tank,,tank,capital,scheme,3,10,2,500,",))
    assert [len(plan.costs) for plan in layout.structure.systems] == [1, 0]
    assert layout.structure.system("tank").costs[0].step_m2 == 500


@pytest.mark.parametrize(
    ("line", "of_tank", "of_hand"),
    [
        (",,seed,seasonal,m2,1,0.1,,,", (0, 1), (0,)),
        (",dry,seed,seasonal,m2,1,0.1,,,", (0,), (0,)),
        (",wet,seed,seasonal,m2,1,0.1,,,", (1,), ()),
        (",,bags,yearly,kg_sold,1,0.1,,,", (0, 1), (0,)),
    ],
)
def test_a_line_is_paid_in_the_seasons_it_names_or_in_all(
    tmp_path: Path, line: str, of_tank: tuple[int, ...], of_hand: tuple[int, ...]
) -> None:
    tank, hand = laid_out(tmp_path, (line,)).structure.systems
    assert (tank.costs[0].seasons, hand.costs[0].seasons) == (of_tank, of_hand)


def test_a_line_in_hours_is_priced_at_the_hired_wage(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, (",,mending,yearly,hour,8,,,,",))
    assert layout.structure.systems[0].costs[0].price_address == "hired_wage_per_hour"
    assert "cost/all/mending/unit_price" not in layout.inputs


def test_quantity_and_price_are_inputs_with_label_unit_and_place(tmp_path: Path) -> None:
    inputs = laid_out(tmp_path, ("tank,,tank,capital,scheme,3,10,2,,", ",,seed,seasonal,m2,1.5,0.1,,,")).inputs
    tank, price, seed = (
        inputs[f"cost/{at}"] for at in ("tank/tank/quantity", "tank/tank/unit_price", "all/seed/quantity")
    )
    assert (tank.value, tank.unit, tank.label, tank.line) == (3, "1", "tank", 2)
    assert (price.value, price.unit, price.label) == (10, "XTS", "tank: price")
    assert (seed.value, seed.unit, seed.file) == (1.5, "for each m2", "costs.csv")


def test_a_row_of_the_labour_plan_becomes_hours_and_a_share(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, labour=("tank,,weeding,3,0.1,,0.8,no", ",dry,meetings,,,12,1,yes"))
    inputs, (tank, hand) = layout.inputs, layout.structure.systems
    assert inputs["labour/tank/all/weeding/3/hours_per_m2"].value == 0.1
    assert inputs["labour/tank/all/weeding/3/family_share"].highest == 1
    assert inputs["labour/all/dry/meetings/all/hours"].value == 12
    weeding, meetings = tank.labour
    assert (weeding.is_per_m2, weeding.seasons, weeding.moves_with_harvest) == (True, (0, 1), False)
    assert (meetings.is_per_m2, meetings.seasons, meetings.moves_with_harvest) == (False, (0,), True)
    assert [row.hours_address for row in hand.labour] == ["labour/all/dry/meetings/all/hours"]


def test_a_line_by_the_plant_needs_plants_in_every_season_it_is_paid_in(tmp_path: Path) -> None:
    assert refused(tmp_path, (",,stakes,capital,plant,1,0.1,2,,",)) == (
        "costs.csv line 2, stakes: found 'plant'; a line counted by the plant needs plants_per_m2/tank/pepper/dry; "
        "write a row plants_per_m2 in the book, or another basis."
    )


def test_a_line_by_the_plant_in_one_season_asks_nothing_of_the_others(tmp_path: Path) -> None:
    book = {**BEAN, "plants_per_m2/all/pepper": 3.0}
    case = plain_case(tmp_path, book=book, seasons=TWO_SEASONS, costs=(",dry,seedlings,seasonal,plant,1,0.1,,,",))
    assert lay_out(case).structure.systems[0].costs[0].seasons == (0,)


def test_a_line_by_the_reservoir_unit_needs_its_bed(tmp_path: Path) -> None:
    assert "a line counted by the unit needs m2_per_unit" in refused(tmp_path, ("tank,,drum,capital,unit,1,11,6,,",))


def test_a_line_in_a_season_that_its_system_has_not_is_refused(tmp_path: Path) -> None:
    assert refused(tmp_path, ("hand,wet,seed,seasonal,m2,1,0.1,,,",)) == (
        "costs.csv line 2, seed: found 'wet'; the system hand has no season wet; name one of its seasons."
    )


def test_work_in_a_season_that_its_system_has_not_is_refused(tmp_path: Path) -> None:
    found = refused(tmp_path, FENCE, ("hand,wet,weeding,9,0.1,,0.8,no",))
    assert found == (
        "labour_plan.csv line 2, weeding: found 'wet'; the system hand has no season wet; name one of its seasons."
    )


def test_faults_of_the_book_and_of_the_lines_are_told_together(tmp_path: Path) -> None:
    with pytest.raises(FaultsError) as caught:
        lay_out(plain_case(tmp_path, book={"discount_rate": None}, costs=(",,stakes,capital,plant,1,0.1,2,,",)))
    assert [fault.name for fault in caught.value.faults] == ["discount_rate", "stakes"]
