"""How a trial was drawn by lot, and its treatment means over blocks and seasons: R, and arithmetic by hand."""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import t

from independent_cases import copy_demo
from independent_trial_cases import a_frozen_plan, one_block_left_blank, say_of_the_trial
from plotworth.case.folder import open_case
from plotworth.choose.less_drawn import less_drawn
from plotworth.choose.measured import read_trial
from plotworth.choose.trial_model import TreatmentMean, adjusted_means, block_models, cell_weights, trial_design
from plotworth.field.arrangement import Arrangement, complete_blocks, completely_randomised, split_plot
from plotworth.field.block_model import NO_ERROR_LEFT, NO_SPREAD, NOT_LINKED, fit
from plotworth.field.water import NO_RECORD, SHARED_METER, less_water
from plotworth.ground.errors import FaultsError
from published_trials import LAYOUTS, outside, outside_names, plots_of
from trial_case import HARVESTS, PLOTS, WATER, trial_case

DEMO = Path(__file__).parent.parent / "data_demo"
IN_BLOCKS = complete_blocks("treatment")
FIGURES_OF_R = ("emmean", "SE", "df", "ci_lo", "ci_hi")
TO_R = 1e-9


def figures(mean: TreatmentMean) -> tuple[float, ...]:
    return mean.mean, mean.standard_error, mean.degrees_of_freedom, mean.low, mean.high


def table(values: dict[str, dict[str, float]], **where: str) -> pd.DataFrame:
    """Return plots of {treatment: {block: value}}, all of one crop, site and year unless told."""
    trial = {"crop": "pepper", "site": "here", "trial_year": "2026", **where}
    rows = [{"treatment": name, "block": b, "kg": v, **trial} for name, own in values.items() for b, v in own.items()]
    return pd.DataFrame(rows)


def means(plots: pd.DataFrame, arrangement: Arrangement = IN_BLOCKS) -> dict[str, TreatmentMean]:
    return adjusted_means(plots, block_models(plots, arrangement, value="kg"))


# --- published -----------------------------------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize("name", outside_names("mean"))
def test_treatments_named_for_the_levels_of_factors_have_r_s_marginal_means(name: str) -> None:
    arrangement, value = LAYOUTS[name.partition("/")[0]]
    plots = plots_of(name).assign(crop="", site="", trial_year="")
    models = block_models(plots, arrangement, value=value)
    for (factors, level), want in outside(name, "mean").items():
        named = plots.assign(treatment=plots[factors.split(",")].agg(" | ".join, axis=1))
        found = adjusted_means(named, models)[level]
        assert_allclose(figures(found), [want[quantity] for quantity in FIGURES_OF_R], rtol=TO_R)
        assert found.reason == ""


# --- means by hand -------------------------------------------------------------------------------


def test_a_lost_plot_is_filled_by_yates_s_formula() -> None:
    """By hand: 3 x 3 plots, C of B2 lost; (3 x 12 of C + 3 x 14 of B2 - 51 of all) / (2 x 2) = 6.75 stands in."""
    values = {
        "A": {"B1": 4, "B2": 6, "B3": 5},
        "B": {"B1": 7, "B2": 8, "B3": 9},
        "C": {"B1": 5, "B2": math.nan, "B3": 7},
    }
    found = means(table(values))
    assert_allclose([found[name].mean for name in "ABC"], [5, 8, (5 + 6.75 + 7) / 3])
    assert {one.degrees_of_freedom.__round__(9) for one in found.values()} == {3}  # 8 plots less 5 that are fitted


