"""Effective rain of a month by three published rules."""

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from plotworth.supply.rain import (
    DEPENDABLE_BEND_MM,
    EFFECTIVE_RAIN_RULES,
    TRAINING_MANUAL_BEND_MM,
    USDA_BEND_MM,
    dependable_mm,
    monthly_effective_rain,
    training_manual_mm,
    usda_scs_mm,
)

with (Path(__file__).parent / "published" / "supply_rain.csv").open(encoding="utf-8", newline="") as lines:
    ROWS = list(csv.DictReader(lines))
RAIN = st.floats(min_value=0, max_value=1500)


@pytest.mark.published
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_effective_rain_of_the_published_rules(row: dict[str, str]) -> None:
    found = EFFECTIVE_RAIN_RULES[row["rule"]](float(row["rain_mm"]))
    assert_allclose(found, float(row["value"]), rtol=0, atol=0.5 * 10.0 ** -int(row["decimals"]))


@pytest.mark.parametrize(
    ("rule", "bend_mm"),
    [(usda_scs_mm, USDA_BEND_MM), (training_manual_mm, TRAINING_MANUAL_BEND_MM), (dependable_mm, DEPENDABLE_BEND_MM)],
)
def test_each_rule_has_no_step_at_its_bend(rule, bend_mm: float) -> None:
    assert_allclose(rule(np.nextafter(bend_mm, np.inf)), rule(bend_mm))


@pytest.mark.parametrize("name", EFFECTIVE_RAIN_RULES)
@given(one=RAIN, other=RAIN)
def test_more_rain_is_never_less_use_and_use_never_more_than_rain(name: str, one: float, other: float) -> None:
    found = EFFECTIVE_RAIN_RULES[name](np.sort([one, other]))
    assert 0 <= found[0] <= found[1] + 1e-9  # rounding at the bend
    assert found[1] <= max(one, other) * (1 + 1e-12)  # rounding of the rule


def test_little_rain_is_no_use_by_the_two_rules_that_take_a_loss_off() -> None:
    assert training_manual_mm(16.0) == 0
    assert dependable_mm(16.0) == 0
    assert usda_scs_mm(16.0) > 15


def test_rain_not_recorded_stays_missing() -> None:
    for rule in EFFECTIVE_RAIN_RULES.values():
        assert_array_equal(np.isnan(rule([np.nan, 80.0])), [True, False])


def test_days_are_added_up_by_calendar_month() -> None:
    dates = pd.Series(pd.date_range("2026-01-01", "2026-03-31"))
    table = monthly_effective_rain(dates, pd.Series(np.where(dates.dt.day <= 10, 5.0, 0.0)))
    assert_array_equal(table["month"], pd.to_datetime(["2026-01-01", "2026-02-01", "2026-03-01"]))
    assert_array_equal(table["days"], [31, 28, 31])
    assert_array_equal(table["days_recorded"], [31, 28, 31])
    assert_allclose(table["rain_mm"], 50.0)
    assert_allclose(table[["usda_scs_mm", "fao_training_manual_3_mm", "fao_dependable_mm"]], [[46.0, 20.0, 20.0]] * 3)


def test_a_month_with_a_day_not_recorded_has_no_monthly_total_to_judge() -> None:
    dates = pd.Series(pd.date_range("2026-01-20", "2026-02-28"))
    rain = pd.Series(np.full(len(dates), 4.0)).where(dates != pd.Timestamp("2026-02-10"))
    table = monthly_effective_rain(dates, rain)
    assert_array_equal(table["days_recorded"], [12, 27])
    assert_allclose(table["rain_mm"], [48.0, 108.0])
    assert table["usda_scs_mm"].isna().all()


def test_no_days_make_an_empty_table() -> None:
    table = monthly_effective_rain(pd.Series([], dtype="datetime64[ns]"), pd.Series([], dtype=np.float64))
    assert table.empty
    assert list(table)[:4] == ["month", "days", "days_recorded", "rain_mm"]
