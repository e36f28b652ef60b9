"""Pickings summed to season totals, with the early yield beside them."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from field_tables import bare, picking, plot, records
from plotworth.field.season_totals import first_picking_days, harvests_until, season_totals
from plotworth.field.yields import plot_yields

# invented: net areas of 2 m2; "late" is first picked on the third day, "never" not at all
PLOTS = records("plots", plot("early"), plot("late", "wick"), plot("never", "wick"), plot("bare", "drip"))
HARVESTS = records(
    "harvests",
    picking("early", kg=1.0, day=1),
    picking("early", kg=2.0, day=8),
    picking("early", kg=3.0, day=15),
    picking("late", kg=4.0, day=15),
    picking("bare", kg=0.0, day=1),
)


def _totals(early: pd.DataFrame) -> pd.DataFrame:
    return season_totals(PLOTS, HARVESTS, bare("fruit_masses"), early=early, yield_from="weighed")


def test_pickings_of_a_plot_are_one_total() -> None:
    totals = _totals(HARVESTS)
    # kg over 2 m2
    assert_allclose(totals["yield_kg_per_m2"], [3.0, 2.0, np.nan, 0.0], rtol=1e-9)
    assert_allclose(totals["early_kg_per_m2"], [3.0, 2.0, np.nan, 0.0], rtol=1e-9)
    assert_allclose(totals["early_share"], [1.0, 1.0, np.nan, np.nan], rtol=1e-9)


def test_early_means_up_to_a_day_and_a_late_plot_had_nothing_yet() -> None:
    totals = _totals(harvests_until(HARVESTS, pd.Timestamp("2026-05-08")))
    assert_allclose(totals["early_kg_per_m2"], [1.5, 0.0, np.nan, 0.0], rtol=1e-9)
    assert_allclose(totals["early_share"], [0.5, 0.0, np.nan, np.nan], rtol=1e-9)


@pytest.mark.parametrize(("days", "want"), [(1, [0.5, 0.0]), (2, [1.5, 0.0]), (3, [3.0, 2.0]), (9, [3.0, 2.0])])
def test_first_picking_days_are_days_of_the_trial_and_not_of_each_plot(days: int, want: list[float]) -> None:
    totals = _totals(first_picking_days(HARVESTS, days=days))
    assert_allclose(totals["early_kg_per_m2"][:2], want, rtol=1e-9)


def test_totals_are_those_of_the_plots() -> None:
    columns = plot_yields(PLOTS, HARVESTS, bare("fruit_masses"), yield_from="weighed")
    pd.testing.assert_frame_equal(_totals(HARVESTS)[columns.columns], columns)


def test_without_any_early_picking_all_that_was_picked_came_later() -> None:
    totals = _totals(HARVESTS.iloc[:0])
    assert_allclose(totals["early_kg_per_m2"], [0.0, 0.0, np.nan, 0.0], rtol=1e-9)
