"""The trail of an outcome as a page of text, and the list of outcomes that have one, `WIDTH` characters wide."""

import math
import textwrap
from collections.abc import Iterable, Iterator

from plotworth.choose.appraise import Appraisal
from plotworth.choose.dead_inputs import DeadInput, dead_inputs
from plotworth.choose.input import Input
from plotworth.choose.recorded import Recorded, record
from plotworth.choose.trail import Trail, TrailInput, outcome_paths, trail
from plotworth.choose.trail_records import records_words
from plotworth.ground.amounts import UNKNOWN, unit_words
from plotworth.report.page import WIDTH, title_lines, wrapped

INDENT, DEEPER = 2, 4
VALUE_DIGITS = 6
HOW_TO = "plotworth trail CASE PATH leads back from one of them: its formula, its inputs, their lines."
NOT_STATED = "absent"
ALL_OF_THEM = ", all of them with --json"


def trail_text(appraisal: Appraisal, path: str, *, recorded: Recorded | None = None) -> str:
    """Return the page of one outcome's trail.

    Parameters: the appraisal; path of the outcome; recorded, what `record` gave for its values, so that many pages
    need it once. Errors: PlotworthError where there is no such outcome.
    """
    found = trail(appraisal, path, recorded=recorded)
    lines = [*title_lines(appraisal.case.settings), "", *_opening(found), *_inputs_lines(found), *_still_lines(found)]
    return "\n".join(lines)


def outcomes_text(appraisal: Appraisal) -> str:
    """Return the list of all outcomes that have a trail, and the rows of the case that move none of them."""
    paths, lines = outcome_paths(appraisal), list(title_lines(appraisal.case.settings))
    streams: dict[str, list[str]] = {}
    for path in paths:
        stream, name = path.rsplit("/", 1)
        streams.setdefault(stream, []).append(name)
    lines += ["", f"{len(paths)} OUTCOMES", *wrapped(HOW_TO)]
    for stream, names in streams.items():
        lines += ["", f"{stream}/", *_set_in(", ".join(names), INDENT)]
    return "\n".join([*lines, *_dead_lines(dead_inputs(appraisal, record(appraisal.layout, appraisal.values)))])


def _opening(found: Trail) -> Iterator[str]:
    yield f"{found.path}"
    yield from wrapped(f"{found.label}: {found.meaning}.")
    yield ""
    yield f"Value: {_amount(found.value, found.unit)}"
    if found.reason:
        yield from wrapped(f"Why: {found.reason}.")
    yield from wrapped(f"Formula: {found.formula}.")
    if found.worked:
        yield from wrapped(f"Worked: {found.worked}")


def _inputs_lines(found: Trail) -> Iterator[str]:
    written = [one for one in found.inputs if one.input.origin != NOT_STATED]
    taken = [one for one in found.inputs if one.input.origin == NOT_STATED]
    yield from ("", f"WHAT MOVES IT: {len(written)} NUMBERS OF THE CASE")
    for one in written:
        yield from _input_lines(one, INDENT)
    if taken:
        told = "; ".join(f"{one.input.label.lower()} {_amount(one.value, one.input.unit)}" for one in taken)
        yield from ("", *wrapped(f"Not stated and taken as the glossary says: {told}."))


def _input_lines(one: TrailInput, indent: int) -> Iterator[str]:
    """Yield an input with its line, grade and source, then what it stands on itself, set in."""
    still = f" [{one.still}]" if one.still else ""
    yield from _set_in(f"{_named(one)}: {_amount(one.value, one.input.unit)}; {_place(one.input)}{still}", indent)
    below = indent + DEEPER
    if one.formula:
        yield from _set_in(f"worked out: {one.formula}", below)
    for below_it in one.stands_on:
        yield from _input_lines(below_it, below)
    for rows in one.records:
        yield from _set_in(records_words(rows, elsewhere=ALL_OF_THEM), below)
    for note in one.notes:
        yield from _set_in(note, below)


def _named(one: TrailInput) -> str:
    return f"{one.input.label} ({one.input.address})"


def _place(one: Input) -> str:
    """Return where an input is written, how good it is and where it comes from."""
    place = f"{one.file} line {one.line}" if one.line else one.file
    grade = f", grade {one.grade}" if one.grade else ""
    return f"{place}{grade}, {one.source}" if one.source else f"{place}{grade}"


def _still_lines(found: Trail) -> Iterator[str]:
    if not found.still:
        return
    whys: dict[str, list[str]] = {}
    for one in found.still:
        whys.setdefault(one.still, []).append(one.input.address)
    yield from ("", f"WHAT ENTERS AND DOES NOT MOVE IT: {len(found.still)} NUMBERS")
    for why, addresses in whys.items():
        yield from _set_in(f"{why}: {', '.join(addresses)}", INDENT)


def _dead_lines(dead: Iterable[DeadInput]) -> Iterator[str]:
    """Yield the rows that move no outcome, those with one reason together."""
    whys: dict[str, list[str]] = {}
    for one in dead:
        whys.setdefault(one.why, []).append(f"{one.address} ({one.file} line {one.line})")
    if whys:
        yield from ("", f"ROWS THAT MOVE NO OUTCOME: {sum(map(len, whys.values()))}")
    for why, rows in whys.items():
        yield from _set_in(f"{why}: {', '.join(rows)}", INDENT)


def _amount(value: float, unit: str) -> str:
    """Return a value as it is computed with, to six figures, with its unit."""
    if not math.isfinite(value):
        return UNKNOWN
    return f"{value:.{VALUE_DIGITS}g} {unit_words(unit)}".rstrip()


def _set_in(text: str, indent: int) -> list[str]:
    """Return a sentence as lines of at most `WIDTH` characters, set in, all but the first a little further."""
    first, more = " " * indent, " " * (indent + INDENT)
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=more, break_on_hyphens=False)
