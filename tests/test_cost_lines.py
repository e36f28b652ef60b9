"""Cost lines: groups, bases, lives and ranges read, and each contradiction refused."""

from pathlib import Path

import pytest

from plotworth.case.cost_lines import CostLine
from plotworth.case.folder import open_case
from small_case import FILES, added, changed, faults, write_case

COSTS = "costs.csv"
FULL = (
    "system,season,item,group,basis,quantity,quantity_low,quantity_high,unit_price,unit_price_low,unit_price_high,"
    "life_years,life_low,life_high,step_m2,residual_share,month,price_year,source,grade\n"
)
PUMP = "tank,,pump,capital,scheme,1,,,100,80,120,8,5,10,50,0.2,3,2026,invented,D\n"


def lines(folder: Path, text: str) -> tuple[CostLine, ...]:
    return open_case(write_case(folder, {COSTS: text})).costs


def test_a_capital_line_is_read_with_its_life_step_and_ranges(tmp_path: Path) -> None:
    (line,) = lines(tmp_path, FULL + PUMP)
    assert (line.quantity, line.unit_price, line.life_years, line.step_m2) == (1.0, 100.0, 8, 50.0)
    assert (line.residual_share, line.month, line.price_year) == (0.2, 3, 2026)
    assert line.range_of("quantity") == (None, None)
    assert line.range_of("unit_price") == (80.0, 120.0)
    assert line.range_of("life") == (5.0, 10.0)
    assert line.address == "cost/tank/pump"


def test_a_line_of_all_systems_has_all_in_its_address(tmp_path: Path) -> None:
    assert [line.address for line in lines(tmp_path, FILES[COSTS])] == ["cost/tank/tank", "cost/all/seed"]


def test_a_residual_left_blank_is_nothing_and_a_price_of_0_is_a_price(tmp_path: Path) -> None:
    tank, seed = lines(tmp_path, changed(COSTS, "1,0.1,", "1,0,")[COSTS])
    assert tank.residual_share == 0.0
    assert seed.unit_price == 0.0


def test_hours_have_no_price_of_their_own(tmp_path: Path) -> None:
    added_line = added(COSTS, ",,weeding,seasonal,hour,20,,,invented,D")[COSTS]
    assert lines(tmp_path, added_line)[2].unit_price is None


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "3,10,2,",
            "3,10,0,",
            "costs.csv line 2, life_years: found '0'; must lie between 1 and 60 year; correct the number or its unit.",
        ),
        (
            "3,10,2,",
            "3,10,,",
            "costs.csv line 2, tank: capital needs a life; write life_years, the years until it is bought again.",
        ),
        (
            "3,10,2,",
            "3,,2,",
            "costs.csv line 2, tank: the price is blank; write unit_price, 0 where nothing is paid.",
        ),
        (
            "3,10,2,",
            "-3,10,2,",
            "costs.csv line 2, quantity: found '-3'; must lie between 0 and 1e+09; "
            "write 0 where there was none, or leave the cell blank where it is not known.",
        ),
        (
            "capital,scheme",
            "capitel,scheme",
            "costs.csv line 2, group: found 'capitel'; must be one of capital, seasonal, yearly; write capital.",
        ),
        (
            "capital,scheme",
            "capital,acre",
            "costs.csv line 2, basis: found 'acre'; must be one of scheme, m2, plant, unit, well, dry_hole, m3, "
            "kg_sold, hour; write one of scheme, m2, plant, unit, well, dry_hole, m3, kg_sold, hour.",
        ),
        (
            "capital,scheme",
            "capital,kg_sold",
            "costs.csv line 2, tank: found 'kg_sold'; capital is not bought by the m3 or kilogram; "
            "write another basis or group.",
        ),
        (
            "1,0.1,,",
            "1,0.1,4,",
            "costs.csv line 3, seed: found '4'; only capital has a life; "
            "leave life_years blank, or write group capital.",
        ),
        (
            "seasonal,m2",
            "seasonal,hour",
            "costs.csv line 3, seed: found '0.1'; hours are priced by hired_wage_per_hour of the book; "
            "leave unit_price blank.",
        ),
        (
            "tank,,tank",
            "tanks,,tank",
            "costs.csv line 2, tank: found 'tanks'; the case has no such system; did you mean tank.",
        ),
        (
            "tank,,tank",
            "tank,dry,tank",
            "costs.csv line 2, tank: found 'dry'; only a seasonal line belongs to a season; leave season blank.",
        ),
        (
            ",,seed",
            ",wet,seed",
            "costs.csv line 3, seed: found 'wet'; the case has no such season; write one of dry or leave it blank.",
        ),
        (
            ",,seed",
            ",,seed/lime",
            "costs.csv line 3, seed/lime: found 'seed/lime'; a / parts an address; name the item without a /.",
        ),
        (
            "unit_price",
            "unit_prize",
            "costs.csv line 1, unit_prize: found 'unit_prize'; the table knows no such column; "
            "did you mean unit_price.",
        ),
    ],
)
def test_a_line_that_cannot_be_meant_is_refused(tmp_path: Path, old: str, new: str, expected: str) -> None:
    assert faults(tmp_path, changed(COSTS, old, new)) == [expected]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "100,80,120",
            "100,120,80",
            "costs.csv line 2, pump: found 'unit_price_low 120 and unit_price_high 80'; low is above high; "
            "write low 80 and high 120.",
        ),
        (
            "8,5,10",
            "12,5,10",
            "costs.csv line 2, pump: found '12'; the life lies outside its own range 5 to 10; "
            "widen the range or correct the value.",
        ),
        (
            "100,80,120",
            "100,80,",
            "costs.csv line 2, pump: unit_price_low and unit_price_high stand together; write both, or neither.",
        ),
        (
            "capital,scheme",
            "capital,m2",
            "costs.csv line 2, pump: found 'm2'; only a line of basis scheme or dry_hole comes in steps of area; "
            "write basis scheme, or leave step_m2 blank.",
        ),
        (
            "50,0.2,",
            "50,20,",
            "costs.csv line 2, residual_share: found '20'; must lie between 0 and 1 share; write 0.2 if 20 % is meant.",
        ),
    ],
)
def test_a_range_that_cannot_be_meant_is_refused(tmp_path: Path, old: str, new: str, expected: str) -> None:
    assert old in PUMP
    assert faults(tmp_path, {COSTS: FULL + PUMP.replace(old, new)}) == [expected]


def test_a_residual_of_what_is_no_capital_is_refused(tmp_path: Path) -> None:
    text = PUMP.replace("capital", "yearly").replace("8,5,10", ",,")
    expected = "costs.csv line 2, pump: found '0.2'; only capital has a residual; leave residual_share blank."
    assert faults(tmp_path, {COSTS: FULL + text}) == [expected]


def test_the_same_item_twice_is_refused(tmp_path: Path) -> None:
    texts = faults(tmp_path, added(COSTS, ",,seed,seasonal,m2,2,0.1,,invented,D"))
    assert texts == [
        "costs.csv line 4, seed: found 'seed'; line 3 has the same item for the same system; "
        "give each line an item name of its own."
    ]
