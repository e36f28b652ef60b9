"""Nutrients: published removals as printed, gaps that stay gaps, balances and costs by hand.

The conversion factors themselves are held to print with the handbook (`supply_nutrient_conversions.csv`).
"""

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from field_tables import bare, plot, records
from plotworth.ground.handbook import Removal, find_organic_input, find_removal
from plotworth.supply import nutrients
from plotworth.supply.nutrients import (
    NUTRIENTS,
    FirstSeasonShare,
    NutrientRange,
    balance_of,
    known_removals,
    mineral_shares,
    nutrient_balance,
    organic_shares,
    removed_kg_per_m2,
    replacing_cost_per_m2,
    supply_by_item,
    treatment_supply,
)

PUBLISHED = Path(__file__).parent / "published" / "supply_nutrients.csv"
KG_PER_LB = 0.45359237  # exact, international pound
KG_PER_SHORT_TON = 2000 * KG_PER_LB
M2_PER_ACRE = 4046.8564224  # exact, international acre
NAN = np.nan

Row = dict[str, str]

WAYS: dict[str, Callable[[float], object]] = {
    "phosphate_of_phosphorus": nutrients.phosphate_of_phosphorus_kg,
    "potash_of_potassium": nutrients.potash_of_potassium_kg,
}


def published_rows(*, removal: bool) -> list[Row]:
    with PUBLISHED.open(encoding="utf-8", newline="") as lines:
        return [row for row in csv.DictReader(lines) if row["measure"].startswith("removal") == removal]


def name_of(row: Row) -> str:
    return f"{row['name']} ({row['status']})"


@pytest.mark.published
@pytest.mark.parametrize("row", published_rows(removal=False), ids=name_of)
def test_published_conversions(row: Row) -> None:
    found = WAYS[row["measure"]](float(row["first"]))
    assert_allclose(found, float(row["value"]), rtol=0, atol=float(row["within"]))


@pytest.mark.published
@pytest.mark.parametrize("row", published_rows(removal=True), ids=name_of)
def test_published_removals_of_an_acre(row: Row) -> None:
    rows = [found for found in find_removal(row["second"]) if found.source == row["source"]]
    harvest = float(row["first"]) * KG_PER_SHORT_TON / M2_PER_ACRE
    removed = removed_kg_per_m2(harvest, rows, nutrient=row["third"])
    end = removed.low if row["measure"].startswith("removal_low") else removed.high
    assert_allclose(end * M2_PER_ACRE / KG_PER_LB, float(row["value"]), rtol=float(row["within"]))


def given_item(name: str, item: str, n: float = NAN, p2o5: float = NAN, k2o: float = NAN) -> dict[str, object]:
    amounts = {"n_kg": n, "p2o5_kg": p2o5, "k2o_kg": k2o}
    return {"plot": name, "date": "2026-02-01", "item": item, "quantity": 1.0, "unit": "kg", **amounts}


def halves(item: str) -> list[FirstSeasonShare]:
    return [FirstSeasonShare(item, nutrient, 0.1, 0.5, "invented for the test") for nutrient in NUTRIENTS]


def supplied(plots: list, inputs: list, shares: list) -> pd.DataFrame:
    table = treatment_supply(records("plots", *plots), records("inputs", *inputs), shares)
    return table.set_index(["treatment", "nutrient"])


MINERAL = list(mineral_shares(["urea"]))


def test_a_treatment_gets_the_mean_over_its_plots_per_square_metre() -> None:
    plots = [plot("P1"), plot("P2", net_area_m2=4.0), plot("P3", "hand")]
    inputs = [
        given_item("P1", "urea", 0.02, 0, 0),
        given_item("P1", "urea", 0.02, 0, 0),
        given_item("P2", "urea", 0.04, 0, 0),
        given_item("P3", "urea", 0.01, 0, 0),
    ]
    table = supplied(plots, inputs, MINERAL)
    assert_allclose(table.loc[("drip", "n"), "total_kg_per_m2"], (0.04 / 2 + 0.04 / 4) / 2)
    assert_allclose(table.loc[("hand", "n"), "total_kg_per_m2"], 0.005)
    assert table.loc[("drip", "n"), "plots"] == 2
    assert (table["gap"] == "").all()


