"""The shipped handbook tables and their finders."""

import csv
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from plotworth.ground import conversions, handbook
from plotworth.ground.errors import PlotworthError
from plotworth.ground.glossary import read_shipped_table
from plotworth.ground.handbook import (
    HandbookError,
    application_efficiency,
    find_crop_coefficients,
    find_organic_input,
    find_published,
    find_removal,
    find_rooting,
    find_salt_tolerance,
    find_stage_lengths,
    find_yield_response,
    handbook_name,
)

PUBLISHED = Path(__file__).parent / "published"
TABLES = (
    "crop_stages",
    "crop_coefficients",
    "crop_rooting",
    "crop_salt",
    "crop_yield_response",
    "crop_removal",
    "organic_inputs",
    "application_efficiencies",
    "published_ranges",
)
STATUSES = {"printed", "computed", "from memory, to be verified"}
SHARES = ("share", "low", "high", "depletion_share")
ROWS = [(table, row) for table in TABLES for row in read_shipped_table(table)]


def published(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


HELD = published("supply_handbook")


def same_row(row: dict[str, str]) -> str:
    return " ".join(text for text in list(row.values())[:3])


@pytest.mark.parametrize("table", TABLES)
def test_every_row_has_a_unit_a_source_a_table_and_a_status(table: str) -> None:
    for row in read_shipped_table(table):
        assert row["unit"], row
        assert row["source"], row
        assert row["table"], row
        assert row["status"] in STATUSES, row
        assert None not in row.values(), row
        assert None not in row, row


@pytest.mark.parametrize("table", TABLES)
def test_no_row_stands_twice(table: str) -> None:
    rows = [tuple(row.values()) for row in read_shipped_table(table)]
    assert len(set(rows)) == len(rows)


@pytest.mark.parametrize(("table", "row"), ROWS, ids=lambda cell: cell if isinstance(cell, str) else same_row(cell))
def test_ranges_are_in_order_and_blank_at_both_ends_or_none(table: str, row: dict[str, str]) -> None:
    ends = [name for name in row if "_low" in name or name == "low"]
    for low in ends:
        high = low.replace("low", "high")
        if high not in row:
            assert (table, low) == ("crop_stages", "initial_low_days")
            high = "initial_days"
        assert (row[low] == "") == (row[high] == ""), low
        if row[low]:
            assert 0 <= float(row[low]) <= float(row[high]), low


def test_shares_lie_between_0_and_1() -> None:
    for efficiency in handbook.EFFICIENCIES.values():
        assert 0 < efficiency.low <= efficiency.share <= efficiency.high <= 1
    for rooting in handbook.ROOTING:
        assert 0 < rooting.depletion_share < 1
    for organic in handbook.ORGANIC_INPUTS.values():
        shares = [value for name, value in vars(organic).items() if "share" in name and value is not None]
        assert all(0 <= share <= 1 for share in shares)


def test_a_share_of_the_first_season_stands_with_its_source_or_not_at_all() -> None:
    for organic in handbook.ORGANIC_INPUTS.values():
        told = any(value is not None for name, value in vars(organic).items() if "share" in name)
        assert told == bool(organic.first_season_source), organic.name


@pytest.mark.published
@pytest.mark.parametrize("row", read_shipped_table("crop_stages"), ids=same_row)
def test_a_printed_total_is_the_sum_of_its_stages(row: dict[str, str]) -> None:
    stages = [int(row[f"{stage}_days"]) for stage in ("initial", "development", "mid", "late")]
    assert sum(stages) == int(row["printed_total_days"])
    found = [lengths.total_days for lengths in find_stage_lengths(row["crop"])]
    assert int(row["printed_total_days"]) in found


@pytest.mark.published
def test_the_printed_total_of_sweet_pepper_goes_with_the_longer_of_its_two_initial_stages() -> None:
    row = next(row for row in read_shipped_table("crop_stages") if row["initial_low_days"] != row["initial_days"])
    assert (row["crop"], row["initial_low_days"], row["initial_days"]) == ("sweet pepper", "25", "30")
    assert find_stage_lengths("sweet pepper")[0].total_days == 125
    assert "25/30" in find_stage_lengths("sweet pepper")[0].condition


@pytest.mark.published
def test_a_misprinted_planting_month_is_kept_and_said() -> None:
    odd = [lengths for lengths in handbook.STAGE_LENGTHS if "sic" in lengths.planting]
    assert [(lengths.crop, lengths.planting) for lengths in odd] == [("watermelon", "Mat/Aug (sic)")]
    assert odd[0].condition


@pytest.mark.published
@pytest.mark.parametrize("row", [row for row in HELD if row["status"] == "V"], ids=same_row)
def test_a_table_holds_the_printed_value(row: dict[str, str]) -> None:
    check_held(row)


@pytest.mark.parametrize("row", [row for row in HELD if row["status"] == "M"], ids=same_row)
def test_a_value_from_memory_stands_as_such(row: dict[str, str]) -> None:
    check_held(row)
    assert find_crop_coefficients(row["crop"]).basal_status.startswith("from memory, to be verified")


def check_held(row: dict[str, str]) -> None:
    found = getattr(handbook, f"find_{row['finder']}")(row["crop"])
    assert_allclose(getattr(found, row["field"]), float(row["value"]), rtol=1e-12)


@pytest.mark.published
@pytest.mark.parametrize("row", published("supply_nutrient_conversions"), ids=same_row)
def test_a_conversion_follows_from_atomic_masses(row: dict[str, str]) -> None:
    # the tolerance stands in the row: half the last decimal, more where a source rounds older factors
    assert_allclose(getattr(conversions, row["factor"]), float(row["value"]), rtol=0, atol=float(row["tolerance"]))


def test_a_conversion_there_and_back_changes_nothing() -> None:
    assert_allclose(conversions.P2O5_PER_P * conversions.P_PER_P2O5, 1, rtol=1e-15)
    assert_allclose(conversions.K2O_PER_K * conversions.K_PER_K2O, 1, rtol=1e-15)


@pytest.mark.published
@pytest.mark.parametrize("row", published("supply_removal"), ids=same_row)
def test_removal_agrees_with_what_the_source_prints(row: dict[str, str]) -> None:
    found = [removal for removal in find_removal(row["crop"]) if removal.source.startswith(row["source"])]
    half = 0.5 * 10 ** -int(row["decimals"])
    # 125 lb in 20 tons is 3.125 kg/t, printed 3.12: the bound itself counts
    assert_allclose(getattr(found[0], row["field"]), float(row["value"]), rtol=0, atol=half * (1 + 1e-9))


def test_sources_that_disagree_on_the_phosphorus_of_tomato_both_stand() -> None:
    rows = find_removal("tomato")
    assert len({row.source for row in rows}) == 2
    ratio = max(row.p2o5_kg_per_t_high for row in rows) / min(row.p2o5_kg_per_t_low for row in rows)
    assert_allclose(ratio, 0.75 / 0.2, rtol=1e-9)


def test_a_form_that_was_not_seen_spans_both_readings() -> None:
    compost = find_organic_input("dairy compost")
    assert compost.p2o5_kg_per_t_low == 5
    assert_allclose(compost.p2o5_kg_per_t_high, 15 * conversions.P2O5_PER_P, rtol=1e-12)


def test_what_no_source_says_of_a_manure_is_unknown_and_not_zero() -> None:
    manure = find_organic_input("cattle farmyard manure")
    assert manure.p2o5_kg_per_t_low is None
    assert manure.first_season_k2o_share_low is None
    assert find_organic_input("poultry compost").first_season_n_share_low is None


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("Sweet Pepper", "sweet pepper"),
        ("bell peppers", "sweet pepper"),
        ("sweet_pepper", "sweet pepper"),
        ("  Tomatoes ", "tomato"),
        ("courgettes", "zucchini"),
        ("aubergine", "eggplant"),
        ("brinjal", "eggplant"),
        ("winter squash", "pumpkin"),
        ("onion", "dry onion"),
        ("muskmelon", "cantaloupe"),
        ("French bean", "green bean"),
        ("lady's finger", "okra"),
    ],
)
def test_a_crop_is_found_by_the_words_of_the_trade(word: str, name: str) -> None:
    assert handbook_name(word) == name


