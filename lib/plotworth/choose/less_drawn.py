"""Less water drawn by one treatment than by another, with the interval of the trial's block model."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from plotworth.choose.trial_model import TREATMENT, TrialKey, cell_weights
from plotworth.field.block_model import BlockModel
from plotworth.field.compare import ratios
from plotworth.field.contrast import Margin
from plotworth.field.water import LessWater, less_water

DRAWN = "drawn_l_per_m2"


def less_drawn(
    ledger: pd.DataFrame,
    units: pd.DataFrame,
    models: Mapping[TrialKey, BlockModel],
    treatment: str,
    reference: str,
) -> LessWater:
    """Return how much less water a treatment drew than a reference [share of the reference's].

    Parameters: `plot_ledger`; one row a plot with its factors and drawn_l_per_m2; its block models. The block model's
    ratio of means with Fieller's interval, so that a lost plot does not undo the pairing by block.
    Where the plots are no one trial or a meter served several of them, as `field.water.less_water`.
    """
    plain = less_water(ledger, treatment, reference)
    both = units[units[TREATMENT].isin([treatment, reference])]
    held = {str(name) for name, rows in both.groupby(TREATMENT) if rows[DRAWN].notna().any()}
    if len(models) != 1 or held != {treatment, reference} or _is_shared(ledger, held):
        return plain
    names, (model,) = (treatment, reference), models.values()
    weights = np.array([cell_weights(model, both[both[TREATMENT] == name]) for name in names])
    found = ratios(model, Margin(names, weights, (plain.plots, plain.reference_plots)), baseline=reference)[treatment]
    if not np.isfinite(found.ratio):
        return plain
    return replace(
        plain,
        less_water_share=1.0 - found.ratio,
        low=1.0 - found.high,
        high=1.0 - found.low,
        standard_error=found.standard_error,
        degrees_of_freedom=found.degrees_of_freedom,
        method=found.method,
        reason=found.reason,
    )


def _is_shared(ledger: pd.DataFrame, treatments: set[str]) -> bool:
    return bool(ledger.loc[ledger[TREATMENT].isin(treatments), "shared_meter"].any())
