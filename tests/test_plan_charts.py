"""The charts of a planned trial take rows and name them; rows by a second route. All trials are invented."""

import json
from dataclasses import replace
from typing import Any

import pytest

from plotworth.choose.plan_chart_rows import block_rows, blocks_for_gain, split_rows, weighing_rows
from plotworth.choose.plan_map import example_map
from plotworth.choose.trial_outline import TrialOutline
from plotworth.field.design import SPLIT, Design, Factor
from plotworth.field.plot_size import PlotSize
from plotworth.field.power import comparisons, detectable_difference
from plotworth.field.sampling import size_table
from plotworth.show import plan_captions as captions
from plotworth.show import plan_charts as charts

WATER = Factor("water", ("tank", "drip", "hand"))
FUNGUS = Factor("inoculation", ("fungus", "none"))
TWO = "two treatments"
OUTLINE = TrialOutline(
    design=Design("blocks", (WATER,), 4),
    size=PlotSize(2, 8, 0.5, 0.6, 1, 1),
    path_m=0.5,
    stated_cv=0.15,
    cv_low=0.10,
    cv_high=0.25,
    stated_plants=16,
    whole_plot_ratio=1.0,
    smith_index=0.5,
    gain=0.2,
    precision=0.05,
    fruit_cv=0.25,
    fruits=200,
)
SPLIT_OUTLINE = replace(OUTLINE, design=Design(SPLIT, (WATER, FUNGUS), 4), whole_plot_ratio=1.6)
CVS = {"detectable": 0.15, "low": 0.10, "high": 0.25}
MAP = example_map(OUTLINE, gradient_from="north, door")
MADE = [
    (charts.blocks_chart(), charts.blocks_data(block_rows(OUTLINE, TWO), gain=0.2, cvs=CVS)),
    (charts.splits_chart(), charts.splits_data(split_rows(OUTLINE, TWO), gain=0.2)),
    (charts.weighing_chart(), charts.weighing_data(weighing_rows(OUTLINE))),
    (
        charts.map_chart(MAP.key, heading=MAP.heading, gradient_from="north, door", plot_rows=MAP.plot_rows),
        charts.map_data(MAP.rows, MAP.key),
    ),
]


def named(spec: dict[str, Any]) -> set[str]:
    inner = [named(layer) for layer in spec.get("layer", [])]
    return set().union(*inner, [spec["data"]["name"]] if "name" in spec.get("data", {}) else [])


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_draws_the_data_sets_laid_out_for_it_and_the_first_is_its_table(chart: Any, data: Any) -> None:
    first = next(iter(data))
    assert named(chart.to_dict()) | {first} == set(data)
    for table in chart.to_dict()["usermeta"]["plotworth"]["tables"]:
        assert {key for key, _ in table["columns"]} <= set(data[table["name"]][0])


@pytest.mark.parametrize(("chart", "data"), MADE)
def test_a_chart_fills_its_place_at_a_fixed_height_and_has_units(chart: Any, data: Any) -> None:
    spec = chart.to_dict()
    assert data
    assert spec["width"] == "container"
    assert isinstance(spec["height"], int)
    assert any(unit in json.dumps(spec, ensure_ascii=False) for unit in ("[% of the mean]", "[fruit]", "[m]"))


def test_the_rows_of_blocks_are_what_the_field_floor_gives_for_each_number_of_blocks() -> None:
    for outline, name in ((OUTLINE, TWO), (SPLIT_OUTLINE, "two levels of water under one level of inoculation")):
        for row in block_rows(outline, name):
            again = replace(outline.design, blocks=row["blocks"])
            for key, cv in CVS.items():
                found = comparisons(again, plot_cv=cv, whole_plot_cv=outline.whole_plot_ratio * cv)
                (one,) = [one for one in found if one.name == name]
                assert row[key] == pytest.approx(detectable_difference(one), rel=1e-9)


