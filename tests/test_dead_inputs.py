"""Rows that move no outcome are listed, each with why; rows that move one are not."""

from collections.abc import Callable
from pathlib import Path

import pytest

from folders import DEMO
from independent_cases import add_rows, assume, copy_demo
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.dead_inputs import DeadInput, dead_inputs
from plotworth.choose.recorded import record

PRICE = "market_price_per_kg"


def dead(folder: Path) -> dict[str, DeadInput]:
    """Return the dead inputs of a case by address."""
    appraisal = appraise(open_case(folder))
    return {one.address: one for one in dead_inputs(appraisal, record(appraisal.layout, appraisal.values))}


def test_no_row_that_counts_is_dead_in_the_demo() -> None:
    """Groups beside the appraisal alone; what carries, lifts, costs and works counts somewhere."""
    found = dead(DEMO)
    assert {"evapotranspiration_l_per_m2/all/sweet pepper", "n_price_per_kg", "wick_flow_l_per_day/reservoir"} <= set(
        found
    )
    assert not any(at.startswith(("cost/", "labour/", "carry_", PRICE, "static_level_m")) for at in found)
    assert "water ledger" in found["evapotranspiration_l_per_m2/all/sweet pepper"].why
    book = (DEMO / "assumptions.csv").read_text(encoding="utf-8").splitlines()
    in_book = [one for one in found.values() if one.file == "assumptions.csv"]
    assert all(book[one.line - 1].startswith(f"{one.address.split('/')[0]},") for one in in_book)


def typed_carrying(case: Path) -> None:
    assume(case, "carrying_h_per_m3", "10", "hour/m3")


def a_price_for_each_crop_beside_one_for_all(case: Path) -> None:
    assume(case, PRICE, "0.9", "XTS/kg")


def a_price_in_a_season_in_which_nobody_grows_the_crop(case: Path) -> None:
    assume(case, PRICE, "0.9", "XTS/kg", crop="zucchini", season="warm dry")


def kilograms_beside_fruits(case: Path) -> None:
    assume(case, "yield_kg_per_m2", "2", "kg/m2", crop="sweet pepper")


def a_cost_line_of_no_quantity(case: Path) -> None:
    add_rows(case, "costs", {"system": "drip", "item": "gate", "group": "capital", "basis": "scheme", "quantity": "0",
                             "unit_price": "40", "life_years": "5", "source": "invented", "grade": "D"})  # fmt: skip


@pytest.mark.parametrize(
    ("change", "address", "why"),
    [
        (typed_carrying, "carry_distance_m", "carrying_h_per_m3 is typed in (assumptions.csv line 109)"),
        (a_price_for_each_crop_beside_one_for_all, PRICE, "more specific rows hold in every season"),
        (
            a_price_in_a_season_in_which_nobody_grows_the_crop,
            f"{PRICE}/all/zucchini/warm dry",
            "no season of the case has this system, crop",
        ),
        (kilograms_beside_fruits, "yield_kg_per_m2/all/sweet pepper", "the yield is taken from fruits_per_m2"),
        (a_cost_line_of_no_quantity, "cost/drip/gate/unit_price", "multiplied by 0"),
    ],
)
def test_a_row_without_effect_says_why(change: Callable[[Path], None], address: str, why: str, tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    change(case)
    if change is typed_carrying:
        lines = (case / "assumptions.csv").read_text(encoding="utf-8").splitlines()
        number = next(n for n, line in enumerate(lines, 1) if line.startswith("carrying_h_per_m3,,,,10"))
        why = why.replace("109", str(number))
    assert address not in dead(DEMO)
    assert why in dead(case)[address].why
