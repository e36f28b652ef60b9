"""Second opinions on missing plots: the classic formula for complete blocks, and a mixed model.

The block model needs neither, least squares takes what is there. They are kept to check it: filling in
Yates's estimates gives the same treatment means, and the mixed model comes close to the differences.
Key: Yates (1933) Emp. J. Exp. Agric. 1:129.
"""

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from plotworth.field.arrangement import Arrangement

if TYPE_CHECKING:
    from statsmodels.regression.mixed_linear_model import VCSpec

MOST_ROUNDS = 500
SETTLED = 1e-13
ONE_OF_EACH = "Yates's formula needs one plot of every treatment in every block"


@dataclass(frozen=True)
class MixedModel:
    """A mixed model fitted by restricted maximum likelihood.

    Attributes: differences, of each other cell from the first [unit of the value], by cell;
    standard_errors, likewise (Wald: too small in small trials, no interval is made of them);
    variances of the random effects and of the plots [unit squared], by name.
    """

    differences: dict[tuple[str, ...], float]
    standard_errors: dict[tuple[str, ...], float]
    variances: dict[str, float]


def yates_estimates(plots: pd.DataFrame, arrangement: Arrangement, *, value: str = "yield_kg_per_m2") -> pd.Series:
    """Return what the missing plots of complete blocks would have yielded, by row of `plots`.

    Parameters: plots, one plot of each treatment in each block, value NaN where missing; arrangement of
    one block column. Returns: estimates [unit of the value].

    Equation, with r blocks and t treatments: (r B + t T - G) / ((r - 1)(t - 1)), B, T and G the sums of
    the block, the treatment and all plots without the missing one; over and over with several missing.
    Errors: ValueError where blocks are not complete.
    """
    block = plots[arrangement.blocks[0]]
    treatment = plots[[*arrangement.factors]].astype(str).agg(" | ".join, axis=1)
    r, t = block.nunique(), treatment.nunique()
    if len(plots) != r * t or pd.concat([block, treatment], axis=1).duplicated().any():
        raise ValueError(ONE_OF_EACH)
    missing = plots.index[plots[value].isna()]
    filled = plots[value].fillna(plots[value].mean()).astype(float)
    for _ in range(MOST_ROUNDS):
        before = filled[missing].copy()
        for row in missing:
            others = filled.drop(index=row)
            sums = r * others[block == block[row]].sum() + t * others[treatment == treatment[row]].sum() - others.sum()
            filled[row] = sums / ((r - 1) * (t - 1))
        if np.allclose(filled[missing], before, rtol=SETTLED, atol=0.0):
            break
    return filled[missing]


def mixed_model(
    plots: pd.DataFrame, arrangement: Arrangement, *, value: str = "yield_kg_per_m2", within: tuple[str, ...] = ()
) -> MixedModel:
    """Fit treatment cells as fixed, blocks and whole plots as random, by statsmodels.

    Parameters: plots, value NaN where missing; within, columns that blocks lie in (as site), taken as
    random too. Treatments are compared with the cell that stands first. For a check only: where a
    variance comes out at 0 or below, this model stops at 0 and the block model does not.
    """
    from statsmodels.regression.mixed_linear_model import MixedLM

    known = plots[plots[value].notna()].reset_index(drop=True)
    cells = [tuple(row) for row in known[[*arrangement.factors]].astype(str).to_numpy().tolist()]
    levels = tuple(dict.fromkeys(cells))
    fixed = np.array([[1.0, *(float(cell == level) for level in levels[1:])] for cell in cells])
    groups = _random_effects(known, arrangement, within)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a variance at its border is told by the variance itself
        model = MixedLM(known[value].to_numpy(float), fixed, np.ones(len(known)), exog_vc=_components(groups))
        result = model.fit(reml=True, method=["bfgs", "powell"], maxiter=1000, gtol=1e-10)
    variances = dict(zip(groups, map(float, result.vcomp), strict=True)) | {"plots": float(result.scale)}
    pairs = [dict(zip(levels[1:], map(float, row[1:]), strict=True)) for row in (result.fe_params, result.bse_fe)]
    return MixedModel(pairs[0], pairs[1], variances)


def _random_effects(plots: pd.DataFrame, arrangement: Arrangement, within: tuple[str, ...]) -> dict[str, pd.Series]:
    """Return the levels of every random effect, by its name."""
    places = [within[: n + 1] for n in range(len(within))]
    blocks = [(*within, column) for column in arrangement.blocks]
    whole = [(*within, *arrangement.whole_plot_columns)] if arrangement.whole_factors else []
    text = plots.astype(str)
    return {
        " in ".join(reversed(names)): text[[*names]].agg(" | ".join, axis=1) for names in [*places, *blocks, *whole]
    }


def _components(groups: dict[str, pd.Series]) -> "VCSpec":
    """Return the random effects as statsmodels wants them, all plots in one group."""
    from statsmodels.regression.mixed_linear_model import VCSpec

    columns = [list(pd.unique(levels)) for levels in groups.values()]
    pairs = zip(groups.values(), columns, strict=True)
    indicators = [(levels.to_numpy()[:, None] == np.array(names)[None, :]).astype(float) for levels, names in pairs]
    return VCSpec(list(groups), [[names] for names in columns], [[matrix] for matrix in indicators])
