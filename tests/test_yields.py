"""Yields: counts x mean mass, weighed kilograms, plot and treatment means."""

import math

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import t

from field_tables import NAN, bare, measured, picking, plot, published, records, reference, singles
from plotworth.field.yields import (
    goodman_variance,
    plot_yields,
    standing_forecast,
    treatment_yields,
)
from plotworth.ground.errors import PlotworthError

SITES = ["DBAN", "LFAN", "NSAN", "ORAN", "OVAN", "TEAN", "WEAN", "WLAN"]


# --- published -----------------------------------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize("site", SITES)
def test_goodman_variance_of_ears_times_weight_per_ear(site: str) -> None:
    plots = published("antigua_corn").dropna()
    plots = plots[(plots["site"] == site) & (plots["ears"] > 0)]
    ears, weight = plots["ears"], plots["harvwt"] / plots["ears"]
    expected = reference("antigua_corn", site)
    n = expected["product_n"]
    found = goodman_variance(ears.mean(), ears.var() / n, weight.mean(), weight.var() / n)
    assert_allclose(found, expected["var_goodman_unbiased_indep"], rtol=1e-9)


@pytest.mark.published
def test_tomato_plots_in_pounds_become_kilograms_per_square_metre() -> None:
    expected, field = reference("tomato_uniformity", "all"), published("tomato_uniformity")
    names = field["row"].astype(str) + "-" + field["col"].astype(str)
    plots = [plot(name, "all", net_area_m2=expected["plot_area_m2"]) for name in names]
    kilograms = field["yield"] * expected["unit_to_kg"]
    harvests = [picking(name, kg=kg) for name, kg in zip(names, kilograms, strict=True)]
    found = treatment_yields(measured(plots, harvests, [], "weighed")).loc["all"]
    ends = [
        "yield_kg_per_m2",
        "yield_sd_kg_per_m2",
        "yield_se_kg_per_m2",
        "yield_low_kg_per_m2",
        "yield_high_kg_per_m2",
    ]
    outside = ["mean_kg_m2", "sd_kg_m2", "se_kg_m2", "ci95_low_kg_m2", "ci95_high_kg_m2"]
    assert found["plots"] == expected["n"]
    assert_allclose(found[ends].astype(float), [expected[name] for name in outside], rtol=1e-9)


def test_three_hundred_small_tomatoes_of_35_g_are_ten_and_a_half_kilograms() -> None:
    # common practice, no source: about 300 small tomatoes per m2 at about 35 g each is 10.5 kg/m2
    found = measured([plot("a", net_area_m2=1.0)], [picking("a", 300)], singles("a", 35, 35)).loc["a"]
    assert_allclose([found["yield_kg_per_m2"], found["fruits_per_m2"]], [10.5, 300], rtol=1e-9)


# --- by hand -------------------------------------------------------------------------------------


def test_the_error_of_a_shared_mean_mass_is_added_once() -> None:
    # by hand: a and b (2 m2) pick 100 fruits each, c 130; all borrow d's 90 and 110 g (s^2/n = 100 g^2, mean 100 g).
    # yields 5, 5, 6.5 kg/m2; per m2 50, 50, 65 fruits; mean covariance of two plots
    # = 100 g^2 x (50x50 + 50x65 + 50x65) / 3 = 300000 g^2 = 0.3 (kg/m2)^2
    plots = [plot("a"), plot("b"), plot("c"), plot("d", "drip")]
    harvests = [picking("a", 100), picking("b", 100), picking("c", 130)]
    found = treatment_yields(measured(plots, harvests, singles("d", 90, 110))).loc["drip"]
    assert_allclose(found["yield_sd_kg_per_m2"], math.sqrt(0.75), rtol=1e-9)
    assert_allclose(found["weighing_se_kg_per_m2"], math.sqrt(0.3), rtol=1e-9)
    assert_allclose(found["yield_se_kg_per_m2"], math.sqrt(0.75 / 3 + 0.3), rtol=1e-9)
    half = t.ppf(0.975, 2) * math.sqrt(0.55)
    assert_allclose(found[["yield_low_kg_per_m2", "yield_high_kg_per_m2"]].astype(float), [5.5 - half, 5.5 + half])


def test_own_samples_add_nothing_to_the_spread_between_plots() -> None:
    masses = [*singles("a", 90, 110), *singles("b", 80, 130)]
    found = treatment_yields(measured([plot("a"), plot("b")], [picking("a", 50), picking("b", 60)], masses)).loc["drip"]
    assert found["weighing_se_kg_per_m2"] == 0
    assert_allclose(found["yield_se_kg_per_m2"], found["yield_sd_kg_per_m2"] / math.sqrt(2), rtol=1e-9)


