"""Reservoir units that the tests start from, all invented: a tank under a bed of 2 m2 with six plants."""

import numpy as np

from plotworth.supply.lid import Lid
from plotworth.supply.reservoir import Reservoir, Soil, simulate
from plotworth.supply.reservoir_trace import Trace
from plotworth.supply.visits import Visits, plan_visits
from plotworth.supply.wick import Wick, steady_wick

TIGHT_LID = Lid(
    catching_m2=0.0,
    rain_caught_share=0.0,
    surface_m2=0.25,
    lidded_share=1.0,
    lidded_evaporation_share=0.0,
    over_bed_share=0.0,
    rain_reaching_share=1.0,
)
FUNNEL_LID = Lid(
    catching_m2=0.5,
    rain_caught_share=0.8,
    surface_m2=0.25,
    lidded_share=0.9,
    lidded_evaporation_share=0.1,
    over_bed_share=1.0,
    rain_reaching_share=1.0,
)
GENEROUS_WICK = steady_wick(1000.0)
TANK = Reservoir(capacity_l=60.0, planted_m2=2.0, plants=6.0, start_l=60.0, wick=GENEROUS_WICK, lid=TIGHT_LID)
SOIL = Soil(available_mm=40.0, tabulated_share=0.5, start_depletion_mm=0.0)
LEVEL_WICK = Wick(
    conductance_l_per_m_day=20.0,
    suction_wet_m=0.2,
    suction_dry_m=2.2,
    limit_m=1.0,
    lift_full_m=0.1,
    lift_empty_m=0.5,
)


def run(
    reservoir: Reservoir,
    soil: Soil,
    demand_mm: object,
    *,
    rain_mm: object = 0.0,
    visits: Visits | None = None,
    dew_l_per_m2: object = 0.0,
    open_water_mm: object = 0.0,
) -> Trace:
    """Simulate dry, still days without visits unless told otherwise."""
    plan = plan_visits((), 1) if visits is None else visits
    daily = [np.asarray(values, dtype=np.float64) for values in (demand_mm, rain_mm, dew_l_per_m2, open_water_mm)]
    return simulate(reservoir, soil, daily[0], daily[1], plan, dew_l_per_m2=daily[2], open_water_mm=daily[3])
