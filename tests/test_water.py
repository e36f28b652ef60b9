"""The water ledger, the water productivities, and less water drawn."""

import math

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from field_tables import NAN, bare, measured, picking, plot, reading, records, water
from plotworth.field.ratio import NOT_DIFFERENT_FROM_ZERO, ratio_of_independent_means, ratio_of_means
from plotworth.field.water import (
    DENOMINATORS,
    KINDS,
    NO_RECORD,
    NO_WATER,
    NOT_MEASURED,
    ONE_PLOT,
    SHARED_METER,
    less_water,
    plot_ledger,
    treatment_water,
    water_productivities,
    without_lost_plots,
)
from plotworth.ground.glossary import read_shipped_table


def ledger(plots: list, events: list, readings: list = ()) -> pd.DataFrame:
    tables = records("plots", *plots), records("water", *events), records("soil_water", *readings)
    return plot_ledger(*tables).set_index("plot", drop=False)


ALL_KINDS = [
    water("a", "first_fill", 100),
    water("a", "refill", 60),
    water("a", "refill", 40, day=2),
    water("a", "irrigation", 20),
    water("a", "rain", 30),
    water("a", "lid_catch", 10),
    water("a", "left_over", 15),
    water("a", "leak", 5),
    water("a", "drainage", 12),
    water("a", "runoff", 8),
]
STORE = [reading("a", 90, 1), reading("a", 70, 5), reading("a", 75, 9)]


def drawn(blocks: str, drip: list[float], reservoir: list[float]) -> pd.DataFrame:
    """A ledger of plots of 1 m2 in two treatments, a letter of `blocks` (or ".") a pair of plots."""
    plots, events = [], []
    for block, *litres in zip(blocks, drip, reservoir, strict=True):
        for treatment, amount in zip(("drip", "reservoir"), litres, strict=True):
            name = f"{treatment}-{len(plots)}"
            plots.append(plot(name, treatment, block=block.strip("."), net_area_m2=1.0))
            events.append(water(name, "irrigation", amount))
    return ledger(plots, events)


def test_the_kinds_of_water_are_those_of_the_record_sheet() -> None:
    choices = [
        row["choices"] for row in read_shipped_table("records") if (row["table"], row["column"]) == ("water", "kind")
    ]
    assert set(KINDS) == set(choices[0].split())


def test_a_ledger_worked_by_hand() -> None:
    # by hand, 2 m2: drawn 100 + 60 + 40 + 20 = 220; applied 220 - 15 - 5 = 200; store (90 - 75) mm x 2 m2 = 30;
    # inflow 200 + 30 + 10 + 30 = 270; evapotranspiration 270 - 12 - 8 = 250
    found = ledger([plot("a")], ALL_KINDS, STORE).loc["a"]
    names = ["refill_l", "drawn_l", "applied_l", "soil_store_used_l", "inflow_l", "evapotranspiration_l"]
    assert_allclose(found[names].astype(float), [100, 220, 200, 30, 270, 250], rtol=1e-12)
    assert_allclose(found[[f"{name}_per_m2" for name in names]].astype(float), [50, 110, 100, 15, 135, 125], rtol=1e-12)
    assert found["drainage_measured"]
    assert found["soil_store_measured"]


def test_the_ledger_closes() -> None:
    found = ledger([plot("a")], ALL_KINDS, STORE).loc["a"]
    taken_in = found["applied_l"] + found["rain_l"] + found["lid_catch_l"] + found["soil_store_used_l"]
    given_off = found["evapotranspiration_l"] + found["drainage_l"] + found["runoff_l"]
    assert_allclose(taken_in, given_off, rtol=1e-12)


def test_a_plot_without_a_water_row_is_missing_and_not_dry() -> None:
    found = ledger([plot("a"), plot("b"), plot("rainfed")], [*ALL_KINDS, water("rainfed", "rain", 50)])
    assert list(found["missing"]) == [False, True, False]
    assert math.isnan(found.loc["b", "drawn_l"])
    assert math.isnan(found.loc["b", "inflow_l_per_m2"])
    assert found.loc["rainfed", "drawn_l"] == 0
    assert found.loc["rainfed", "inflow_l"] == 50
    row = treatment_water(found).loc["drip"]
    assert (row["plots"], row["missing_plots"], row["drawn_l_per_m2"]) == (2, 1, 55)


