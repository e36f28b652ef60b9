"""Layouts drawn by lot: what each design promises, on many seeds; fair chances; the same seed, the same trial."""

import itertools
from collections import Counter

import numpy as np
import pytest
from scipy.stats import chi2, t

from plotworth.field.design import FACTORIAL, KINDS, SPLIT, Design, Factor, treatment_names
from plotworth.field.interspersion import Standing, segregated
from plotworth.field.layout import MOST_REDRAWS, Layout, allowed_columns, draw_layout
from plotworth.field.layout_map import map_rows, text_map
from plotworth.field.plot_size import PlotSize
from trial_plans import WATER, design

SEEDS = range(400)
FAIR_SEEDS = range(6000)
RARE = 1e-4  # chance that a fair draw fails one chi-square test; seeds are fixed, so the test does not flicker
SIZE = PlotSize(
    rows=2, plants_per_row=8, spacing_in_row_m=0.5, spacing_between_rows_m=0.6, guard_rows=1, guard_plants=2
)


def blocks_of(layout: Layout) -> list[list[str]]:
    """Treatments of each block in the order of the ground."""
    groups = itertools.groupby(layout.plots, key=lambda plot: plot.block)
    return [[plot.treatment for plot in plots] for _, plots in groups]


@pytest.mark.parametrize("kind", KINDS)
def test_every_treatment_stands_once_in_every_block(kind: str) -> None:
    for seed in SEEDS:
        layout = draw_layout(design(kind), seed=seed)
        blocks = blocks_of(layout)
        assert len(blocks) == 4
        assert all(sorted(block) == sorted(layout.design.treatments) for block in blocks)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("columns", [2, 0])
def test_plots_fill_the_ground_without_gap_and_blocks_lie_one_behind_the_other(kind: str, columns: int) -> None:
    trial = design(kind, blocks=5)
    width = columns if columns in allowed_columns(trial) else trial.plots_per_block
    for seed in SEEDS:
        layout = draw_layout(trial, seed=seed, columns=width)
        places = [(plot.row, plot.column) for plot in layout.plots]
        rows = len(places) // width
        assert places == [(row, column) for row in range(1, rows + 1) for column in range(1, width + 1)]
        assert [plot.block for plot in layout.plots] == sorted(plot.block for plot in layout.plots)
        assert len({plot.name for plot in layout.plots}) == len(places)
        assert layout.columns == width


def test_a_whole_plot_s_sub_plots_are_neighbours_in_one_row_with_every_sub_level_once() -> None:
    for seed, columns in itertools.product(SEEDS, (0, 2)):
        layout = draw_layout(design(SPLIT), seed=seed, columns=columns)
        for first, second in zip(layout.plots[::2], layout.plots[1::2], strict=True):
            assert first.levels[0] == second.levels[0]
            assert {first.levels[1], second.levels[1]} == {"fungus", "none"}
            assert (first.row, first.column + 1) == (second.row, second.column)


def test_a_factorial_s_levels_meet_equally_often() -> None:
    for seed in SEEDS:
        counts = Counter(plot.levels for plot in draw_layout(design(FACTORIAL), seed=seed).plots)
        assert set(counts.values()) == {4}
        assert len(counts) == 6


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_seed_draws_the_same_layout_and_another_seed_another(kind: str) -> None:
    assert all(draw_layout(design(kind), seed=seed) == draw_layout(design(kind), seed=seed) for seed in SEEDS)
    drawn = {tuple(plot.treatment for plot in draw_layout(design(kind), seed=seed).plots) for seed in SEEDS}
    assert len(drawn) > 0.6 * len(SEEDS)  # 6^4 = 1296 orders of three treatments in four blocks, fewer after the rule


def test_a_stored_seed_draws_what_it_drew_when_this_was_written() -> None:
    # Origin: this library at its first release; frozen plans rest on it, so it may not change.
    assert blocks_of(draw_layout(design(), seed=0)) == [
        ["hand", "tank", "drip"],
        ["hand", "drip", "tank"],
        ["hand", "tank", "drip"],
        ["drip", "hand", "tank"],
    ]
    assert blocks_of(draw_layout(design(SPLIT, blocks=2), seed=2026)) == [
        ["drip+fungus", "drip", "tank+fungus", "tank", "hand", "hand+fungus"],
        ["tank+fungus", "tank", "hand", "hand+fungus", "drip+fungus", "drip"],
    ]


