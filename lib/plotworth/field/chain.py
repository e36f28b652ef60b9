"""The kilogram chain: from what is picked to what is sold.

Shares apply one after the other: culls to what is picked, losses to what is marketable, the
household's part to what is left after losses. Nothing is made or lost on the way.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Kilograms = NDArray[np.float64]


@dataclass(frozen=True)
class KilogramChain:
    """Kilograms of one crop on one area: picked = culled + lost + eaten + sold.

    Attributes [kg], arrays that broadcast against each other: picked; culled; marketable (picked
    less culled); lost after harvest; eaten at home; sold.
    """

    picked: Kilograms
    culled: Kilograms
    marketable: Kilograms
    lost: Kilograms
    eaten: Kilograms
    sold: Kilograms


def kilogram_chain(
    yield_kg_per_m2: ArrayLike,
    area_m2: ArrayLike,
    cull_share: ArrayLike,
    loss_share: ArrayLike,
    eaten_share: ArrayLike,
) -> KilogramChain:
    """Follow a marketable yield from the bed to the market.

    Parameters: marketable yield [kg/m2], trial-to-farm share already in it; planted area [m2];
    culled over picked kilograms [share, below 1]; lost over marketable [share]; eaten over what is
    left after losses [share]. Any shapes that broadcast.

    marketable = yield x area; picked = marketable / (1 - cull_share); lost = marketable x loss_share;
    eaten = (marketable - lost) x eaten_share; sold = marketable - lost - eaten.
    Source: the project's own convention; conserves by construction.
    """
    culling = np.asarray(cull_share, dtype=np.float64)
    marketable = np.asarray(yield_kg_per_m2, dtype=np.float64) * np.asarray(area_m2, dtype=np.float64)
    picked = marketable / (1.0 - culling)
    lost = marketable * np.asarray(loss_share, dtype=np.float64)
    eaten = (marketable - lost) * np.asarray(eaten_share, dtype=np.float64)
    return KilogramChain(
        picked=picked,
        culled=picked * culling,
        marketable=marketable,
        lost=lost,
        eaten=eaten,
        sold=marketable - lost - eaten,
    )