def test_blocks_go_past_what_the_smallest_gain_needs_where_that_is_near() -> None:
    needed = blocks_for_gain(OUTLINE, TWO)
    rows = block_rows(OUTLINE, TWO)
    assert needed is not None
    assert rows[-1]["blocks"] >= needed + 2
    far = replace(OUTLINE, gain=0.01)
    assert block_rows(far, TWO)[-1]["blocks"] == 10
    assert block_rows(replace(far, design=Design("blocks", (WATER,), 40)), TWO)[-1]["blocks"] == 60  # 40 and 20 more
    assert block_rows(replace(far, design=Design("blocks", (WATER,), 12)), TWO)[-1]["blocks"] == 20  # 12 and 60 %


def test_the_rows_of_partings_are_the_size_table_of_the_field_floor() -> None:
    """64 plants a treatment: 2 x 32, 4 x 16, 8 x 8 and 16 x 4; 32 x 2 leaves fewer than 4 plants a plot."""
    rows = split_rows(OUTLINE, TWO)
    assert [(row["blocks"], row["plants"]) for row in rows] == [(2, 32), (4, 16), (8, 8), (16, 4)]
    for row in rows:
        (other,) = size_table(
            OUTLINE.design,
            plants_per_plot=[row["plants"]],
            blocks=[row["blocks"]],
            plot_cv=0.15,
            of_plants=16,
            index=0.5,
        )
        assert row["detectable"] == pytest.approx(other.detectable, rel=1e-9)
        assert row["plot_cv"] == pytest.approx(other.plot_cv, rel=1e-12)


def test_a_parting_that_is_chosen_is_shown_however_small_its_plots() -> None:
    small = replace(OUTLINE, size=PlotSize(1, 2, 0.5, 0.6))
    assert [row["blocks"] for row in split_rows(small, TWO) if row["chosen"]] == [4]


def test_fruit_to_weigh_are_fewer_of_few() -> None:
    """n0 = (1.95996 x 0.25 / 0.05)^2 = 96.04; of 200: 96.04 / (1 + 96.04/200) = 64.9; in whole fruit 97 and 65."""
    (row,) = [row for row in weighing_rows(OUTLINE) if row["chosen"]]
    assert (row["weigh"], row["weigh_of_many"]) == (65, 97)
    odd = weighing_rows(replace(OUTLINE, precision=0.0333))
    assert [row["precision"] for row in odd if row["chosen"]] == [0.0333]


def test_a_difference_far_beyond_what_is_asked_stays_in_the_table_and_is_not_drawn() -> None:
    """Two blocks of two treatments leave one degree of freedom: more than the whole mean."""
    pair = replace(OUTLINE, design=Design("blocks", (Factor("water", ("tank", "drip")),), 6))
    data = charts.blocks_data(block_rows(pair, TWO), gain=0.2, cvs=CVS)
    assert data["blocks"][0]["blocks"] == 2
    assert data["blocks"][0]["detectable"] > 100
    assert data["blocks_drawn"][0]["blocks"] > 2
    assert max(row["high"] for row in data["blocks_drawn"]) <= data["blocks_reach"][0]["reach"] + 1e-9


def test_the_choice_of_two_blocks_is_drawn_even_so() -> None:
    pair = replace(OUTLINE, design=Design("blocks", (Factor("water", ("tank", "drip")),), 2))
    for data in (
        charts.blocks_data(block_rows(pair, TWO), gain=0.2, cvs=CVS)["blocks_chosen"],
        charts.splits_data(split_rows(pair, TWO), gain=0.2)["splits_chosen"],
    ):
        assert [row["blocks"] for row in data] == [2]


@pytest.mark.parametrize(("gain", "place"), [(0.2, "under"), (0.04, "over"), (0.6, "right")])
def test_the_words_of_the_smallest_gain_keep_clear_of_axis_and_curve(gain: float, place: str) -> None:
    for data in (
        charts.blocks_data(block_rows(OUTLINE, TWO), gain=gain, cvs=CVS)["blocks_gain"],
        charts.splits_data(split_rows(OUTLINE, TWO), gain=gain)["splits_gain"],
    ):
        assert [row["place"] for row in data] == [place]