def test_weighed_yields_carry_no_error_of_the_mean_mass() -> None:
    harvests = [picking("a", 100, 9.0), picking("b", 100, 11.0)]
    found = treatment_yields(measured([plot("a"), plot("b")], harvests, singles("a", 90, 110), "weighed")).loc["drip"]
    assert_allclose(found["yield_kg_per_m2"], 5.0, rtol=1e-9)
    assert found["weighing_se_kg_per_m2"] == 0


def test_a_plot_without_a_harvest_row_is_missing_and_a_picked_plot_without_fruit_is_zero() -> None:
    plots = [plot("a"), plot("gone"), plot("zero")]
    found = measured(plots, [picking("a", 20), picking("zero", 0)], singles("a", 100, 100))
    assert list(found["missing"]) == [False, True, False]
    assert math.isnan(found.loc["gone", "yield_kg_per_m2"])
    assert found.loc["gone", "pickings"] == 0
    assert found.loc["zero", "yield_kg_per_m2"] == 0
    assert found.loc["zero", "counted_kg_se"] == 0
    row = treatment_yields(found).loc["drip"]
    assert (row["plots"], row["missing_plots"]) == (2, 1)
    assert_allclose(row["yield_kg_per_m2"], 0.5, rtol=1e-9)  # by hand: (1 + 0) / 2


def test_a_count_without_any_weighed_fruit_has_no_yield_by_counts() -> None:
    found = measured([plot("a")], [picking("a", 10, 1.0)], [])
    assert math.isnan(found.loc["a", "yield_kg"])
    assert_allclose(found.loc["a", "weighed_kg"], 1.0, rtol=1e-9)
    row = treatment_yields(found).loc["drip"]
    assert (row["plots"], row["missing_plots"]) == (0, 1)


def test_counted_and_weighed_kilograms_are_set_side_by_side_over_the_pickings_that_have_both() -> None:
    harvests = [picking("a", 10, 0.8), picking("a", 10, day=2), picking("a", NAN, 3.0, day=3)]
    found = measured([plot("a")], harvests, singles("a", 100, 100))
    assert_allclose(found.loc["a", ["paired_counted_kg", "paired_weighed_kg"]].astype(float), [1.0, 0.8], rtol=1e-9)
    assert_allclose(treatment_yields(found).loc["drip", "disagreement_share"], 0.25, rtol=1e-9)  # by hand: 1/0.8 - 1


def test_culls_never_recorded_are_unknown_and_recorded_zeros_are_zero() -> None:
    masses = singles("a", 100, 100)
    blank = treatment_yields(measured([plot("a")], [picking("a", 10)], masses)).loc["drip"]
    zero = treatment_yields(measured([plot("a")], [picking("a", 10, cull_fruits=0)], masses)).loc["drip"]
    assert math.isnan(blank["cull_share"])
    assert zero["cull_share"] == 0


def test_dead_plants_leave_the_headline_alone_and_stand_beside_it() -> None:
    # by hand: 12 kg from 6 plants set on 2 m2, of which 4 lived to the last count
    harvests = [
        picking("a", kg=8.0, plants_alive=5),
        picking("a", kg=4.0, day=2, plants_alive=4),
        picking("a", 0, day=3),
    ]
    found = measured([plot("a")], harvests, []).loc["a"]
    names = ["yield_kg_per_m2", "kg_per_plant", "plants_alive", "kg_per_surviving_plant"]
    assert_allclose(found[names].astype(float), [6, 2, 4, 3], rtol=1e-9)


def test_no_plant_alive_or_none_counted_gives_no_yield_per_surviving_plant() -> None:
    found = measured([plot("a", plants=NAN), plot("b")], [picking("a", kg=8, plants_alive=0), picking("b", kg=8)], [])
    assert found["kg_per_surviving_plant"].isna().all()
    assert math.isnan(found.loc["a", "kg_per_plant"])


def test_fruit_mass_and_fruits_give_back_the_yield() -> None:
    harvests = [picking("a", 30), picking("b", 50)]
    row = treatment_yields(measured([plot("a"), plot("b")], harvests, [*singles("a", 100, 120), *singles("b", 80, 90)]))
    row = row.loc["drip"]
    assert_allclose(row["fruits_per_m2"] * row["fruit_mass_g"] / 1000, row["yield_kg_per_m2"], rtol=1e-12)


def test_one_plot_has_a_mean_and_nothing_else() -> None:
    row = treatment_yields(measured([plot("a")], [picking("a", kg=8)], [])).loc["drip"]
    assert row["yield_kg_per_m2"] == 4
    spread = ["yield_sd_kg_per_m2", "yield_se_kg_per_m2", "yield_low_kg_per_m2", "yield_high_kg_per_m2"]
    assert row[spread].isna().all()


