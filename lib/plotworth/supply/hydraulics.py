"""Friction in pipes: mains by Hazen-Williams, drip laterals by Darcy-Weisbach with Blasius' factor and Christiansen's.

Arrays in, arrays out: all arguments broadcast, in the composition (site, draw). Diameters are inner ones.
Keys: Hazen & Williams (1905); Blasius (1913); Christiansen (1942) Irrigation by Sprinkling, Calif. Agr. Exp. Sta.
Bull. 670. Ranges of validity from memory of handbooks: check one before citing it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plotworth.ground.arrays import Array
from plotworth.ground.conversions import LITRES_PER_M3, MILLIMETRES_PER_M, SECONDS_PER_HOUR

GRAVITY_M_S2 = 9.81
KINEMATIC_VISCOSITY_M2_S = 1.004e-6  # water at 20 degC
HAZEN_WILLIAMS_EXPONENT = 1.852
HAZEN_WILLIAMS_DIAMETER_EXPONENT = 4.8704
HAZEN_WILLIAMS_SI = 10.67
BLASIUS_FACTOR = 0.3164
BLASIUS_EXPONENT = 1.75  # of the flow: 2 less the 1/4 of the friction factor
BLASIUS_LOWEST_REYNOLDS = 4000.0
BLASIUS_HIGHEST_REYNOLDS = 1e5


@dataclass(frozen=True)
class Main:
    """A pipe that carries its whole flow to its end.

    Attributes, any shapes that broadcast: length [m]; inner diameter [mm], above 0; Hazen-Williams C [1],
    about 150 new plastic, 140 used plastic, 120 steel, 100 old iron (handbook values, from memory).
    """

    length_m: ArrayLike
    diameter_mm: ArrayLike
    hazen_williams_c: ArrayLike

    def loss_m(self, flow_m3_per_h: ArrayLike) -> Array:
        """Return the friction [m of water] at a flow [m3/h]."""
        return hazen_williams_loss_m(flow_m3_per_h, self)


@dataclass(frozen=True)
class Lateral:
    """A drip line with equal outlets, the first a full spacing from its inlet.

    Attributes, any shapes that broadcast: outlets, 1 or more; their spacing [m]; the flow of one [L/h]; inner
    diameter [mm], above 0.
    """

    outlets: ArrayLike
    spacing_m: ArrayLike
    outlet_l_per_h: ArrayLike
    diameter_mm: ArrayLike

    @property
    def inlet_flow_m3_per_h(self) -> Array:
        """The flow [m3/h] at the inlet: all outlets together."""
        return np.asarray(self.outlets, np.float64) * np.asarray(self.outlet_l_per_h, np.float64) / LITRES_PER_M3

    @property
    def loss_m(self) -> Array:
        """The friction [m of water] from the inlet to the last outlet.

        Equation: Christiansen's F (m = 1.75) x Darcy-Blasius for the whole inlet flow over the whole length.
        """
        length_m = np.asarray(self.outlets, np.float64) * np.asarray(self.spacing_m, np.float64)
        whole = darcy_blasius_loss_m(self.inlet_flow_m3_per_h, length_m, self.diameter_mm)
        return christiansen_factor(self.outlets, BLASIUS_EXPONENT) * whole

    @property
    def blasius_holds(self) -> NDArray[np.bool_]:
        """Whether the inlet flow lies in Blasius' range; far along the line the flow always falls below it."""
        return blasius_holds(reynolds_number(self.inlet_flow_m3_per_h, self.diameter_mm))


