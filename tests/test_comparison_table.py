"""Tables of a trial's comparison: what is printed is what R finds on open data, and both ways are both there."""

import dataclasses
import math

import numpy as np
import pandas as pd
import pytest

from plotworth.choose import comparison_table as tables_of
from plotworth.choose import trial_doubt_table as doubts
from plotworth.choose.trial_outcomes import APPLIED, OUTCOMES, YIELD, Outcome, OutcomeFit, fit_outcome
from plotworth.field.arrangement import complete_blocks, completely_randomised
from plotworth.field.block_model import fit
from plotworth.field.plots_in_doubt import Exclusion
from published_trials import LAYOUTS, outside, plots_of
from trial_examples import DRIP, HAND, TANK, demo_fits, demo_plots, demo_view

NBSP_MINUS = str.maketrans({"\u2212": "-", "\u202f": ""})
DASH = tables_of.DASH


def open_fit(name, factor):
    """An open data set as an outcome without unit, its treatments the levels of one factor."""
    arrangement, value = LAYOUTS[name]
    plots = plots_of(name).assign(note="")
    plots["treatment"] = plots[factor]
    plots["plot"] = [f"P{row}" for row in range(len(plots))]
    labels = {level: level for level in dict.fromkeys(plots["treatment"])}
    return OutcomeFit(Outcome(value, "Yield", "1"), plots, labels, fit(plots, arrangement, value=value), "")


def table(tables, words):
    (found,) = [one for one in tables if words in one.title]
    return found


def row(found, label):
    (one,) = [one for one in found.rows if one.label == label]
    return [number(cell) for cell in one.cells]


def number(text):
    plain = text.translate(NBSP_MINUS)
    return math.nan if plain in ("", DASH) else float(plain.removeprefix("< "))


@pytest.mark.published
def test_the_analysis_of_variance_of_the_oats_is_that_of_r() -> None:
    found = tables_of.anova_table(open_fit("oats", "N"), open_fit("oats", "N").model)
    want = outside("oats", "anova")
    for key, label in ((("whole plots", "V"), "V (whole plots)"), (("plots", "N"), "N (plots)")):
        freedom, squares, mean_square, f, p = row(found, label)
        assert freedom == want[key]["df"]
        assert [squares, mean_square, f] == pytest.approx(
            [want[key][q] for q in ("SS", "MS", "F")], rel=5e-3
        )  # 3 digits
        assert p == pytest.approx(max(want[key]["p"], tables_of.SMALLEST_P), abs=5e-4)  # three decimals
    assert row(found, "error (plots)")[:1] == [want["plots", "error"]["df"]]


@pytest.mark.published
def test_all_pairs_of_nitrogen_on_oats_are_those_of_r_by_tukey() -> None:
    one = open_fit("oats", "N")
    families = tables_of.judge_together(one, "0.0cwt")
    found = table(tables_of.comparison_tables(one, "0.0cwt", families), "Tukey")
    want = outside("oats", "pair")["N", "0.0cwt", "0.2cwt"]
    difference, low, high, p = row(found, "0.2cwt less 0.0cwt")
    assert difference == pytest.approx(-want["estimate"], abs=0.5)  # the interval's width leaves whole numbers
    assert [low, high] == pytest.approx([-want["tukey_hi"], -want["tukey_lo"]], abs=0.5)
    assert p == tables_of.SMALLEST_P


def test_every_table_of_the_demo_has_a_cell_for_each_column():
    fit_of = demo_fits()[YIELD]
    found = tables_of.comparison_tables(fit_of, DRIP, None)
    assert [one.title.split(": ")[1].split(",")[0].split(" ")[0] for one in found] == [
        "means", "less", "ratios", "main", "the", "analysis", "CV",
    ]  # fmt: skip
    for one in found:
        assert all(len(line.cells) == len(one.systems) for line in one.rows)


def test_differences_stand_without_their_family_until_it_is_judged():
    fit_of = demo_fits()[YIELD]
    assert tables_of.takes_long(fit_of, DRIP)  # a split plot mixes strata
    single = tables_of.against_table(fit_of, fit_of.model, DRIP, None)
    assert all(line.cells[4:] == (DASH,) * 3 for line in single.rows)
    assert tables_of.NOT_JUDGED[1:] in " ".join(tables_of.comparison_notes(fit_of, DRIP, None))


