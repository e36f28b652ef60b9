"""Whether a difference is too small to matter: two one-sided tests against the smallest gain worth having.

"Not shown to differ" is not "equal". Equal enough is shown only where the whole interval lies inside
the two limits. Key: Schuirmann (1987) J. Pharmacokinet. Biopharm. 15:657.
"""

import math
from dataclasses import dataclass

from plotworth.field.contrast import Contrast


@dataclass(frozen=True)
class Equivalence:
    """A difference held against -limit and +limit.

    Attributes: limit and low, high [unit of the value], the ends of the two-sided interval of
    confidence 1 - 2 x level, which lies inside the limits where both tests pass; p, the larger of the
    two one-sided p; shown, whether p is below the level; reason in words where nothing can be said.
    """

    limit: float
    low: float
    high: float
    p: float
    shown: bool
    reason: str


def equivalence(difference: Contrast, *, limit: float, level: float = 0.05) -> Equivalence:
    """Test whether a difference lies inside -limit to +limit.

    Parameters: difference, of a block model; limit, the smallest gain worth having, above 0 [unit of
    the value]; level of each one-sided test. Errors: ValueError for a limit not above 0.
    """
    if not limit > 0:
        raise ValueError(f"a limit above 0 is needed, found {limit}")
    if difference.reason:
        return Equivalence(limit, math.nan, math.nan, math.nan, False, difference.reason)
    from scipy.stats import t

    se, freedom = difference.standard_error, difference.degrees_of_freedom
    p = float(t.sf((limit - abs(difference.estimate)) / se, freedom))
    half = float(t.isf(level, freedom)) * se
    return Equivalence(limit, difference.estimate - half, difference.estimate + half, p, p < level, "")
