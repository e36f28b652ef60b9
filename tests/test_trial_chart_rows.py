"""Rows of the trial's charts: what is drawn is what the block model and the records say.

Expected values are worked out a second way here, by plain averages or by arithmetic beside the test.
"""

import math

import numpy as np
import pytest

from plotworth.choose import trial_chart_rows as rows_of
from plotworth.choose.trial_outcomes import APPLIED, EARLY, OUTCOMES, PER_WATER, YIELD, fit_outcome, plots_of
from plotworth.field.arrangement import complete_blocks
from plotworth.field.compare import ratios
from plotworth.field.plots_in_doubt import Exclusion
from trial_case import HARVESTS, trial_case
from trial_examples import DRIP, HAND, TANK, demo_fits, demo_plots, demo_view, view_of

HARVESTS_AND_MASSES = (
    demo_view().case.table("harvests"),
    demo_view().case.table("fruit_masses"),
)


def pickings():
    return rows_of.picking_table(demo_plots(), *HARVESTS_AND_MASSES, basis="counts")


def test_every_plot_is_a_dot_and_a_missing_one_has_no_number():
    """42 plots; P26 was eaten by goats (data_demo/plots.csv)."""
    dots = rows_of.dot_rows(demo_fits()[YIELD], ["P04"])
    assert len(dots) == 42
    assert [dot["plot"] for dot in dots if math.isnan(dot["value"])] == ["P26"]
    assert [dot["plot"] for dot in dots if dot["left_out"]] == ["P04"]


@pytest.mark.parametrize("name", OUTCOMES)
def test_a_treatment_with_all_its_plots_has_their_plain_mean_in_complete_blocks(name):
    """Blocks of equal weight, every block with all plots of these treatments: block effects cancel but for P26's."""
    fit = demo_fits()[name]
    plain = fit.plots.groupby("treatment")[name].mean()
    for row in rows_of.mean_rows(fit):
        if row["treatment"] != HAND:
            assert row["mean"] == pytest.approx(plain[row["treatment"]], rel=1e-9)
            assert row["low"] < row["mean"] < row["high"]


def test_means_are_cleared_of_block_differences_where_a_plot_is_missing():
    """By hand: a 1 and 5, b 3 and missing. Where both are, b is 2 more than a; a has the mean 3, so b 5."""
    plots = demo_plots().iloc[:4].assign(block=["1", "1", "2", "2"], treatment=["a", "b", "a", "b"])
    plots[YIELD] = [1.0, 3.0, 5.0, np.nan]
    fit = fit_outcome(plots, complete_blocks("treatment"), OUTCOMES[YIELD], labels={"a": "A", "b": "B"})
    assert [row["mean"] for row in rows_of.mean_rows(fit)] == pytest.approx([3.0, 5.0])


def test_ratios_are_those_of_the_block_model_and_the_yield_alone_carries_the_gain():
    fits = demo_fits()
    rows = rows_of.ratio_rows(list(fits.values()), [TANK], DRIP, gain=0.15)
    assert [row["outcome"] for row in rows] == [one.label for one in OUTCOMES.values()]
    direct = ratios(fits[YIELD].model, baseline="drip | none")["tank | none"]
    assert (rows[0]["ratio"], rows[0]["low"], rows[0]["high"]) == (direct.ratio, direct.low, direct.high)
    assert (rows[0]["worth_from"], rows[0]["worth_to"]) == (0.85, 1.15)
    assert all(math.isnan(row["worth_from"]) for row in rows[1:])


def test_the_reference_has_no_ratio_to_itself():
    rows = rows_of.ratio_rows([demo_fits()[YIELD]], [DRIP, TANK, HAND], DRIP, gain=None)
    assert [row["treatment"] for row in rows] == [TANK, HAND]


def test_pickings_add_up_to_the_yield_of_every_plot_and_to_the_mean_of_its_treatment():
    rows = rows_of.cumulative_rows(pickings(), demo_view().labels)
    yields = demo_plots().set_index("plot")[YIELD]
    last = {(row["treatment"], row["plot"]): row["kg_per_m2"] for row in rows}
    for (treatment, plot), kilograms in last.items():
        own = demo_plots().loc[demo_plots()["treatment"] == treatment, YIELD].mean()
        assert kilograms == pytest.approx(yields[plot] if plot else own, rel=1e-9)


def test_what_is_picked_never_falls_and_a_missing_plot_has_no_line():
    rows = rows_of.cumulative_rows(pickings(), demo_view().labels)
    assert "P26" not in {row["plot"] for row in rows}
    for plot in {row["plot"] for row in rows if row["plot"]}:
        line = [row["kg_per_m2"] for row in rows if row["plot"] == plot]
        assert line == sorted(line)


