"""The command line, thin: open, new, plan, check, appraise, cash, budget, crossover, risk, explain, trail, sites..."""

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from plotworth.ground.errors import FaultsError, PlotworthError
from plotworth.report.console import say, show_plain

DESCRIPTION = "Seasonal yield, water and economics of growing vegetables with little water."
PORTS = range(1, 65536)
INTERRUPTED = 130  # what shells give for a command that Ctrl-C ended
MOST_SCENARIOS = 2
CASE_HELP = "the folder that holds case.toml"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code: 0 done, 1 refused with the reason, 130 stopped by Ctrl-C.

    Ends the program with exit code 2 where the command is not understood.
    """
    for stream in (sys.stdout, sys.stderr):
        show_plain(stream)
    options = _parser().parse_args(arguments)
    run: Callable[[argparse.Namespace], None] = options.run
    try:
        run(options)
    except KeyboardInterrupt:
        return INTERRUPTED
    except FaultsError as error:
        print(f"{len(error.faults)} to mend:\n{error}", file=sys.stderr)
    except PlotworthError as error:
        print(error, file=sys.stderr)
    except OSError as error:
        print(f"{error.filename or 'a file'}: {error.strerror or error}; nothing more was done.", file=sys.stderr)
    else:
        return 0
    return 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="plotworth", description=DESCRIPTION)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    opening = _add(commands, "open", _open, "open the workbook in JupyterLab, on a case or on the invented demo")
    opening.add_argument("case", nargs="?", type=Path, metavar="CASE", help=CASE_HELP)
    opening.add_argument("--no-browser", action="store_true", help="print the address and open nothing")
    opening.add_argument("--port", type=_port, help="port on this machine; a free one if left out")
    new = _add(commands, "new", _new, "make an empty case to fill in")
    new.add_argument("folder", type=Path, metavar="FOLDER", help="a new folder")
    new.add_argument("--xlsx", action="store_true", help="keep the tables in one Excel workbook with drop-downs")
    plan = _add(commands, "plan", _plan, "plan a trial by lot, freeze the plan, write record sheets; or show the plan")
    plan.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    _add_plan_options(plan)
    check = _add(commands, "check", _check, "read a case and say what was read, or everything that is wrong")
    check.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    appraise = _add(commands, "appraise", _appraise, "yield, water, costs and worth of every system of a case")
    appraise.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    appraise.add_argument("--json", action="store_true", help="for other programs")
    cash = _add(commands, "cash", _cash, "cash, financing and labour by month of every system of a case")
    cash.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    cash.add_argument("--json", action="store_true", help="for other programs")
    budget = _add(
        commands, "budget", _budget, "partial budget of the systems: costs that vary, marginal rates of return"
    )
    budget.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    budget.add_argument("--json", action="store_true", help="for other programs")
    crossover = _add(
        commands, "crossover", _crossover, "from what area, price or other value which system is worth more"
    )
    crossover.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    crossover.add_argument("--system", default="", help="id of the system; the one that is new if left out")
    crossover.add_argument("--reference", default="", help="id it is held against; the baseline if left out")
    crossover.add_argument("--json", action="store_true", help="for other programs")
    risk = _add(commands, "risk", _risk, "draw a case from its ranges and say how sure the answer is")
    risk.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    _add_risk_options(risk)
    trail = _add(commands, "trail", _trail, "lead back from an outcome to its formula, inputs and records")
    trail.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    trail.add_argument("outcome", nargs="?", default="", metavar="OUTCOME", help="its path; all are listed if left out")
    trail.add_argument("--json", action="store_true", help="for other programs")
    explain = _add(
        commands, "explain", _explain, "say why the answer moves from the book to a scenario, input by input"
    )
    explain.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    explain.add_argument(
        "scenarios", nargs="+", metavar="SCENARIO", help="one: from the book to it; two: from the first"
    )
    explain.add_argument("--json", action="store_true", help="for other programs")
    sites = _add(commands, "sites", _sites, "appraise every site of a table, slice by slice, whatever its length")
    sites.add_argument("case", type=Path, metavar="CASE", help=CASE_HELP)
    _add_site_options(sites)
    tidy = _add(commands, "tidy", _tidy, "write a copy of a case whose files came from another spreadsheet dialect")
    tidy.add_argument("case", type=Path, metavar="CASE", help="the folder to convert; it stays as it is")
    tidy.add_argument("--to", type=Path, required=True, metavar="FOLDER", help="a new folder for the copy")
    return parser


def _add(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
    name: str,
    run: Callable[[argparse.Namespace], None],
    help_text: str,
) -> argparse.ArgumentParser:
    command = commands.add_parser(name, help=help_text, description=help_text)
    command.set_defaults(run=run)
    return command


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) not in PORTS:
        raise argparse.ArgumentTypeError(f"{text!r} is no port; write a number from {PORTS[0]} to {PORTS[-1]}")
    return int(text)


def _typed(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)


def _open(options: argparse.Namespace) -> None:
    from plotworth.workbook import open_workbook

    if options.case is not None:
        from plotworth.case.folder import open_case

        open_case(options.case)
    open_workbook(options.case, browser=not options.no_browser, port=options.port)


def _new(options: argparse.Namespace) -> None:
    from plotworth.case.template import first_rows, new_case

    new_case(options.folder, with_tables=not options.xlsx)
    if options.xlsx:
        from plotworth.case.folder import EXCEL_FILE
        from plotworth.report.record_workbook import write_workbook

        write_workbook(options.folder / EXCEL_FILE, {"assumptions": first_rows()})
    say(f"{options.folder}: an empty case. Fill it in, then run `plotworth check {_typed(options.folder)}`.")


def _add_plan_options(command: argparse.ArgumentParser) -> None:
    from plotworth.plan_options import add_options

    add_options(command)


def _plan(options: argparse.Namespace) -> None:
    from plotworth.plan_options import plan_outline
    from plotworth.planning import drawn_plan, freeze_plan, frozen_summary, plan_facts, plan_summary

    if options.design is None:
        say(frozen_summary(options.case))
        return
    plan = drawn_plan(plan_outline(options))
    if options.preview:
        say("\n".join(plan_facts(plan)))
        return
    written = freeze_plan(options.case, plan)
    say(plan_summary(plan))
    say("\n".join(["", *written]))


def _check(options: argparse.Namespace) -> None:
    from plotworth.case.folder import open_case
    from plotworth.case.scenarios import check_scenarios
    from plotworth.choose.cash_months import refuse_grants
    from plotworth.choose.inputs import lay_out
    from plotworth.report.reading import reading_text

    case = open_case(options.case)
    layout = lay_out(case)
    refuse_grants(layout)
    check_scenarios(case.path, layout.inputs)
    say(reading_text(case, layout))


def _appraise(options: argparse.Namespace) -> None:
    from plotworth.case.folder import open_case
    from plotworth.choose.appraise import appraise
    from plotworth.report.exchange import appraisal_json
    from plotworth.report.page import appraisal_text

    appraisal = appraise(open_case(options.case))
    say(appraisal_json(appraisal) if options.json else appraisal_text(appraisal))


def _cash(options: argparse.Namespace) -> None:
    from plotworth.case.folder import open_case
    from plotworth.choose.appraise import appraise
    from plotworth.choose.cash_months import cash_by_month
    from plotworth.report.cash_exchange import cash_json
    from plotworth.report.cash_page import cash_text

    appraisal = appraise(open_case(options.case))
    cash = cash_by_month(appraisal.layout, appraisal.values)
    say(cash_json(appraisal, cash) if options.json else cash_text(appraisal, cash))


def _budget(options: argparse.Namespace) -> None:
    from plotworth.case.folder import open_case
    from plotworth.choose.appraise import appraise
    from plotworth.report.budget_exchange import budget_json
    from plotworth.report.budget_page import budget_text

    appraisal = appraise(open_case(options.case))
    say((budget_json if options.json else budget_text)(appraisal))


def _crossover(options: argparse.Namespace) -> None:
    from plotworth.case.folder import open_case
    from plotworth.choose.appraise import appraise
    from plotworth.choose.case_crossover import crossover_of
    from plotworth.report.crossover_exchange import crossover_json
    from plotworth.report.crossover_page import crossover_text

    appraisal = appraise(open_case(options.case))
    found = crossover_of(appraisal, options.system, options.reference)
    say((crossover_json if options.json else crossover_text)(appraisal, found))


def _add_risk_options(command: argparse.ArgumentParser) -> None:
    from plotworth.risking import add_options

    add_options(command)


def _risk(options: argparse.Namespace) -> None:
    from plotworth.risking import show_risk

    show_risk(options)


def _trail(options: argparse.Namespace) -> None:
    from plotworth.case.folder import open_case
    from plotworth.choose.appraise import appraise
    from plotworth.report.trail_exchange import outcomes_json, trail_json
    from plotworth.report.trail_page import outcomes_text, trail_text

    appraisal = appraise(open_case(options.case))
    if options.outcome:
        say((trail_json if options.json else trail_text)(appraisal, options.outcome))
    else:
        say((outcomes_json if options.json else outcomes_text)(appraisal))


def _explain(options: argparse.Namespace) -> None:
    from plotworth.case.folder import open_case
    from plotworth.case.scenarios import read_scenario
    from plotworth.choose.bridge import bridge, scenario_values
    from plotworth.choose.inputs import lay_out
    from plotworth.report.explain_exchange import explain_json
    from plotworth.report.explain_page import BOOK_NAME, explain_text

    if len(options.scenarios) > MOST_SCENARIOS:
        raise PlotworthError(f"explain goes from one scenario to another; {len(options.scenarios)} are named.")
    case = open_case(options.case)
    layout = lay_out(case)
    named = [read_scenario(case.path, name) for name in options.scenarios]
    sides = (None, named[0]) if len(named) == 1 else (named[0], named[1])
    found = bridge(layout, *(scenario_values(layout, side) for side in sides))
    names = tuple(BOOK_NAME if side is None else side.title for side in sides)
    ends = (names[0], names[1])
    say(explain_json(found, names=ends) if options.json else explain_text(layout, found, names=ends))


def _add_site_options(command: argparse.ArgumentParser) -> None:
    from plotworth.site_options import add_options

    add_options(command)


def _sites(options: argparse.Namespace) -> None:
    from plotworth.siting import appraise_sites

    appraise_sites(options)


def _tidy(options: argparse.Namespace) -> None:
    from plotworth.case.tidy import tidy_case

    say("\n".join(tidy_case(options.case, options.to)))
    say(f"The copy is in {options.to}; run `plotworth check {_typed(options.to)}`.")


if __name__ == "__main__":
    sys.exit(main())
