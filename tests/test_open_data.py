"""Open data opened as cases by a mapping file alone: their figures against R, their appraisal end to end."""

import csv
import math
import shutil
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import t

import published_trials
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.trial_sentences import trial_sentences
from plotworth.field.compare import differences
from plotworth.field.contrast import margin
from plotworth.field.ratio import ratio_of_means
from plotworth.field.yields import treatment_yields
from plotworth.ground.conversions import GRAMS_PER_KG
from published_trials import outside as outside_model

CASES = Path(__file__).parent / "cases"
NAMES = ("antigua_corn", "npk_peas", "oats", "tomato_uniformity")
SITES = ("DBAN", "LFAN", "NSAN", "ORAN", "OVAN", "TEAN", "WEAN", "WLAN")
LB_TO_KG = 0.45359237
TREATMENT_FIGURES = ("mean", "sd", "se_own", "ci95_own_lo", "ci95_own_hi")
TREATMENT_COLUMNS = [
    "yield_kg_per_m2",
    "yield_sd_kg_per_m2",
    "yield_se_kg_per_m2",
    "yield_low_kg_per_m2",
    "yield_high_kg_per_m2",
]


def outside(data: str, group: str) -> Mapping[str, float]:
    with (CASES.parent / "published" / "open_data.csv").open(newline="", encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if (row["data"], row["group"]) == (data, group)]
    return {row["quantity"]: float(row["value"]) for row in rows}


def laid_out(name: str) -> Layout:
    return lay_out(open_case(CASES / name))


@pytest.fixture
def antigua(tmp_path: Path):
    """Return a function that lays out the case of another site, by its word in `where` alone."""

    def at(site: str) -> Layout:
        folder = shutil.copytree(CASES / "antigua_corn", tmp_path / site)
        mapping = folder / "mapping.toml"
        mapping.write_text(mapping.read_text(encoding="utf-8").replace('"DBAN"', f'"{site}"'), encoding="utf-8")
        return lay_out(open_case(folder))

    return at


# --- published -----------------------------------------------------------------------------------


@pytest.mark.published
def test_the_uniformity_trial_has_the_mean_spread_and_interval_of_r() -> None:
    expected = outside("tomato_uniformity", "all")
    found = treatment_yields(laid_out("tomato_uniformity").trial.plots).loc["uniform"]
    names = ["mean_kg_m2", "sd_kg_m2", "se_kg_m2", "ci95_low_kg_m2", "ci95_high_kg_m2"]
    assert found["plots"] == expected["n"]
    assert_allclose(found[TREATMENT_COLUMNS].astype(float), [expected[name] for name in names], rtol=1e-9)


@pytest.mark.published
def test_the_uniformity_trial_s_range_takes_its_error_from_plots_of_the_same_row() -> None:
    """R's mean, for all rows are as long; the error by definition: the plots' pooled variance within their rows."""
    layout = laid_out("tomato_uniformity")
    plots = layout.trial.plots
    rows = plots.groupby("block")["yield_kg_per_m2"]
    freedom = len(plots) - len(rows)
    variance = ((plots["yield_kg_per_m2"] - rows.transform("mean")) ** 2).sum() / freedom
    half = t.ppf(0.975, freedom) * math.sqrt(variance / len(plots))
    found = layout.inputs["yield_kg_per_m2/trial/tomato"]
    mean = outside("tomato_uniformity", "all")["mean_kg_m2"]
    assert_allclose((found.value, found.low, found.high), (mean, mean - half, mean + half), rtol=1e-9)
    assert found.origin == "trial"


@pytest.mark.published
@pytest.mark.parametrize("level", ["N0", "N1"])
def test_a_nitrogen_level_of_the_peas_has_r_s_marginal_mean_and_the_spread_of_its_plots(level: str) -> None:
    expected = outside("npk_peas", level)
    trial = laid_out("npk_peas").trial
    assert_allclose(trial.treatments.loc[level, "yield_kg_per_m2"], expected["emmean_kg_m2"], rtol=1e-9)
    found = treatment_yields(trial.plots).loc[level]
    assert found["plots"] == expected["n"]
    figures = [expected[f"{name}_kg_m2"] for name in TREATMENT_FIGURES]
    assert_allclose(found[TREATMENT_COLUMNS].astype(float), figures, rtol=1e-9)


