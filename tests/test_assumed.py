"""Which row of the book holds where, and what stands in for rows left out. All cases are invented."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from plain_case import SEASONS, plain_case
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.ground.errors import FaultsError

TWO_CROPS = ("tank,dry,pepper,2,5,1", "tank,wet,bean,8,3,1", "hand,dry,pepper,2,5,1")
BEAN = {"yield_kg_per_m2/tank/bean": 1.0, "market_price_per_kg/all/bean": 0.8}


def laid_out(folder: Path, book: Mapping[str, float | str | None], seasons: tuple[str, ...] = SEASONS) -> Layout:
    return lay_out(plain_case(folder, book=book, seasons=seasons))


def refused(folder: Path, book: Mapping[str, float | str | None], seasons: tuple[str, ...] = SEASONS) -> list[str]:
    with pytest.raises(FaultsError) as caught:
        laid_out(folder, book, seasons)
    return str(caught.value).splitlines()


def addresses(layout: Layout, name: str) -> dict[str, str]:
    return {
        f"{plan.id} {season.season}": season.addresses[name]
        for plan in layout.structure.systems
        for season in plan.seasons
    }


def test_the_most_specific_row_holds(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, {"cull_share": 0.1, "cull_share/tank": 0.2, "cull_share/tank/pepper": 0.3})
    assert addresses(layout, "cull_share") == {"tank dry": "cull_share/tank/pepper", "hand dry": "cull_share"}
    assert layout.values["cull_share/tank/pepper"] == 0.3


def test_a_row_that_is_overridden_everywhere_is_no_input(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, {"cull_share": 0.1, "cull_share/tank": 0.2, "cull_share/hand": 0.3})
    assert "cull_share" not in layout.inputs


def test_an_input_says_where_it_stands_and_what_it_may_be(tmp_path: Path) -> None:
    one = laid_out(tmp_path, {}).inputs["market_price_per_kg/all/pepper"]
    assert (one.value, one.unit, one.label, one.origin) == (0.5, "XTS/kg", "Market price", "typed")
    assert (one.file, one.line) == ("assumptions.csv", 5)
    assert (one.lowest, one.highest, one.low) == (0.0, 1e6, None)


def test_what_the_book_leaves_out_is_taken_as_the_glossary_says_and_marked_absent(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, {})
    expected = {"delivery_share": 1, "cull_share": 0, "planted_share": 1, "first_year_share": 1, "eaten_share": 0}
    for name, value in expected.items():
        assert layout.values[name] == value
        assert layout.inputs[name].origin == "absent"
        assert layout.inputs[name].source == f"not stated; taken as {value}"


def test_what_is_needed_only_by_some_lines_is_a_gap_until_then(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, {})
    assert layout.values["plants_per_m2"] != layout.values["plants_per_m2"]
    assert layout.inputs["m2_per_unit"].source == "not stated"


def test_finance_and_reinvestment_rate_are_the_discount_rate_until_stated(tmp_path: Path) -> None:
    assert addresses(laid_out(tmp_path / "one", {}), "finance_rate")["tank dry"] == "discount_rate"
    stated = laid_out(tmp_path / "two", {"finance_rate": 0.2})
    assert addresses(stated, "finance_rate")["tank dry"] == "finance_rate"
    assert addresses(stated, "reinvestment_rate")["tank dry"] == "discount_rate"


def test_an_unknown_assumption_is_a_gap_with_its_line(tmp_path: Path) -> None:
    one = laid_out(tmp_path, {"commission_share": "unknown"}).inputs["commission_share"]
    assert one.value != one.value
    assert (one.origin, one.line) == ("unknown", 6)


def test_all_that_is_missing_is_told_together_once_for_each_crop(tmp_path: Path) -> None:
    lines = refused(tmp_path, {"discount_rate": None, "market_price_per_kg/all/pepper": None}, TWO_CROPS)
    assert [line.split(":")[0] for line in lines] == [
        "assumptions.csv, discount_rate",
        "assumptions.csv, market_price_per_kg",
        "assumptions.csv, market_price_per_kg",
        "assumptions.csv, yield_kg_per_m2",
    ]
    assert lines[0].endswith(
        "the assumption is missing; write a row discount_rate in share/year: "
        "real yearly rate at which later money is worth less."
    )
    assert "write a row market_price_per_kg for bean in XTS/kg" in lines[2]


def test_a_yield_that_nothing_states_is_a_fault_that_names_both_ways_to_state_it(tmp_path: Path) -> None:
    assert refused(tmp_path, {"yield_kg_per_m2/hand/pepper": None}) == [
        "assumptions.csv, yield_kg_per_m2: nothing states the yield of hand, pepper, dry; "
        "write a row for yield_kg_per_m2, or rows for fruits_per_m2 and fruit_mass_g."
    ]


@pytest.mark.parametrize("elsewhere", [{}, {"yield_kg_per_m2": 4.0}])
def test_fruits_without_their_mass_are_refused(tmp_path: Path, elsewhere: Mapping[str, float]) -> None:
    """Neither the count nor a yield stated for all systems may stand in for the mass of a fruit."""
    book = {"yield_kg_per_m2/hand/pepper": None, "fruits_per_m2/hand/pepper": 20.0, **elsewhere}
    assert refused(tmp_path, book) == [
        "assumptions.csv, fruit_mass_g: the yield of hand, pepper, dry is stated as fruits without their mass; "
        "write a row for fruit_mass_g, or state yield_kg_per_m2 instead."
    ]


def test_a_yield_stated_twice_and_equally_specific_is_refused(tmp_path: Path) -> None:
    lines = refused(tmp_path, {"fruits_per_m2/tank/pepper": 20.0, "fruit_mass_g": 150.0})
    assert lines == [
        "assumptions.csv line 6, fruits_per_m2: the yield of tank, pepper, dry is stated as kilograms and as fruits, "
        "equally specific; keep one of the two."
    ]


def test_of_two_ways_to_state_a_yield_the_more_specific_holds(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, {"fruits_per_m2": 20.0, "fruit_mass_g": 150.0})
    assert all("fruits_per_m2" not in season.addresses for season in layout.structure.system("tank").seasons)
    book = {
        "yield_kg_per_m2/tank/pepper": None,
        "yield_kg_per_m2": 9.0,
        "fruits_per_m2/tank": 20.0,
        "fruit_mass_g": 1.0,
    }
    season = laid_out(tmp_path / "other", book).structure.system("tank").seasons[0]
    assert season.addresses["fruits_per_m2"] == "fruits_per_m2/tank"
    assert "yield_kg_per_m2" not in season.addresses


@pytest.mark.parametrize(
    ("book", "labour", "costs"),
    [
        ({}, (",dry,weeding,3,0.1,,0.5,no",), ()),
        ({}, (), (",,mending,yearly,hour,8,,,,",)),
        ({"carrying_h_per_m3": 5.0}, (), ()),
        ({"carrying_h_per_m3": "unknown"}, (), ()),
    ],
)
def test_wages_are_needed_once_hours_are_stated(
    tmp_path: Path, book: Mapping[str, float | str], labour: tuple[str, ...], costs: tuple[str, ...]
) -> None:
    with pytest.raises(FaultsError) as caught:
        lay_out(plain_case(tmp_path, book=book, labour=labour, costs=costs or ("tank,,tank,capital,scheme,3,10,2,,",)))
    assert [fault.name for fault in caught.value.faults] == ["family_wage_per_hour", "hired_wage_per_hour"]


def test_without_hours_wages_are_nothing(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, {"carrying_h_per_m3": 0.0})
    assert layout.values["family_wage_per_hour"] == layout.values["hired_wage_per_hour"] == 0


def test_trial_without_a_trial_is_refused_with_its_line(tmp_path: Path) -> None:
    lines = refused(tmp_path, {"water_applied_l_per_m2": "trial"})
    assert lines[0] == (
        "assumptions.csv line 6, water_applied_l_per_m2: found 'trial'; the trial holds no water applied for tank and "
        "pepper (no treatment named for the system); write a number, or record it in the trial's tables."
    )
    assert len(lines) == 2


def test_a_typed_row_for_a_crop_and_season_leaves_the_other_seasons_alone(tmp_path: Path) -> None:
    layout = laid_out(tmp_path, {**BEAN, "cull_share/tank/bean/wet": 0.4}, TWO_CROPS)
    assert addresses(layout, "cull_share") == {
        "tank dry": "cull_share",
        "tank wet": "cull_share/tank/bean/wet",
        "hand dry": "cull_share",
    }
