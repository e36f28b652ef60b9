"""Timing of the reservoir's daily balance, printed; nothing is gated. Run with -s."""

import time

import numpy as np
import pytest

from plotworth.supply.lid import Lid
from plotworth.supply.reservoir import Reservoir, Soil, simulate
from plotworth.supply.visits import Round, keep_visits, plan_visits
from plotworth.supply.wick import Wick

pytestmark = pytest.mark.bench

DAYS, DRAWS = 20 * 365, 100


def test_print_the_time_of_twenty_years_and_a_hundred_draws() -> None:
    random = np.random.default_rng(1)
    demand, rain = (
        random.uniform(0, 7, (DAYS, 1, 1)),
        random.exponential(15, (DAYS, 1, 1)) * (random.random((DAYS, 1, 1)) < 0.1),
    )
    wick = Wick(random.uniform(0.5, 8, (1, DRAWS)), 0.5, 5.0, 1.0, 0.1, 0.4)
    tank = Reservoir(60.0, 2.0, 6.0, 60.0, wick, Lid(0.3, 0.8, 0.2, 1.0, 0.05, 1.0, 1.0))
    soil = Soil(random.uniform(20, 40, (1, DRAWS)), 0.4, 5.0)
    weekly = plan_visits([Round("anna", first_day=3, every_days=7, brought_l=0.0, filled_share=1.0)], DAYS)
    visits = keep_visits(weekly, (random.random((1, DAYS, 1, DRAWS)) < 0.9).astype(float))
    rounds = []
    for _ in range(5):
        start = time.perf_counter()
        simulate(tank, soil, demand, rain, visits, dew_l_per_m2=0.1, open_water_mm=5.0)
        rounds.append(time.perf_counter() - start)
    print(f"\nreservoir, 20 years x 365 days x {DRAWS} draws: {min(rounds):.2f} s (worst of five {max(rounds):.2f} s)")
