"""The error of shared fruit weighings beside that of the plots."""

import math

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from plotworth.field.analysis_of_variance import analysis_of_variance
from plotworth.field.arrangement import complete_blocks
from plotworth.field.block_model import NO_SPREAD, BlockModel, fit, joint_means
from plotworth.field.compare import differences, new_plots, treatment_means
from plotworth.field.weighing_error import WEIGHING, with_weighing_error

CLOSE = 1e-9
LAYOUT = complete_blocks("treatment")


@pytest.fixture
def yields() -> pd.DataFrame:
    """Invented: three blocks, two treatments; drip's plots share weighed fruit, wick's weighed their own."""
    rows = [(block, treatment) for block in "123" for treatment in ("drip", "wick")]
    return pd.DataFrame(rows, columns=["block", "treatment"]).assign(
        yield_kg_per_m2=[3.0, 2.0, 3.6, 3.1, 3.3, 2.4],
        shared_mass_covariance=[0.010, 0.0, 0.020, 0.0, 0.030, math.nan],
    )


def _errors(model: BlockModel) -> list[float]:
    return [mean.standard_error**2 for mean in treatment_means(model)]


def test_the_shared_part_is_added_once_to_the_mean_of_its_treatment(yields: pd.DataFrame) -> None:
    plain = fit(yields, LAYOUT)
    full = with_weighing_error(plain, yields)
    # mean covariance of drip 0.02, of wick 0
    assert_allclose(np.subtract(_errors(full), _errors(plain)), [0.02, 0.0], atol=1e-12)
    before, after = differences(plain, baseline="drip")[0], differences(full, baseline="drip")[0]
    assert_allclose(after.standard_error**2 - before.standard_error**2, 0.02, rtol=CLOSE)
    assert_allclose(after.estimate, before.estimate, rtol=CLOSE)
    # Satterthwaite with a part of known size: v^2 / (own^2 / 2)
    own = before.standard_error**2
    assert_allclose(after.degrees_of_freedom, (own + 0.02) ** 2 / (own**2 / 2), rtol=CLOSE)


def test_it_enters_the_joint_covariance_and_leaves_the_table_alone(yields: pd.DataFrame) -> None:
    plain = fit(yields, LAYOUT)
    full = with_weighing_error(plain, yields)
    added = joint_means(full).covariance - joint_means(plain).covariance
    assert_allclose(added, [[0.02, 0.0], [0.0, 0.0]], atol=1e-12)  # rounding
    assert analysis_of_variance(full).variation == analysis_of_variance(plain).variation
    assert [line.term for line in analysis_of_variance(full).lines] == ["block", "treatment", "error"]
    assert full.strata[-1].name == WEIGHING


def test_a_new_plot_shares_the_weighing_once(yields: pd.DataFrame) -> None:
    plain = fit(yields, LAYOUT)
    rows = [new_plots(model)[0].standard_error ** 2 for model in (with_weighing_error(plain, yields), plain)]
    assert_allclose(rows[0] - rows[1], 0.02, rtol=CLOSE)


def test_weighed_yields_and_a_lone_treatment_stay_as_they_are(yields: pd.DataFrame) -> None:
    plain = fit(yields, LAYOUT)
    assert with_weighing_error(plain, yields.assign(shared_mass_covariance=0.0)) is plain


def test_a_known_weighing_error_does_not_stand_in_for_plots_that_do_not_differ(yields: pd.DataFrame) -> None:
    flat = yields.assign(yield_kg_per_m2=2.0)
    found = differences(with_weighing_error(fit(flat, LAYOUT), flat), baseline="drip")[0]
    assert found.reason == NO_SPREAD


def test_each_cell_of_a_factorial_has_its_own(yields: pd.DataFrame) -> None:
    both = pd.concat([yields.assign(feed="low"), yields.assign(feed="high", shared_mass_covariance=0.005)])
    both["yield_kg_per_m2"] += np.random.default_rng(2).normal(0, 0.1, len(both))
    plain = fit(both, complete_blocks("treatment", "feed"))
    added = np.subtract(_errors(with_weighing_error(plain, both)), _errors(plain))
    want = {("drip", "low"): 0.02, ("wick", "low"): 0.0}
    assert_allclose(added, [want.get(cell, 0.005) for cell in plain.cells], atol=1e-12)