@pytest.mark.published
@pytest.mark.parametrize("level", ["0", "1"])
def test_peas_drawn_as_a_factorial_have_r_s_marginal_mean_error_and_interval(tmp_path: Path, level: str) -> None:
    expected = outside_model("npk_peas", "mean")["N", level]
    folder = shutil.copytree(CASES / "npk_peas", tmp_path / "case")
    text = (folder / "case.toml").read_text(encoding="utf-8")
    stated = text.replace("[place]", '[trial]\ndesign = "factorial"\n\n[place]')
    (folder / "case.toml").write_text(stated, encoding="utf-8")
    found = lay_out(open_case(folder)).trial.means["yield_kg_per_m2"][f"N{level}"]
    to_kg_per_m2 = LB_TO_KG / outside("npk_peas", "all")["plot_area_m2"]
    figures = np.array([expected[name] for name in ("emmean", "SE", "ci_lo", "ci_hi")]) * to_kg_per_m2
    assert_allclose((found.mean, found.standard_error, found.low, found.high), figures, rtol=1e-9)
    assert_allclose(found.degrees_of_freedom, expected["df"], rtol=1e-9)


def peas() -> pd.DataFrame:
    """The plots of the peas with their factors and their yield."""
    case = open_case(CASES / "npk_peas")
    return case.table("plots").merge(lay_out(case).trial.plots[["plot", "yield_kg_per_m2"]], on="plot")


@pytest.mark.published
@pytest.mark.parametrize(("factor", "letter"), [("nitrogen", "N"), ("phosphate", "P"), ("potash", "K")])
def test_the_peas_main_effects_in_kilograms_are_r_s_marginal_means_in_pounds(factor: str, letter: str) -> None:
    plots, area = peas(), outside("npk_peas", "all")["plot_area_m2"]
    for level, found in plots.groupby(f"factor_{factor}")["yield_kg_per_m2"].mean().items():
        expected = outside("npk_peas", f"{letter}{level}")["emmean_lb"] * LB_TO_KG / area
        assert_allclose(found, expected, rtol=1e-9)


@pytest.mark.published
def test_the_eight_nutrient_combinations_of_the_peas_have_r_s_means() -> None:
    plots, area = peas(), outside("npk_peas", "all")["plot_area_m2"]
    combination = "N" + plots["factor_nitrogen"] + "P" + plots["factor_phosphate"] + "K" + plots["factor_potash"]
    means = plots.groupby(combination)["yield_kg_per_m2"].mean()
    assert len(means) == 8
    for name, found in means.items():
        assert_allclose(found, outside("npk_peas", str(name))["mean_lb"] * LB_TO_KG / area, rtol=1e-9)


@pytest.mark.published
@pytest.mark.parametrize("site", SITES)
def test_the_mean_ear_of_a_site_has_r_s_ratio_error_and_both_intervals(antigua, site: str) -> None:
    expected = outside("antigua_corn", site)
    plots = antigua(site).trial.plots
    plots = plots[~plots["missing"].astype(bool)]
    found = ratio_of_means(plots["yield_kg"] / LB_TO_KG, plots["marketable_fruits"])
    assert len(plots) == expected["n"]
    assert found.degrees_of_freedom == expected["df"]
    assert_allclose((found.ratio, found.standard_error), (expected["ratio"], expected["se_taylor"]), rtol=1e-9)
    half = t.ppf(0.975, found.degrees_of_freedom) * found.standard_error
    ends = found.ratio - half, found.ratio + half
    assert_allclose(ends, (expected["ci95_t_low"], expected["ci95_t_high"]), rtol=1e-9)
    fieller = expected["fieller_ci95_low"], expected["fieller_ci95_high"]
    assert_allclose((found.low, found.high), fieller, rtol=1e-9)
    assert_allclose(found.g, expected["fieller_g"], rtol=1e-9)


@pytest.mark.published
@pytest.mark.parametrize("site", SITES)
def test_the_fruit_mass_that_enters_the_appraisal_is_r_s_mean_ear_with_fieller_s_interval(antigua, site: str) -> None:
    """Blocks of equal weight: where all hold as many plots that is R's ratio; else it and its ends move as one."""
    expected = outside("antigua_corn", site)
    layout = antigua(site)
    found = layout.inputs["fruit_mass_g/trial/maize ears"]
    figures = np.array([expected[name] for name in ("ratio", "fieller_ci95_low", "fieller_ci95_high")])
    blocks = layout.trial.plots.groupby("block")
    if blocks["yield_kg"].count().nunique() > 1:
        kilograms, ears = (blocks[name].mean().mean() for name in ("yield_kg", "marketable_fruits"))
        figures = figures * (kilograms / LB_TO_KG / ears) / expected["ratio"]
    assert_allclose((found.value, found.low, found.high), GRAMS_PER_KG * LB_TO_KG * figures, rtol=1e-9)