@pytest.mark.parametrize("redraw", [True, False])
@pytest.mark.parametrize("kind", KINDS)
def test_every_treatment_stands_in_every_place_equally_often(kind: str, redraw: bool) -> None:
    trial = design(kind, blocks=3)
    counts = np.zeros((3, trial.plots_per_block, trial.plots_per_block))
    for seed in FAIR_SEEDS:
        for block, order in enumerate(blocks_of(draw_layout(trial, seed=seed, redraw=redraw))):
            for place, name in enumerate(order):
                counts[block, place, trial.treatments.index(name)] += 1
    expected = len(FAIR_SEEDS) / trial.plots_per_block
    # Sum of t^2 cells, each of variance N (1/t)(1 - 1/t), over N/t has the mean t (t - 1); rows and columns of a table
    # add up by design, which leaves (t - 1)^2 degrees of freedom: so the sum is taken times (t - 1)/t.
    shrink = (trial.plots_per_block - 1) / trial.plots_per_block
    statistics = shrink * ((counts - expected) ** 2 / expected).sum(axis=(1, 2))
    if kind != SPLIT:  # whole plots hold their sub-plots together, so a split plot has fewer degrees of freedom
        assert (statistics < chi2.isf(RARE, (trial.plots_per_block - 1) ** 2)).all()
    bound = 4 * np.sqrt(len(FAIR_SEEDS) / trial.plots_per_block)  # four standard errors of a single count, rounded up
    assert (abs(counts - expected) < bound).all()


def test_without_redraws_every_order_of_a_block_comes_equally_often() -> None:
    orders = Counter(tuple(blocks_of(draw_layout(design(), seed=seed, redraw=False))[0]) for seed in FAIR_SEEDS)
    expected = len(FAIR_SEEDS) / 6  # 3! orders
    assert sum((count - expected) ** 2 / expected for count in orders.values()) < chi2.isf(RARE, 5)


def test_blocks_are_drawn_independently_of_each_other() -> None:
    pairs = Counter(
        tuple(order[0] for order in blocks_of(draw_layout(design(blocks=2), seed=seed, redraw=False)))
        for seed in FAIR_SEEDS
    )
    expected = len(FAIR_SEEDS) / 9  # 3 x 3 first plots
    assert sum((count - expected) ** 2 / expected for count in pairs.values()) < chi2.isf(RARE, 8)


# --- interspersion --------------------------------------------------------------------------------


def test_the_rule_asks_for_a_redraw_as_often_as_arithmetic_says() -> None:
    # Two treatments in 4 blocks: chance puts both into one order in 2 of 2^4 layouts.
    trial = Design("blocks", (Factor("water", ("tank", "drip")),), 4)
    share = np.mean([draw_layout(trial, seed=seed).redraws > 0 for seed in FAIR_SEEDS])
    chance = 2 / 2**4
    assert abs(share - chance) < 4 * np.sqrt(chance * (1 - chance) / len(FAIR_SEEDS))


@pytest.mark.parametrize("kind", KINDS)
def test_no_treatment_is_left_in_one_place_or_outer_third_after_the_rule(kind: str) -> None:
    for seed in SEEDS:
        layout = draw_layout(design(kind), seed=seed)
        assert layout.segregation == ()
        assert layout.redraws < MOST_REDRAWS
        for name in layout.design.treatments:
            assert len({block.index(name) for block in blocks_of(layout)}) > 1


def test_without_the_rule_the_first_draw_stands_and_says_what_it_found() -> None:
    found = [draw_layout(design(blocks=3), seed=seed, redraw=False) for seed in SEEDS]
    assert {layout.redraws for layout in found} == {0}
    told = next(layout for layout in found if layout.segregation)
    name = told.segregation[0].split(" has ")[0]
    assert len({block.index(name) for block in blocks_of(told)}) == 1


@pytest.mark.parametrize(("trend", "lowest", "highest"), [(0.0, 0.035, 0.065), (2.0, 0.0, 0.05)])
def test_the_rule_does_not_make_false_differences_more_frequent(trend: float, lowest: float, highest: float) -> None:
    # 3,000 trials without a difference and with a trend along every block; 5 % +- 4 standard errors of 0.4 %.
    generator = np.random.default_rng(4)
    order = design().treatments
    found = 0
    for seed in range(3000):
        ground = generator.normal(size=(4, 3)) + trend * np.array([-1.0, 0.0, 1.0])
        places = np.array(
            [[order.index(name) for name in block] for block in blocks_of(draw_layout(design(), seed=seed))]
        )
        plots = np.take_along_axis(ground, np.argsort(places, axis=1), axis=1)
        rest = plots - plots.mean(axis=0) - plots.mean(axis=1, keepdims=True) + plots.mean()
        error = (rest**2).sum() / 6
        found += abs(plots[:, 0].mean() - plots[:, 1].mean()) > t.ppf(0.975, 6) * np.sqrt(2 * error / 4)
    assert lowest < found / 3000 < highest


