"""The composition beside its two peers, printed by CI: `composition_times` says what is timed and how.

Of the times nothing is gated; that the three agree is. By hand, with `-s`, a million draws are measured as well.
"""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.bench

TIMES = Path(__file__).parent / "composition_times.py"
THREADS = (1, 2)
IN_CI, BY_HAND = (20_000,), (100_000, 1_000_000)
AGREEMENT = 1e-9  # relative, on all outcomes: numpy-financial's rates of return hold no more
IMPORTS = 5


def measured(draws: int, threads: int) -> dict:
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": str(threads), "OMP_NUM_THREADS": str(threads)}
    command = [sys.executable, str(TIMES), str(draws)]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True, env=environment).stdout)


def lines(found: dict, threads: int) -> list[str]:
    many, one, irr = found["many"], found["one"], found["irr"]
    library, kernel, loop = many["library"], many["kernel"], many["loop"]
    return [
        f"{many['draws']} draws, {threads} BLAS threads: {library:.2f} us a draw; kernel {kernel:.2f}; loop {loop:.0f}",
        f"library/kernel {library / kernel:.2f} (at most 1.5); loop/library {loop / library:.0f} (at least 150)",
        f"extra memory {many['bytes']:.0f} bytes a draw (at most {8 * many['outcomes'] + 64})",
        f"one case {one['core']:.2f} ms (at most 1), labelled {one['labelled']:.2f} ms (at most 1.5)",
        f"a tornado of {one['cases']} in one batch {one['tornado'] / one['core']:.2f} x one case (at most 2)",
        f"rate of return {irr['library']:.2f} us a stream, numpy-financial {irr['loop']:.0f} us: "
        f"{irr['loop'] / irr['library']:.0f} x (at least 100)",
    ]


@pytest.mark.parametrize("threads", THREADS)
def test_the_library_and_its_peers_give_the_same_outcomes_and_their_times_are_printed(
    threads: int, capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest
) -> None:
    is_by_hand = request.config.getoption("capture") == "no"
    per_draw = []
    for draws in BY_HAND if is_by_hand else IN_CI:
        found = measured(draws, threads)
        per_draw.append(found["many"]["library"])
        with capsys.disabled():
            print("", *lines(found, threads), sep="\n  ")
        for peer in ("library_from_loop", "kernel_from_loop"):
            worst, masks = found["many"][peer]
            assert worst < AGREEMENT
            assert masks == 0
    with capsys.disabled():
        print(f"  a draw of the most over one of the least: {per_draw[-1] / per_draw[0]:.2f} (at most 1.2)")


def seconds_to_import(name: str) -> float:
    rounds = []
    for _ in range(IMPORTS):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", f"import {name}"], check=True)
        rounds.append(time.perf_counter() - start)
    return min(rounds)


def test_the_time_of_the_import_is_printed_beside_that_of_pandas(capsys: pytest.CaptureFixture[str]) -> None:
    bare = seconds_to_import("sys")
    library, pandas = (seconds_to_import(name) - bare for name in ("plotworth", "pandas"))
    with capsys.disabled():
        print(f"\n  import plotworth {1e3 * library:.0f} ms, {library / pandas:.2f} x pandas (at most 1.3)")
    assert library > 0
