"""The options of `plotworth sites`, read before anything else is loaded."""

from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path

PLAIN, DASK = "plain", "dask"
SEED = 1


def add_options(command: ArgumentParser) -> None:
    """Add the options of `plotworth sites`."""
    command.add_argument("sites", type=Path, metavar="SITES", help="a table, .csv or .parquet: site, then addresses")
    command.add_argument("--to", type=Path, required=True, metavar="FILE", help="the results, .csv or .parquet")
    command.add_argument(
        "--draws", type=_count, metavar="N", help="draws a site, the same for all: percentiles, chances"
    )
    command.add_argument("--seed", type=int, default=SEED, metavar="S", help="what the draws start from")
    command.add_argument("--engine", choices=(PLAIN, DASK), default=PLAIN, help="work here, or on a Dask cluster")
    command.add_argument(
        "--scheduler", metavar="ADDRESS", help="a running Dask scheduler; two local workers if left out"
    )
    command.add_argument("--slice", type=_count, metavar="N", help="sites in memory at a time")


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise ArgumentTypeError(f"{text!r} is no whole number; write 1 or more")
    return int(text)