@pytest.mark.parametrize("readings", [[], [reading("a", 80, 1)]])
def test_under_two_readings_the_soil_store_is_unknown_and_left_out_of_the_inflow(readings: list) -> None:
    found = ledger([plot("a")], ALL_KINDS, readings).loc["a"]
    assert math.isnan(found["soil_store_used_l"])
    assert not found["soil_store_measured"]
    assert found["inflow_l"] == 240


def test_readings_count_by_date_and_not_by_row() -> None:
    assert ledger([plot("a")], ALL_KINDS, STORE[::-1]).loc["a", "soil_store_used_l"] == 30


def test_drainage_that_was_not_measured_is_unknown() -> None:
    found = ledger([plot("a"), plot("b")], [*ALL_KINDS[:8], water("b", "refill", 9), water("b", "runoff", 1)])
    assert list(found["drainage_measured"]) == [False, True]
    assert math.isnan(found.loc["a", "drainage_l"])
    assert math.isnan(found.loc["a", "evapotranspiration_l"])
    assert found.loc["b", "drainage_l"] == 0
    assert found.loc["b", "evapotranspiration_l"] == 8


def test_a_meter_that_served_several_plots_is_found_out() -> None:
    events = [water(name, "irrigation", 9, meter) for name, meter in zip("abcd", ["m1", "m1", "m2", ""], strict=True)]
    events += [water(name, "rain", 5, "rain gauge") for name in "abcd"]
    found = ledger([plot(name) for name in "abcd"], events)
    assert list(found["shared_meter"]) == [True, True, False, False]
    row = treatment_water(found).loc["drip"]
    assert row["shared_meter"]
    assert math.isnan(row["drawn_sd_l_per_m2"])
    assert row["drawn_l_per_m2"] == 4.5


def test_treatment_means_are_over_plots_of_unlike_size() -> None:
    # by hand: 60 l on 2 m2 and 200 l on 4 m2 are 30 and 50 l/m2: mean 40, sd sqrt(200), se 10; 10 l/m2 leaked on b
    events = [water("a", "refill", 60), water("b", "refill", 200), water("b", "leak", 40)]
    row = treatment_water(ledger([plot("a"), plot("b", net_area_m2=4.0)], events)).loc["drip"]
    names = ["drawn_l_per_m2", "drawn_sd_l_per_m2", "drawn_se_l_per_m2", "applied_l_per_m2", "delivery_share"]
    assert_allclose(row[names].astype(float), [40, math.sqrt(200), 10, 35, 35 / 40], rtol=1e-12)
    assert math.isnan(row["drainage_l_per_m2"])
    assert not row["drainage_measured"]


def test_a_plot_lost_before_harvest_does_not_pass_for_a_thrifty_one() -> None:
    events = [water("a", "refill", 60), water("lost", "refill", 10)]
    plots = [plot("a"), plot("lost")]
    table = without_lost_plots(ledger(plots, events), measured(plots, [picking("a", kg=3)], []))
    row = treatment_water(table).loc["drip"]
    assert (row["plots"], row["missing_plots"], row["drawn_l_per_m2"]) == (1, 1, 30)
    assert less_water(table, "drip", "drip").plots == 1


def test_one_plot_has_no_spread_and_nothing_drawn_no_delivery() -> None:
    row = treatment_water(ledger([plot("a")], [water("a", "rain", 9)])).loc["drip"]
    assert math.isnan(row["drawn_sd_l_per_m2"])
    assert math.isnan(row["delivery_share"])


# --- kilograms per cubic metre -------------------------------------------------------------------


def productivities(events: list, readings: list = (), stated: float = NAN) -> pd.Series:
    yields = measured([plot("a")], [picking("a", kg=9.0)], [], "weighed")
    return water_productivities(ledger([plot("a")], events, readings), yields, {"drip": stated}).loc["drip"]


