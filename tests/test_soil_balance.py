"""Nutrients of a trial's treatments: by hand on round numbers, gaps as sentences, and the demo."""

from pathlib import Path

import pandas as pd
import pytest
from numpy.testing import assert_allclose

from folders import DEMO
from plotworth import appraise, open_case
from plotworth.case.schema import table_columns
from plotworth.choose.soil_balance import LEFT_OUT, NO_INPUTS, SoilBalance, soil_balance
from plotworth.ground.handbook import find_organic_input
from plotworth.supply.input_kinds import INPUT_KINDS, raw_kinds, shares_by_kind
from soil_case import INPUTS, soil_appraisal

PRICES = {"n_price_per_kg": 2.0, "p2o5_price_per_kg": 2.0, "k2o_price_per_kg": 2.0}
HAND_WITHOUT_CULLS = 3.0  # kg/m2: the mean of 2 and 4


def balance_of(appraisal: object) -> SoilBalance:
    balance = soil_balance(appraisal)  # type: ignore[arg-type]
    assert balance is not None
    return balance


def row_of(balance: SoilBalance, treatment: str, nutrient: str) -> pd.Series:
    table = balance.table.set_index(["treatment", "nutrient"])
    return table.loc[(treatment, nutrient)]


def test_the_list_of_the_column_is_the_list_of_kinds() -> None:
    assert table_columns()["inputs"]["kind"].choices == tuple(INPUT_KINDS)


def test_every_kind_with_a_handbook_row_has_that_row_and_its_shares_and_the_others_have_none() -> None:
    for kind, row in INPUT_KINDS.items():
        shares = {share.nutrient: (share.low, share.high) for share in shares_by_kind([("x", kind)])}
        if kind == "mineral_fertiliser":
            assert shares == dict.fromkeys(("n", "p2o5", "k2o"), (1.0, 1.0))
        elif row.handbook:
            printed = find_organic_input(row.handbook)
            assert shares.get("n") == (
                None
                if printed.first_season_n_share_low is None
                else (printed.first_season_n_share_low, printed.first_season_n_share_high)
            )
        else:
            assert shares == {}
    assert shares_by_kind([("x", "")]) == ()


def test_manure_is_raw_by_its_kind_and_compost_is_not() -> None:
    assert {"raw_manure", "raw_cattle_manure", "dungstead_manure"} <= raw_kinds()
    assert not {"compost", "composted_manure", "yard_waste_compost", "mineral_fertiliser"} & raw_kinds()


def test_given_available_removed_and_balance_are_those_worked_by_hand(tmp_path: Path) -> None:
    """N of the tank: (80 + 18) g / 4 m2; 5 % of 20 g (yard waste) + 4.5 g; 5 kg/m2 x 3 to 3.5 g/kg (Hegde 1997)."""
    row = row_of(balance_of(soil_appraisal(tmp_path)), "tank", "n")
    assert_allclose(row["picked_kg_per_m2"], 5.0)
    assert_allclose(row["total_kg_per_m2"], 0.0245)
    assert_allclose([row["available_low_kg_per_m2"], row["available_high_kg_per_m2"]], 0.0055)
    assert_allclose([row["removed_low_kg_per_m2"], row["removed_high_kg_per_m2"]], [0.015, 0.0175])
    assert_allclose([row["balance_low_kg_per_m2"], row["balance_high_kg_per_m2"]], [0.007, 0.0095])
    season = [row["first_season_balance_low_kg_per_m2"], row["first_season_balance_high_kg_per_m2"]]
    assert_allclose(season, [-0.012, -0.0095])


def test_a_deficit_of_all_that_was_given_costs_the_price_of_the_nutrient(tmp_path: Path) -> None:
    """The hand's plots got nothing: 3 kg/m2 took 9 to 10.5 g of N; at 2 a kilogram 0.018 to 0.021 a m2."""
    row = row_of(balance_of(soil_appraisal(tmp_path, book=PRICES)), "hand", "n")
    assert_allclose(row["picked_kg_per_m2"], HAND_WITHOUT_CULLS)
    assert_allclose([row["replacing_cost_low_per_m2"], row["replacing_cost_high_per_m2"]], [0.018, 0.021])
    surplus = row_of(balance_of(soil_appraisal(tmp_path, book=PRICES)), "tank", "n")
    assert surplus["replacing_cost_high_per_m2"] == 0