@pytest.mark.parametrize("row", read_shipped_table("handbook_words"), ids=same_row)
def test_every_word_leads_to_a_name_and_hides_none(row: dict[str, str]) -> None:
    names = {"crop": handbook.CROPS, "method": handbook.EFFICIENCIES, "input": handbook.ORGANIC_INPUTS}[row["kind"]]
    assert row["name"] in names
    assert row["word"] == row["name"] or row["word"] not in names
    assert row["word"] == row["word"].lower().strip()


FIND_ONE_CROP = (
    find_stage_lengths,
    find_crop_coefficients,
    find_rooting,
    find_salt_tolerance,
    find_yield_response,
    find_removal,
)


@pytest.mark.parametrize("find", FIND_ONE_CROP, ids=lambda find: find.__name__)
def test_okra_is_said_to_be_without_a_row(find: object) -> None:
    with pytest.raises(
        HandbookError, match=r"okra is without a handbook row of .* state your own value and its source"
    ):
        find("Okra")  # type: ignore[operator]


def test_a_near_miss_is_asked_back_and_a_stranger_gets_the_list() -> None:
    with pytest.raises(HandbookError, match="no crop 'tomatto'; did you mean tomato"):
        find_rooting("tomatto")
    with pytest.raises(HandbookError, match=r"no crop 'xyzzy'; it has .*cucumber, .*zucchini"):
        find_rooting("xyzzy")
    with pytest.raises(HandbookError, match=r"no irrigation method 'hand'; it has .*drip"):
        application_efficiency("hand")
    with pytest.raises(HandbookError, match="no manure or compost 'catle manure'; did you mean cattle farmyard manure"):
        find_organic_input("catle manure")


