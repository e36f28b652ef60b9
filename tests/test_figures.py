"""Figures of a full year: per season, pooled over seasons of the main crop, and differences; by hand."""

import math
from collections.abc import Mapping
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from plain_case import plain_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.figures import MAIN_CROP_FIGURES, NOT_SUBTRACTED
from plotworth.ground.glossary import GLOSSARY

PEPPER_TWICE = ("tank,dry,pepper,2,5,0.6", "tank,wet,pepper,8,4,0.3", "hand,dry,pepper,2,5,1")
TWICE: Mapping[str, float | str | None] = {
    "yield_kg_per_m2/tank/pepper/wet": 6.0,
    "water_applied_l_per_m2": 300.0,
    "water_applied_l_per_m2/tank/pepper/wet": 90.0,
    "delivery_share/tank": 0.75,
    "market_price_per_kg/all/pepper/wet": 0.8,
}


def appraised(folder: Path, **options: object) -> Appraisal:
    return appraise(plain_case(folder, **options))  # type: ignore[arg-type]


def test_kilograms_of_two_seasons_of_the_main_crop_are_added(tmp_path: Path) -> None:
    """By hand: 3 kg/m2 on 60 m2 and 6 kg/m2 on 30 m2."""
    figures = appraised(tmp_path, book=TWICE, seasons=PEPPER_TWICE).systems["tank"]
    assert_allclose([figures[name] for name in ("grown_kg", "marketable_kg", "sold_kg")], [360, 360, 360])


def test_figures_per_m2_of_two_seasons_are_weighted_by_their_ground(tmp_path: Path) -> None:
    """By hand: (60 x 3 + 30 x 6) / 90 = 4 kg/m2; (60 x 300 + 30 x 90) / 90 = 230 l/m2 applied, 4/3 of it drawn."""
    figures = appraised(tmp_path, book=TWICE, seasons=PEPPER_TWICE).systems["tank"]
    assert_allclose(figures["yield_kg_per_m2"], 4)
    assert_allclose(figures["water_applied_l_per_m2"], 230)
    assert_allclose(figures["water_l_per_m2"], 230 / 0.75)
    assert_allclose(figures["farm_gate_price_per_kg"], (60 * 0.5 + 30 * 0.8) / 90)


def test_water_productivity_of_two_seasons_is_kilograms_over_litres_and_no_mean_of_ratios(tmp_path: Path) -> None:
    figures = appraised(tmp_path, book=TWICE, seasons=PEPPER_TWICE).systems["tank"]
    assert_allclose(figures["irrigation_productivity_kg_per_m3"], 1000 * 4 / 230)
    assert_allclose(figures["water_l_per_kg"], 230 / 0.75 / 4)


def test_each_season_keeps_its_own_figures(tmp_path: Path) -> None:
    seasons = appraised(tmp_path, book=TWICE, seasons=PEPPER_TWICE).seasons
    assert list(seasons) == ["tank/dry", "tank/wet", "hand/dry"]
    assert (seasons["tank/wet"]["yield_kg_per_m2"], seasons["tank/wet"]["sold_kg"]) == (6, 180)
    assert set(seasons["tank/wet"]) == set(MAIN_CROP_FIGURES)


def test_water_of_the_year_is_that_of_all_crops_and_kilograms_are_the_main_crops(tmp_path: Path) -> None:
    """By hand: 400 l/m2 drawn on 100 m2 in both seasons; kilograms of different crops are never added."""
    seasons = ("tank,dry,pepper,2,5,1", "tank,wet,bean,8,3,1", "hand,dry,pepper,2,5,1")
    book = {**TWICE, "yield_kg_per_m2/tank/bean": 1.0, "market_price_per_kg/all/bean": 0.8}
    book = {at: value for at, value in book.items() if not at.endswith("/wet")}
    figures = appraised(tmp_path, book=book, seasons=seasons).systems["tank"]
    assert_allclose(figures["water_m3"], 80)
    assert_allclose(figures["sold_kg"], 300)
    assert_allclose(figures["sales"], 300 * 0.5 + 100 * 0.8)


def test_gross_margin_is_by_the_gross_square_metre(tmp_path: Path) -> None:
    """By hand: half of 100 m2 planted at 3 kg/m2 and XTS 0.5 bring 75, less 10 for seed."""
    figures = appraised(tmp_path, book={"planted_share": 0.5, "eaten_share": 0.2}).systems["tank"]
    assert_allclose([figures["sales"], figures["eaten_value"]], [60, 15])
    assert_allclose(figures["gross_margin_per_m2"], 0.65)


@pytest.mark.parametrize("yield_kg_per_m2", [0.0, 3.0])
def test_zero_water_or_zero_yield_leave_gaps_and_no_infinity(tmp_path: Path, yield_kg_per_m2: float) -> None:
    book = {"yield_kg_per_m2/tank/pepper": yield_kg_per_m2, "water_applied_l_per_m2": 0.0}
    figures = appraised(tmp_path, book=book).systems["tank"]
    assert math.isnan(figures["irrigation_productivity_kg_per_m3"])
    assert math.isnan(figures["water_l_per_kg"]) == (yield_kg_per_m2 == 0)
    assert not any(math.isinf(value) for value in figures.values())


def test_a_difference_is_the_system_less_the_reference(tmp_path: Path) -> None:
    """By hand: 240 l/m2 drawn against 300 are a fifth less; 300 kg sold against 200."""
    book = {"water_applied_l_per_m2/tank": 240.0, "water_applied_l_per_m2/hand": 300.0}
    difference = appraised(tmp_path, book=book).against_baseline["tank"]
    assert_allclose(difference["less_water_share"], 0.2)
    assert_allclose([difference["sold_kg"], difference["water_m3"], difference["investment"]], [100, -6, 30])


def test_ratios_are_given_for_systems_and_not_as_differences(tmp_path: Path) -> None:
    appraisal = appraised(tmp_path)
    for name in (*NOT_SUBTRACTED, "cost_per_kg"):
        assert name in appraisal.systems["tank"]
        assert name not in appraisal.against_today["tank"]


def test_a_system_without_the_main_crop_has_gaps_for_it_and_money_all_the_same(tmp_path: Path) -> None:
    seasons = ("tank,dry,bean,2,5,1", "hand,dry,pepper,2,5,1")
    book = {"yield_kg_per_m2/tank/bean": 1.0, "market_price_per_kg/all/bean": 0.8, "yield_kg_per_m2/tank/pepper": None}
    figures = appraised(tmp_path, book=book, seasons=seasons).systems["tank"]
    assert all(math.isnan(figures[name]) for name in MAIN_CROP_FIGURES)
    assert_allclose(figures["sales"], 80)


def test_every_figure_is_a_name_of_the_glossary(tmp_path: Path) -> None:
    appraisal = appraised(tmp_path)
    names = {name for part in ("systems", "against_today") for name in appraisal.part(part)["tank"]}
    assert all(GLOSSARY[name].is_outcome for name in names)