def test_the_first_season_gets_its_share_of_each_item() -> None:
    inputs = [given_item("P1", "urea", 0.02, 0, 0), given_item("P1", "dung", 0.1, 0.06, 0.08)]
    row = supplied([plot("P1")], inputs, MINERAL + halves("dung")).loc[("drip", "n")]
    assert_allclose(row["total_kg_per_m2"], 0.06)
    assert_allclose(row["available_low_kg_per_m2"], 0.01 + 0.05 * 0.1)
    assert_allclose(row["available_high_kg_per_m2"], 0.01 + 0.05 * 0.5)


def test_a_content_that_was_not_written_down_stays_a_gap_and_what_is_known_is_shown() -> None:
    inputs = [given_item("P1", "urea", 0.02, 0, 0), given_item("P1", "dung", NAN, 0.06, 0.08)]
    table = supplied([plot("P1")], inputs, MINERAL + halves("dung"))
    row = table.loc[("drip", "n")]
    assert np.isnan(row["total_kg_per_m2"])
    assert np.isnan(row["available_low_kg_per_m2"])
    assert_allclose(row["known_kg_per_m2"], 0.01)
    assert row["gap"] == "content of dung not written down"
    assert_allclose(table.loc[("drip", "p2o5"), "total_kg_per_m2"], 0.03)


def test_an_unknown_share_leaves_the_total_and_makes_a_gap_of_the_first_season() -> None:
    row = supplied([plot("P1")], [given_item("P1", "dung", 0.1, 0.06, 0.08)], []).loc[("drip", "k2o")]
    assert_allclose(row["total_kg_per_m2"], 0.04)
    assert np.isnan(row["available_high_kg_per_m2"])
    assert row["gap"] == "first-season share of dung unknown"


def test_nothing_of_a_nutrient_needs_no_share() -> None:
    table = supplied([plot("P1")], [given_item("P1", "inoculant", 0, 0, 0)], [])
    assert (table["available_low_kg_per_m2"] == 0).all()
    assert (table["gap"] == "").all()


def test_a_plot_without_any_row_is_a_gap_not_a_plot_without_fertiliser() -> None:
    table = supplied([plot("P1"), plot("P2"), plot("P3", "hand")], [given_item("P1", "urea", 0.02, 0, 0)], MINERAL)
    assert table["total_kg_per_m2"].isna().all()
    assert "P2" in table.loc[("drip", "n"), "gap"]
    assert "P3" in table.loc[("hand", "n"), "gap"]
    assert_allclose(table.loc[("drip", "n"), "known_kg_per_m2"], 0.005)
    assert table.loc[("hand", "n"), "known_kg_per_m2"] == 0


def test_no_inputs_at_all_give_gaps_for_every_treatment() -> None:
    table = treatment_supply(records("plots", plot("P1")), bare("inputs"), [])
    assert table["nutrient"].tolist() == list(NUTRIENTS)
    assert table["total_kg_per_m2"].isna().all()
    assert (table["gap"] != "").all()


def test_rows_of_unknown_plots_are_left_out_and_items_stay_apart() -> None:
    inputs = [
        given_item("P9", "urea", 9, 9, 9),
        given_item("P1", "urea", 0.02, 0, 0),
        given_item("P1", "dung", 0.1, 0, 0),
    ]
    table = supply_by_item(records("plots", plot("P1")), records("inputs", *inputs), MINERAL + halves("dung"))
    nitrogen = table[table["nutrient"] == "n"].set_index("item")["total_kg_per_m2"]
    assert nitrogen.to_dict() == pytest.approx({"urea": 0.01, "dung": 0.05})


def test_handbook_shares_leave_out_what_has_no_source() -> None:
    shares = {share.nutrient: share for share in organic_shares("dung", find_organic_input("farmyard manure"))}
    assert shares["n"].item == "dung"
    assert 0 < shares["n"].low <= shares["n"].high < 1
    assert shares["n"].source
    assert organic_shares("heap", find_organic_input("dairy compost")) == ()


LEEK = Removal("leek", 2.0, 3.0, 0.5, 0.7, 3.0, 4.0, source="first")
OTHER = Removal("leek", 2.5, 4.0, 0.4, 0.6, 3.5, 3.5, source="second")


def test_sources_that_disagree_give_the_widest_range_and_are_all_named() -> None:
    removed = removed_kg_per_m2([[2.0], [4.0]], [LEEK, OTHER], nutrient="n")
    assert_allclose(removed.low, [[0.004], [0.008]])
    assert_allclose(removed.high, [[0.008], [0.016]])
    assert removed.sources == ("first", "second")


