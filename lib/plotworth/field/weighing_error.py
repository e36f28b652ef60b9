"""The error that plots share because their fruit mass came from the same weighed fruit.

The spread between plots holds each plot's own weighing error but nothing that is common to all plots of
a treatment. That part is added once to the variance of the treatment's mean, as a source of error of its
own whose size is taken as known.
"""

import math
from dataclasses import replace

import numpy as np
import pandas as pd

from plotworth.field.block_model import BlockModel, Stratum

WEIGHING = "shared weighing"


def with_weighing_error(model: BlockModel, yields: pd.DataFrame) -> BlockModel:
    """Return the model with the shared weighing error of each treatment cell added.

    Parameters: a fitted model of yield_kg_per_m2; yields, the rows of `plot_yields` it was fitted to,
    with the factor columns. The variance of a cell is the mean of shared_mass_covariance over its plots
    with a yield [(kg/m2)^2], 0 where none is known. New plots do not add to it.
    """
    text = [tuple(row) for row in yields[[*model.arrangement.factors]].astype(str).to_numpy().tolist()]
    shared = yields["shared_mass_covariance"].where(yields["yield_kg_per_m2"].notna())
    means = [shared[[row == cell for row in text]].mean() for cell in model.cells]
    variances = np.nan_to_num(np.array(means, dtype=np.float64))
    if not variances.any():
        return model
    size = float(variances.mean())
    return replace(model, strata=(*model.strata, Stratum(WEIGHING, size, math.inf, np.diag(variances / size), 0.0)))
