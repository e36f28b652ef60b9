"""Fruit masses: the sample that stands for a picking."""

import math

import numpy as np
from numpy.testing import assert_allclose

from field_tables import batch, measured, picking, plot, singles
from plotworth.field.yields import count_mass_variance


def test_batches_give_the_sd_of_a_single_fruit() -> None:
    # by hand: batches of 2 and 4 fruits with means 90 and 120 g: mean 110;
    # s^2 = (2 x 400 + 4 x 100) / 1 = 1200; 12 fruits: 144 x 1200 x 0.5 / 6 = 14400 g^2
    found = measured([plot("a")], [picking("a", 12)], [batch("a", 2, 180), batch("a", 4, 480)]).loc["a"]
    assert_allclose([found["counted_kg"], found["counted_kg_se"]], [1.32, 0.12], rtol=1e-9)


def test_single_fruits_are_batches_of_one() -> None:
    by_singles = measured([plot("a")], [picking("a", 30)], singles("a", 80, 95, 101, 120)).loc["a"]
    s = np.std([80, 95, 101, 120], ddof=1) / 1000
    assert_allclose(by_singles["counted_kg_se"], math.sqrt(count_mass_variance(30, s, 4)), rtol=1e-9)


def test_one_batch_takes_its_sd_from_the_next_wider_sample() -> None:
    # by hand: a weighed 2 fruits together (mean 100); with b's singles of 90 and 110 the treatment that day has
    # s^2 = (2 x 0 + 100 + 100) / 2 = 100; 10 fruits: 100 x 100 x 0.8 / 2 = 4000 g^2
    masses = [batch("a", 2, 200), *singles("b", 90, 110)]
    found = measured([plot("a"), plot("b")], [picking("a", 10), picking("b", 10)], masses).loc["a"]
    assert_allclose(found["counted_kg_se"], math.sqrt(4000) / 1000, rtol=1e-9)


def test_a_single_batch_for_the_whole_crop_leaves_the_error_unknown() -> None:
    found = measured([plot("a")], [picking("a", 10)], [batch("a", 4, 400)]).loc["a"]
    assert_allclose(found["counted_kg"], 1.0, rtol=1e-9)
    assert math.isnan(found["counted_kg_se"])


def test_the_narrowest_sample_wins() -> None:
    # invented: five plots that each find their fruit one step further away
    plots = [
        plot("own"),
        plot("day"),
        plot("season", day=3),
        plot("crop", "hand"),
        plot("other", "hand", crop="chilli"),
    ]
    harvests = [
        picking("own", 1),
        picking("day", 1),
        picking("season", 1, day=9),
        picking("crop", 1),
        picking("other", 1),
    ]
    masses = [*singles("own", 100, 100), *singles("day", 300, day=2), *singles("day", 310, day=2)]
    masses += singles("twin", 200, 200)
    found = measured([*plots, plot("twin")], harvests, masses)["counted_kg"] * 1000
    assert_allclose(found["own"], 100, rtol=1e-9)
    assert_allclose(found["day"], 150, rtol=1e-9)
    assert_allclose(found["season"], (100 * 2 + 200 * 2 + 610) / 6, rtol=1e-9)
    assert_allclose(found["crop"], (100 * 2 + 200 * 2 + 610) / 6, rtol=1e-9)
    assert math.isnan(found["other"])


def test_another_run_of_the_trial_is_not_the_same_season() -> None:
    plots = [plot("a", trial_year="1"), plot("b", trial_year="2"), plot("c", "hand", trial_year="2")]
    masses = [*singles("a", 100, 100), *singles("c", 200, 200)]
    found = measured(plots, [picking("b", 1)], masses).loc["b"]
    assert_allclose(found["counted_kg"], 0.150, rtol=1e-9)  # by hand: b falls back on the whole crop