def test_three_productivities_each_with_its_denominator() -> None:
    # by hand: 4.5 kg/m2 over 100, 135 and 125 l/m2; 135 - 6 - 4 - 110 = 15 l/m2 unexplained
    found = productivities(ALL_KINDS, STORE, stated=110)
    assert_allclose(found[list(DENOMINATORS)].astype(float), [45, 4500 / 135, 36], rtol=1e-12)
    assert found["reason"] == ""
    assert found["evapotranspiration_l_per_m2"] == 125
    assert_allclose(found["unexplained_l_per_m2"], 15, rtol=1e-12)
    assert [text.split(":")[0] for text in DENOMINATORS.values()] == [
        "per m3 irrigated",
        "per m3 of all inflow",
        "per m3 of evapotranspiration",
    ]


def test_without_drainage_there_is_no_figure_by_evapotranspiration_and_the_reason_says_so() -> None:
    found = productivities(ALL_KINDS[:8], STORE, stated=110)
    assert math.isnan(found["evapotranspiration_productivity_kg_per_m3"])
    assert found["reason"] == NOT_MEASURED == "drainage not measured"
    assert_allclose(found["irrigation_productivity_kg_per_m3"], 45, rtol=1e-12)
    assert_allclose(found["unexplained_l_per_m2"], 25, rtol=1e-12)  # by hand: 135 - 110, drainage still in it


def test_a_gap_needs_an_evapotranspiration_from_outside() -> None:
    assert math.isnan(productivities(ALL_KINDS, STORE)["unexplained_l_per_m2"])
    yields = measured([plot("a")], [picking("a", kg=9.0)], [], "weighed")
    assert math.isnan(
        water_productivities(ledger([plot("a")], ALL_KINDS), yields, {}).loc["drip", "unexplained_l_per_m2"]
    )


def test_rain_alone_gives_no_figure_by_irrigation() -> None:
    found = productivities([water("a", "rain", 90)])
    assert math.isnan(found["irrigation_productivity_kg_per_m3"])
    assert found["reason"] == f"{NOT_MEASURED}; {NO_WATER}"
    assert_allclose(found["inflow_productivity_kg_per_m3"], 100, rtol=1e-12)  # by hand: 4.5 kg over 45 l


def test_productivity_is_a_ratio_of_means_over_plots_that_have_both() -> None:
    # by hand: 4 and 6 kg/m2 over 50 and 150 l/m2 is 5 / 100 l = 50 kg/m3 (the mean of the two ratios is 60);
    # c has no water row and d no harvest row
    plots, litres = [plot(name) for name in "abcd"], {"a": 100, "b": 300, "d": 700}
    events = [water(name, "irrigation", amount) for name, amount in litres.items()]
    yields = measured(plots, [picking("a", kg=8), picking("b", kg=12), picking("c", kg=99)], [], "weighed")
    found = water_productivities(ledger(plots, events), yields, {}).loc["drip"]
    assert found["plots"] == 2
    assert_allclose(found["irrigation_productivity_kg_per_m3"], 50, rtol=1e-12)


def test_a_treatment_without_water_or_harvest_says_so() -> None:
    found = water_productivities(ledger([plot("a")], []), measured([plot("a")], [], []), {}).loc["drip"]
    assert (found["plots"], found["reason"]) == (0, NO_RECORD)
    assert found[list(DENOMINATORS)].isna().all()


# --- less water drawn ----------------------------------------------------------------------------

DRIP, RESERVOIR = [100.0, 120.0, 110.0, 130.0], [60.0, 66.0, 63.0, 71.0]


def test_blocks_that_hold_both_treatments_are_compared_in_pairs() -> None:
    found, ratio = less_water(drawn("1234", DRIP, RESERVOIR), "reservoir", "drip"), ratio_of_means(RESERVOIR, DRIP)
    assert_allclose(found.less_water_share, 1 - 260 / 460, rtol=1e-12)  # by hand
    assert_allclose([found.low, found.high], [1 - ratio.high, 1 - ratio.low], rtol=1e-12)
    assert (found.method, found.reason, found.plots, found.reference_plots) == ("Fieller, paired", "", 4, 4)
    assert found.degrees_of_freedom == 3


