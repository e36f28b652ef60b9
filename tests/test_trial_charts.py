"""The trial's charts take rows and name them; words are made from the same rows. All rows: invented for these tests."""

import json
import math
from typing import Any

import pytest

from plotworth.show import trial_captions as captions
from plotworth.show import trial_charts as charts
from plotworth.show import trial_season_charts as season

DAY_MS = 86_400_000
NAN = math.nan
LABELS = {"tank": "Tank", "hand": "Hand"}


def dot(treatment: str, block: str, value: float, *, out: bool = False) -> dict[str, Any]:
    return {"treatment": treatment, "label": LABELS[treatment], "block": block, "plot": f"{treatment}{block}",
            "value": value, "left_out": out}  # fmt: skip


def mean(treatment: str, value: float, low: float = NAN, high: float = NAN) -> dict[str, Any]:
    return {"treatment": treatment, "label": LABELS[treatment], "mean": value, "low": low, "high": high, "plots": 2}


def ratio(outcome: str, value: float, low: float = NAN, high: float = NAN, gain: float = NAN) -> dict[str, Any]:
    return {"key": f"{outcome}/tank", "treatment": "tank", "label": "Tank", "outcome": outcome, "ratio": value,
            "low": low, "high": high, "worth_from": 1 - gain, "worth_to": 1 + gain,
            "reason": "" if low == low else "no finite interval"}  # fmt: skip


def sums(treatment: str, plot: str, *values: float) -> list[dict[str, Any]]:
    return [{"treatment": treatment, "label": LABELS[treatment], "plot": plot, "at_ms": day * DAY_MS,
             "date": f"{day} May 2026", "kg_per_m2": value} for day, value in enumerate(values, start=1)]  # fmt: skip


def fruit(treatment: str, day: int, value: float, low: float = NAN, high: float = NAN) -> dict[str, Any]:
    return {"treatment": treatment, "label": LABELS[treatment], "at_ms": day * DAY_MS, "date": f"{day} May 2026",
            "mean": value, "low": low, "high": high, "plots": 2, "fruits": 8}  # fmt: skip


def per(treatment: str, denominator: str, value: float, reason: str = "") -> dict[str, Any]:
    return {"treatment": treatment, "label": LABELS[treatment], "per": denominator, "kg_per_m3": value,
            "reason": reason}  # fmt: skip


def cell(first: str, second: str, value: float, low: float = NAN, high: float = NAN) -> dict[str, Any]:
    return {"first": first, "second": second, "mean": value, "low": low, "high": high}


DOTS = [dot("tank", "1", 3.0), dot("tank", "2", 5.0, out=True), dot("hand", "1", 2.0), dot("hand", "2", NAN)]
MEANS = [mean("tank", 4.0, 3.0, 5.0), mean("hand", 2.0)]
RATIOS = [ratio("Marketable yield", 1.5, 1.2, 1.9, 0.1), ratio("Water applied", 0.7), ratio("Fruit mass", NAN)]
SUMS = [*sums("tank", "", 1.0, 4.0), *sums("tank", "tank1", 1.0, 3.0), *sums("hand", "", 1.0, 2.0)]
EARLY = {"at_ms": DAY_MS, "date": "1 May 2026", "days": 1}
FRUIT = [fruit("tank", 1, 90.0, 80.0, 100.0), fruit("tank", 2, 80.0, 75.0, 85.0), fruit("hand", 1, 70.0)]
NOT_DRAINED = "drainage not measured"
PER = [per("tank", "irrigated", 8.0), per("tank", "all inflow", 6.0),
       per("tank", "evapotranspiration", NAN, NOT_DRAINED),
       per("hand", "irrigated", 4.0)]  # fmt: skip
PUBLISHED = [{"low": 2.5, "high": 12.0, "condition": "field; printed", "source": "invented"}]
CELLS = [cell("tank", "with", 3.0, 2.5, 3.5), cell("hand", "with", 2.0), cell("tank", "none", 2.6),
         cell("hand", "none", 1.9)]  # fmt: skip
UNIT = "kg/m²"
MADE = [
    (charts.paired_chart(["tank", "hand"], ["hand", "tank"], heading="Yield", unit=UNIT),
     charts.paired_data(DOTS, MEANS, unit=UNIT)),
    (charts.ratio_chart([row["key"] for row in RATIOS], reference="Hand"), charts.ratio_data(RATIOS, by="outcome")),
    (season.cumulative_chart(["tank", "hand"]), season.cumulative_data(SUMS, EARLY)),
    (season.fruit_mass_chart(["tank", "hand"]), season.fruit_mass_data(FRUIT, ["tank"])),
    (charts.productivity_chart(["tank", "hand"], ["irrigated", "all inflow"], published=1),
     charts.productivity_data(PER, PUBLISHED)),
    (season.crossing_chart(["tank", "hand"], ["with", "none"], across="water", heading="Yield", unit=UNIT),
     season.crossing_data(CELLS)),
]  # fmt: skip


def named(spec: dict[str, Any]) -> set[str]:
    inner = [named(layer) for layer in spec.get("layer", [])]
    return set().union(*inner, [spec["data"]["name"]] if "name" in spec.get("data", {}) else [])


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_draws_exactly_the_data_sets_laid_out_for_it(chart: Any, data: charts.Datasets) -> None:
    assert named(chart.to_dict()) == set(data)


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
    units = ("[kg/m²]", "[1 is no difference]", "[g]", "[kg/m³]")
    assert any(unit in json.dumps(chart.to_dict(), ensure_ascii=False) for unit in units)


