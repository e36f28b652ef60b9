"""Timings of draws and risk, printed; nothing is gated. Run with -s."""

import time
from collections.abc import Callable

import pytest
from drawn_demo import layout

from plotworth.choose.draws import draw_block, draw_plan
from plotworth.choose.events import Events
from plotworth.choose.present_worth import net_present_values
from plotworth.choose.risk import risk, risk_by_area

pytestmark = pytest.mark.bench

BLOCKS = ((0, 8192), (1, 1808))
"""10,000 draws in blocks."""
ROUNDS = 9


def least_ms(work: Callable[[], object]) -> float:
    """Return the least processor time of nine rounds, after one to warm up [ms]."""
    work()
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        work()
        times.append(1000 * (time.process_time() - start))
    return min(times)


def test_print_the_time_of_ten_thousand_draws() -> None:
    demo = layout()
    plan = draw_plan(demo, demo.values, seed=1, events=Events())
    drawn = [draw_block(plan, *block) for block in BLOCKS]
    sampling = least_ms(lambda: [draw_block(plan, *block) for block in BLOCKS])
    worth = least_ms(lambda: [net_present_values(demo.structure, one.values, one.shocks) for one in drawn])
    whole = least_ms(lambda: risk(demo, demo.values, draws=10_000))
    areas = least_ms(lambda: risk_by_area(demo, demo.values, [50.0 * 2**k for k in range(8)], draws=2048))
    print(f"\nrisk, 10000 draws: sampling {sampling:.1f} ms, NPV {worth:.1f} ms (aim: 50 together)")
    print(f"risk, 10000 draws with single years and percentiles: {whole:.1f} ms; 8 areas x 2048: {areas:.1f} ms")
