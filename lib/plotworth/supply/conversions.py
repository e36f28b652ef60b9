"""Conversions between units of water, time, length and work that lifting and carrying meet, each named once.

The US gallon, the international cubic foot and the horsepower of 550 ft lbf/s by definition.
"""

LITRES_PER_M3 = 1000.0
METRES_PER_KM = 1000.0
MILLIMETRES_PER_M = 1000.0
MINUTES_PER_HOUR = 60.0
SECONDS_PER_HOUR = 3600.0
WATT_HOURS_PER_KWH = 1000.0
JOULES_PER_KWH = 3.6e6
MEGAJOULES_PER_KWH = 3.6

LITRES_PER_US_GALLON = 3.785411784
M3_PER_THOUSAND_CUBIC_FEET = 28.316846592
KILOWATTS_PER_HORSEPOWER = 0.745699872  # mechanical; printed as .7457
