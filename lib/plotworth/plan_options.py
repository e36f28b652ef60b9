"""The options of `plotworth plan`: words of the command line turned into the outline of a plan."""

import argparse
import datetime
from pathlib import Path

from plotworth.case.plan import DESIGNS, TREATMENT, Plan, PlannedFactor
from plotworth.case.settings import FILE as SETTINGS_FILE
from plotworth.case.settings import read_settings
from plotworth.field.layout import NO_REDRAW, REDRAW_RULE
from plotworth.ground.errors import CaseError, FaultsError

NEEDED = ("factor", "blocks", "seed", "contrast", "smallest_gain", "crop", "plot", "spacing")
ANALYSES = {
    "blocks": "Plot means; analysis of variance for complete blocks; the contrast with its 95 % interval.",
    "split": "Plot means; analysis of variance for a split plot, each comparison with its own error; the contrast "
    "with its 95 % interval.",
    "factorial": "Plot means; analysis of variance of the factorial in blocks, main effects and interaction; the "
    "contrast with its 95 % interval.",
}
SAMPLE = (
    "--design blocks --factor water=tank,drip,hand --blocks 4 --seed 20260110 --contrast tank,drip "
    '--smallest-gain 0.15 --crop "sweet pepper" --plot 2x8 --spacing 0.5x0.6 --guards 1x1 --cv 0.15'
)


def add_options(command: argparse.ArgumentParser) -> None:
    """Give the command its options."""
    command.epilog = f"For example: plotworth plan CASE {SAMPLE}"
    command.add_argument("--design", choices=DESIGNS, help="complete blocks, split plot, or factorial in blocks")
    command.add_argument(
        "--factor",
        action="append",
        type=_factor,
        metavar="NAME=A,B,...",
        help="what is varied and its levels; twice or more for split (whole plots first) and factorial",
    )
    command.add_argument("--blocks", type=int, help="how often every treatment is repeated")
    command.add_argument("--seed", type=int, help="a whole number, chosen once; it draws the same layout again")
    command.add_argument(
        "--contrast",
        type=_contrast,
        metavar="[OF:]A,B",
        help="the difference that is asked about, A less B: two treatments, or two levels of a factor, water:tank,drip",
    )
    command.add_argument(
        "--smallest-gain", type=float, metavar="SHARE", help="smallest gain worth having, 0.15 = 15 %%"
    )
    command.add_argument("--crop", help="crop grown")
    command.add_argument("--plot", type=_sizes, metavar="ROWSxPLANTS", help="harvested rows x plants of a row, 2x8")
    command.add_argument("--spacing", type=_lengths, metavar="MxM", help="metres in the row x between rows, 0.5x0.6")
    command.add_argument(
        "--guards",
        type=_sizes,
        default=(1, 1),
        metavar="ROWSxPLANTS",
        help="guard rows a side x plants at row ends; 1x1",
    )
    command.add_argument(
        "--gradient-from", default="", metavar="SIDE", help="where slope or way in begins: 'north, door'"
    )
    command.add_argument(
        "--columns", type=int, default=0, help="plots side by side in a block; a single row if left out"
    )
    command.add_argument("--cv", type=float, metavar="SHARE", help="CV expected between plots of a block, 0.15 = 15 %%")
    command.add_argument("--question", help="what the trial asks; the question of case.toml if left out")
    command.add_argument("--outcome", default="yield_kg_per_m2", help="the one outcome that decides, a glossary name")
    command.add_argument("--analysis", help="what will be done with the records; the usual for the design if left out")
    command.add_argument("--site", default="", help="site, where the case has several")
    command.add_argument("--trial-year", default="", help="run of the trial, where the case has several")
    command.add_argument("--frozen-on", type=_day, metavar="DATE", help="date of the plan; today if left out")
    command.add_argument("--no-redraw", action="store_true", help="take the first draw, however it falls")
    command.add_argument(
        "--preview", action="store_true", help="say sizes and what the trial can show; no map, and nothing is written"
    )


def plan_outline(options: argparse.Namespace) -> Plan:
    """Return the plan that the options describe, not drawn yet.

    Raises CaseError that names every option which is missing.
    """
    missing = [f"--{name.replace('_', '-')}" for name in NEEDED if getattr(options, name) is None]
    question = options.question or _case_question(options.case)
    if not question:
        missing.append("--question")
    if missing:
        raise CaseError(f"plotworth plan: also needs {', '.join(missing)}. For example: {SAMPLE}")
    return Plan(
        question=question,
        outcome=options.outcome,
        contrast_of=options.contrast[0],
        contrast=options.contrast[1],
        smallest_gain_share=options.smallest_gain,
        design=options.design,
        factors=tuple(options.factor),
        blocks=options.blocks,
        seed=options.seed,
        redraws=0,
        redraw_rule=NO_REDRAW if options.no_redraw else REDRAW_RULE,
        columns=options.columns,
        gradient_from=options.gradient_from,
        crop=options.crop,
        rows=options.plot[0],
        plants_per_row=options.plot[1],
        spacing_in_row_m=options.spacing[0],
        spacing_between_rows_m=options.spacing[1],
        guard_rows=options.guards[0],
        guard_plants=options.guards[1],
        analysis=options.analysis or ANALYSES[options.design],
        frozen_on=options.frozen_on or datetime.date.today(),
        plots=(),
        expected_cv=options.cv,
        site=options.site,
        trial_year=options.trial_year,
    )


def _case_question(folder: Path) -> str:
    """Return the question of case.toml, blank where the settings are not filled in yet."""
    if not (folder / SETTINGS_FILE).exists():
        return ""
    try:
        return read_settings(folder).question
    except FaultsError:
        return ""


def _factor(text: str) -> PlannedFactor:
    name, _, levels = text.partition("=")
    if not name.strip() or "," not in levels:
        raise argparse.ArgumentTypeError(f"{text!r} is no factor; write NAME=A,B,... such as water=tank,drip,hand")
    return PlannedFactor(name.strip(), tuple(level.strip() for level in levels.split(",")))


def _contrast(text: str) -> tuple[str, tuple[str, str]]:
    of, _, names = text.rpartition(":")
    parts = [part.strip() for part in names.split(",")]
    if len(parts) != 2:
        raise argparse.ArgumentTypeError(f"{text!r} is no contrast; write two names, such as tank,drip")
    return of.strip() or TREATMENT, (parts[0], parts[1])


def _sizes(text: str) -> tuple[int, int]:
    try:
        first, second = (int(part) for part in text.lower().split("x"))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no size; write two whole numbers, such as 2x8") from None
    return first, second


def _lengths(text: str) -> tuple[float, float]:
    try:
        first, second = (float(part) for part in text.lower().split("x"))
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no spacing; write two lengths in metres, such as 0.5x0.6"
        ) from None
    return first, second


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date; write year-month-day, such as 2026-01-10") from None
