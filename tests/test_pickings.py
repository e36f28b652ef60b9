"""Pickings: kilograms by count and on the scale, and how the counted ones err."""

import math

import numpy as np
from numpy.testing import assert_allclose
from scipy.stats import t

from field_tables import NAN, batch, measured, picking, plot, singles
from plotworth.field.yields import count_mass_variance, treatment_yields


def test_a_counted_picking_errs_by_the_fruit_that_was_not_weighed() -> None:
    # by hand: 10 fruits, 4 weighed: 90, 100, 100, 110 g: mean 100, s^2 = 200/3; 100 x 200/3 x 0.6 / 4 = 1000 g^2
    found = measured([plot("a")], [picking("a", 10)], singles("a", 90, 100, 100, 110)).loc["a"]
    assert_allclose(found["counted_kg"], 1.0, rtol=1e-9)
    assert_allclose(found["counted_kg_se"], math.sqrt(1000) / 1000, rtol=1e-9)
    assert_allclose(count_mass_variance(10, math.sqrt(200 / 3), 4), 1000, rtol=1e-9)


def test_the_error_goes_to_zero_when_all_fruit_is_weighed() -> None:
    assert_allclose(count_mass_variance([4, 4, 4], [9, NAN, 9], [4, 4, 7]), 0, atol=0)
    found = measured([plot("a")], [picking("a", 2)], singles("a", 90, 110)).loc["a"]
    assert found["counted_kg_se"] == 0
    one_batch = measured([plot("a")], [picking("a", 20)], [batch("a", 20, 2000)]).loc["a"]
    assert one_batch["counted_kg_se"] == 0


def test_nothing_weighed_leaves_the_error_unknown_but_for_no_fruit() -> None:
    found = count_mass_variance([5, 0], NAN, 0)
    assert math.isnan(found[0])
    assert found[1] == 0


def test_a_borrowed_mean_errs_also_by_the_plots_own_fruit() -> None:
    # by hand: b picks 3 and borrows a's 90 and 110 g (s^2 = 200): 9 x 200 / 2 + 3 x 200 = 1500 g^2;
    # picked on two days with 3 fruits each, the shared part adds before squaring: 36 x 100 + 6 x 200 = 4800 g^2
    masses = singles("a", 90, 110)
    once = measured([plot("a"), plot("b")], [picking("b", 3)], masses).loc["b"]
    twice = measured([plot("a"), plot("b")], [picking("b", 3, day=2), picking("b", 3, day=3)], masses).loc["b"]
    assert_allclose(once["counted_kg_se"], math.sqrt(1500) / 1000, rtol=1e-9)
    assert_allclose(twice["counted_kg_se"], math.sqrt(4800) / 1000, rtol=1e-9)


def test_no_fruit_is_zero_kilograms_even_where_nothing_was_weighed() -> None:
    found = measured([plot("a")], [picking("a", 0)], []).loc["a"]
    assert (found["counted_kg"], found["counted_kg_se"], found["weighed_kg"]) == (0, 0, 0)


def test_a_blank_count_takes_the_weighed_kilograms_and_leaves_the_fruits_unknown() -> None:
    found = measured([plot("a")], [picking("a", 10), picking("a", NAN, 2.5, day=2)], singles("a", 100, 100)).loc["a"]
    assert_allclose([found["yield_kg"], found["counted_kg"]], 3.5, rtol=1e-9)  # by hand: 10 x 0.1 + 2.5
    assert math.isnan(found["marketable_fruits"])
    assert math.isnan(found["weighed_kg"])


def test_weighed_yields_take_the_count_where_a_picking_was_not_weighed() -> None:
    harvests = [picking("a", 10, 1.2), picking("a", 5, day=2), picking("a", 0, day=3)]
    found = measured([plot("a")], harvests, singles("a", 100, 100), "weighed").loc["a"]
    assert_allclose(found["yield_kg"], 1.7, rtol=1e-9)  # by hand: 1.2 + 5 x 0.1 + 0
    assert math.isnan(found["weighed_kg"])


def test_culls_are_weighed_kilograms_or_counted_ones_times_the_mean_mass() -> None:
    # by hand: culls 0.5 kg + 3 x 0.1 kg beside 1 + 2 kg; the third picking says nothing about culls
    harvests = [picking("a", 10, cull_kg=0.5), picking("a", 20, day=2, cull_fruits=3), picking("a", 40, day=3)]
    found = measured([plot("a")], harvests, singles("a", 100, 100))
    assert_allclose(found.loc["a", ["cull_kg", "cull_paired_kg", "yield_kg"]].astype(float), [0.8, 3, 7], rtol=1e-9)
    assert_allclose(treatment_yields(found).loc["drip", "cull_share"], 0.8 / 3.8, rtol=1e-9)


def test_a_plot_that_lends_its_own_sample_errs_together_with_the_borrower() -> None:
    # by hand: a weighed 90 and 110 g itself, b borrows them: covariance 50 x 50 x 100 g^2 = 0.25 (kg/m2)^2
    found = measured([plot("a"), plot("b")], [picking("a", 100), picking("b", 100)], singles("a", 90, 110))
    assert_allclose(found["shared_mass_covariance"], 0.25, rtol=1e-9)


def test_the_error_of_a_counted_picking_is_honest() -> None:
    # simulation, seed fixed: 600 plots of 60 fruits, 15 weighed at random; t on 14 degrees of freedom
    rng = np.random.default_rng(20260502)
    fruits = rng.gamma(16, 5, (600, 60))
    names = [f"p{number}" for number in range(600)]
    masses = [row for name, grams in zip(names, fruits, strict=True) for row in singles(name, *grams[:15])]
    found = measured([plot(name) for name in names], [picking(name, 60) for name in names], masses)
    error = (found["counted_kg"].to_numpy() - fruits.sum(axis=1) / 1000) / found["counted_kg_se"].to_numpy()
    assert 0.93 <= np.mean(np.abs(error) < t.ppf(0.975, 14)) <= 0.97
    assert 0.93 <= np.std(error) / math.sqrt(14 / 12) <= 1.07
