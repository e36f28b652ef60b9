"""Rows for charts agree with the appraisal they come from."""

import math
from collections.abc import Mapping
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.chart_rows import (
    cumulative_rows,
    difference_rows,
    mean_rows,
    plot_rows,
    treatment_labels,
    treatment_order,
    water_rows,
)
from trial_case import HARVESTS, PLOTS, trial_case

DEMO = Path(__file__).parent.parent / "data_demo"


def rows_of(appraisal: Appraisal, system: str) -> list[Mapping[str, object]]:
    return [row for row in cumulative_rows(appraisal) if row["system"] == system]


def dear_tank(folder: Path, price: int, discount_rate: float = 0.1) -> Appraisal:
    """Return the plain case with a tank of this price that lasts out the four years: 140 come in each year."""
    lines = (f"tank,,tank,capital,scheme,1,{price},4,,", ",,seed,seasonal,m2,1,0.1,,,")
    return appraise(plain_case(folder, book={"discount_rate": discount_rate}, costs=lines))


def test_cumulative_rows_end_at_the_npv() -> None:
    appraisal = appraise(open_case(DEMO))
    for system, figures in appraisal.systems.items():
        last = rows_of(appraisal, system)[-1]
        assert last["year"] == 10
        assert_allclose(last["cumulative"], figures["npv"], rtol=1e-9)


def test_cumulative_rows_by_hand(tmp_path: Path) -> None:
    rows = rows_of(dear_tank(tmp_path, 300, 0.0), "tank")
    assert [row["cumulative"] for row in rows] == pytest.approx([-300, -160, -20, 120, 260])
    assert [row["deepest"] for row in rows] == [True, False, False, False, False]


def test_the_payback_is_marked_in_the_first_year_that_is_paid_back(tmp_path: Path) -> None:
    """By hand: 20 of year 3's 140 are still wanting at the end of year 2."""
    rows = rows_of(dear_tank(tmp_path, 300, 0.0), "tank")
    assert [row["payback"] for row in rows] == [False, False, False, True, False]
    assert rows[3]["payback_years"] == pytest.approx(2 + 20 / 140)
    assert all("payback_years" not in row for row in rows if not row["payback"])


def test_a_payback_at_the_very_end_of_a_year_is_marked_in_that_year(tmp_path: Path) -> None:
    rows = rows_of(dear_tank(tmp_path, 280, 0.0), "tank")
    assert [row["year"] for row in rows if row["payback"]] == [2]


def test_what_is_never_paid_back_has_no_mark(tmp_path: Path) -> None:
    assert not any(row["payback"] for row in rows_of(dear_tank(tmp_path, 900), "tank"))


def test_what_is_never_short_has_neither_depth_nor_payback(tmp_path: Path) -> None:
    rows = rows_of(appraise(plain_case(tmp_path)), "hand")
    assert not any(row["deepest"] or row["payback"] for row in rows)


def test_the_deepest_year_is_the_lowest_of_all(tmp_path: Path) -> None:
    """Without a harvest each year costs more, so the last is the lowest."""
    appraisal = appraise(plain_case(tmp_path, book={"yield_kg_per_m2/tank/pepper": 0.0}))
    assert [row["year"] for row in rows_of(appraisal, "tank") if row["deepest"]] == [4]


def test_difference_rows_are_one_systems_flow_less_the_others(tmp_path: Path) -> None:
    rows = difference_rows(appraise(plain_case(tmp_path)), "tank", "hand")
    assert [(row["year"], row["flow"]) for row in rows] == [(0, -30), (1, 50), (2, 20), (3, 50), (4, 50)]


def test_treatments_that_measured_a_system_come_first_under_its_label(tmp_path: Path) -> None:
    more = PLOTS + "A1,B1,alder,pepper,2026-02-01,4,12\n"
    picked = HARVESTS + "2026-05-01,A1,,4,\n"
    appraisal = appraise(trial_case(tmp_path, files={"plots.csv": more, "harvests.csv": picked}))
    trial = appraisal.layout.trial
    assert trial is not None
    order = treatment_order(appraisal, trial)
    assert treatment_labels(appraisal, order) == {"tank": "Tank", "hand": "Hand", "alder": "alder"}


def test_plots_and_means_are_those_of_the_trial(tmp_path: Path) -> None:
    """By hand: 3 and 5 kg/m2, mean 4; the hand 1 less where both are, so 3. A plot without pickings stays a gap."""
    lost = HARVESTS.replace("2026-05-01,H2,,16,\n", "")
    trial = appraise(trial_case(tmp_path, files={"harvests.csv": lost})).layout.trial
    assert trial is not None
    labels = {"tank": "Tank", "hand": "Hand"}
    plots = plot_rows(trial, labels)
    assert [(row["label"], row["block"], row["kg_per_m2"]) for row in plots[:3]] == [
        ("Tank", "B1", 3.0),
        ("Tank", "B2", 5.0),
        ("Hand", "B1", 2.0),
    ]
    assert math.isnan(plots[3]["kg_per_m2"])
    tank, hand = mean_rows(trial, labels)
    assert_allclose([tank["mean"], hand["mean"]], [4, 3])
    assert math.isnan(tank["low"])
    assert math.isnan(hand["low"])


def test_the_interval_of_a_mean_lies_about_it(tmp_path: Path) -> None:
    """By hand: 3 and 5 kg/m2 beside 2 and 2: means 4 and 2, half an interval 12.7062 roots of 1/2 (test_measured)."""
    uneven = HARVESTS.replace("H2,,16", "H2,,8")
    trial = appraise(trial_case(tmp_path, files={"harvests.csv": uneven})).layout.trial
    assert trial is not None
    means = mean_rows(trial, {"tank": "Tank", "hand": "Hand"})
    half = 12.7062047362 * math.sqrt(1 / 2)
    expected = [[mean, mean - half, mean + half] for mean in (4, 2)]
    assert_allclose([[row[name] for name in ("mean", "low", "high")] for row in means], expected)


def test_water_rows_hold_one_outcome_of_every_system(tmp_path: Path) -> None:
    rows = water_rows(appraise(trial_case(tmp_path)), "water_l_per_m2")
    assert [(row["label"], row["part"]) for row in rows] == [("Tank", ""), ("Hand", "")]
    assert_allclose([row["litres"] for row in rows], [120, 200])
