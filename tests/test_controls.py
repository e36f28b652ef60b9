"""The controls that a panel offers first, and how far their sliders go."""

from collections.abc import Mapping
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.controls import Control, first_controls
from plotworth.choose.inputs import lay_out
from small_case import changed, write_case
from trial_case import trial_case

DEMO = Path(__file__).parent.parent / "data_demo"
Book = Mapping[str, float | str | None]


def controls(folder: Path, book: Book | None = None, costs: tuple[str, ...] = ()) -> dict[str, Control]:
    lines = costs or (",,seed,seasonal,m2,1,0.1,,,",)
    return {one.input.address: one for one in first_controls(lay_out(plain_case(folder, book=book, costs=lines)))}


def test_the_demo_offers_area_price_fruit_mass_well_rate_wage_and_carrying_in_this_order() -> None:
    labels = [one.label for one in first_controls(lay_out(open_case(DEMO)))]
    assert labels == [
        "Area",
        "Market price of sweet pepper",
        "Fruit mass: Wick-fed tank",
        "Fruit mass: Well and drip",
        "Fruit mass: Hand watering",
        "Borehole metres",
        "Borehole metres: price",
        "Discount rate",
        "Family wage",
        "Distance to the source",
    ]


def test_a_row_that_holds_for_all_systems_is_offered_once(tmp_path: Path) -> None:
    assert list(controls(tmp_path)) == [
        "area_m2",
        "market_price_per_kg/all/pepper",
        "discount_rate",
        "family_wage_per_hour",
    ]


def test_the_dearest_scheme_of_the_baseline_is_offered_by_quantity_and_price(tmp_path: Path) -> None:
    """By hand: the well comes to 90, the pump to 80; the fence is counted by the m2 and the tank is another's."""
    costs = (
        "hand,,pump,capital,scheme,1,80,4,,",
        "hand,,well,capital,scheme,45,2,9,,",
        "hand,,fence,capital,m2,9,9,9,,",
        "tank,,tank,capital,scheme,9,999,9,,",
    )
    offered = [address for address in controls(tmp_path, costs=costs) if address.startswith("cost/")]
    assert offered == ["cost/hand/well/quantity", "cost/hand/well/unit_price"]


def test_carrying_is_offered_where_there_is_any_and_what_is_unknown_is_not(tmp_path: Path) -> None:
    wages = {"family_wage_per_hour": 0.3, "hired_wage_per_hour": 0.4}
    assert "carrying_h_per_m3/tank" in controls(tmp_path / "one", {**wages, "carrying_h_per_m3/tank": 5.0})
    book: Book = {**wages, "carrying_h_per_m3/tank": "unknown", "discount_rate": "unknown"}
    assert not {"carrying_h_per_m3/tank", "discount_rate"} & controls(tmp_path / "two", book).keys()


def test_a_slider_runs_over_the_range_that_the_book_believes(tmp_path: Path) -> None:
    weighed = changed("case.toml", "invented = true", 'invented = true\nyield_from = "weighed"')
    layout = lay_out(open_case(write_case(tmp_path, weighed)))
    rate = next(one for one in first_controls(layout) if one.input.address == "discount_rate")
    assert (rate.start, rate.end) == (0.05, 0.2)


def test_without_a_range_it_runs_from_half_to_double_within_the_bounds(tmp_path: Path) -> None:
    offered = controls(tmp_path, {"discount_rate": 0.8})
    assert (offered["discount_rate"].start, offered["discount_rate"].end) == (0.4, 1)
    price = offered["market_price_per_kg/all/pepper"]
    assert (price.start, price.end) == (0.25, 1)


def test_the_area_runs_from_an_eighth_to_four_times(tmp_path: Path) -> None:
    area = controls(tmp_path)["area_m2"]
    assert (area.start, area.end) == (12.5, 400)


def test_a_value_of_nothing_runs_from_nothing_to_one(tmp_path: Path) -> None:
    rate = controls(tmp_path, {"discount_rate": 0.0})["discount_rate"]
    assert (rate.start, rate.end) == (0, 1)


def test_a_measured_value_runs_half_of_itself_either_way(tmp_path: Path) -> None:
    counts = "date,plot,marketable_fruits,marketable_kg,cull_kg\n" + "".join(
        f"2026-05-01,{plot},100,,\n" for plot in ("T1", "T2", "H1", "H2")
    )
    masses = "date,plot,fruits,total_mass_g\n2026-05-01,T1,1,90\n2026-05-01,T1,1,110\n"
    book: Book = {"yield_kg_per_m2": None, "fruits_per_m2": "trial", "fruit_mass_g": "trial"}
    case = trial_case(tmp_path, book=book, files={"harvests.csv": counts, "fruit_masses.csv": masses})
    mass = next(one for one in first_controls(lay_out(case)) if one.input.address == "fruit_mass_g/tank/pepper")
    assert_allclose([mass.start, mass.input.value, mass.end], [50, 100, 150])


@pytest.mark.parametrize(
    ("start", "end", "step"),
    [(0, 50, 1), (0, 1, 0.02), (12.5, 400, 10), (0.05, 0.2, 0.005), (3, 3, 1), (0, 99, 2), (0, 101, 5)],
)
def test_a_step_is_a_round_number_of_about_a_fiftieth(tmp_path: Path, start: float, end: float, step: float) -> None:
    """By hand: 1, 2, 5 or 10 times a power of ten, the first not below a fiftieth of the way."""
    one = controls(tmp_path)["discount_rate"].input
    assert_allclose(Control(one, "", start, end).step, step)