def test_early_yield_is_what_was_picked_by_the_early_day():
    """Eight picking days: a third, rounded up, is three, to 29 April 2026 (data_demo/harvests.csv)."""
    early = rows_of.early_row(pickings())
    assert (early["days"], early["date"]) == (3, "29 April 2026")
    rows = rows_of.cumulative_rows(pickings(), demo_view().labels)
    by_plot = {row["plot"]: row["kg_per_m2"] for row in rows if row["plot"] and row["at_ms"] == early["at_ms"]}
    table = demo_plots().set_index("plot")[EARLY].dropna()
    assert by_plot == pytest.approx(table.to_dict())


def test_the_mass_of_a_fruit_is_a_mean_over_plots_with_its_t_interval():
    """Seven plots a treatment: t(0.975, 6) = 2.446912 (any table of t)."""
    row = rows_of.fruit_mass_rows(demo_plots(), HARVESTS_AND_MASSES[1], demo_view().labels)[0]
    masses = HARVESTS_AND_MASSES[1].merge(demo_plots()[["plot", "treatment"]], on="plot")
    own = masses[(masses["treatment"] == row["treatment"]) & (masses["date"] == masses["date"].min())]
    means = own.groupby("plot").apply(lambda p: p["total_mass_g"].sum() / p["fruits"].sum(), include_groups=False)
    assert (row["plots"], len(means)) == (7, 7)
    assert row["mean"] == pytest.approx(means.mean())
    half = 2.446912 * means.std() / math.sqrt(7)
    assert row["high"] - row["mean"] == pytest.approx(half, rel=1e-6)  # t is given to seven digits


def test_productivities_are_ratios_of_means_and_evapotranspiration_says_why_not():
    rows = rows_of.productivity_rows(demo_view().trial.productivities, demo_view().labels)
    used = demo_plots().query("treatment == 'tank'")
    direct = 1000 * used[YIELD].mean() / used[APPLIED].mean()
    own = {row["per"]: row for row in rows if row["treatment"] == TANK}
    assert own["irrigated"]["kg_per_m3"] == pytest.approx(direct)
    assert math.isnan(own["evapotranspiration"]["kg_per_m3"])
    assert own["evapotranspiration"]["reason"] == "drainage not measured"


def test_published_ranges_are_told_where_the_handbook_has_them_and_none_is_as_wide_as_all_greenhouses():
    """`published_ranges.csv`: tomato 2.58 to 11.88 in fields; 3.3 to 250 and what is from memory are left out."""
    rows = rows_of.published_rows("tomato")
    assert (rows[0]["low"], rows[0]["high"]) == (2.58, 11.88)
    assert max(row["high"] / row["low"] for row in rows) < 10
    assert rows_of.published_rows("sweet pepper") == rows_of.published_rows("peas of the moon") == []


def test_each_pair_of_levels_has_its_mean():
    rows = rows_of.interaction_rows(demo_fits()[YIELD])
    means = {row["treatment"]: row["mean"] for row in rows_of.mean_rows(demo_fits()[YIELD])}
    found = {(row["first"], row["second"]): row["mean"] for row in rows}
    assert len(found) == 6
    assert found["tank", "fungus"] == pytest.approx(means["tank+fungus"])
    assert found["hand", "none"] == pytest.approx(means["hand"])


def test_a_plot_left_out_changes_the_means_that_hold_it():
    plots, view = demo_plots(), demo_view()
    out = [Exclusion("P10", "flooded")]
    fit = fit_outcome(plots, view.arrangement, OUTCOMES[YIELD], labels=view.labels, left_out=out)
    means = {row["treatment"]: row for row in rows_of.mean_rows(fit)}
    assert means[HAND]["plots"] == 5
    assert means[TANK]["plots"] == 7


def test_water_read_on_one_meter_has_means_and_no_interval():
    plots = demo_plots().assign(shared_meter=True)
    fit = fit_outcome(plots, demo_view().arrangement, OUTCOMES[APPLIED], labels=demo_view().labels)
    row = rows_of.mean_rows(fit)[0]
    assert "one meter" in fit.reason
    assert row["mean"] == pytest.approx(plots.query("treatment == @row['treatment']")[APPLIED].mean())
    assert math.isnan(row["low"])


def test_plots_that_yield_nothing_have_no_ratio_and_a_reason(tmp_path):
    nothing = HARVESTS.replace(",12,3", ",0,0").replace(",20,5", ",0,0").replace(",8,", ",0,").replace(",16,", ",0,")
    view = view_of(trial_case(tmp_path, files={"harvests.csv": nothing}))
    fit = fit_outcome(plots_of(view.table, view.keys[0]), view.arrangement, OUTCOMES[YIELD], labels=view.labels)
    (row,) = rows_of.ratio_rows([fit], [TANK], HAND, gain=0.1)
    assert math.isnan(row["ratio"])
    assert row["reason"]
    assert plots_of(view.table, view.keys[0])[PER_WATER].eq(0).all()
