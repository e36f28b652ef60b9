"""What `plotworth risk` does: draws a case many times, shows how far it has come, and prints what the draws say."""

import argparse
import sys
from pathlib import Path

from plotworth.choose.draws import BLOCK
from plotworth.choose.risk import DRAWS, SEED
from plotworth.report.console import say
from plotworth.report.progress import Progress

LADDER = (0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
"""Multiples of the case's own area at which chances are shown."""


def add_options(command: argparse.ArgumentParser) -> None:
    """Add the options of `plotworth risk` to its parser."""
    command.add_argument("--draws", type=int, default=DRAWS, metavar="N", help=f"how many draws; {DRAWS} if left out")
    command.add_argument("--seed", type=int, default=SEED, metavar="S", help=f"of the draws; {SEED} if left out")
    command.add_argument(
        "--no-events", action="store_true", help="count failed seasons and dry holes with their chance"
    )
    command.add_argument("--json", action="store_true", help="for other programs")


def show_risk(options: argparse.Namespace) -> None:
    """Draw a case and print what the draws say; Ctrl-C ends it between two blocks and prints nothing of it.

    Raises: FaultsError where the case has faults, PlotworthError where draws or seed are out of bounds.
    """
    from plotworth.case.folder import open_case
    from plotworth.choose.case_crossover import main_pair
    from plotworth.choose.events import NO_EVENTS
    from plotworth.choose.influence import influence
    from plotworth.choose.inputs import lay_out
    from plotworth.choose.risk import ALL_EVENTS, risk, risk_by_area
    from plotworth.choose.structure import AREA
    from plotworth.report.risk_exchange import risk_json
    from plotworth.report.risk_page import risk_text

    layout = lay_out(open_case(Path(options.case)))
    events = NO_EVENTS if options.no_events else ALL_EVENTS
    bar = Progress(sys.stderr, "draws")
    try:
        found = risk(
            layout,
            layout.values,
            draws=options.draws,
            seed=options.seed,
            events=events,
            report=lambda done, draws: bar.show(done / draws, done),
        )
        areas = [float(layout.values[AREA].flat[0]) * step for step in LADDER]
        fewer = min(options.draws, BLOCK)
        by_area = risk_by_area(layout, layout.values, areas, draws=fewer, seed=options.seed, events=events)
        moving = influence(layout, layout.values, *main_pair(layout), seed=options.seed, events=events)
    finally:
        bar.clear()
    say((risk_json if options.json else risk_text)(found, by_area, moving))