def hazen_williams_loss_m(flow_m3_per_h: ArrayLike, main: Main) -> Array:
    """Return the friction in a main by Hazen-Williams.

    Parameters: flow [m3/h], 0 or more; the main.
    Returns: m of water; 0 without flow.
    Equation: 10.67 L Q**1.852 / (C**1.852 d**4.8704), Q [m3/s], L and d [m].
    Range: turbulent flow of cold water, d from about 50 mm, below about 3 m/s.
    """
    flow_m3_s = np.asarray(flow_m3_per_h, np.float64) / SECONDS_PER_HOUR
    diameter_m = np.asarray(main.diameter_mm, np.float64) / MILLIMETRES_PER_M
    carried = (flow_m3_s / np.asarray(main.hazen_williams_c, np.float64)) ** HAZEN_WILLIAMS_EXPONENT
    gradient = HAZEN_WILLIAMS_SI * carried / diameter_m**HAZEN_WILLIAMS_DIAMETER_EXPONENT
    return gradient * np.asarray(main.length_m, np.float64)


def velocity_m_s(flow_m3_per_h: ArrayLike, diameter_mm: ArrayLike) -> Array:
    """Return the mean velocity [m/s] of a flow [m3/h] in a pipe of inner diameter [mm], above 0."""
    diameter_m = np.asarray(diameter_mm, np.float64) / MILLIMETRES_PER_M
    return np.asarray(flow_m3_per_h, np.float64) / SECONDS_PER_HOUR / (np.pi / 4.0 * diameter_m**2)


def reynolds_number(flow_m3_per_h: ArrayLike, diameter_mm: ArrayLike) -> Array:
    """Return Reynolds' number v d / nu [1] of a flow [m3/h] in a pipe of inner diameter [mm], water at 20 degC."""
    diameter_m = np.asarray(diameter_mm, np.float64) / MILLIMETRES_PER_M
    return velocity_m_s(flow_m3_per_h, diameter_mm) * diameter_m / KINEMATIC_VISCOSITY_M2_S


def blasius_holds(reynolds: ArrayLike) -> NDArray[np.bool_]:
    """Return where Blasius' factor holds: Reynolds' number [1] from 4000 to 100 000, smooth pipe.

    Below, down to the crossing with laminar flow near 1190, it gives too much friction; above, too little.
    """
    number = np.asarray(reynolds, np.float64)
    return (number >= BLASIUS_LOWEST_REYNOLDS) & (number <= BLASIUS_HIGHEST_REYNOLDS)


def darcy_blasius_loss_m(flow_m3_per_h: ArrayLike, length_m: ArrayLike, diameter_mm: ArrayLike) -> Array:
    """Return the friction in a smooth pipe that carries its whole flow to its end.

    Parameters: flow [m3/h], 0 or more; length [m]; inner diameter [mm], above 0.
    Returns: m of water; 0 without flow.
    Equation: f L / d x v**2 / (2 g), f = 0.3164 Re**-0.25; written with v**1.75 so that no flow gives 0.
    Range: `blasius_holds`.
    """
    diameter_m = np.asarray(diameter_mm, np.float64) / MILLIMETRES_PER_M
    quarter = (KINEMATIC_VISCOSITY_M2_S / diameter_m) ** (2.0 - BLASIUS_EXPONENT)
    squared_m2_s2 = velocity_m_s(flow_m3_per_h, diameter_mm) ** BLASIUS_EXPONENT * quarter
    return BLASIUS_FACTOR * np.asarray(length_m, np.float64) / diameter_m * squared_m2_s2 / (2.0 * GRAVITY_M_S2)


def christiansen_factor(outlets: ArrayLike, flow_exponent: ArrayLike) -> Array:
    """Return the friction of a line with outlets over that of a line that carries its whole flow to the end.

    Parameters: outlets N, 1 or more, equal and evenly spaced, the first a full spacing from the inlet; exponent
    m of the flow, above 1: 1.852 Hazen-Williams, 1.75 Darcy-Blasius.
    Returns: share; not above 1 (the formula gives 1.004 for one outlet at m = 1.852).
    Equation: 1/(m+1) + 1/(2N) + sqrt(m-1)/(6 N**2).
    """
    number, exponent = np.asarray(outlets, np.float64), np.asarray(flow_exponent, np.float64)
    series = 1.0 / (exponent + 1.0) + 1.0 / (2.0 * number) + np.sqrt(exponent - 1.0) / (6.0 * number**2)
    return np.minimum(series, 1.0)