@pytest.mark.parametrize(("chart", "data"), MADE[:2] + MADE[3:])
def test_a_row_without_a_number_is_drawn_by_no_mark_that_needs_one(chart: Any, data: charts.Datasets) -> None:
    """JSON has no NaN: rows go out with null, and marks of intervals and dots filter them."""
    assert data
    assert "isValid" in json.dumps(chart.to_dict())


def test_the_pair_stands_on_top_and_keeps_the_colours_of_its_place() -> None:
    spec = MADE[0][0].to_dict()
    encodings = [layer["encoding"] for layer in spec["layer"] if "shape" in layer.get("encoding", {})]
    assert encodings[0]["y"]["scale"]["domain"] == ["hand", "tank"]
    assert encodings[0]["color"]["scale"]["domain"] == ["tank", "hand"]


def test_the_ends_of_lines_carry_their_labels_apart() -> None:
    ends = MADE[2][1]["pickings_ends"]
    assert [end["text"] for end in ends] == ["Tank", "Hand"]
    assert ends[0]["text_at"] - ends[1]["text_at"] > 0.2  # 16 px on 264 of 4 kg/m2 are 0.24


def test_intervals_of_one_day_stand_beside_each_other() -> None:
    both = [*FRUIT, fruit("hand", 2, 71.0, 60.0, 80.0)]
    bars = season.fruit_mass_data(both, ["tank", "hand"])["fruit_mass_bars"]
    moments = [bar["at_ms"] for bar in bars if bar["date"] == "2 May 2026"]
    assert len(set(moments)) == 2
    assert sum(moments) == 2 * 2 * DAY_MS  # as far to one side as to the other


def test_titles_report_and_claim_nothing() -> None:
    assert plain(captions.paired_title(MEANS, heading="Yield", unit=UNIT)) == (
        "Yield, mean over blocks: Tank 4.0 kg/m² to Hand 2 kg/m²"
    )
    assert plain(captions.ratio_title(RATIOS, reference="Hand", by="outcome")) == (
        "Tank, marketable yield: 1.50 times (1.20 to 1.90) that of Hand, and 1 more ratio"
    )
    assert plain(captions.cumulative_title(SUMS, EARLY, pair=["tank", "hand"])) == (
        "Picked by 1 May 2026, share of the season: Tank 25 % and Hand 50 %"  # 1 of 4, 1 of 2
    )
    assert plain(captions.fruit_mass_title(FRUIT, pair=["tank"])).endswith("first to last picking: Tank 90 to 80 g")
    assert plain(captions.crossing_title(CELLS, across="water", other="fungus", unit=UNIT)) == (
        "Fungus, none less with, by water [kg/m²]: tank −0.4 and hand −0.1"  # 2.6 - 3, 1.9 - 2
    )


def test_a_published_range_or_its_absence_is_said() -> None:
    assert plain(captions.productivity_title(PER, PUBLISHED)) == "Yield per m³ irrigated: Tank 8 kg/m³ to Hand 4 kg/m³"
    assert captions.productivity_title(PER, []).endswith("no published range of this crop is known here")
    assert "per m³ of evapotranspiration not known (drainage not measured)" in captions.productivity_text(
        PER, PUBLISHED
    )


def test_spoken_texts_hold_every_number_of_the_picture() -> None:
    spoken = plain(captions.paired_text(DOTS, MEANS, heading="Yield", unit=UNIT))
    assert "Tank: 2 plots from 3 to 5, mean and 95 % interval 4.0 kg/m² (3.0 to 5.0)." in spoken
    assert "Hand: 1 plot from 2 to 2, mean and 95 % interval 2 kg/m² (no finite interval)." in spoken
    assert spoken.endswith("Left out: tank2.")
    ratios = plain(captions.ratio_text(RATIOS, reference="Hand", by="outcome"))
    assert "Fruit mass: not known, no finite interval" in ratios
    assert "The band of 0.9 to 1.1 holds differences in yield smaller than the gain worth having." in ratios
    assert "1 kg/m² by 1 May 2026, 4 kg/m² by 2 May 2026." in plain(captions.cumulative_text(SUMS, EARLY))
    assert captions.fruit_mass_text(FRUIT).count("May") == len(FRUIT)
    assert captions.crossing_text(CELLS, across="water", other="fungus", unit=UNIT).count(UNIT) == len(CELLS)


def test_nothing_measured_is_said_and_breaks_no_chart() -> None:
    none = [mean("tank", NAN)]
    assert captions.paired_title(none, heading="Yield", unit=UNIT) == "Yield: no plot has a value"
    assert captions.ratio_title([ratio("Yield", NAN)], reference="Hand", by="outcome").startswith("No ratio to Hand")
    assert captions.cumulative_title([], {}, pair=["tank"]) == "Nothing was picked"
    assert captions.fruit_mass_title([], pair=["tank"]) == "No fruit was weighed"
    assert captions.productivity_title([], []) == "Kilograms per m³ of water: not known"
    for made in (season.cumulative_data([], {}), season.fruit_mass_data([], []), season.crossing_data([])):
        assert not any(made.values())
