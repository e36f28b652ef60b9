"""The month in which most work falls due, held against the hours that the family has at hand; what is short is hired.

Arrays are (12, site, draw), January first, for a year of full harvest [hour]. The hours that are short are planned as
family work in the appraisal, at the family's wage; what hiring them costs in money stands here, beside it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.cash_months import CashMonths
from plotworth.choose.labour_months import hours_of
from plotworth.ground.arrays import Array

AT_HAND = "hours_at_hand_per_month"


@dataclass(frozen=True)
class LabourPeak:
    """Hours of a system by calendar month: `family`, `hired`, and what is `short` of the hours at hand.

    `at_hand` (site, draw), NaN where the book does not state it, and then `short` too. `peak_month` 1-12 is that of
    most family hours; `hire_cost` [money/year], what hiring the hours that are short costs.
    """

    family: Array
    hired: Array
    at_hand: Array
    short: Array
    peak_month: Array
    hire_cost: Array


def labour_peak(cash: CashMonths, values: Mapping[str, Array]) -> LabourPeak:
    """Return the hours of a system by month against those at hand.

    Equation: short = max(0, family - at hand) by month; hire_cost = sum of short x hired wage.
    """
    family, hired = hours_of(cash.tasks)
    at_hand = values[cash.months.plan.addresses[AT_HAND]]
    short = np.maximum(family - at_hand, 0.0)
    peak = np.where(np.isnan(family).any(axis=0), np.nan, family.argmax(axis=0) + 1.0)
    return LabourPeak(family, hired, at_hand, short, peak, short.sum(axis=0) * cash.months.year.wages.hired)
