"""How long the main job takes: printed by CI, gating nothing. Run with `-s` to see the figures."""

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from plotworth.case.folder import open_case
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks, lay_out

DEMO = Path(__file__).parent.parent.parent / "data_demo"
ROUNDS = 200
DRAWS = 100_000


def median_ms(work: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000 * sorted(times)[rounds // 2]


def say(capsys: pytest.CaptureFixture[str], line: str) -> None:
    with capsys.disabled():
        print(f"\n  {line}")


@pytest.mark.bench
def test_one_case_is_evaluated_in_about_two_milliseconds(capsys: pytest.CaptureFixture[str]) -> None:
    layout = lay_out(open_case(DEMO))
    shocks = expected_shocks(layout.structure, layout.values)
    taken = median_ms(lambda: evaluate(layout.structure, layout.values, shocks), ROUNDS)
    say(capsys, f"evaluate, the demo: median {taken:.2f} ms of {ROUNDS} (aim: under 2)")
    assert taken > 0


@pytest.mark.bench
def test_a_hundred_thousand_draws_are_evaluated_in_blocks(capsys: pytest.CaptureFixture[str]) -> None:
    layout = lay_out(open_case(DEMO))
    random = np.random.default_rng(1)
    values = {a: v * random.uniform(0.9, 1.0, (1, DRAWS)) for a, v in layout.values.items()}
    shocks = expected_shocks(layout.structure, values)
    start = time.process_time()
    npv = evaluate(layout.structure, values, shocks).systems["drip"]["npv"]
    taken = time.process_time() - start
    say(capsys, f"evaluate, {DRAWS} draws: {1e6 * taken / DRAWS:.2f} us of processor time a draw, every value drawn")
    assert npv.shape == (1, DRAWS)


@pytest.mark.bench
def test_a_fresh_process_appraises_the_demo_in_about_a_second(capsys: pytest.CaptureFixture[str]) -> None:
    command = [sys.executable, "-m", "plotworth.cli", "appraise", str(DEMO), "--json"]
    taken = median_ms(lambda: subprocess.run(command, check=True, capture_output=True), 5)
    say(capsys, f"plotworth appraise, fresh process: median {taken:.0f} ms of 5 (aim: under 2000)")
    assert taken > 0
