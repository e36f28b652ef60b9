"""Works through a table of sites: reads, evaluates and writes slice by slice, and says how far it has come."""

import sys
from argparse import Namespace
from collections.abc import Generator, Iterator
from contextlib import closing
from pathlib import Path

from plotworth.case.folder import open_case
from plotworth.case.site_table import SiteTable, open_sites
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.site_engines import run_dask, run_plain
from plotworth.choose.site_risk import site_draws, sites_at_a_time
from plotworth.choose.sites import SLICE, SiteResults, SiteWork, site_paths
from plotworth.ground.amounts import number_text
from plotworth.ground.errors import CaseError, PlotworthError
from plotworth.report.console import say
from plotworth.report.progress import Progress
from plotworth.report.site_file import site_file
from plotworth.site_options import PLAIN


def appraise_sites(options: Namespace) -> None:
    """Appraise every site of a table and write the results, each faulty row reported with its line on the way.

    Raises PlotworthError where rows were left out, after the results of the others are written.
    """
    layout = lay_out(open_case(options.case))
    table = open_sites(options.sites, layout.inputs)
    if options.to.resolve() in (options.sites.resolve(), *_files_of(options.case)):
        raise CaseError(f"{options.to}: the results would take the place of what they are worked out from.")
    drawn = site_draws(layout, table.addresses, draws=options.draws, seed=options.seed) if options.draws else None
    work = SiteWork(site_paths(layout), table.path.name, drawn)
    progress = Progress(sys.stderr, "sites")
    sites = refused = 0
    try:
        with (
            site_file(options.to, work.columns(layout), invented=layout.case.settings.invented) as file,
            closing(_results(options, layout, table, work)) as slices,
        ):
            for results in slices:
                file.add(results)
                sites += len(results.names)
                refused += _report(results, progress)
                progress.show(results.share, results.read)
    finally:
        progress.clear()
    say(f"{options.to}: {number_text(sites, decimals=0)} sites.")
    if refused:
        raise PlotworthError(f"{number_text(refused, decimals=0)} faults; the rows that have them were left out.")


def _files_of(case: Path) -> Iterator[Path]:
    yield from (path.resolve() for path in case.iterdir() if path.is_file())


def _results(options: Namespace, layout: Layout, table: SiteTable, work: SiteWork) -> Generator[SiteResults]:
    size = options.slice or SLICE
    if options.draws:
        size = sites_at_a_time(options.draws, size)
    if options.engine == PLAIN:
        return run_plain(layout, table, work, size=size)
    return run_dask(layout, table, work, size=size, scheduler=options.scheduler)


def _report(results: SiteResults, progress: Progress) -> int:
    """Write the faults of a slice, a line each, and return how many there are."""
    if results.faults:
        progress.clear()
        print("\n".join(fault.text() for fault in results.faults), file=sys.stderr)
    return len(results.faults)