def test_seasons_and_sites_are_averaged_with_equal_weights() -> None:
    """By hand: 4 and 3 in a season of two blocks, 8 and 5 in one of three: 6 and 4, no replicates of each other.

    Within the first season A less B differs by 2 between the blocks: mean square 2^2/4 = 1, variance of a mean 1/2, one
    degree of freedom. In the second it is 1, 3, 5, that is -2, 0, 2 about 3: every plot lies half of it off its fit,
    the sum of squares is 4 x 1 = 4 with two degrees of freedom, the variance of a mean of three 2/3.
    """
    first = table({"A": {"B1": 3, "B2": 5}, "B": {"B1": 3, "B2": 3}}, trial_year="2025")
    second = table({"A": {"B1": 6, "B2": 8, "B3": 10}, "B": {"B1": 5, "B2": 5, "B3": 5}})
    found = means(pd.concat([first, second], ignore_index=True))
    variance = (1 / 2 + 2 / 3) / 4
    freedom = variance**2 / ((1 / 8) ** 2 / 1 + (1 / 6) ** 2 / 2)
    half = t.ppf(0.975, freedom) * math.sqrt(variance)
    assert_allclose(figures(found["A"]), (6, math.sqrt(variance), freedom, 6 - half, 6 + half))
    assert_allclose(found["B"].mean, 4)


@pytest.mark.parametrize("column", ["crop", "site", "trial_year"])
def test_plots_of_another_crop_site_or_year_are_never_pooled(column: str) -> None:
    one = table({"A": {"B1": 3, "B2": 5}, "B": {"B1": 3, "B2": 3}})
    other = one.assign(**{column: "another"}, kg=one["kg"] + 10)
    models = block_models(pd.concat([one, other], ignore_index=True), IN_BLOCKS, value="kg")
    assert len(models) == 2
    assert_allclose([model.values.mean() for model in models.values()], [3.5, 13.5])


def test_a_season_in_which_a_treatment_was_lost_wholly_does_not_count_for_it() -> None:
    """By hand: A has 4 in the first season alone; B 3 and 5."""
    first = table({"A": {"B1": 3, "B2": 5}, "B": {"B1": 3, "B2": 3}}, trial_year="2025")
    second = table({"A": {"B1": math.nan, "B2": math.nan}, "B": {"B1": 4, "B2": 6}})
    found = means(pd.concat([first, second], ignore_index=True))
    assert_allclose([found["A"].mean, found["B"].mean], [4, 4])
    assert (found["A"].reason, found["B"].reason) == ("", NO_ERROR_LEFT)  # B alone leaves no error in the second


def test_a_treatment_that_stands_for_several_cells_is_their_mean() -> None:
    """By hand: 4 kg over two plots with fungus, 8 kg on one without: 6, whatever the plots of each."""
    rows = [("tank", "fungus", 3.0), ("tank", "fungus", 5.0), ("tank", "none", 8.0)]
    plots = pd.DataFrame(rows, columns=["factor_water", "factor_inoculation", "kg"])
    plots = plots.assign(treatment="tank", crop="", site="", trial_year="", block=["B1", "B2", "B1"])
    found = means(plots, completely_randomised("factor_water", "factor_inoculation"))
    assert_allclose(found["tank"].mean, 6)
    model = fit(plots, completely_randomised("factor_water", "factor_inoculation"), value="kg")
    assert_allclose(cell_weights(model, plots), [0.5, 0.5])
    assert_allclose(cell_weights(model, plots.iloc[:0]), [0, 0])


def test_a_yield_carries_the_error_of_shared_weighings() -> None:
    """By hand: variance 1/2 of the first season above, 0.3 of the weighings on top."""
    plots = table({"A": {"B1": 3, "B2": 5}, "B": {"B1": 3, "B2": 3}}).rename(columns={"kg": "yield_kg_per_m2"})
    shared = plots.assign(shared_mass_covariance=0.3)
    found = adjusted_means(shared, block_models(shared, IN_BLOCKS, value="yield_kg_per_m2"))["A"]
    assert_allclose(found.standard_error, math.sqrt(0.8))
    assert_allclose(found.degrees_of_freedom, 0.8**2 / 0.5**2)  # the weighings' size is taken as known


def test_another_confidence_gives_another_interval_of_the_same_mean() -> None:
    plots = table({"A": {"B1": 3, "B2": 5}, "B": {"B1": 3, "B2": 3}})
    models = block_models(plots, IN_BLOCKS, value="kg")
    found = adjusted_means(plots, models, confidence=0.8)["A"]
    assert_allclose(found.high - found.mean, t.ppf(0.9, 1) * math.sqrt(0.5))


