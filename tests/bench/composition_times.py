"""Times of the composition beside its two peers: run alone with `python composition_times.py 100000`, printed as JSON.

Processor time, the jobs of a table in turn within one process, the least of nine rounds. How many threads the linear
algebra library may start is read from OPENBLAS_NUM_THREADS when Python starts, so that each count needs a process.
"""

import json
import sys
import time
import tracemalloc

import numpy as np
import numpy_financial as npf
from drawn_demo import drawn, flat, layout, shocks
from peer_kernel import Kernel
from peer_loop import run as run_loop

from plotworth.choose.appraise import appraise_layout
from plotworth.choose.evaluate import evaluate, flows_by_year
from plotworth.money.rates import internal_rate_of_return

ROUNDS = 9
LOOP_DRAWS = 100
IRR_DRAWS = 4096
CALLS = 20


def least_seconds(jobs: dict, *, rounds: int = ROUNDS) -> dict:
    """Return the least processor time of each job, all of them taken in turn."""
    least = dict.fromkeys(jobs, float("inf"))
    for _ in range(rounds):
        for name, job in jobs.items():
            start = time.process_time()
            result = job()
            least[name] = min(least[name], time.process_time() - start)
            del result
    return least


def first(arrays: dict, draws: int) -> dict:
    """Return the first draws of every array."""
    return {key: array[..., :draws] for key, array in arrays.items()}


def worst_difference(found: dict, expected: dict, draws: int) -> tuple[float, int]:
    """Return the greatest relative difference, and how many numbers are NaN in one of the two only."""
    worst, masks = 0.0, 0
    for path, right in expected.items():
        left = np.broadcast_to(found[path], (1, draws))[0] if np.ndim(found[path]) > 1 else found[path]
        masks += int((np.isnan(left) != np.isnan(right)).sum())
        gap = np.abs(left - right) / np.maximum(np.abs(right), np.finfo(float).tiny)
        worst = max(worst, float(np.nanmax(np.where(left == right, 0.0, gap), initial=0.0)))
    return worst, masks


def peak_bytes(job) -> int:
    """Return how much memory a job takes at its most, beside what was held before."""
    tracemalloc.start()
    result = job()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    del result
    return peak


def many_draws(plan, values: dict, draws: int) -> dict:
    """Return microseconds a draw of library, kernel and loop, agreement with the loop, and memory a draw."""
    structure, harvest = plan.structure, shocks(plan, values)
    few = first(values, LOOP_DRAWS)
    alone = {address: array[0] for address, array in few.items()}
    expected = run_loop(structure, alone)
    kernel = Kernel(structure, list(expected))
    whole = {address: array[0] for address, array in values.items()}
    least = least_seconds(
        {
            "library": lambda: evaluate(structure, values, harvest),
            "kernel": lambda: kernel.run(whole),
            "loop": lambda: run_loop(structure, alone),
        }
    )
    library = flat(evaluate(structure, few, shocks(plan, few)))
    return {
        "draws": draws,
        "outcomes": len(expected),
        **{name: 1e6 * seconds / (LOOP_DRAWS if name == "loop" else draws) for name, seconds in least.items()},
        "library_from_loop": worst_difference(library, expected, LOOP_DRAWS),
        "kernel_from_loop": worst_difference(kernel.run(alone), expected, LOOP_DRAWS),
        "bytes": peak_bytes(lambda: evaluate(structure, values, harvest)) / draws,
    }


def single_case(plan, values: dict) -> dict:
    """Return milliseconds of one case in the core and labelled, and of a tornado in one batch."""
    structure, book = plan.structure, plan.values
    harvest = shocks(plan, book)
    bars = 2 * sum(one.low is not None and one.low < one.high for one in plan.inputs.values()) + 1
    tornado = first(values, bars)
    moved = shocks(plan, tornado)
    jobs = {
        "core": lambda: evaluate(structure, book, harvest),
        "labelled": lambda: appraise_layout(plan.case, plan, book),
        "tornado": lambda: evaluate(structure, tornado, moved),
    }
    repeated = {name: lambda job=job: [job() for _ in range(CALLS)] for name, job in jobs.items()}
    return {"cases": bars, **{name: 1e3 * s / CALLS for name, s in least_seconds(repeated).items()}}


def rates_of_return(plan, values: dict) -> dict:
    """Return microseconds a stream of the library's rate of return and of a loop over numpy-financial's."""
    some = first(values, IRR_DRAWS)
    flows = np.concatenate(list(flows_by_year(plan.structure, some, shocks(plan, some)).values()), axis=1)
    columns = np.ascontiguousarray(flows.reshape(len(flows), -1))
    few = columns[:, :: columns.shape[1] // LOOP_DRAWS]
    least = least_seconds(
        {
            "library": lambda: internal_rate_of_return(columns),
            "loop": lambda: [npf.irr(column) for column in few.T],
        }
    )
    return {"library": 1e6 * least["library"] / columns.shape[1], "loop": 1e6 * least["loop"] / few.shape[1]}


if __name__ == "__main__":
    draws = int(sys.argv[1])
    plan = layout()
    values = drawn(plan, draws)
    with np.errstate(all="ignore"):
        found = {
            "many": many_draws(plan, values, draws),
            "one": single_case(plan, values),
            "irr": rates_of_return(plan, values),
        }
    print(json.dumps(found))