def test_intervals_together_are_wider_than_single_ones_in_complete_blocks():
    one = open_fit("orange_rootstock", "trat")
    reference = next(iter(one.labels))
    assert not tables_of.takes_long(one, reference)
    families = tables_of.judge_together(one, reference)
    for line in tables_of.against_table(one, one.model, reference, families).rows:
        _, low, high, p, together_low, together_high, together_p = map(number, line.cells)
        assert together_low <= low < high <= together_high
        assert together_p >= p


def test_a_factor_has_its_main_effect_and_its_interaction_once_each():
    (effects, split) = tables_of.effect_tables(demo_fits()[YIELD], demo_fits()[YIELD].model)
    heads = [line.label for line in effects.rows if not line.unit]
    assert heads == [
        "Water, over the others",
        "Inoculation, over the others",
        "Water x inoculation: do they act together?",
    ]
    assert len([line for line in split.rows if not line.unit]) == 5  # whole, sub, and three kinds of cells
    assert "Wick-fed tank less tank+fungus" in [line.label for line in split.rows]


def test_the_least_difference_shown_is_noncentrality_times_standard_error_over_the_mean():
    """Degrees of freedom without end: 1.959964 + 0.841621 = 2.801585 standard errors (tables of the normal)."""
    single = tables_of.Contrast("b - a", 1.0, 0.5, 1e9, 0.0, 2.0, 2.0, 0.05, "")
    assert tables_of.detectable_share(single, 10.0) == pytest.approx(
        2.801585 * 0.05, rel=1e-5
    )  # seven digits; one tail
    assert math.isnan(tables_of.detectable_share(single, 0.0))
    assert math.isnan(tables_of.detectable_share(dataclasses.replace(single, reason="none"), 10.0))


@pytest.mark.parametrize(("p", "text"), [(0.0004, "< 0.001"), (0.0123, "0.012"), (1.0, "1.000"), (math.nan, DASH)])
def test_a_probability_is_written_to_three_decimals(p, text):
    assert tables_of.p_text(p) == text


def test_one_plot_a_treatment_leaves_means_and_says_why_nothing_else():
    plots = demo_plots().iloc[:6]
    one = fit_outcome(plots, complete_blocks("treatment"), OUTCOMES[YIELD], labels=demo_view().labels)
    families = tables_of.judge_together(one, DRIP)
    found = table(tables_of.comparison_tables(one, DRIP, families), "means")
    assert all(line.cells[0] == "1" and line.cells[2] == DASH for line in found.rows)
    assert "No interval: no degrees of freedom are left for the error." in tables_of.comparison_notes(
        one, DRIP, families
    )


def test_plots_that_are_all_zero_are_told_and_break_nothing():
    plots = demo_plots().assign(**{YIELD: 0.0})
    one = fit_outcome(plots, demo_view().arrangement, OUTCOMES[YIELD], labels=demo_view().labels)
    assert not tables_of.takes_long(one, DRIP)
    families = tables_of.judge_together(one, DRIP)
    assert tables_of.comparison_tables(one, DRIP, families)
    notes = " ".join(tables_of.comparison_notes(one, DRIP, families))
    assert "do not differ at all" in notes
    assert "no ratio" in notes.casefold()


def test_one_treatment_has_nothing_to_be_compared_with():
    plots = demo_plots().query("treatment == 'tank'")
    one = fit_outcome(plots, completely_randomised("treatment"), OUTCOMES[YIELD], labels=demo_view().labels)
    assert tables_of.judge_together(one, TANK) is None
    assert "One treatment: there is nothing to compare." in tables_of.comparison_notes(one, TANK, None)
    assert len(tables_of.comparison_tables(one, TANK, None)) == 3  # means, analysis of variance, CV


def test_an_outcome_without_a_model_has_a_sentence_and_no_table():
    plots = demo_plots().assign(shared_meter=True)
    one = fit_outcome(plots, demo_view().arrangement, OUTCOMES[APPLIED], labels=demo_view().labels)
    assert tables_of.comparison_tables(one, DRIP, None) == []
    (note,) = tables_of.comparison_notes(one, DRIP, None)
    assert "one meter serves several plots" in note


def test_a_missing_plot_is_named_with_what_its_record_says():
    (note,) = doubts.missing_notes(demo_plots(), OUTCOMES[YIELD])
    assert note.startswith("P26 has no marketable yield: it is missing, not zero. Its record says: eaten by goats")


@pytest.mark.parametrize(
    ("exclusions", "words"),
    [
        ([Exclusion("P01", " ")], "without a reason"),
        ([Exclusion("Z1", "flooded")], "no such plot"),
        ([Exclusion("P01", "a"), Exclusion("P01", "b")], "named twice"),
    ],
)
def test_a_plot_is_left_out_only_with_a_reason_and_once(exclusions, words):
    (fault,) = doubts.exclusion_faults(demo_plots(), exclusions)
    assert words in fault


