"""Dead inputs: rows that somebody wrote and that move no outcome, each with why where it can be told."""

from collections.abc import Iterator
from dataclasses import dataclass

from plotworth.case.book import Assumption
from plotworth.case.folder import BOOK_FILE
from plotworth.choose.appraise import Appraisal
from plotworth.choose.assumed import NOT_FOR_THE_COMPOSITION, YIELD_NAMES
from plotworth.choose.computed import FORMULAS
from plotworth.choose.recorded import Recorded
from plotworth.ground.glossary import GLOSSARY

WHY_OF_GROUP = {
    "nutrients": "stands beside the appraisal: nutrients change no money",
    "salt": "stands beside the appraisal: the salt balance changes no money",
    "economic": "counts in the economic view only",
    "financing": "counts in the financed cash flow, of which no outcome of the appraisal is made",
    "demand": "a season is followed day by day with it, beside the appraisal, which takes no value from there",
    "reservoir": "a tank is followed day by day with it, beside the appraisal, which takes no value from there",
}
LEDGER = "closes the water ledger of the trial and the measures of water productivity, and enters no outcome"
NO_SEASON = "no season of the case has this system, crop and season"
SHADOWED = "more specific rows hold in every season that it could hold in ({file} {lines})"
OTHER_ROUTE = "the yield is taken from {name} ({file} line {line})"
TYPED = "{name} is typed in ({file} line {line}), so that nothing is worked out from it"
NOT_COMPUTED = "nothing of the case is worked out from it: no row {name} is `computed`"
BESIDE = "enters no outcome of the appraisal"


@dataclass(frozen=True)
class DeadInput:
    """A row without effect: its address, label, where it stands, and why it moves nothing."""

    address: str
    label: str
    file: str
    line: int
    why: str


def dead_inputs(appraisal: Appraisal, recorded: Recorded) -> tuple[DeadInput, ...]:
    """Return every row of the book, the costs, the labour plan and the prices that moves no outcome, file by file.

    Parameters: the appraisal; recorded, what `record` gave for its values. Of a cost line or a row of the labour plan
    each number stands by itself, under its address.
    """
    moving = {at for moved in recorded.moves.values() for at in moved}
    return (*_of_book(appraisal, recorded, moving), *_of_tables(appraisal, recorded, moving))


def _of_book(appraisal: Appraisal, recorded: Recorded, moving: set[str]) -> Iterator[DeadInput]:
    inputs = appraisal.layout.inputs
    by_line: dict[int, list[str]] = {}
    for at, one in inputs.items():
        if one.file == BOOK_FILE:
            by_line.setdefault(one.line, []).append(at)
    for row in appraisal.case.book.rows:
        laid_out = by_line.get(row.line, [])
        if not moving.intersection(laid_out):
            why = _entering(recorded, laid_out) or _why_of_row(appraisal, row, is_laid_out=bool(laid_out))
            yield DeadInput(row.address, GLOSSARY[row.name].label, BOOK_FILE, row.line, why)


def _of_tables(appraisal: Appraisal, recorded: Recorded, moving: set[str]) -> Iterator[DeadInput]:
    for at, one in appraisal.layout.inputs.items():
        if one.file != BOOK_FILE and one.line and at not in moving:
            yield DeadInput(
                at, one.label, one.file, one.line, _entering(recorded, [at]) or WHY_OF_GROUP.get(one.group, BESIDE)
            )


def _entering(recorded: Recorded, addresses: list[str]) -> str:
    """Return why a value that enters some outcome moves none, "" where it enters none."""
    whys = (still[at] for still in recorded.still.values() for at in addresses if at in still)
    return next(whys, "")


def _why_of_row(appraisal: Appraisal, row: Assumption, *, is_laid_out: bool) -> str:
    term = GLOSSARY[row.name]
    if row.name in NOT_FOR_THE_COMPOSITION:
        return LEDGER
    if term.group in WHY_OF_GROUP:
        return WHY_OF_GROUP[term.group]
    if is_laid_out:
        return BESIDE
    return _why_not_laid_out(appraisal, row)


def _why_not_laid_out(appraisal: Appraisal, row: Assumption) -> str:
    """Return why a row holds in no season: none fits, others are more specific, or what it would serve is typed in."""
    book = appraisal.case.book
    seasons = [
        season for season in appraisal.case.rows("seasons") if row.applies(season.system, season.crop, season.season)
    ]
    if not seasons:
        return NO_SEASON
    keys = [{"system": s.system, "crop": s.crop, "season": s.season} for s in seasons]
    holding = [book.find(row.name, **key) for key in keys]
    if row not in holding:
        lines = ", ".join(f"line {line}" for line in sorted({one.line for one in holding if one is not None}))
        return SHADOWED.format(file=BOOK_FILE, lines=lines)
    if row.name in YIELD_NAMES:
        return next(_other_routes(appraisal, row, keys), BESIDE)
    return _why_not_computed(appraisal, row, keys)


def _other_routes(appraisal: Appraisal, row: Assumption, keys: list[dict[str, str]]) -> Iterator[str]:
    for name in YIELD_NAMES:
        for key in keys if name != row.name else []:
            other = appraisal.case.book.find(name, **key)
            if other is not None:
                yield OTHER_ROUTE.format(name=name, file=BOOK_FILE, line=other.line)


def _why_not_computed(appraisal: Appraisal, row: Assumption, keys: list[dict[str, str]]) -> str:
    """Return why nothing is worked out from a row that only a closed formula would use."""
    served = [name for name, formula in FORMULAS.items() if row.name in formula.inputs]
    for name in served:
        for key in keys:
            typed = appraisal.case.book.find(name, **key)
            if typed is not None:
                return TYPED.format(name=name, file=BOOK_FILE, line=typed.line)
    return NOT_COMPUTED.format(name=" or ".join(served)) if served else BESIDE