# --- no mean, no interval ------------------------------------------------------------------------


def test_a_treatment_without_a_value_has_no_mean_and_a_reason() -> None:
    found = means(table({"A": {"B1": 3, "B2": 5}, "B": {"B1": math.nan, "B2": math.nan}}))["B"]
    assert np.isnan(figures(found)).all()
    assert found.reason == NOT_LINKED


def test_without_any_value_there_is_no_model_and_no_mean() -> None:
    plots = table({"A": {"B1": math.nan}, "B": {"B1": math.nan}})
    assert block_models(plots, IN_BLOCKS, value="kg") == {}
    assert {one.reason for one in means(plots).values()} == {NOT_LINKED}


def test_treatments_that_no_block_links_have_no_mean() -> None:
    """A in one block and B in the other: their difference is that of the blocks."""
    found = means(table({"A": {"B1": 3}, "B": {"B2": 5}}))
    assert {one.reason for one in found.values()} == {NOT_LINKED}
    assert np.isnan([one.mean for one in found.values()]).all()


def test_a_mean_without_degrees_of_freedom_for_the_error_has_no_interval() -> None:
    """By hand: in one block nothing is left: the means are the plots."""
    found = means(table({"A": {"B1": 3}, "B": {"B1": 5}}))
    assert_allclose([found["A"].mean, found["B"].mean], [3, 5])
    assert np.isnan(figures(found["A"])[1:]).all()
    assert found["A"].reason == NO_ERROR_LEFT


def test_plots_all_alike_have_a_mean_that_is_its_own_range() -> None:
    found = means(table({"A": {"B1": 3, "B2": 3}, "B": {"B1": 3, "B2": 3}}))["A"]
    assert_allclose((found.mean, found.standard_error, found.low, found.high), (3, 0, 3, 3))
    assert math.isnan(found.degrees_of_freedom)
    assert found.reason == NO_SPREAD


def test_an_interval_over_seasons_waits_for_an_error_in_each() -> None:
    first = table({"A": {"B1": 3, "B2": 5}, "B": {"B1": 3, "B2": 3}}, trial_year="2025")
    found = means(pd.concat([first, table({"A": {"B1": 6}, "B": {"B1": 7}})], ignore_index=True))["A"]
    assert_allclose(found.mean, 5)
    assert np.isnan(figures(found)[1:]).all()
    assert found.reason == NO_ERROR_LEFT


# --- how it was drawn ----------------------------------------------------------------------------


def test_case_toml_says_that_the_demo_is_a_split_plot() -> None:
    design = trial_design(open_case(DEMO))
    assert design.arrangement == split_plot(whole=("factor_water",), sub=("factor_inoculation",))
    assert design.told_by == "case.toml"


@pytest.mark.parametrize(
    ("stated", "arrangement"),
    [
        ("blocks", complete_blocks("treatment")),
        ("factorial", complete_blocks("factor_inoculation", "factor_water")),
        ("random", completely_randomised("treatment")),
    ],
)
def test_every_design_that_case_toml_may_state_has_its_arrangement(
    tmp_path: Path, stated: str, arrangement: Arrangement
) -> None:
    case = copy_demo(tmp_path)
    say_of_the_trial(case, f'[trial]\ndesign = "{stated}"')
    assert trial_design(open_case(case)).arrangement == arrangement


@pytest.mark.parametrize(("whole", "dropped"), [("watering", []), ("water", ["factor_inoculation"])])
def test_a_split_plot_without_its_factor_or_another_is_refused(tmp_path: Path, whole: str, dropped: list[str]) -> None:
    case = copy_demo(tmp_path)
    say_of_the_trial(case, f'[trial]\ndesign = "split"\nwhole_plots = "{whole}"')
    plots = pd.read_csv(case / "plots.csv", dtype=str, keep_default_na=False).drop(columns=dropped)
    plots.to_csv(case / "plots.csv", index=False)
    with pytest.raises(FaultsError, match=rf"case\.toml, whole_plots: found '{whole}'; plots\.csv has no column"):
        trial_design(open_case(case))


