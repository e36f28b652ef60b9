"""How often 95 % intervals hold the truth: 2,000 seeded trials without any true difference."""

from collections.abc import Sequence
from itertools import product

import numpy as np
import pandas as pd
import pytest

from plotworth.field.arrangement import Arrangement, complete_blocks, split_plot
from plotworth.field.block_model import solve, spread
from plotworth.field.contrast import margin
from plotworth.field.factor_effects import split_plot_comparisons
from plotworth.field.model_matrices import prepare

TRIALS = 2000
PATTERNS = 20  # of missing plots, each in a hundred trials
LOWEST, HIGHEST = 0.93, 0.97  # Monte Carlo error of a share of 0.95 over 2,000 trials: 0.005
BLOCKS, SUB = 4, 3
# invented: blocks, whole plots and plots spread like a field whose plots vary by 15 %
BLOCK_SD, WHOLE_SD, PLOT_SD = 0.2, 0.15, 0.15
SPLIT = split_plot(whole=("water",), sub=("feed",))


def _plots(columns: Sequence[str], levels: int) -> pd.DataFrame:
    rows = product(range(BLOCKS), range(levels), *([range(SUB)] * (len(columns) - 2)))
    return pd.DataFrame(list(rows), columns=list(columns))


def _values(plots: pd.DataFrame, trials: int, generator: np.random.Generator, whole_sd: float) -> np.ndarray:
    """Yields of every plot in every trial: blocks, whole plots (where there are any) and plots at random."""
    values = 2.0 + generator.normal(0, BLOCK_SD, (BLOCKS, trials))[plots["block"]]
    if "water" in plots:
        wholes = plots["block"] * 2 + plots["water"]
        values = values + generator.normal(0, whole_sd, (2 * BLOCKS, trials))[wholes]
    return values + generator.normal(0, PLOT_SD, (len(plots), trials))


def _covered(
    plots: pd.DataFrame,
    arrangement: Arrangement,
    mixes: dict[str, np.ndarray],
    missing: int,
    *,
    whole_sd: float = WHOLE_SD,
) -> dict:
    """Share of trials whose interval of each mix of cell means, 0 in truth, holds 0."""
    from scipy.stats import t

    generator = np.random.default_rng(20260301)
    patterns = PATTERNS if missing else 1
    estimates, errors, freedoms = ({name: [] for name in mixes} for _ in range(3))
    for _ in range(patterns):
        observed = np.ones(len(plots), dtype=bool)
        observed[generator.choice(len(plots), missing, replace=False)] = False
        matrices = prepare(plots, arrangement, observed)
        for values in _values(plots, TRIALS // patterns, generator, whole_sd)[observed].T:
            model = solve(matrices, values)
            for name, mix in mixes.items():
                error = spread(model, mix)
                estimates[name].append(mix @ model.estimates)
                errors[name].append(error.standard_error)
                freedoms[name].append(error.degrees_of_freedom)
    held = {n: np.abs(estimates[n]) <= t.ppf(0.975, freedoms[n]) * np.array(errors[n]) for n in mixes}
    return {name: float(np.mean(share)) for name, share in held.items()}


def _first_difference(levels: int) -> np.ndarray:
    return np.eye(levels)[1] - np.eye(levels)[0]


@pytest.mark.parametrize("missing", [0, 1, 3])
def test_intervals_in_complete_blocks_hold_the_truth(missing: int) -> None:
    plots = _plots(["block", "treatment"], 5)
    shares = _covered(plots, complete_blocks("treatment"), {"difference": _first_difference(5)}, missing)
    assert LOWEST <= shares["difference"] <= HIGHEST, shares


def _split_mixes(plots: pd.DataFrame) -> dict[str, np.ndarray]:
    """One difference of each of the four kinds, and of cells alike in neither factor."""
    matrices = prepare(plots, SPLIT, np.ones(len(plots), dtype=bool))
    model = solve(matrices, np.random.default_rng(1).normal(size=len(plots)))
    water, feed, cell = (margin(model, *names).weights for names in (("water",), ("feed",), ()))
    return {
        "whole": water[1] - water[0],
        "sub": feed[1] - feed[0],
        "sub in whole": cell[1] - cell[0],
        "whole at sub": cell[SUB] - cell[0],
        "whole across sub": cell[SUB + 1] - cell[0],
    }


@pytest.mark.parametrize("whole_sd", [0.0, WHOLE_SD])  # 0: the whole-plot error often comes out below the plots'
@pytest.mark.parametrize("missing", [0, 2, 4])
def test_intervals_of_all_four_comparisons_of_a_split_plot_hold_the_truth(missing: int, whole_sd: float) -> None:
    plots = _plots(["block", "water", "feed"], 2)
    shares = _covered(plots, SPLIT, _split_mixes(plots), missing, whole_sd=whole_sd)
    assert all(LOWEST <= share <= HIGHEST for share in shares.values()), shares


def test_one_error_for_a_whole_split_plot_would_not_hold_it() -> None:
    """The mistake this guards against: sub-plots taken for replicates of the whole-plot factor."""
    plots = _plots(["block", "water", "feed"], 2)
    mixes = {"whole": _split_mixes(plots)["whole"]}
    assert _covered(plots, complete_blocks("water", "feed"), mixes, 0)["whole"] < LOWEST


def test_the_four_comparisons_are_those_simulated() -> None:
    plots = _plots(["block", "water", "feed"], 2)
    matrices = prepare(plots, SPLIT, np.ones(len(plots), dtype=bool))
    found = split_plot_comparisons(solve(matrices, np.random.default_rng(1).normal(size=len(plots))))
    kinds = (found.whole, found.sub, found.sub_in_whole, found.whole_at_sub, found.whole_across_sub)
    assert [len(kind) for kind in kinds] == [1, 3, 6, 3, 6]
