"""What the trial measured, as it stands for the word `trial` in a book; by hand from two plots a treatment.

Two treatments in two blocks leave one degree of freedom: with a difference that itself differs by d between the blocks
every plot lies d/4 off its fit, the mean square is d^2/4 and a mean over both blocks has the variance d^2/8. The t
interval at 95 % is the mean +- 12.7062 standard errors (Student's t, 1 degree of freedom).
"""

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from plotworth.choose.inputs import lay_out
from plotworth.choose.measured import Trial, measured_figures, read_trial
from plotworth.field.block_model import NO_SPREAD
from plotworth.ground.errors import FaultsError
from trial_case import HARVESTS, PLOTS, WATER, trial_case

T_1 = 12.7062047362
T_2 = 4.30265272975
UNEVEN = HARVESTS.replace("H2,,16", "H2,,8")
"""Hand yields 2 and 2 kg/m2 beside the tank's 3 and 5: differences of 1 and 3."""


def trial(folder: Path, **files: str) -> Trial:
    tables = {f"{name}.csv": text for name, text in files.items()}
    found = read_trial(trial_case(folder, files=tables))
    assert found is not None
    return found


def test_the_yield_is_the_mean_over_plots_with_its_interval(tmp_path: Path) -> None:
    """By hand: 12 and 20 kg on 4 m2 are 3 and 5 kg/m2, mean 4; d = 2, standard error the root of 1/2."""
    figure = measured_figures(trial(tmp_path, harvests=UNEVEN), "tank", "pepper")["yield_kg_per_m2"]
    half = T_1 * math.sqrt(1 / 2)
    assert_allclose([figure.value, figure.low, figure.high], [4, 4 - half, 4 + half])


def test_without_a_lot_drawn_inside_blocks_plots_of_all_blocks_give_the_error(tmp_path: Path) -> None:
    """By hand: each plot lies 1 kg/m2 off its mean: mean square 4/2, standard error 1, two degrees of freedom."""
    drawn = {"[[systems]]": '[trial]\ndesign = "random"\n\n[[systems]]'}
    found = read_trial(trial_case(tmp_path, settings=drawn))
    assert found is not None
    figure = measured_figures(found, "tank", "pepper")["yield_kg_per_m2"]
    assert_allclose([figure.value, figure.low, figure.high], [4, 4 - T_2, 4 + T_2])


def test_treatments_that_differ_alike_in_every_block_show_no_error(tmp_path: Path) -> None:
    """By hand: 3 and 5 beside 2 and 4: the difference is 1 in both blocks."""
    measured = trial(tmp_path)
    figure = measured_figures(measured, "tank", "pepper")["yield_kg_per_m2"]
    assert_allclose([figure.value, figure.low, figure.high], [4, 4, 4])
    assert measured.means["yield_kg_per_m2"]["tank"].reason == NO_SPREAD


def test_water_applied_is_drawn_less_left_over(tmp_path: Path) -> None:
    """By hand: 90 and 130 l/m2 applied of 100 and 140 drawn: mean 110; d = 40 beside a hand that drew 200 twice.

    The standard error is the root of 40^2/8 = 200; delivered are 110/120.
    """
    figures = measured_figures(trial(tmp_path), "tank", "pepper")
    water, half = figures["water_applied_l_per_m2"], T_1 * math.sqrt(200)
    assert_allclose([water.value, water.low, water.high], [110, 110 - half, 110 + half])
    assert_allclose(figures["delivery_share"].value, 110 / 120)
    assert np.isnan(figures["delivery_share"].low)


def test_plants_and_culls_are_those_of_the_plots(tmp_path: Path) -> None:
    """By hand: 3 and 2 plants/m2; 8 kg culled of 40 picked. Culls that nobody recorded are no figure."""
    measured = trial(tmp_path)
    figures = measured_figures(measured, "tank", "pepper")
    assert_allclose([figures["plants_per_m2"].value, figures["cull_share"].value], [2.5, 0.2])
    assert "cull_share" not in measured_figures(measured, "hand", "pepper")


def test_fruits_times_their_mass_are_the_counted_yield(tmp_path: Path) -> None:
    """By hand: 80 and 120 fruits of 100 g on 4 m2: 25 fruits/m2 and 2.5 kg/m2."""
    counts = HARVESTS.replace("T1,,12", "T1,80,").replace("T2,,20", "T2,120,")
    masses = "date,plot,fruits,total_mass_g\n2026-05-01,T1,1,90\n2026-05-01,T1,1,110\n2026-05-01,T2,2,200\n"
    figures = measured_figures(trial(tmp_path, harvests=counts, fruit_masses=masses), "tank", "pepper")
    assert_allclose(figures["fruits_per_m2"].value, 25)
    assert_allclose(figures["fruit_mass_g"].value, 100)
    assert_allclose(figures["yield_kg_per_m2"].value, 2.5)


def test_counts_without_a_fruit_on_the_scale_leave_the_weighed_kilograms(tmp_path: Path) -> None:
    counts = HARVESTS.replace("T1,,12", "T1,80,12").replace("T2,,20", "T2,120,20")
    assert_allclose(measured_figures(trial(tmp_path, harvests=counts), "tank", "pepper")["yield_kg_per_m2"].value, 4)