def test_every_whole_plot_level_stands_in_every_whole_plot_place_equally_often() -> None:
    levels = WATER.levels
    counts = np.zeros((4, 3, 3))
    for seed in FAIR_SEEDS:
        for number, plot in enumerate(draw_layout(design(SPLIT), seed=seed).plots[::2]):
            counts[number // 3, number % 3, levels.index(plot.levels[0])] += 1
    expected = len(FAIR_SEEDS) / 3
    assert (2 / 3 * ((counts - expected) ** 2 / expected).sum(axis=(1, 2)) < chi2.isf(RARE, 4)).all()


@pytest.mark.parametrize(
    ("places", "width", "sentence"),
    [
        ((1, 1, 1), 3, "tank has the same place, number 2, in every block."),
        ((0, 1, 0), 6, "tank lies in the first columns of every block."),
        ((5, 4, 5), 6, "tank lies in the last columns of every block."),
        ((0, 3, 0), 3, "tank lies in the first columns of every block."),  # folded: two rows of three
        ((0, 2, 5), 6, ""),
        ((1, 1), 3, ""),  # two blocks are too few to speak of a pattern
        ((0, 0, 0), 1, ""),  # one place only: there is no choice
    ],
)
def test_segregation_is_told_in_a_sentence(places: tuple[int, ...], width: int, sentence: str) -> None:
    assert segregated([Standing("tank", places, width)]) == ((sentence,) if sentence else ())


# --- design, size, map ----------------------------------------------------------------------------


def test_error_degrees_of_freedom_are_those_of_the_textbook() -> None:
    # Gomez & Gomez (1984): table 2.6, rice in 6 seeding rates x 4 blocks, error 15; (r - 1)(a - 1) and a(r - 1)(b - 1).
    rates = Factor("rate", ("25", "50", "75", "100", "125", "150"))
    assert Design("blocks", (rates,), 4).error_freedom == (15,)
    assert design(SPLIT).error_freedom == (6, 9)
    assert design(FACTORIAL).error_freedom == (15,)


def test_treatments_are_named_by_their_levels_without_none_unless_two_would_be_alike() -> None:
    assert design(SPLIT).treatments == ("tank+fungus", "tank", "drip+fungus", "drip", "hand+fungus", "hand")
    assert treatment_names([("none", "a"), ("none", "b")]) == ("none", "b", "a", "a+b")
    assert treatment_names([("none", "a"), ("none", "a")]) == ("none+none", "none+a", "a+none", "a+a")


def test_a_block_is_folded_only_into_whole_rows_and_whole_plots() -> None:
    assert allowed_columns(design()) == (1, 3)
    assert allowed_columns(design(FACTORIAL)) == (1, 2, 3, 6)
    assert allowed_columns(design(SPLIT)) == (2, 6)
    with pytest.raises(ValueError, match="is \\(2, 6\\) plots wide, not 3"):
        draw_layout(design(SPLIT), seed=1, columns=3)


def test_sizes_of_a_plot_follow_from_rows_plants_spacing_and_guards() -> None:
    assert (SIZE.plants, SIZE.gross_plants, SIZE.guards) == (16, 48, 32)  # 2 x 8; (2 + 2)(8 + 4); the difference
    assert SIZE.net_area_m2 == pytest.approx(4.8)  # 16 x 0.5 x 0.6
    assert SIZE.gross_area_m2 == pytest.approx(14.4)  # 48 x 0.3
    assert (SIZE.width_m, SIZE.depth_m) == pytest.approx((6.0, 2.4))  # 12 x 0.5; 4 x 0.6
    assert SIZE.width_m * SIZE.depth_m == pytest.approx(SIZE.gross_area_m2)


def test_the_text_map_shows_every_plot_under_its_block_with_the_side_on_top() -> None:
    layout = draw_layout(design(SPLIT), seed=3)
    lines = text_map(layout, gradient_from="door").splitlines()
    assert lines[0] == "door"
    for plot in layout.plots:
        names, treatments = lines[1 + 3 * (plot.row - 1)], lines[2 + 3 * (plot.row - 1)]
        assert names.startswith(plot.block)
        at = names.index(plot.name)
        assert treatments[at:].split()[0] == plot.treatment
    assert text_map(layout, gradient_from="").startswith("the side nearest block 1")


def test_plots_on_the_chart_map_do_not_overlap_and_keep_their_paths() -> None:
    rows = map_rows(draw_layout(design(), seed=3), SIZE, path_m=0.8)
    assert (rows[0].x_m, rows[0].y_m) == pytest.approx((3.0, 1.2))  # half of 6.0 and 2.4
    assert rows[1].x_m - rows[0].x_m == pytest.approx(6.8)
    assert rows[3].y_m - rows[0].y_m == pytest.approx(3.2)
    assert (rows[0].net_width_m, rows[0].net_depth_m) == pytest.approx((4.0, 1.2))  # 8 x 0.5; 2 x 0.6