@pytest.mark.published
@pytest.mark.parametrize("site", SITES)
def test_a_site_s_mean_plot_weight_is_r_s(antigua, site: str) -> None:
    trial = antigua(site).trial
    area = trial.plots["net_area_m2"].iloc[0]
    expected = outside("antigua_corn", site)["mean_weight"] * LB_TO_KG / area
    own = treatment_yields(trial.plots).loc["site mean"]
    assert_allclose(own["yield_kg_per_m2"], expected, rtol=1e-9)
    over_blocks = trial.plots.groupby("block")["yield_kg_per_m2"].mean().mean()
    assert_allclose(trial.treatments.loc["site mean", "yield_kg_per_m2"], over_blocks, rtol=1e-9)
    assert own["missing_plots"] > 0 or math.isclose(over_blocks, expected, rel_tol=1e-9)


# --- the mapping ---------------------------------------------------------------------------------


def test_a_plot_coded_minus_9999_is_missing_and_no_zero(antigua) -> None:
    # TEAN block IV plot 36 of the file: ears -9999 and a blank weight
    trial = antigua("TEAN").trial
    lost = trial.plots[trial.plots["missing"].astype(bool)]
    assert list(lost["plot"]) == ["TEAN-36"]
    assert np.isnan(lost["yield_kg"].iloc[0])
    counts = trial.treatments.loc["site mean", ["plots", "missing_plots"]]
    assert list(counts) == [35, 1]


def test_a_treatment_code_0_stays_text() -> None:
    codes = set(open_case(CASES / "antigua_corn").table("plots")["factor_fertiliser"])
    assert {"0", "2", "20", "22"} <= codes
    assert len(codes) == 12


def test_ears_all_weighed_leave_no_sampling_error_and_no_disagreement() -> None:
    trial = laid_out("antigua_corn").trial
    assert_allclose(trial.plots["counted_kg_se"].astype(float), 0.0, atol=1e-12)
    assert_allclose(trial.treatments.loc["site mean", "disagreement_share"], 0.0, atol=1e-12)


# --- end to end ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_an_open_data_case_is_appraised_end_to_end(name: str) -> None:
    layout = laid_out(name)
    outcome = evaluate(layout.structure, layout.values, expected_shocks(layout.structure, layout.values))
    for system, figures in outcome.systems.items():
        assert math.isfinite(figures["npv"].item()), system
        assert figures["marketable_kg"].item() > 0, system


@pytest.mark.parametrize("name", NAMES)
def test_everything_economic_in_an_open_data_case_is_a_stand_in_of_grade_d(name: str) -> None:
    case = open_case(CASES / name)
    assert case.settings.invented
    assert {line.grade for line in case.costs} == {"D"}
    assert {row.grade for row in case.book.rows if row.value != "trial"} == {"D"}


# --- a fourth data set, opened by a new mapping alone ----------------------------------------------


@pytest.mark.published
def test_the_oats_split_plot_has_r_s_difference_between_two_doses() -> None:
    """R 4.2, split plot with Error(B/V): the pair 0.0cwt and 0.4cwt of nitrogen, quarter-pounds a sub-plot."""
    expected = published_trials.outside("oats", "pair")["N", "0.0cwt", "0.4cwt"]
    trial = laid_out("oats").trial
    (model,) = trial.models["yield_kg_per_m2"].values()
    levels = margin(model, "factor_nitrogen")
    found = next(one for one in differences(model, levels, baseline="0.0cwt") if one.label.startswith("0.4cwt"))
    quarter_lb_per_m2 = LB_TO_KG / 4 / trial.plots["net_area_m2"].iloc[0]
    assert_allclose(found.estimate, -expected["estimate"] * quarter_lb_per_m2, rtol=1e-9)
    assert_allclose(found.standard_error, expected["SE"] * quarter_lb_per_m2, rtol=1e-9)
    assert found.degrees_of_freedom == pytest.approx(expected["df"])
    ends = -expected["ci_hi"] * quarter_lb_per_m2, -expected["ci_lo"] * quarter_lb_per_m2
    assert_allclose((found.low, found.high), ends, rtol=1e-9)


def test_a_fourth_data_set_needs_a_mapping_and_no_code() -> None:
    """What may be said of the oats follows from their layout: the dose by lot within varieties, 31 to 59 % more."""
    said = trial_sentences(appraise(open_case(CASES / "oats")))
    assert said is not None
    assert any(
        line.startswith("Oats with nitrogen yields more than Oats without nitrogen: by 31") for line in said.lines()
    )
