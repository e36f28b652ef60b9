"""The array type of the core: float, 2-D, site first and draw second, length 1 where nothing varies."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def cell(number: float) -> Array:
    """Return one number as a core array, shape (1, 1)."""
    return np.full((1, 1), number, dtype=np.float64)