def test_a_crop_without_a_row_of_one_kind_may_have_another() -> None:
    assert find_rooting("eggplant").depletion_share == 0.45
    with pytest.raises(HandbookError, match="eggplant is without a handbook row of salt tolerance"):
        find_salt_tolerance("aubergine")
    with pytest.raises(HandbookError, match="zucchini is without a handbook row of yield response"):
        find_yield_response("zucchini")


def test_a_handbook_error_is_one_of_the_library() -> None:
    assert issubclass(HandbookError, PlotworthError)


def test_published_ranges_are_found_by_crop_and_figure() -> None:
    yields = find_published("tomatoes", "yield_kg_per_m2")
    assert {row.unit for row in yields} == {"kg/m2"}
    assert max(row.high for row in yields) == 160
    productivities = find_published("tomato", "water_productivity_kg_per_m3")
    assert max(row.high for row in productivities) == 250
    assert min(row.low for row in find_published("tomato", "water_l_per_kg")) == 4
    with pytest.raises(HandbookError, match=r"no published range of 'fruit_mass_g' for tomato; the handbook has "):
        find_published("tomato", "fruit_mass_g")
    with pytest.raises(HandbookError, match="sweet pepper; the handbook has fertiliser_n_kg_per_ha"):
        find_published("sweet pepper", "yield_kg_per_m2")


@pytest.mark.published
@pytest.mark.parametrize(("method", "share"), [("surface", 0.45), ("sprinkler", 0.75), ("drip", 0.90)])
def test_application_efficiency_is_that_of_the_irrigation_manual(method: str, share: float) -> None:
    # FAO Irrigation Manual Module 4, Table 30
    assert application_efficiency(method).share == share
    assert "Module 4" in application_efficiency(method).source


def test_a_litre_a_kilogram_and_a_kilogram_a_cubic_metre_of_one_source_agree() -> None:
    litres = [row for row in find_published("tomato", "water_l_per_kg") if row.source.startswith("Salazar")]
    kilograms = [row for row in find_published("tomato", "water_productivity_kg_per_m3") if "Salazar" in row.source]
    # printed with two decimals
    assert_allclose(1000 / kilograms[0].low, litres[0].low, atol=0.01)