def test_a_frozen_plan_says_how_its_factors_were_drawn(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    a_frozen_plan(case)
    design = trial_design(open_case(case))
    assert design.arrangement == split_plot(whole=("factor_water",), sub=("factor_inoculation",))
    assert design.told_by == "the frozen plan"


def test_blocks_without_a_word_are_taken_as_blocks_of_treatments(tmp_path: Path) -> None:
    design = trial_design(trial_case(tmp_path))
    assert design.arrangement == complete_blocks("treatment")
    assert design.told_by.startswith("nothing; taken as drawn by lot within the blocks")


def test_a_plot_without_a_block_or_one_block_alone_is_no_block_design(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    one_block_left_blank(case)
    one = trial_case(tmp_path / "one", files={"plots.csv": PLOTS.replace("B2", "B1")})
    for design in (trial_design(open_case(case)), trial_design(one)):
        assert design.arrangement == completely_randomised("treatment")
        assert design.told_by.startswith("nothing; taken as drawn by lot over all plots")


# --- less water drawn ----------------------------------------------------------------------------


def compared(folder: Path, **files: str):
    """Return `less_drawn` and `less_water` of tank and hand in the small trial."""
    tables = {f"{name}.csv": text for name, text in files.items()}
    trial = read_trial(trial_case(folder, files=tables))
    assert trial is not None
    models = trial.models["drawn_l_per_m2"]
    pair = ("tank", "hand")
    return less_drawn(trial.ledger, trial.units, models, *pair), less_water(trial.ledger, *pair)


def test_a_lost_plot_is_taken_at_its_block(tmp_path: Path) -> None:
    """By hand: T2 is lost; 100 of T1 beside 200 and 280 in the hand's two blocks are 140 over both: 1 - 140/240."""
    lost = HARVESTS.replace("2026-05-01,T2,,20,5\n", "")
    water = WATER.replace("H2,irrigation,800", "H2,irrigation,1120")
    found, plain = compared(tmp_path, harvests=lost, water=water)
    assert_allclose(found.less_water_share, 1 - 140 / 240)
    assert_allclose(plain.less_water_share, 1 - 100 / 240)
    assert (found.plots, found.reference_plots) == (1, 2)
    assert found.reason == NO_ERROR_LEFT
    assert math.isnan(found.low)


def test_the_degrees_of_freedom_are_those_of_the_block_model(tmp_path: Path) -> None:
    """By hand: four plots, three fitted; the ends in test_appraise."""
    found, _ = compared(tmp_path)
    assert_allclose(found.degrees_of_freedom, 1)
    assert_allclose(found.less_water_share, 0.4)


def test_a_shared_meter_two_seasons_and_no_record_leave_the_plain_comparison(tmp_path: Path) -> None:
    shared, plain = compared(tmp_path / "shared", water=WATER.replace(",b\n", ",a\n"))
    assert shared == plain
    assert shared.reason == SHARED_METER
    dry = "".join(line for line in WATER.splitlines(keepends=True) if ",T" not in line)
    assert compared(tmp_path / "dry", water=dry)[0].reason == NO_RECORD
    lines = PLOTS.splitlines()
    years = "\n".join([f"{lines[0]},trial_year", *(f"{line},202{n % 2 + 5}" for n, line in enumerate(lines[1:])), ""])
    seasons, plain = compared(tmp_path / "years", plots=years)
    assert seasons == plain


def test_treatments_that_no_block_links_are_compared_over_all_plots(tmp_path: Path) -> None:
    """Blocks of one treatment each take nothing out: the means are those of the plots, 120 of 200 l/m2."""
    apart = PLOTS.replace("T2,B2", "T2,B1").replace("H1,B1", "H1,B2")
    found, plain = compared(tmp_path, plots=apart)
    assert_allclose([found.less_water_share, plain.less_water_share], 0.4)
    case = trial_case(tmp_path / "again", files={"plots.csv": apart})
    assert trial_design(case).arrangement.blocks == ()
