"""The water charts take rows and name them; words are made from the same rows. All rows: invented for these tests."""

import itertools
import json
from typing import Any

import pytest

from plotworth.show import water_captions as captions
from plotworth.show import water_charts as charts

DAY_MS = 86_400_000


def week(number: int, taken: float, **parts: float) -> dict[str, Any]:
    covers = dict.fromkeys(charts.COVERS, 0.0) | parts
    return {"system": "wick", "label": "Wick", "week": number, "first_day": f"day {7 * number}", "days": 7,
            "from_ms": 7 * DAY_MS * (number - 1), "to_ms": 7 * DAY_MS * number, "taken_mm": taken, "source": "wick",
            **covers}  # fmt: skip


WEEKS = [week(1, 14.0, rain_mm=4.0, watering_mm=10.0), week(2, 42.0, watering_mm=21.0, soil_mm=7.0, short_mm=14.0)]
LEVELS = [
    {"at_ms": 0, "date": "1 May 2026", "when": "start", "litres": 60.0},
    {"at_ms": DAY_MS, "date": "1 May 2026", "when": "evening", "litres": 11.0},
    {"at_ms": DAY_MS, "date": "2 May 2026", "when": "before filling", "litres": 11.0},
    {"at_ms": DAY_MS, "date": "2 May 2026", "when": "after filling", "litres": 60.0},
]
REFILLS = [{"at_ms": DAY_MS, "date": "2 May 2026", "litres": 60.0, "carried_l": 49.0}]
SHORT = [{"from_ms": 0, "to_ms": DAY_MS, "first_day": "1 May 2026", "days": 1, "short_l": 2.0}]
TOTALS = {"capacity_l": 60.0, "refills": 1.0, "carried_l": 49.0, "empty_days": 0.0, "short_days": 1.0,
          "short_days_with_water": 1.0}  # fmt: skip


def part(place: int, side: str, name: str, litres: float, *, plants: bool = False) -> dict[str, Any]:
    return {"system": "drip", "label": "Drip", "place": place, "side": side, "part": name, "litres": litres,
            "through_plants": plants}  # fmt: skip


LEDGER = [
    part(0, "in", "Given", 400.0),
    part(1, "in", "Rain", 100.0),
    part(2, "out", "Through the plants", 350.0, plants=True),
    part(3, "out", "Lost", 150.0),
]
LIFTING = [
    {"system": "drip", "label": "Drip", "water_m3": 200.0, "carrying_h": 0.0, "energy_kwh": 60.0},
    {"system": "hand", "label": "Hand", "water_m3": 180.0, "carrying_h": 1900.0, "energy_kwh": 0.0},
    {"system": "wick", "label": "Wick", "water_m3": 130.0, "carrying_h": 1400.0, "energy_kwh": 0.0},
]
YEARS = [
    {"system": system, "label": label, "year": year, "litres": litres, "taken": 600.0, "rain": 50.0, "applied": litres}
    for system, label, values in (("drip", "Drip", (700.0, 820.0)), ("wick", "Wick", (450.0, 500.0)))
    for year, litres in zip((2025, 2026), values, strict=True)
]
SYSTEMS = ["drip", "hand", "wick"]
MADE = [
    (charts.requirement_chart(), charts.requirement_data(WEEKS, reach=8.0)),
    (charts.level_chart(), charts.level_data(LEVELS, REFILLS, SHORT, 60.0)),
    (charts.ledger_chart(len(LEDGER)), charts.ledger_data(LEDGER, reach=900.0)),
    (
        charts.lifting_chart(SYSTEMS, "carrying_h", heading="Carrying", unit="h", name="carrying"),
        charts.lifting_data(LIFTING, "carrying_h", unit="h", name="carrying"),
    ),
    (charts.years_chart(["drip", "wick"]), charts.years_data(YEARS)),
]


def named(spec: dict[str, Any]) -> set[str]:
    inner = [named(layer) for layer in spec.get("layer", [])]
    return set().union(*inner, [spec["data"]["name"]] if "name" in spec.get("data", {}) else [])


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_draws_exactly_the_data_sets_laid_out_for_it(chart: Any, data: charts.Datasets) -> None:
    assert named(chart.to_dict()) == set(data) - ({"requirement"} & set(data))  # its weeks are there for the table


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_the_table_of_a_chart_names_columns_that_its_rows_have(chart: Any, data: charts.Datasets) -> None:
    for table in chart.to_dict()["usermeta"]["plotworth"]["tables"]:
        assert {key for key, _ in table["columns"]} <= set(data[table["name"]][0])


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_fills_its_place_at_a_fixed_height_and_has_one_axis_each_way(chart: Any, data: charts.Datasets) -> None:
    spec = chart.to_dict()
    assert data
    assert spec["width"] == "container"
    assert isinstance(spec["height"], int)
    assert "resolve" not in spec


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_an_axis_has_its_unit(chart: Any, data: charts.Datasets) -> None:
    assert data
    assert any(unit in json.dumps(chart.to_dict(), ensure_ascii=False) for unit in ("[L/m²", "[L]", "[h a year]"))


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_moments_are_numbers_for_rows_pushed_later_are_not_read_as_dates(chart: Any, data: charts.Datasets) -> None:
    assert chart
    moments = [row[key] for rows in data.values() for row in rows for key in row if key.endswith("_ms")]
    assert all(isinstance(moment, int) for moment in moments)


