"""Conversions between units and forms, each named once; the rest of the library multiplies by a name.

Standard atomic weights [g/mol]: IUPAC 2007, Pure Appl. Chem. 81:2131 (2009).
"""

from collections.abc import Mapping
from types import MappingProxyType

PHOSPHORUS_G_PER_MOL = 30.973762
POTASSIUM_G_PER_MOL = 39.0983
OXYGEN_G_PER_MOL = 15.9994

P2O5_PER_P = (2 * PHOSPHORUS_G_PER_MOL + 5 * OXYGEN_G_PER_MOL) / (2 * PHOSPHORUS_G_PER_MOL)
P_PER_P2O5 = 1 / P2O5_PER_P
K2O_PER_K = (2 * POTASSIUM_G_PER_MOL + OXYGEN_G_PER_MOL) / (2 * POTASSIUM_G_PER_MOL)
K_PER_K2O = 1 / K2O_PER_K

FORMS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"": (), "oxide": (), "element": ("low", "high"), "unclear": ("high",)}
)
"""Which ends of a printed range of P and K are taken as elements; `unclear` spans both readings."""