def test_another_crop_or_treatment_measures_nothing(tmp_path: Path) -> None:
    measured = trial(tmp_path)
    assert measured_figures(measured, "tank", "bean") == {}
    assert measured_figures(measured, "drip", "pepper") == {}


def test_a_plot_without_pickings_is_missing_in_yield_and_in_water(tmp_path: Path) -> None:
    """By hand: T1 alone is left, with 3 kg/m2 where the hand has 2, 1 less than its own mean: over both blocks 4.

    The hand drew the same in both blocks, so the water stays at T1's 90 l/m2. Nothing is left for an interval.
    """
    lost = "".join(line for line in HARVESTS.splitlines(keepends=True) if "T2" not in line)
    figures = measured_figures(trial(tmp_path, harvests=lost), "tank", "pepper")
    assert_allclose([figures["yield_kg_per_m2"].value, figures["water_applied_l_per_m2"].value], [4, 90])
    assert np.isnan([figures["yield_kg_per_m2"].low, figures["water_applied_l_per_m2"].high]).all()


def test_one_meter_for_several_plots_gives_a_mean_without_an_interval(tmp_path: Path) -> None:
    shared = measured_figures(trial(tmp_path, water=WATER.replace(",b\n", ",a\n")), "tank", "pepper")
    assert_allclose(shared["water_applied_l_per_m2"].value, 110)
    assert np.isnan(shared["water_applied_l_per_m2"].low)


def test_without_a_water_record_there_is_no_figure_of_water(tmp_path: Path) -> None:
    dry = "".join(line for line in WATER.splitlines(keepends=True) if ",T" not in line)
    assert "water_applied_l_per_m2" not in measured_figures(trial(tmp_path, water=dry), "tank", "pepper")


def test_less_water_is_compared_with_each_reference_line(tmp_path: Path) -> None:
    """By hand: 120 l/m2 drawn against 200 are 40 % less; the reference is compared with nothing."""
    compared = trial(tmp_path).less_water
    assert list(compared) == [("tank", "hand")]
    assert_allclose(compared["tank", "hand"].less_water_share, 0.4)


def test_a_trial_row_of_a_blank_system_gives_each_system_its_own_figure(tmp_path: Path) -> None:
    layout = lay_out(trial_case(tmp_path, files={"harvests.csv": UNEVEN}))
    values = [layout.values[f"yield_kg_per_m2/{at}"].item() for at in ("tank/pepper", "hand/pepper")]
    assert_allclose(values, [4, 2])
    one = layout.inputs["yield_kg_per_m2/tank/pepper"]
    assert (one.origin, one.line) == ("trial", 4)
    assert_allclose([one.low, one.high], [0, 4 + T_1 * math.sqrt(1 / 2)])  # cut to what is possible


def test_a_trial_row_of_a_blank_crop_never_lends_one_crops_figure_to_another(tmp_path: Path) -> None:
    seasons = ("tank,dry,pepper,2,5,1", "tank,wet,bean,8,3,1", "hand,dry,pepper,2,5,1")
    with pytest.raises(FaultsError) as caught:
        lay_out(trial_case(tmp_path, book={"market_price_per_kg": 0.5}, seasons=seasons))
    assert {fault.name for fault in caught.value.faults} == {
        "yield_kg_per_m2",
        "water_applied_l_per_m2",
        "delivery_share",
    }
    assert all("for tank and bean" in fault.rule for fault in caught.value.faults)


def test_a_row_of_its_own_states_what_the_trial_did_not(tmp_path: Path) -> None:
    seasons = ("tank,dry,pepper,2,5,1", "tank,wet,bean,8,3,1", "hand,dry,pepper,2,5,1")
    typed = {"yield_kg_per_m2": 1.0, "water_applied_l_per_m2": 50.0, "delivery_share": 0.5}
    book = {f"{name}/all/bean": value for name, value in typed.items()} | {"market_price_per_kg": 0.5}
    layout = lay_out(trial_case(tmp_path, book=book, seasons=seasons))
    dry, wet = layout.structure.system("tank").seasons
    assert_allclose(layout.values[dry.addresses["yield_kg_per_m2"]], 4)
    assert layout.values[wet.addresses["yield_kg_per_m2"]] == 1


def test_a_system_without_a_treatment_has_nothing_measured(tmp_path: Path) -> None:
    with pytest.raises(FaultsError, match="no yield for hand and pepper \\(no treatment named for the system\\)"):
        lay_out(trial_case(tmp_path, settings={'\ntreatment = "hand"': ""}))


def test_a_trial_without_pickings_is_no_trial(tmp_path: Path) -> None:
    book = {"yield_kg_per_m2": 2.0, "water_applied_l_per_m2": 0.0, "delivery_share": 1.0}
    assert read_trial(trial_case(tmp_path, book=book, files={"plots.csv": PLOTS, "harvests.csv": None})) is None
