"""How long a table of sites takes, and how little memory: printed by CI; the memory is held. Run with `-s`."""

import time
import tracemalloc
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest

from plotworth.case.folder import open_case
from plotworth.case.site_table import open_sites
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.site_engines import run_dask, run_plain
from plotworth.choose.site_risk import site_draws, sites_at_a_time
from plotworth.choose.sites import SLICE, SiteResults, SiteWork, site_paths
from plotworth.report.site_file import site_file

DEMO = Path(__file__).parent.parent.parent / "data_demo"
HEADER = "site,area_m2,carry_distance_m,market_price_per_kg/all/sweet pepper,static_level_m/drip"
FEW, SOME, MANY = 4_000, 20_000, 100_000
DRAWS = 100
MEGABYTE = 1e6
MOST_MEMORY_MB = 60
NAMES_BYTES = 16
"""Bytes a site that may be held: eight for its name, and as many while names are sorted."""


@pytest.fixture(scope="module")
def layout() -> Layout:
    return lay_out(open_case(DEMO))


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder, random = tmp_path_factory.mktemp("sites"), np.random.default_rng(1)
    for count in (FEW, SOME, MANY):
        columns = [random.uniform(*ends, count) for ends in ((50, 5000), (50, 800), (0.4, 1.5), (5, 60))]
        with (folder / f"{count}.csv").open("w", encoding="utf-8") as file:
            file.write(f"{HEADER}\n")
            rows = zip(*(column.tolist() for column in columns), strict=True)
            file.writelines(f"s{n},{','.join(f'{one:.4f}' for one in row)}\n" for n, row in enumerate(rows))
    return folder


def say(capsys: pytest.CaptureFixture[str], line: str) -> None:
    with capsys.disabled():
        print(f"\n  {line}")


def results(layout: Layout, path: Path, draws: int) -> tuple[Iterator[SiteResults], SiteWork]:
    table = open_sites(path, layout.inputs)
    drawn = site_draws(layout, table.addresses, draws=draws, seed=1) if draws else None
    work = SiteWork(site_paths(layout), path.name, drawn)
    return run_plain(layout, table, work, size=sites_at_a_time(draws, SLICE) if draws else SLICE), work


def written(layout: Layout, path: Path, to: Path, draws: int) -> int:
    """Return how many sites were worked through and written."""
    slices, work = results(layout, path, draws)
    with site_file(to, work.columns(layout), invented=True) as file, closing(slices):
        return sum(file.add(part) or len(part.names) for part in slices)


def peak_of(path: Path, to: Path, draws: int) -> tuple[int, int]:
    """Return the sites written and the peak memory [bytes], in a process without other tests and their threads."""
    layout = lay_out(open_case(DEMO))
    tracemalloc.start()
    return written(layout, path, to, draws), tracemalloc.get_traced_memory()[1]


@pytest.mark.bench
@pytest.mark.parametrize(("few", "many", "draws", "ending"), [(SOME, MANY, 0, "csv"), (FEW, SOME, DRAWS, "parquet")])
def test_memory_is_flat_in_the_number_of_sites(
    capsys: pytest.CaptureFixture[str],
    tables: Path,
    tmp_path: Path,
    few: int,
    many: int,
    draws: int,
    ending: str,
) -> None:
    if ending == "parquet":
        pytest.importorskip("pyarrow", reason="pyarrow, of the extra scale, is not installed")
    peaks = {}
    for count in (few, many):
        table, to = tables / f"{count}.csv", tmp_path / f"r.{ending}"
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as alone:
            done, peaks[count] = alone.submit(peak_of, table, to, draws).result()
        assert done == count
    told = [f"{count} sites {peak / MEGABYTE:.1f} MB" for count, peak in peaks.items()]
    say(capsys, f"peak memory of Python and numpy, {draws or 1} draws a site, to {ending}: {', '.join(told)}")
    assert peaks[many] < MOST_MEMORY_MB * MEGABYTE
    assert peaks[many] - peaks[few] < NAMES_BYTES * (many - few) + MEGABYTE


@pytest.mark.bench
@pytest.mark.parametrize(("sites", "draws"), [(MANY, 0), (SOME, DRAWS)])
def test_sites_by_the_second(
    capsys: pytest.CaptureFixture[str], layout: Layout, tables: Path, sites: int, draws: int
) -> None:
    start = time.process_time()
    slices, _ = results(layout, tables / f"{sites}.csv", draws)
    count = sum(len(part.names) for part in slices)
    taken = time.process_time() - start
    say(capsys, f"{count} sites x {draws or 1} draws: {1e6 * taken / count:.1f} us of processor time a site")
    assert count == sites


@pytest.mark.bench
def test_a_cluster_of_two_workers_costs_little_more(
    capsys: pytest.CaptureFixture[str], layout: Layout, tables: Path
) -> None:
    psutil = pytest.importorskip("psutil", reason="psutil is not installed")
    distributed = pytest.importorskip("distributed", reason="Dask, of the extra scale, is not installed")
    path = tables / f"{MANY}.csv"
    start = time.process_time()
    slices, work = results(layout, path, 0)
    alone = sum(len(part.names) for part in slices)
    plain = time.process_time() - start
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1", silence_logs=50
    ) as local:
        before = _processor_time(psutil)
        again = run_dask(layout, open_sites(path, layout.inputs), work, size=SLICE, scheduler=local.scheduler_address)
        assert sum(len(part.names) for part in again) == alone == MANY
        dask = _processor_time(psutil) - before
    say(capsys, f"{MANY} sites: {plain:.1f} s of processor time here, {dask:.1f} s with two Dask workers")


def _processor_time(psutil) -> float:
    own = psutil.Process()
    times = [one.cpu_times() for one in (own, *own.children(recursive=True))]
    return sum(one.user + one.system for one in times)