def test_the_parts_of_a_week_stand_on_one_another_up_to_what_the_crop_takes_a_day() -> None:
    """42 mm in 7 days are 6 a day; 21 of the wick 3, 7 of the soil 1 more, 14 short 2 more."""
    second = [row for row in MADE[0][1]["requirement_parts"] if row["from_ms"] > 0]
    assert [(row["low"], row["high"]) for row in second] == [(0.0, 0.0), (0.0, 3.0), (3.0, 4.0), (4.0, 6.0)]


def test_charts_of_several_systems_share_their_scale() -> None:
    assert charts.requirement_reach([*WEEKS, week(3, 56.0)]) == 8.0  # 56 / 7
    assert charts.ledger_reach([*LEDGER, {**LEDGER[0], "system": "hand", "litres": 900.0}]) == 900.0
    assert charts.requirement_reach([]) == charts.ledger_reach([]) == 0.0


def test_the_stair_of_a_ledger_comes_back_to_nothing() -> None:
    stairs = MADE[2][1]["ledger"]
    assert [(row["from"], row["to"]) for row in stairs] == [(0.0, 400.0), (400.0, 500.0), (500.0, 150.0), (150.0, 0.0)]
    assert all(one["to"] == other["from"] for one, other in itertools.pairwise(stairs))
    assert [row["kind"] for row in stairs] == ["in", "in", "plants", "out"]
    assert plain(stairs[3]["text"]) == "Out: lost, 150 L/m²"


def test_the_words_of_the_calendar_say_what_covers_and_what_is_short() -> None:
    """Of 56: 4 of rain are 7.1 %, 31 of the wick 55 %, 7 of the soil 12.5 %, 14 short 25 %."""
    assert plain(captions.requirement_title(WEEKS)) == (
        "Wick: of 56 L/m² that the crop takes, rain 7.1 %, wick 55 % and the soil's store 12 %; 25 % is short"
    )
    text = plain(captions.requirement_text(WEEKS))
    assert "Most in week 2, from day 14: 6 L/m² a day. Short in 1 week, most in week 2." in text
    assert "Short in" not in captions.requirement_text(WEEKS[:1])
    assert "is short" not in captions.requirement_title(WEEKS[:1])


def test_the_words_of_the_tank_count_fillings_and_short_days() -> None:
    assert plain(captions.level_title("Wick", TOTALS)) == (
        "Wick, one tank of 60 L: filled once with 49 L, its plants short on 1 day, "
        "all of them with water left in the tank"
    )
    text = plain(captions.level_text("Wick", LEVELS, SHORT, TOTALS))
    assert "lowest on 1 May 2026 at 11 L. Plants are short for 1 day from 1 May 2026." in text
    met = {**TOTALS, "short_days": 0.0, "short_days_with_water": 0.0}
    assert captions.level_title("Wick", met).endswith("its plants never short")
    assert captions.level_text("Wick", LEVELS, [], met).endswith("Plants are never short.")


@pytest.mark.parametrize(("with_water", "words"), [(0.0, "none of them"), (4.0, "4 of them"), (9.0, "all of them")])
def test_a_wick_that_is_too_slow_is_told_from_a_tank_that_is_empty(with_water: float, words: str) -> None:
    totals = {**TOTALS, "short_days": 9.0, "short_days_with_water": with_water}
    assert f"short on 9 days, {words} with water left" in captions.level_title("Wick", totals)


def test_the_words_of_the_ledger_hold_every_part() -> None:
    assert plain(captions.ledger_title(LEDGER)) == (
        "Drip: of 500 L/m² that come in, 350 L/m² go through the plants, 70 %"
    )
    assert captions.ledger_text(LEDGER).count("L/m²") == len(LEDGER)


def test_the_words_of_lifting_name_who_carries_most_and_who_not_at_all() -> None:
    title = captions.lifting_title(LIFTING, "carrying_h", heading="Carrying", unit="h")
    assert plain(title) == "Carrying, most: Hand, 1 900 h a year; none: Drip"
    some = captions.lifting_title(LIFTING[1:], "carrying_h", heading="Carrying", unit="h")
    assert plain(some) == "Carrying, most: Hand, 1 900 h a year; least: Wick, 1 400 h"
    none = captions.lifting_title(LIFTING[1:], "energy_kwh", heading="Pumping", unit="kWh")
    assert none == "Pumping: none in any system"
    assert captions.lifting_text(LIFTING, "carrying_h", heading="Carrying", unit="h").count("m³") == len(LIFTING)


def test_one_year_of_weather_is_said_to_be_one() -> None:
    one = [row for row in YEARS if row["year"] == 2026]
    assert captions.years_title(one).startswith("One year of weather, 2026: ")
    assert plain(charts.years_data(one)["years_heads"][0]["text"]) == "Drip: 820 L/m², one year"


def test_several_years_are_told_from_least_to_most() -> None:
    title = plain(captions.years_title(YEARS))
    assert title == "Required in 2 years of weather: Drip 700 to 820 L/m² and Wick 450 to 500 L/m²"
    assert charts.years_data(YEARS)["years_heads"][1]["text"] == "Wick: mean 475, 450 to 500 L/m²"
    assert captions.years_text(YEARS).count("L/m²") == len(YEARS)
