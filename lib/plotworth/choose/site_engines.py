"""Who works on slices of sites: this process, or a Dask cluster. Slices go in and results come out in one order."""

from collections import deque
from collections.abc import Generator, Iterable, Iterator
from typing import Any

from plotworth.case.site_table import SiteTable
from plotworth.choose.layout import Layout
from plotworth.choose.sites import SiteResults, SiteWork, slice_results
from plotworth.ground.errors import PlotworthError

WORKERS = 2
SLICES_A_WORKER = 3
"""Slices sent ahead for each worker, so that none waits and memory stays bounded."""
CONNECT_SECONDS = 20
NEEDS_DASK = "The engine dask needs Dask; install it with `pip install 'plotworth[scale]'`, or use --engine plain."


def run_plain(layout: Layout, table: SiteTable, work: SiteWork, *, size: int) -> Generator[SiteResults]:
    """Yield the results of all slices of `size` sites, one after the other, in this process."""
    for rows in table.slices(size):
        yield slice_results(layout, rows, work)


def run_dask(
    layout: Layout, table: SiteTable, work: SiteWork, *, size: int, scheduler: str | None = None, workers: int = WORKERS
) -> Generator[SiteResults]:
    """Yield the same results in the same order, slices worked on by a Dask cluster.

    Parameters: as `run_plain`; scheduler, the address of a running one, whose workers must have this library, else a
    cluster of so many single-threaded processes is started on this machine alone and stopped at the end.
    Errors: PlotworthError where Dask is missing or the scheduler does not answer.
    """
    client = _client(scheduler, workers)
    try:
        case, asked = client.scatter([layout, work], broadcast=True)
        room = SLICES_A_WORKER * max(len(client.scheduler_info()["workers"]), 1)
        futures = (client.submit(slice_results, case, rows, asked, pure=False) for rows in table.slices(size))
        yield from _in_order(futures, room)
    finally:
        client.close()
        if scheduler is None:
            client.cluster.close()


def _in_order(futures: Iterable[Any], room: int) -> Iterator[SiteResults]:
    """Yield results in the order of their slices, so many under way at a time."""
    under_way: deque[Any] = deque()
    for future in futures:
        under_way.append(future)
        if len(under_way) >= room:
            yield under_way.popleft().result()
    while under_way:
        yield under_way.popleft().result()


def _client(scheduler: str | None, workers: int) -> Any:
    try:
        from distributed import Client, LocalCluster
    except ImportError:
        raise PlotworthError(NEEDS_DASK) from None
    if scheduler is None:
        cluster = LocalCluster(
            n_workers=workers, threads_per_worker=1, dashboard_address=None, host="127.0.0.1", silence_logs=50
        )
        return Client(cluster)
    try:
        return Client(scheduler, timeout=CONNECT_SECONDS)
    except (OSError, ValueError) as error:
        raise PlotworthError(f"{scheduler}: no Dask scheduler answers there ({error}).") from None
