"""Seasonal yield, water and economics of growing vegetables with little water.

import plotworth
appraisal = plotworth.appraise(plotworth.open_case("data_demo"))
appraisal.systems["drip"]["npv"]
"""

from plotworth.case.folder import Case, open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.ground.errors import CaseError, FaultsError, PlotworthError

__all__ = ["Appraisal", "Case", "CaseError", "FaultsError", "PlotworthError", "appraise", "open_case"]
