"""Deficit: the yield that is left when a crop gets less water than it could use.

Arrays in, arrays out, any shapes that broadcast. Key: Doorenbos & Kassam (1979) FAO Irrigation and Drainage
Paper 33; FAO Paper 56, eq 90 and Table 24.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plotworth.ground.handbook import YieldResponse

Array = NDArray[np.float64]
Numbers = float | Array

GREATEST_DEFICIT_SHARE = 0.5


@dataclass(frozen=True)
class YieldLeft:
    """Yield of a season with a water deficit as a share of the full yield.

    Attributes: deficit_share, evapotranspiration missing over the full one [0-1]; low and high, share of the
    full yield left [0-1] by the two ends of the handbook's response factor; beyond_range, True where more than half
    the water is missing, for which the factor was not measured.
    """

    deficit_share: Array
    low: Array
    high: Array
    beyond_range: NDArray[np.bool_]


def deficit_share(evapotranspiration_mm: Numbers, full_evapotranspiration_mm: Numbers) -> Array:
    """Return the share [0-1] of the season's full evapotranspiration [mm] that a crop did not get [mm].

    1 - ETa / ETm; 0 where there was more than enough; NaN where the full one is not above 0.
    """
    actual, full = (np.asarray(v, dtype=np.float64) for v in (evapotranspiration_mm, full_evapotranspiration_mm))
    shape = np.broadcast_shapes(actual.shape, full.shape)
    got = np.divide(actual, full, out=np.full(shape, np.nan), where=np.broadcast_to(full > 0, shape))
    return np.asarray(np.clip(1.0 - got, 0.0, 1.0))


def yield_share(deficit: Numbers, response_factor: Numbers) -> Array:
    """Return the share [0-1] of the full yield that a deficit [share] leaves, by a seasonal response factor Ky [1].

    Eq 90: 1 - Ya / Ym = Ky (1 - ETa / ETm); not below 0. Valid to about half the water missing.
    """
    return np.asarray(np.clip(1.0 - np.asarray(response_factor) * np.asarray(deficit, dtype=np.float64), 0.0, 1.0))


def yield_left(
    evapotranspiration_mm: Numbers, full_evapotranspiration_mm: Numbers, response: YieldResponse
) -> YieldLeft:
    """Return the yield left by the evapotranspiration a crop had [mm] out of the full one [mm] of the season."""
    missing = deficit_share(evapotranspiration_mm, full_evapotranspiration_mm)
    low, high = yield_share(missing, response.ky_high), yield_share(missing, response.ky_low)
    return YieldLeft(missing, low, high, missing > GREATEST_DEFICIT_SHARE)


def evapotranspiration_for_yield_mm(
    wanted_share: Numbers, full_evapotranspiration_mm: Numbers, response_factor: Numbers
) -> Array:
    """Return the least evapotranspiration [mm] of a season that supports a share of the full yield [0-1].

    Eq 90 read backwards: ETm (1 - (1 - share) / Ky), not below 0; NaN above the full yield, which no water brings.
    """
    wanted, full = (np.asarray(value, dtype=np.float64) for value in (wanted_share, full_evapotranspiration_mm))
    needed = full * np.clip(1.0 - (1.0 - wanted) / np.asarray(response_factor), 0.0, 1.0)
    return np.where(wanted <= 1.0, needed, np.nan)