def test_several_plots_of_a_treatment_in_a_block_count_as_their_mean() -> None:
    twice = drawn("1122", DRIP, RESERVOIR)
    ratio = ratio_of_means([63.0, 67.0], [110.0, 120.0])
    found = less_water(twice, "reservoir", "drip")
    assert_allclose([found.less_water_share, found.low], [1 - ratio.ratio, 1 - ratio.high], rtol=1e-12)


def test_blocks_of_the_same_name_in_two_years_are_two_blocks() -> None:
    table = drawn("1212", DRIP, RESERVOIR)
    table["trial_year"] = np.repeat(["2025", "2026"], 4)
    assert less_water(table, "reservoir", "drip").degrees_of_freedom == 3


def test_plots_without_blocks_are_two_independent_samples() -> None:
    ratio = ratio_of_independent_means(RESERVOIR, DRIP)
    for blocks in ("....", "1111", "123."):
        found = less_water(drawn(blocks, DRIP, RESERVOIR), "reservoir", "drip")
        assert found.method == "Fieller, independent samples"
        assert_allclose([found.low, found.high], [1 - ratio.high, 1 - ratio.low], rtol=1e-12)


def test_a_block_that_lost_a_plot_leaves_two_independent_samples() -> None:
    table = drawn("1234", DRIP, RESERVOIR)
    table.loc["drip-0", "missing"] = True
    found = less_water(table, "reservoir", "drip")
    assert (found.method, found.reference_plots) == ("Fieller, independent samples", 3)


def test_a_shared_meter_gives_a_share_without_interval_and_says_so() -> None:
    table = drawn("1234", DRIP, RESERVOIR)
    table.loc[["drip-0", "drip-2"], "shared_meter"] = True
    found = less_water(table, "reservoir", "drip")
    assert_allclose(found.less_water_share, 1 - 260 / 460, rtol=1e-12)
    assert math.isnan(found.low)
    assert math.isnan(found.high)
    assert found.reason == SHARED_METER


def test_one_plot_only_gives_a_share_without_interval_and_says_so() -> None:
    found = less_water(drawn("1", [100.0], [60.0]), "reservoir", "drip")
    assert_allclose(found.less_water_share, 0.4, rtol=1e-12)
    assert math.isnan(found.low)
    assert found.reason == ONE_PLOT


def test_a_reference_that_may_have_drawn_nothing_gives_no_finite_interval() -> None:
    found = less_water(drawn("1234", [0.0, 0.0, 0.0, 90.0], RESERVOIR), "reservoir", "drip")
    assert math.isnan(found.high)
    assert found.reason == NOT_DIFFERENT_FROM_ZERO
    assert found.reason.startswith("no finite interval")


def test_swapping_the_two_swaps_the_ratio() -> None:
    table = drawn("1234", DRIP, RESERVOIR)
    there, back = less_water(table, "reservoir", "drip"), less_water(table, "drip", "reservoir")
    assert_allclose((1 - there.less_water_share) * (1 - back.less_water_share), 1, rtol=1e-12)
    assert_allclose((1 - there.low) * (1 - back.high), 1, rtol=1e-9)  # Fieller's ends invert as the ratio does


def test_a_treatment_against_itself_draws_no_less() -> None:
    found = less_water(drawn("1234", DRIP, RESERVOIR), "drip", "drip")
    assert (found.less_water_share, found.low, found.high) == (0, 0, 0)


def test_an_unknown_treatment_has_no_water_record() -> None:
    found = less_water(drawn("1234", DRIP, RESERVOIR), "fog net", "drip")
    assert math.isnan(found.less_water_share)
    assert (found.plots, found.reason) == (0, NO_RECORD)


@pytest.mark.parametrize("empty", [bare, records])
def test_empty_tables_work(empty) -> None:
    nothing = plot_ledger(empty("plots"), empty("water"), empty("soil_water"))
    assert len(nothing) == len(treatment_water(nothing)) == 0
    assert len(water_productivities(nothing, measured([], [], []), {})) == 0
    planted = plot_ledger(records("plots", plot("a")), empty("water"), empty("soil_water"))
    assert planted["missing"].all()
    row = treatment_water(planted).loc["drip"]
    assert (row["plots"], row["missing_plots"]) == (0, 1)
    assert less_water(planted, "drip", "drip").reason == NO_RECORD