def test_without_a_price_the_cost_is_a_gap_with_its_sentence(tmp_path: Path) -> None:
    balance = balance_of(soil_appraisal(tmp_path, book=PRICES | {"k2o_price_per_kg": None}))
    assert row_of(balance, "hand", "k2o").isna()["replacing_cost_low_per_m2"]
    assert any("price of K2O is not stated (k2o_price_per_kg)" in note for note in balance.notes)


def test_an_input_of_a_kind_not_said_has_no_first_season_share_and_a_sentence_says_so(tmp_path: Path) -> None:
    balance = balance_of(soil_appraisal(tmp_path, inputs=INPUTS.replace("yard_waste_compost", "")))
    row = row_of(balance, "tank", "n")
    assert row.isna()["available_high_kg_per_m2"]
    assert_allclose(row["total_kg_per_m2"], 0.0245)
    assert any(note.startswith("What compost is was not written down") for note in balance.notes)
    assert any("First-season share of compost unknown" in note and "N, P2O5 and K2O" in note for note in balance.notes)


def test_one_item_under_two_kinds_keeps_each_its_own_share(tmp_path: Path) -> None:
    """T1 has raw cattle manure (N 5 to 25 %), T2 compost of yard waste (5 %), 20 g/m2 each: mean 1 to 3 g + 4.5."""
    inputs = INPUTS.replace(
        "T1,compost,8,kg,0.08,0.04,0.06,yard_waste_compost", "T1,compost,8,kg,0.08,0.04,0.06,raw_cattle_manure"
    )
    row = row_of(balance_of(soil_appraisal(tmp_path, inputs=inputs)), "tank", "n")
    assert_allclose([row["available_low_kg_per_m2"], row["available_high_kg_per_m2"]], [0.0055, 0.0075])


def test_culls_that_were_not_recorded_and_plots_without_rows_are_said(tmp_path: Path) -> None:
    lines = [line for line in INPUTS.splitlines(keepends=True) if ",H2," not in line]
    balance = balance_of(soil_appraisal(tmp_path, inputs="".join(lines)))
    assert any("Treatment hand: culls were not recorded" in note for note in balance.notes)
    assert any("No inputs written down for H2" in note and "of hand" in note for note in balance.notes)
    assert row_of(balance, "hand", "n").isna()["total_kg_per_m2"]


def test_a_crop_without_a_removal_row_is_said_and_what_was_given_stays(tmp_path: Path) -> None:
    balance = balance_of(soil_appraisal(tmp_path, crop="okra"))
    row = row_of(balance, "tank", "n")
    assert row.isna()["removed_low_kg_per_m2"]
    assert_allclose(row["total_kg_per_m2"], 0.0245)
    assert any("okra is without a handbook row of nutrient removal" in note for note in balance.notes)


def test_a_trial_without_inputs_has_one_sentence_and_no_amounts(tmp_path: Path) -> None:
    balance = balance_of(soil_appraisal(tmp_path, inputs=None))
    assert balance.table["total_kg_per_m2"].isna().all()
    assert NO_INPUTS in balance.notes
    assert not any("written down for" in note for note in balance.notes)


def test_the_demo_gave_every_treatment_the_same_and_its_lost_plot_is_left_out() -> None:
    """3 kg compost with 0.8 % N, 30 g NPK with 15 %, twice 15 g urea with 46 %: 24 + 4.5 + 13.8 g; 1.2 at first."""
    balance = balance_of(appraise(open_case(DEMO)))
    nitrogen = balance.table[balance.table["nutrient"] == "n"]
    # the records round each content to 0.1 g in 4.8 m2
    assert_allclose(nitrogen["total_kg_per_m2"], 0.0423, atol=1e-4)
    assert_allclose(nitrogen["available_high_kg_per_m2"], 0.0195, atol=1e-4)
    assert sorted(nitrogen["plots"]) == [6, 7, 7, 7, 7, 7]
    assert balance.notes[-1] == LEFT_OUT


@pytest.mark.parametrize("nutrient", ["p2o5", "k2o"])
def test_the_demo_s_compost_has_no_printed_share_of_phosphate_and_potash(nutrient: str) -> None:
    table = balance_of(appraise(open_case(DEMO))).table
    assert table[table["nutrient"] == nutrient]["available_low_kg_per_m2"].isna().all()