def test_labels_of_precisions_that_lie_together_do_not_cover_one_another() -> None:
    assert len(MADE[2][1]["weighing_words"]) == 1
    assert charts.weighing_data(weighing_rows(replace(OUTLINE, precision=0.02)))["weighing_words"] == []


def test_the_words_of_blocks_say_what_shows_and_from_where_the_gain_does() -> None:
    rows = block_rows(OUTLINE, TWO)
    shown = f"{100 * rows[2]['detectable']:.2g} %"
    needed = blocks_for_gain(OUTLINE, TWO)
    title = plain(captions.blocks_title(rows, TWO, gain=0.2))
    assert title == f"4 blocks show {shown} or more between two treatments; 20 % shows from {needed} on"
    small = captions.blocks_title(rows, TWO, gain=0.01)
    assert plain(small).endswith(f"; {rows[-1]['blocks']} still do not show 1 %")
    assert captions.blocks_text(rows, TWO, gain=0.2).count("blocks") >= len(rows)


def test_the_words_of_partings_compare_with_the_next_greater_number_of_blocks() -> None:
    rows = split_rows(OUTLINE, TWO)
    title = plain(captions.splits_title(rows, TWO))
    assert title.startswith("4 blocks of 16 plants a plot show ")
    assert "; the same plants as 8 blocks of 8 plants a plot, " in title
    last = [{**row, "chosen": row["blocks"] == 16} for row in rows]
    assert "; the same plants as 8 blocks of 8" in captions.splits_title(last, TWO)
    assert ";" not in captions.splits_title(rows[1:2], TWO)
    assert captions.splits_text(rows, TWO).count("plants a plot") == len(rows)


def test_the_words_of_weighing_say_how_many_of_how_many() -> None:
    rows = weighing_rows(OUTLINE)
    assert plain(captions.weighing_title(rows)) == (
        "For a mean mass within ±5 %, weigh 65 of 200 fruit; of any number, 97"
    )
    assert "±5 % 65, of any number 97" in plain(captions.weighing_text(rows))


def test_an_example_map_has_every_treatment_once_in_every_block_and_says_that_it_is_one() -> None:
    for outline in (OUTLINE, SPLIT_OUTLINE):
        shown = example_map(outline, gradient_from="")
        for block in ("B1", "B2", "B3", "B4"):
            assert sorted(row["treatment"] for row in shown.rows if row["block"] == block) == sorted(
                outline.design.treatments
            )
        assert shown.is_example
        assert captions.map_title(shown.standing, shown.rows, is_example=True).startswith("Example, not the drawing")


def test_the_edges_of_a_plot_enclose_its_net_part_by_the_guards() -> None:
    """2 rows of 8 at 0.5 x 0.6 m with a guard all round: net 4 x 1.2 m, gross 5 x 2.4 m; then 0.5 m of path."""
    first, second = MADE[3][1]["map"][:2]
    assert (first["left"], first["right"], first["top"], first["bottom"]) == pytest.approx((0, 5, 0, 2.4))
    assert (first["net_left"], first["net_right"]) == pytest.approx((0.5, 4.5))
    assert (first["net_top"], first["net_bottom"]) == pytest.approx((0.6, 1.8))
    assert second["left"] == pytest.approx(5.5)


def test_the_words_of_the_map_go_block_by_block_from_the_side() -> None:
    text = captions.map_text(MAP.rows, MAP.key, standing=MAP.standing, gradient_from="north, door")
    assert "From north, door, B1: tank, drip, hand; B2: drip, hand, tank" in text
    rows = [{**row, "noted": row["plot"] == "P02"} for row in MAP.rows]
    assert captions.map_title("Frozen", rows, is_example=False).endswith("a deviation is noted for P02 (*)")
    assert captions.map_title("Frozen", MAP.rows, is_example=False).endswith("no plot has a deviation")


def test_more_treatments_than_letters_still_have_a_letter_each() -> None:
    many = replace(OUTLINE, design=Design("blocks", (Factor("sort", tuple(f"s{n}" for n in range(30))),), 2))
    key = example_map(many, gradient_from="").key
    assert len(key) == 30
    assert key["D2"] == "s29"