def test_tomato_phosphate_keeps_the_disagreement_of_its_sources() -> None:
    removed = removed_kg_per_m2(1.0, find_removal("tomato"), nutrient="p2o5")
    assert removed.high > 3 * removed.low
    assert len(removed.sources) >= 2


def test_without_a_handbook_row_removal_is_a_gap() -> None:
    removed = removed_kg_per_m2([1.0, 2.0], [], nutrient="k2o")
    assert np.isnan(removed.low).all()
    assert removed.sources == ()


def test_crops_without_a_row_are_said_to_be_without() -> None:
    found, notices = known_removals(["sweet pepper", "okra", "sweet pepper", "moonfruit"])
    assert list(found) == ["sweet pepper"]
    assert len(notices) == 2
    assert "okra" in notices[0]


@given(st.tuples(*[st.floats(0, 1)] * 4))
def test_the_balance_spans_every_pair_of_given_and_removed(ends: tuple[float, float, float, float]) -> None:
    given_range, removed = sorted(ends[:2]), sorted(ends[2:])
    balance = balance_of(*(NutrientRange(np.array(r[0]), np.array(r[1]), ()) for r in (given_range, removed)))
    pairs = [g - r for g in given_range for r in removed]
    assert_allclose([balance.low, balance.high], [min(pairs), max(pairs)])


def test_replacing_costs_the_deficit_and_nothing_where_there_is_none() -> None:
    balance = NutrientRange(np.array([-0.03, -0.01, 0.01]), np.array([-0.02, 0.02, 0.03]), ())
    low, high = replacing_cost_per_m2(balance, 2.0)
    assert_allclose(low, [0.04, 0, 0])
    assert_allclose(high, [0.06, 0.02, 0])


def balanced(carried_off: list[tuple[str, str, float]], prices: dict[str, float]) -> pd.DataFrame:
    inputs = [given_item("P1", "urea", 0.01, 0, 0), given_item("P1", "dung", 0.02, 0.01, 0.03)]
    supply = treatment_supply(records("plots", plot("P1")), records("inputs", *inputs), MINERAL + halves("dung"))
    table = pd.DataFrame(carried_off, columns=["treatment", "crop", "carried_off_kg_per_m2"])
    return nutrient_balance(supply, table, {"leek": [LEEK, OTHER]}, prices).set_index("nutrient")


def test_the_balance_by_hand() -> None:
    row = balanced([("drip", "leek", 5.0)], {"n": 2.0}).loc["n"]
    assert_allclose([row["removed_low_kg_per_m2"], row["removed_high_kg_per_m2"]], [0.010, 0.020])
    assert_allclose([row["balance_low_kg_per_m2"], row["balance_high_kg_per_m2"]], [-0.005, 0.005])
    season = [row["first_season_balance_low_kg_per_m2"], row["first_season_balance_high_kg_per_m2"]]
    assert_allclose(season, [0.005 + 0.001 - 0.020, 0.005 + 0.005 - 0.010], atol=1e-15)
    assert_allclose([row["replacing_cost_low_per_m2"], row["replacing_cost_high_per_m2"]], [0, 0.01])
    assert row["sources"] == "first; second"


def test_two_crops_of_a_treatment_take_away_together_and_one_unknown_makes_a_gap() -> None:
    both = balanced([("drip", "leek", 3.0), ("drip", "leek", 2.0)], {})
    assert_allclose(both["removed_high_kg_per_m2"], balanced([("drip", "leek", 5.0)], {})["removed_high_kg_per_m2"])
    assert balanced([("drip", "leek", 3.0), ("drip", "okra", 2.0)], {})["balance_low_kg_per_m2"].isna().all()


def test_no_yield_or_no_price_is_a_gap() -> None:
    assert balanced([], {"n": 1.0})["balance_low_kg_per_m2"].isna().all()
    assert balanced([("drip", "leek", NAN)], {"n": 1.0})["replacing_cost_high_per_m2"].isna().all()
    assert np.isnan(balanced([("drip", "leek", 5.0)], {"n": 1.0}).loc["k2o", "replacing_cost_high_per_m2"])


@given(st.floats(1e-6, 1e6))
def test_conversions_there_and_back_give_the_same(kilograms: float) -> None:
    back = nutrients.phosphorus_of_phosphate_kg(nutrients.phosphate_of_phosphorus_kg(kilograms))
    assert_allclose(back, kilograms, rtol=1e-12)
    assert_allclose(
        nutrients.potassium_of_potash_kg(nutrients.potash_of_potassium_kg(kilograms)), kilograms, rtol=1e-12
    )
