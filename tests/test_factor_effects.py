"""Main effects, interactions and the four comparisons of a split plot against R 4.2."""

import pytest
from numpy.testing import assert_allclose

from plotworth.field.arrangement import complete_blocks, split_plot
from plotworth.field.block_model import NOT_LINKED, fit
from plotworth.field.contrast import Contrast
from plotworth.field.factor_effects import interactions, main_effects, split_plot_comparisons
from published_trials import fitted_trial, outside, plots_of

TO_R = 1e-9


def _errors(found: tuple[Contrast, ...]) -> list[float]:
    return [row.standard_error for row in found]


@pytest.mark.published
def test_the_effect_of_nitrogen_on_peas_is_that_of_r() -> None:
    (found,) = main_effects(fitted_trial("npk_peas"), "N")
    want = outside("npk_peas", "pair")["N", "0", "1"]  # R gives 0 less 1
    assert found.label == "1 - 0"
    assert_allclose([found.estimate, found.standard_error], [-want["estimate"], want["SE"]], rtol=TO_R)
    assert_allclose([found.low, found.high], [-want["ci_hi"], -want["ci_lo"]], rtol=TO_R)


@pytest.mark.published
def test_nitrogen_and_potash_interact_as_in_r() -> None:
    (found,) = interactions(fitted_trial("npk_peas"), "N", "K")
    want = outside("npk_peas", "interaction")["N", "K"]
    numbers = [abs(found.estimate), found.standard_error, found.degrees_of_freedom, found.p]
    assert_allclose(numbers, [abs(want["estimate"]), want["SE"], want["df"], want["p"]], rtol=TO_R)


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "names"),
    [
        ("oats", ("two_V_means", "two_N_means", "two_N_same_V", "two_V_same_or_diff_N", "df_satterthwaite")),
        ("wheat_moisture", ("two_M", "two_F", "F_within_M", "M_within_F", "M_within_F_df")),
    ],
)
def test_each_of_the_four_comparisons_has_its_own_error(name: str, names: tuple[str, ...]) -> None:
    found, want = split_plot_comparisons(fitted_trial(name)), outside(name, "sed")[()]
    kinds = (found.whole, found.sub, found.sub_in_whole, found.whole_at_sub, found.whole_across_sub)
    for kind, error in zip(kinds, (*names[:4], names[3]), strict=True):
        assert_allclose(_errors(kind), want[error], rtol=TO_R)
    freedom = [row.degrees_of_freedom for row in (*found.whole_at_sub, *found.whole_across_sub)]
    assert_allclose(freedom, want[names[4]], rtol=TO_R)


def test_every_pair_of_cells_is_in_one_of_the_groups() -> None:
    # oats: 3 varieties x 4 nitrogen levels, 66 pairs of cells
    found = split_plot_comparisons(fitted_trial("oats"))
    assert [len(found.whole), len(found.sub)] == [3, 6]
    assert [len(found.sub_in_whole), len(found.whole_at_sub), len(found.whole_across_sub)] == [18, 12, 36]


def test_steps_of_an_interaction_follow_the_levels() -> None:
    found = interactions(fitted_trial("oats"), "V", "N")
    assert len(found) == 6  # (3 - 1) x (4 - 1)
    assert found[0].label == "(0.2cwt - 0.0cwt) at Golden.rain less at Victory"
    # cell means of the data file: Victory 71.5, 89.667; Golden.rain 80, 98.5
    assert_allclose(found[0].estimate, (98.5 - 80) - (89 + 2 / 3 - 71.5), rtol=TO_R)


def test_a_cell_without_a_plot_takes_its_effects_along() -> None:
    plots = plots_of("turnip")
    plots.loc[(plots["spacing"] == "4") & (plots["density"] == "0.5"), "yield"] = float("nan")
    found = main_effects(fit(plots, complete_blocks("spacing", "density"), value="yield"), "density")
    assert [row.reason for row in found[:4]] == [NOT_LINKED] * 4  # all pairs with density 0.5
    assert {row.reason for row in found[4:]} == {""}


def test_a_split_plot_is_needed_for_its_comparisons() -> None:
    with pytest.raises(ValueError, match="split plot needed, found factorial in blocks"):
        split_plot_comparisons(fitted_trial("turnip"))
    with pytest.raises(ValueError, match="whole plots apart must be named"):
        split_plot(whole=("water",), sub=("feed",), block="")
