"""Conversions between units and forms, each named once; the rest of the library multiplies by a name.

Standard atomic weights [g/mol]: IUPAC 2007, Pure Appl. Chem. 81:2131 (2009). The US gallon, the international
cubic foot and the horsepower of 550 ft lbf/s by definition.
"""

from collections.abc import Mapping
from types import MappingProxyType

GRAMS_PER_KG = 1000.0
KG_PER_T = 1000.0
LITRES_PER_M3 = 1000.0
METRES_PER_KM = 1000.0
M2_PER_HA = 10000.0
MILLIMETRES_PER_M = 1000.0
MINUTES_PER_HOUR = 60.0
SECONDS_PER_HOUR = 3600.0
WATT_HOURS_PER_KWH = 1000.0
JOULES_PER_KWH = 3.6e6
MEGAJOULES_PER_KWH = 3.6

LITRES_PER_US_GALLON = 3.785411784
M3_PER_THOUSAND_CUBIC_FEET = 28.316846592
KILOWATTS_PER_HORSEPOWER = 0.745699872  # mechanical; printed as .7457

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
