"""A case laid out: structure, values by address, expected shocks."""

from pathlib import Path

import numpy as np

from plain_case import plain_case
from plotworth.choose.inputs import expected_shocks, lay_out

TWO_SEASONS = ("tank,dry,pepper,2,5,0.7", "tank,wet,bean,8,3,0.4", "hand,dry,pepper,2,5,1")
BEAN = {"yield_kg_per_m2/all/bean": 1.0, "market_price_per_kg/all/bean": 0.8}


def test_the_structure_holds_systems_seasons_and_reference_lines_as_written(tmp_path: Path) -> None:
    structure = lay_out(plain_case(tmp_path, book=BEAN, seasons=TWO_SEASONS)).structure
    assert (structure.today, structure.baseline, structure.horizon_years) == ("hand", "hand", 4)
    tank = structure.system("tank")
    seasons = [(s.season, s.crop, s.first_month, s.months, s.share_of_area) for s in tank.seasons]
    assert seasons == [("dry", "pepper", 2, 5, 0.7), ("wet", "bean", 8, 3, 0.4)]
    assert tank.label == "Tank"


def test_the_main_crop_is_the_one_named_or_the_first_of_the_baseline(tmp_path: Path) -> None:
    assert lay_out(plain_case(tmp_path / "one", book=BEAN, seasons=TWO_SEASONS)).structure.main_crop == "pepper"
    named = {'baseline = "hand"': 'baseline = "hand"\nmain_crop = "bean"'}
    case = plain_case(tmp_path / "two", book=BEAN, seasons=TWO_SEASONS, settings=named)
    assert lay_out(case).structure.main_crop == "bean"


def test_every_address_of_the_structure_has_a_value_and_every_value_an_input(tmp_path: Path) -> None:
    layout = lay_out(plain_case(tmp_path, book=BEAN, seasons=TWO_SEASONS))
    used = {"area_m2"}
    for plan in layout.structure.systems:
        used |= {address for season in plan.seasons for address in season.addresses.values()}
        used |= {address for item in plan.costs for address in (item.quantity_address, item.price_address)}
    assert used == set(layout.values) == set(layout.inputs)
    assert all(value.shape == (1, 1) for value in layout.values.values())


def test_the_area_is_an_input_from_the_settings(tmp_path: Path) -> None:
    area = lay_out(plain_case(tmp_path)).inputs["area_m2"]
    assert (area.value, area.unit, area.file, area.nature) == (100.0, "m2", "case.toml", "choice")


def test_without_pickings_there_is_no_trial(tmp_path: Path) -> None:
    assert lay_out(plain_case(tmp_path)).trial is None


def test_a_season_is_expected_to_bring_what_its_chance_of_failing_leaves(tmp_path: Path) -> None:
    book = {**BEAN, "failed_season_chance/tank/pepper": 0.2}
    layout = lay_out(plain_case(tmp_path, book=book, seasons=TWO_SEASONS))
    shocks = expected_shocks(layout.structure, layout.values)
    assert {key: weight.item() for key, weight in shocks.items()} == {
        ("tank", "dry"): 0.8,
        ("tank", "wet"): 1.0,
        ("hand", "dry"): 1.0,
    }
    drawn = {**layout.values, "failed_season_chance/tank/pepper": np.array([[0.0, 0.5]])}
    assert expected_shocks(layout.structure, drawn)["tank", "dry"].tolist() == [[[1.0, 0.5]]]
