"""Second opinions on missing plots, and the mixed model against R's lme4."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from plotworth.field.block_model import fit
from plotworth.field.compare import differences
from plotworth.field.missing_plots import ONE_OF_EACH, mixed_model, yates_estimates
from published_trials import LAYOUTS, outside, plots_of

CLOSE = 1e-9
REML = 1e-5  # restricted maximum likelihood stops where its search does


@pytest.mark.parametrize("rows", [[5], [5, 11], [0, 9, 30]])
def test_filling_in_yates_estimates_leaves_the_treatment_means_of_least_squares(rows: list[int]) -> None:
    plots, (layout, value) = plots_of("strawberry"), LAYOUTS["strawberry"]
    plots.loc[rows, value] = math.nan
    by_squares = fit(plots, layout, value=value)
    estimates = yates_estimates(plots, layout, value=value)
    assert list(estimates.index) == rows
    filled = plots.assign(**{value: plots[value].fillna(estimates)})
    classic = fit(filled, layout, value=value)
    assert_allclose(classic.estimates, by_squares.estimates, rtol=CLOSE)
    # the classic error is the same sum of squares, its degrees of freedom less one for each plot
    one, other = classic.strata[0], by_squares.strata[0]
    assert one.degrees_of_freedom - len(rows) == other.degrees_of_freedom
    squares = [one.mean_square * one.degrees_of_freedom, other.mean_square * other.degrees_of_freedom]
    assert_allclose(squares[0], squares[1], rtol=CLOSE)


def test_one_missing_plot_follows_the_printed_formula() -> None:
    # (r B + t T - G) / ((r - 1)(t - 1)) for plot 5, r = 4 blocks, t = 8 varieties
    plots, (layout, value) = plots_of("strawberry"), LAYOUTS["strawberry"]
    row = plots.loc[5]
    plots.loc[5, value] = math.nan
    block = plots.loc[plots["block"] == row["block"], value].sum()
    variety = plots.loc[plots["gen"] == row["gen"], value].sum()
    want = (4 * block + 8 * variety - plots[value].sum()) / (3 * 7)
    assert_allclose(yates_estimates(plots, layout, value=value).iloc[0], want, rtol=CLOSE)


def test_the_formula_is_for_complete_blocks_alone() -> None:
    layout, value = LAYOUTS["strawberry"]
    with pytest.raises(ValueError, match=ONE_OF_EACH):
        yates_estimates(plots_of("strawberry").iloc[1:], layout, value=value)


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "within", "names"),
    [
        ("oats", (), {"B": "B", "V in B": "B:V", "plots": "Residual"}),
        ("wheat_moisture", (), {"Tray": "Tray", "plots": "Residual"}),
        ("antigua_corn", ("site",), {"site": "site", "block in site": "site:block", "plots": "Residual"}),
    ],
)
def test_variances_of_the_mixed_model_are_those_of_r(name: str, within: tuple[str, ...], names: dict[str, str]) -> None:
    layout, value = LAYOUTS[name]
    found = mixed_model(plots_of(name), layout, value=value, within=within).variances
    want = outside(name, "reml")[()]
    assert_allclose([found[own] for own in names], [want[theirs] for theirs in names.values()], rtol=REML)


def test_with_every_plot_there_the_mixed_model_and_least_squares_agree() -> None:
    layout, value = LAYOUTS["strawberry"]
    plots = plots_of("strawberry")
    rows = differences(fit(plots, layout, value=value), baseline=plots["gen"][0])
    mixed = mixed_model(plots, layout, value=value)
    for row, (cell, estimate) in zip(rows, mixed.differences.items(), strict=True):
        assert_allclose(row.estimate, estimate, rtol=REML, atol=CLOSE)
        assert_allclose(row.standard_error, mixed.standard_errors[cell], rtol=REML)


@pytest.mark.parametrize("name", ["strawberry", "oats"])
def test_with_a_plot_missing_the_mixed_model_stays_within_a_tenth_of_the_error(name: str) -> None:
    """Blocks as random lend the gap a little of what other blocks hold: close, not equal."""
    layout, value = LAYOUTS[name]
    plots = plots_of(name)
    plots.loc[5, value] = math.nan
    model = fit(plots, layout, value=value)
    mixed = mixed_model(plots, layout, value=value)
    baseline = " | ".join(model.cells[0])
    for row in differences(model, baseline=baseline):
        estimate = mixed.differences[tuple(row.label.removesuffix(f" - {baseline}").split(" | "))]
        assert abs(row.estimate - estimate) < 0.1 * row.standard_error
    assert np.isfinite(list(mixed.standard_errors.values())).all()