def test_results_with_and_without_a_plot_stand_side_by_side():
    out = [Exclusion("P10", "flooded")]
    without = fit_outcome(
        demo_plots(), demo_view().arrangement, OUTCOMES[YIELD], labels=demo_view().labels, left_out=out
    )
    found = doubts.both_ways_table(demo_fits()[YIELD], without, DRIP, ways=("All", "Without"))
    assert len(found.systems) == 6
    hand, tank = row(found, "Hand watering"), row(found, "Wick-fed tank")
    assert hand[0] != hand[3]
    assert tank[0] == tank[3]
    assert len(found.rows) == 6 + 5  # means, then differences to the reference


def test_dead_plants_raise_a_yield_by_plants_set_over_plants_alive():
    """Plot means 2 and 4; one of four plants of the second died, so 4 x 4/3 there: the mean 3 becomes 3.67."""
    plots = demo_plots().iloc[[0, 1]].assign(treatment=TANK, plants=4.0, plants_alive=[4.0, 3.0])
    plots[YIELD] = [2.0, 4.0]
    arrangement = completely_randomised("treatment")
    one = fit_outcome(plots, arrangement, OUTCOMES[YIELD], labels={TANK: "Tank"})
    assert doubts.dead_plants(plots) == {"P02": 1}
    values = row(doubts.dead_plants_table(one, arrangement, TANK), "Tank")
    assert values[0] == pytest.approx(3, abs=1)  # an interval on one degree of freedom leaves no digits
    plots["plants_alive"] = 4.0
    assert doubts.dead_plants_table(dataclasses.replace(one, plots=plots), arrangement, TANK) is None


def seasons(sites):
    """The demo's trial repeated at some sites, each with a gain of the tank of its own. Invented."""
    fits, view = [], demo_view()
    for step in range(sites):
        plots = demo_plots().assign(site=f"S{step}")
        plots[YIELD] = plots[YIELD] + np.where(plots["treatment"] == TANK, 0.1 * step, 0.0)
        one = fit_outcome(plots, view.arrangement, OUTCOMES[YIELD], labels=view.labels)
        fits.append((("sweet pepper", f"S{step}", "2026"), one))
    return fits


def test_sites_stand_side_by_side_and_are_never_pooled():
    found = doubts.seasons_table(seasons(2), DRIP)
    assert len(found.rows) == 2 * 5
    assert all(line.cells[-1] == "41" for line in found.rows)  # 42 plots, one missing, each site its own


def test_from_five_sites_on_they_have_a_mean_and_a_new_one_its_interval():
    """Differences d, d + 0.1 ... d + 0.4: their mean is d + 0.2, their spread sqrt(0.025)."""
    none, reason = doubts.across_table(seasons(4), DRIP, over="site")
    assert none is None
    assert "fewer than 5" in reason
    found, reason = doubts.across_table(seasons(5), DRIP, over="site")
    assert reason == ""
    first = tables_of.differences(demo_fits()[YIELD].model, baseline="drip | none")
    base = next(one.estimate for one in first if one.label.startswith("tank | none -"))
    levels, mean, low, high, new_low, new_high = row(found, "Wick-fed tank less Well and drip")
    half = 2.776445 * math.sqrt(0.025 / 5)  # t(0.975, 4), any table of t
    assert levels == 5
    assert mean == pytest.approx(base + 0.2, abs=0.01)  # two decimals
    assert [low, high] == pytest.approx([base + 0.2 - half, base + 0.2 + half], abs=0.01)
    assert new_low < low < high < new_high


def test_a_site_without_the_reference_says_so():
    plots = demo_plots().query("treatment != 'drip'").assign(site="S9")
    one = fit_outcome(plots, demo_view().arrangement, OUTCOMES[YIELD], labels=demo_view().labels)
    (line,) = doubts.seasons_table([(("sweet pepper", "S9", "2026"), one)], DRIP).rows
    assert line.label.endswith("the reference was not grown")


def test_plots_without_blocks_are_compared_too():
    plots = demo_plots().assign(block="")
    one = fit_outcome(plots, completely_randomised("treatment"), OUTCOMES[YIELD], labels=demo_view().labels)
    assert isinstance(one.plots, pd.DataFrame)
    assert not math.isnan(row(tables_of.means_table(one, one.model), "Hand watering")[2])
    assert HAND in one.labels
