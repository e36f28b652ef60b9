"""Timings of the rate of return, printed; nothing is gated. Run with -s."""

import time

import numpy as np
import pytest

from plotworth.money.rates import internal_rate_of_return

pytestmark = pytest.mark.bench


def cpu_seconds(flows: np.ndarray, calls: int) -> float:
    """Return the least processor time of one call over seven rounds."""
    rounds = []
    for _ in range(7):
        start = time.process_time()
        for _ in range(calls):
            internal_rate_of_return(flows)
        rounds.append((time.process_time() - start) / calls)
    return min(rounds)


def streams(columns: int) -> np.ndarray:
    """Return invented streams of 20 years: an outlay, noisy yearly surplus, replacements every five years."""
    flows = np.random.default_rng(1).normal(300, 150, (21, columns))
    flows[0] = -np.random.default_rng(2).uniform(800, 3000, columns)
    flows[5:20:5] -= 400
    return flows


def test_print_the_time_of_one_case_and_of_many_draws() -> None:
    print(f"\nrate of return, 7 streams of 21 flows: {cpu_seconds(streams(7), 50) * 1e6:.0f} us a call")
    print(f"rate of return, 100000 streams of 21 flows: {cpu_seconds(streams(100_000), 1) * 10:.2f} us a stream")
