"""Tables of analysis of variance against R 4.2 and against the table Gomez & Gomez printed."""

import math

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from plotworth.field.analysis_of_variance import (
    APPROXIMATE,
    CONFOUNDED,
    ZERO_MEAN,
    analysis_of_variance,
    plot_counts,
)
from plotworth.field.arrangement import complete_blocks, split_plot
from plotworth.field.block_model import NO_ERROR_LEFT, NO_SPREAD, WHOLE_PLOTS, fit
from published_trials import fitted_trial, outside, outside_names, plots_of

TO_R = 1e-9


@pytest.mark.published
@pytest.mark.parametrize("name", outside_names("anova"))
def test_every_line_of_the_table_is_that_of_r(name: str) -> None:
    table = analysis_of_variance(fitted_trial(name))
    for (stratum, term), want in outside(name, "anova").items():
        line = table.line(term, stratum=stratum)
        assert line.degrees_of_freedom == want["df"]
        assert_allclose(line.sum_of_squares, want["SS"], rtol=TO_R)
        assert_allclose(line.mean_square, want["MS"], rtol=TO_R)
        if "F" in want and (stratum, term) != (WHOLE_PLOTS, "B"):
            assert_allclose([line.f, line.p], [want["F"], want["p"]], rtol=TO_R)


@pytest.mark.published
def test_the_rice_trial_of_gomez_and_gomez_comes_out_to_every_printed_digit() -> None:
    # Gomez & Gomez (1984), table 2.6: sums of squares, mean square, F, CV and mean as printed.
    table = analysis_of_variance(fitted_trial("rice"))
    blocks, rates, error = table.lines
    assert [line.degrees_of_freedom for line in table.lines] == [3, 5, 15]
    assert [round(line.sum_of_squares) for line in table.lines] == [1_944_361, 1_198_331, 1_658_376]
    assert round(table.total_sum_of_squares) == 4_801_068
    assert round(error.mean_square) == 110_558
    assert round(rates.f, 2) == 2.17
    assert round(100 * table.variation[0].share, 1) == 6.7
    assert round(table.grand_mean) == 4_960
    # Recomputed beside the printed table: p of rates .1128, F of blocks 5.86.
    assert (round(rates.p, 4), round(blocks.f, 2)) == (0.1128, 5.86)


@pytest.mark.published
@pytest.mark.parametrize("name", ["orange_rootstock", "strawberry"])
def test_the_coefficient_of_variation_is_that_of_r(name: str) -> None:
    table = analysis_of_variance(fitted_trial(name))
    assert_allclose(table.variation[0].share, outside(name, "table")[()]["cv"], rtol=TO_R)


@pytest.mark.published
def test_a_split_plot_has_a_coefficient_of_variation_for_each_error() -> None:
    table, want = analysis_of_variance(fitted_trial("oats")), outside("oats", "table")[()]
    shares = [variation.share for variation in table.variation]
    assert_allclose(shares, [want["cv_wholeplot"], want["cv_subplot"]], rtol=TO_R)


@pytest.mark.published
def test_the_variance_between_days_may_come_out_below_nothing() -> None:
    # eggs: 10 weighed a day; (mean square of days - mean square of error) / 10, by R.
    table = analysis_of_variance(fitted_trial("eggs"))
    between = (table.line("day").mean_square - table.line("error").mean_square) / 10
    assert_allclose(between, outside("eggs", "components")[()]["sigma2_day"], rtol=TO_R)
    assert between < 0


def test_an_interaction_hidden_by_blocks_is_named_and_left_out() -> None:
    table = analysis_of_variance(fitted_trial("npk_peas"))
    line = table.line("N x P x K")
    assert (line.degrees_of_freedom, line.reason) == (0, CONFOUNDED)
    assert math.isnan(line.p)
    assert table.line("error").degrees_of_freedom == 12


def test_sums_of_squares_of_a_full_table_add_to_the_total() -> None:
    for name in ("orange_rootstock", "turnip", "oats", "fungicide_latin"):
        table = analysis_of_variance(fitted_trial(name))
        assert_allclose(sum(line.sum_of_squares for line in table.lines), table.total_sum_of_squares, rtol=TO_R)


def test_whole_plot_lines_say_that_they_are_approximate_where_plots_are_missing() -> None:
    plots = plots_of("oats")
    plots.loc[3, "Y"] = math.nan
    table = analysis_of_variance(fit(plots, split_plot(whole=("V",), sub=("N",), block="B"), value="Y"))
    assert table.line("V", stratum=WHOLE_PLOTS).reason == APPROXIMATE
    assert table.line("N").reason == ""
    assert table.line("error").degrees_of_freedom == 44
    assert table.plots == 71


def test_terms_inside_whole_plots_are_adjusted_for_whole_plots_where_plots_are_missing() -> None:
    plots = plots_of("oats")
    plots.loc[[3, 20, 21], "Y"] = math.nan
    table = analysis_of_variance(fit(plots, split_plot(whole=("V",), sub=("N",), block="B"), value="Y"))
    known = plots[plots["Y"].notna()]
    wholes, feeds = (pd.get_dummies(levels).to_numpy(float) for levels in (known["B"] + known["V"], known["N"]))
    left = []
    for columns in (wholes, np.hstack([wholes, feeds])):  # plain least squares, twice
        fitted = columns @ np.linalg.lstsq(columns, known["Y"], rcond=None)[0]
        left.append(np.sum((known["Y"] - fitted) ** 2))
    assert_allclose(table.line("N").sum_of_squares, left[0] - left[1], rtol=TO_R)


def _trial(*values: float) -> pd.DataFrame:
    rows = [(block, treatment) for block in "12" for treatment in "ab"]
    return pd.DataFrame(rows, columns=["block", "treatment"]).assign(y=values)


@pytest.mark.parametrize(
    ("values", "reason"),
    [
        ((0.0, 0.0, 0.0, 0.0), NO_SPREAD),  # all zeros
        ((1.0, 2.0, 1.0, 2.0), NO_SPREAD),  # treatments explain everything
        ((1.0, 2.0, math.nan, 4.0), NO_ERROR_LEFT),  # three plots: mean, block, treatment
    ],
)
def test_without_error_there_is_no_test_and_a_reason(values: tuple[float, ...], reason: str) -> None:
    table = analysis_of_variance(fit(_trial(*values), complete_blocks("treatment"), value="y"))
    line = table.line("treatment")
    assert line.reason == reason
    assert math.isnan(line.f)
    assert math.isnan(line.p)


def test_a_mean_of_nothing_has_no_coefficient_of_variation() -> None:
    table = analysis_of_variance(fit(_trial(0.0, 0.0, 0.0, 0.0), complete_blocks("treatment"), value="y"))
    assert math.isnan(table.variation[0].share)
    assert table.variation[0].reason == ZERO_MEAN


def test_plots_with_a_value_are_counted_by_treatment() -> None:
    model = fit(_trial(1.0, 2.0, math.nan, 4.0), complete_blocks("treatment"), value="y")
    assert plot_counts(model) == {"a": 1, "b": 2}


def test_a_line_that_is_not_there_is_an_error() -> None:
    with pytest.raises(KeyError):
        analysis_of_variance(fitted_trial("rice")).line("variety")
