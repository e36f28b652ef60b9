"""Conversions between units and forms, each named once; the rest of the library multiplies by a name.

Atomic masses [g/mol] are the conventional ones of IUPAC (2021), to the digits that the factors need.
"""

from collections.abc import Mapping
from types import MappingProxyType

PHOSPHORUS_G_PER_MOL = 30.974
POTASSIUM_G_PER_MOL = 39.098
OXYGEN_G_PER_MOL = 15.999

P2O5_PER_P = (2 * PHOSPHORUS_G_PER_MOL + 5 * OXYGEN_G_PER_MOL) / (2 * PHOSPHORUS_G_PER_MOL)
P_PER_P2O5 = 1 / P2O5_PER_P
K2O_PER_K = (2 * POTASSIUM_G_PER_MOL + OXYGEN_G_PER_MOL) / (2 * POTASSIUM_G_PER_MOL)
K_PER_K2O = 1 / K2O_PER_K

FORMS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"": (), "oxide": (), "element": ("low", "high"), "unclear": ("high",)}
)
"""Which ends of a printed range of P and K are taken as elements; `unclear` spans both readings."""
