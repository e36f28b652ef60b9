"""What a trial could detect after all: the spread that its plots had, in place of the one that was expected."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from plotworth.case.folder import Case
from plotworth.case.schema import FACTOR_PREFIX
from plotworth.choose.measured import read_trial
from plotworth.choose.trial_model import YIELD, block_models
from plotworth.field.arrangement import Arrangement
from plotworth.field.block_model import BlockModel
from plotworth.field.design import BLOCKS, FACTORIAL, SPLIT, Design, Factor
from plotworth.field.power_card import PowerCard, achieved_card


@dataclass(frozen=True)
class AchievedTrial:
    """One crop, site and season of a trial that was harvested.

    Attributes: name in words; design as it stood; error mean squares of yield, one, in a split plot those of whole
    plots and of sub-plots [(kg/m2)^2]; mean yield over treatments [kg/m2]; plots with a yield and plots in all.
    """

    name: str
    design: Design
    error_mean_squares: tuple[float, ...]
    mean_kg_per_m2: float
    plots: int
    plots_planted: int

    def card(self, gain: float) -> PowerCard:
        """Return the power card from the achieved CV, for a smallest gain worth having [share of the mean]."""
        return achieved_card(
            self.design, error_mean_squares=self.error_mean_squares, mean=self.mean_kg_per_m2, gain=gain
        )


def achieved_trials(case: Case) -> tuple[tuple[AchievedTrial, ...], tuple[str, ...]]:
    """Return every crop, site and season of the case's trial that was harvested, and why one is left out."""
    if (trial := read_trial(case)) is None:
        return (), ()
    arrangement = trial.design.arrangement
    found, reasons = [], []
    for (crop, site, year), model in block_models(trial.units, arrangement, value=YIELD).items():
        name = ", ".join(part for part in (crop, site, year) if part)
        if reason := next(_reasons(model, arrangement), ""):
            reasons.append(f"{name}: what the trial could show is not told: {reason}.")
            continue
        own = trial.units[(trial.units[["crop", "site", "trial_year"]].astype(str) == [crop, site, year]).all(axis=1)]
        squares = tuple(stratum.mean_square for stratum in model.plot_strata)
        mean = float(np.mean(model.estimates))
        design = _design(model, arrangement, blocks=int(own[arrangement.blocks[0]].nunique()))
        found.append(AchievedTrial(name, design, squares, mean, len(model.values), len(own)))
    return tuple(found), tuple(reasons)


def _reasons(model: BlockModel, arrangement: Arrangement) -> Iterator[str]:
    """Yield why the power card does not fit the model."""
    if len(arrangement.blocks) != 1:
        yield "the plots lie in no blocks"
    split = bool(arrangement.whole_factors)
    if split and (len(arrangement.whole_factors), len(arrangement.sub_factors)) != (1, 1):
        yield "the card knows split plots of two factors alone"
    if not all(stratum.mean_square > 0 and math.isfinite(stratum.mean_square) for stratum in model.plot_strata):
        yield "plots treated alike leave no error to judge by"
    if not np.mean(model.estimates) > 0:
        yield "nothing was harvested"
    if len(model.cells) != math.prod(len(levels) for levels in _levels(model)):
        yield "not every combination of the factors was planted"


def _levels(model: BlockModel) -> list[tuple[str, ...]]:
    """Return the levels of each factor that the model's cells hold."""
    return [tuple(dict.fromkeys(column)) for column in zip(*model.cells, strict=True)]


def _design(model: BlockModel, arrangement: Arrangement, *, blocks: int) -> Design:
    names = [factor.removeprefix(FACTOR_PREFIX) for factor in arrangement.factors]
    factors = tuple(Factor(name, levels) for name, levels in zip(names, _levels(model), strict=True))
    several = FACTORIAL if len(factors) > 1 else BLOCKS
    return Design(SPLIT if arrangement.whole_factors else several, factors, blocks)
