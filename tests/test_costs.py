"""Cost lines: counting, steps, lives, residuals. Expected values are worked by hand."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from plotworth.ground.arrays import Array, cell
from plotworth.money.costs import (
    Bill,
    CostItem,
    Sizes,
    add_up,
    capacity_steps,
    counted,
    replacement_years,
    unexpired_share,
)

LINE = CostItem("quantity", "price", "seasonal", "scheme", (0, 1), None, None, 0.0)
CAPITAL = replace(LINE, group="capital", seasons=(), life_years=4)
SIZES = Sizes(
    area_m2=cell(200.0),
    units=cell(58.5),
    wells=cell(1.0),
    dry_holes=cell(0.25),
    own_share=cell(0.5),
    capital_factor=cell(1.0),
    season_shares=(1.0, 0.4),
    plants=(cell(300.0), cell(480.0)),
    water_m3=(cell(70.0), cell(20.0)),
    sold_kg=(cell(500.0), cell(90.0)),
)


def bill_of(*lines: CostItem, quantity: float = 2.0, price: float = 3.0, horizon_years: int = 6) -> Bill:
    values: Mapping[str, Array] = {"quantity": cell(quantity), "price": cell(price)}
    return add_up(lines, values, SIZES, horizon_years)


@pytest.mark.parametrize(
    ("area_m2", "steps"),
    [(1, 1), (499, 1), (500, 1), (500.0000001, 1), (501, 2), (1000, 2), (1000.1, 3), (0.1, 1)],
)
def test_another_is_bought_just_above_a_step_and_not_at_it(area_m2: float, steps: int) -> None:
    """By hand, one serves 500 m2; a ten-millionth of a square metre above is rounding."""
    assert capacity_steps(cell(area_m2), 500.0) == steps


def test_three_steps_of_a_third_make_one() -> None:
    """A step that binary numbers cannot hold: 0.1 + 0.1 + 0.1 m2 is three steps of 0.1 m2 and not four."""
    assert capacity_steps(cell(0.1 + 0.1 + 0.1), 0.1) == 3


@pytest.mark.parametrize(
    ("life", "horizon", "years"),
    [(4, 10, [0, 4, 8]), (5, 10, [0, 5]), (10, 10, [0]), (25, 10, [0]), (1, 3, [0, 1, 2]), (1, 1, [0])],
)
def test_an_item_is_bought_again_at_the_end_of_its_life_and_never_in_the_last_year(
    life: int, horizon: int, years: list[int]
) -> None:
    assert list(replacement_years(life, horizon)) == years


@pytest.mark.parametrize(
    ("life", "horizon", "share"),
    [(4, 10, 2 / 4), (5, 10, 0), (10, 10, 0), (25, 10, 15 / 25), (3, 10, 2 / 3), (1, 1, 0), (60, 1, 59 / 60)],
)
def test_the_unexpired_share_counts_from_the_last_purchase(life: int, horizon: int, share: float) -> None:
    """By hand: life 4 over 10 years is bought in year 8 and has two of its four years left."""
    assert_allclose(unexpired_share(life, horizon), share)


@pytest.mark.parametrize(
    ("basis", "season", "number"),
    [
        ("scheme", 0, 2),
        ("m2", 0, 400),  # 2 x 200 m2 gross
        ("m2", 1, 160),  # the second season takes 0.4 of the area
        ("m2", None, 400),
        ("plant", 0, 600),
        ("plant", None, 960),  # capital and yearly lines: the largest season's 480 plants
        ("unit", 0, 117),  # 2 x 58.5 units; fractions are kept
        ("m3", 1, 40),
        ("m3", None, 180),  # 2 x (70 + 20)
        ("kg_sold", 0, 1000),
        ("kg_sold", None, 1180),
        ("hour", 0, 2),
    ],
)
def test_each_basis_counts_what_its_name_says(basis: str, season: int | None, number: float) -> None:
    assert_allclose(counted(replace(LINE, basis=basis), cell(2.0), SIZES, season), number)


def test_a_line_in_steps_is_counted_by_the_gross_area() -> None:
    """By hand: 200 m2 at 75 m2 each are 2.67 and so three steps, each of two."""
    assert counted(replace(LINE, step_m2=75.0), cell(2.0), SIZES, None) == 6


def test_capital_is_gathered_by_its_life() -> None:
    bill = bill_of(CAPITAL, CAPITAL, replace(CAPITAL, life_years=9))
    assert {life: amount.item() for life, amount in bill.capital.items()} == {4: 12.0, 9: 6.0}
    assert bill.yearly == 0
    assert sum(bill.seasonal) == 0


def test_the_residual_is_the_unexpired_share_of_what_can_be_had_back() -> None:
    """By hand: 6 paid, life 4, horizon 6: bought in year 4, half unexpired, of which a fifth can be had back."""
    assert_allclose(bill_of(replace(CAPITAL, residual_share=0.2)).residual, 6 * 0.5 * 0.2)
    assert bill_of(CAPITAL).residual == 0


def test_a_life_beyond_the_horizon_leaves_its_rest_as_residual() -> None:
    """By hand: life 60 and horizon 6 leave 54/60 of 6."""
    assert_allclose(bill_of(replace(CAPITAL, life_years=60, residual_share=1.0)).residual, 5.4)


def test_a_seasonal_line_is_paid_in_each_of_its_seasons_and_its_hours_as_often() -> None:
    bill = bill_of(replace(LINE, basis="hour"))
    assert [amount.item() for amount in bill.seasonal] == [6.0, 6.0]
    assert bill.hours == 4
    assert bill_of(replace(LINE, basis="hour", seasons=(1,))).hours == 2


def test_hours_of_capital_are_no_hours_of_a_full_year() -> None:
    bill = bill_of(replace(CAPITAL, basis="hour"))
    assert bill.hours == 0
    assert bill.capital[4] == 6


def test_what_is_paid_by_the_kilogram_sold_falls_away_with_the_harvest_even_where_it_is_yearly() -> None:
    """By hand: 2 x 500 and 2 x 90 kilograms at 3."""
    for group in ("seasonal", "yearly"):
        bill = bill_of(replace(LINE, basis="kg_sold", group=group))
        assert [amount.item() for amount in bill.harvest] == [3000.0, 540.0]
        assert bill.yearly == 0
        assert sum(bill.seasonal) == 0


def test_a_yearly_line_is_paid_once_a_year_on_the_largest_seasons_plants() -> None:
    bill = bill_of(replace(LINE, basis="plant", group="yearly"))
    assert bill.yearly == 2 * 480 * 3


def test_without_lines_nothing_is_paid() -> None:
    bill = bill_of()
    assert bill.capital == {}
    assert bill.residual == bill.yearly == bill.hours == sum(bill.seasonal) == sum(bill.harvest) == 0


def test_areas_by_the_dozen_are_counted_as_one_by_one() -> None:
    areas = np.array([[50.0, 75.0, 76.0, 400.0]])
    number = counted(replace(LINE, step_m2=75.0), cell(1.0), replace(SIZES, area_m2=areas), None)
    assert number.tolist() == [[1, 1, 2, 6]]


def test_dry_holes_are_paid_for_those_expected_before_each_good_one_at_every_step() -> None:
    """By hand: 2 x 0.25 at 3, for 200 m2 in steps of 150 m2 twice that."""
    dry = replace(CAPITAL, basis="dry_hole")
    assert bill_of(dry).capital[4] == 2 * 0.25 * 3
    assert bill_of(replace(dry, step_m2=150.0)).capital[4] == 2 * 2 * 0.25 * 3


def test_what_is_shared_counts_with_its_own_share() -> None:
    """By hand: two at 3 are 6, half of which another household pays."""
    assert bill_of(replace(CAPITAL, is_shared=True)).capital[4] == 3
    assert bill_of(replace(LINE, is_shared=True)).seasonal[0] == 3
    assert bill_of(replace(LINE, group="yearly", seasons=(), is_shared=True)).yearly == 3


def test_contingencies_raise_capital_and_its_residual_and_nothing_else() -> None:
    """By hand: 6 x 1.1 x 1.05; a life of 4 ends at 8, at 6 half of it is left."""
    sizes = replace(SIZES, capital_factor=cell(1.1 * 1.05))
    values = {"quantity": cell(2.0), "price": cell(3.0)}
    lines = [replace(CAPITAL, residual_share=0.5), LINE]
    bill = add_up(lines, values, sizes, 6)
    assert_allclose(bill.capital[4], 6 * 1.155, rtol=1e-12)
    assert_allclose(bill.residual, 6 * 1.155 * 0.5 * 0.5, rtol=1e-12)
    assert bill.seasonal[0] == 6