def test_kilograms_of_two_crops_are_never_averaged() -> None:
    found = measured([plot("a"), plot("b", crop="chilli")], [picking("a", kg=1), picking("b", kg=1)], [])
    with pytest.raises(PlotworthError, match=r"'drip' holds several crops \(chilli, pepper\)"):
        treatment_yields(found)


def test_harvests_of_plots_that_are_not_asked_for_are_left_out() -> None:
    found = measured([plot("b")], [picking("a", 10), picking("b", 10)], [*singles("a", 1, 1), *singles("b", 100, 100)])
    assert_allclose(found["yield_kg"], 1.0, rtol=1e-9)


def test_a_misspelt_choice_of_yield_is_refused() -> None:
    with pytest.raises(ValueError, match="found 'weight'"):
        measured([plot("a")], [], [], "weight")


@pytest.mark.parametrize("empty", [bare, records])
def test_empty_tables_work(empty) -> None:
    nothing = plot_yields(empty("plots"), empty("harvests"), empty("fruit_masses"), yield_from="counts")
    assert len(nothing) == 0
    assert len(treatment_yields(nothing)) == 0
    planted = records("plots", plot("a"))
    assert plot_yields(planted, empty("harvests"), empty("fruit_masses"), yield_from="counts")["missing"].all()
    found = plot_yields(planted, records("harvests", picking("a", 3, 4.0)), empty("fruit_masses"), yield_from="weighed")
    assert_allclose(found["yield_kg_per_m2"], 2.0, rtol=1e-9)
    assert len(standing_forecast(planted, empty("standing_fruits"), empty("harvests"), empty("fruit_masses"))) == 0


# --- fruit on the plants -------------------------------------------------------------------------


def forecast(counts: list, harvests: list, masses: list) -> pd.DataFrame:
    plots = records("plots", plot("a"), plot("b"))
    tables = records("standing_fruits", *counts), records("harvests", *harvests), records("fruit_masses", *masses)
    return standing_forecast(plots, *tables).set_index("plot")


def test_the_last_count_on_the_plants_is_a_forecast() -> None:
    counts = [picking("a", day=5) | {"fruits": 40}, picking("a", day=8) | {"fruits": 30}]
    found = forecast(counts, [picking("a", 10, day=8)], singles("a", 100, 100)).loc["a"]
    assert_allclose([found["standing_kg"], found["standing_kg_per_m2"]], [3.0, 1.5], rtol=1e-9)  # by hand: 30 x 0.1 / 2


def test_fruit_counted_before_a_later_picking_is_not_forecast_again() -> None:
    found = forecast(
        [{"plot": "a", "date": "2026-05-05", "fruits": 40}], [picking("a", 10, day=8)], singles("a", 100, 90)
    )
    assert found.loc["a", "pickings_since"] == 1
    assert math.isnan(found.loc["a", "standing_kg_per_m2"])


def test_fruit_on_the_plants_never_enters_the_yield() -> None:
    plots, harvests = records("plots", plot("a")), records("harvests", picking("a", 10))
    masses = records("fruit_masses", *singles("a", 100, 100))
    assert_allclose(plot_yields(plots, harvests, masses, yield_from="counts")["yield_kg"], 1.0, rtol=1e-9)
    counts = records("standing_fruits", {"plot": "a", "date": "2026-05-01", "fruits": 99})
    assert_allclose(standing_forecast(plots, counts, harvests, masses)["standing_kg"], 9.9, rtol=1e-9)


# --- simulation ----------------------------------------------------------------------------------


def test_the_standard_error_of_a_treatment_that_shares_its_weighed_fruit_is_honest() -> None:
    # simulation, seed fixed: 300 treatments of 4 plots with 50-150 fruits each, 8 fruits of the first plot weighed
    rng = np.random.default_rng(20260503)
    treatments, counts = [f"t{number}" for number in range(300)], rng.integers(50, 151, (300, 4))
    plots = [plot(f"{name}-{row}", name) for name in treatments for row in range(4)]
    harvests = [picking(f"{name}-{row}", counts[i, row]) for i, name in enumerate(treatments) for row in range(4)]
    masses = [row for name in treatments for row in singles(f"{name}-0", *rng.gamma(4, 25, 8))]
    found = treatment_yields(measured(plots, harvests, masses))
    spread = found["yield_kg_per_m2"].var()
    assert 0.85 <= (found["yield_se_kg_per_m2"] ** 2).mean() / spread <= 1.15
    assert (found["yield_sd_kg_per_m2"] ** 2 / 4).mean() / spread < 0.6
