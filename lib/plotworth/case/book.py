"""The assumption book: one row an assumption, keyed by name, system, crop and season; blank means all.

The most specific row wins; two that are equally specific and both apply are a fault. The book is kept
as it was written, so that it goes back unchanged but for what was changed on purpose.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from plotworth.case.cells import Refusal, check_bounds, parse_number
from plotworth.case.sheet import Sheet
from plotworth.case.table import Entry, check_sheet
from plotworth.ground.errors import Fault, FaultsError
from plotworth.ground.glossary import GLOSSARY, Term, suggest, unit_text

TRIAL, UNKNOWN, COMPUTED = "trial", "unknown", "computed"
ALL = "all"
FROM_TRIAL = tuple(term.name for term in GLOSSARY.values() if TRIAL in term.words)
KEYS_BY_SCOPE = {"case": (), "system": ("system",), "season": ("system", "crop", "season")}


@dataclass(frozen=True)
class Assumption:
    """A row of the book. `value` is a number in the glossary's unit, or one of the words trial and unknown."""

    name: str
    system: str
    crop: str
    season: str
    value: float | str
    low: float | None
    high: float | None
    unit: str
    source: str
    note: str
    spread: str
    nature: str
    grade: str
    price_year: int | None
    line: int

    @property
    def address(self) -> str:
        """The row's one address: name/system/crop/season, `all` for a blank, trailing blanks dropped."""
        return address(self.name, self.system, self.crop, self.season)

    @property
    def keys(self) -> tuple[str, str, str]:
        """The row's system, crop and season, blank for all."""
        return self.system, self.crop, self.season

    def applies(self, system: str, crop: str, season: str) -> bool:
        """Whether the row holds for this system, crop and season."""
        return all(key in ("", asked) for key, asked in zip(self.keys, (system, crop, season), strict=True))


def address(name: str, *keys: str) -> str:
    """Return an address: the name and its keys, `all` for a blank one, trailing blanks dropped."""
    parts = [name, *keys]
    while parts and not parts[-1]:
        parts.pop()
    return "/".join(part or ALL for part in parts)


@dataclass(frozen=True)
class Book:
    """The rows of a book and the sheet they were read from."""

    rows: tuple[Assumption, ...]
    sheet: Sheet

    def find(self, name: str, *, system: str = "", crop: str = "", season: str = "") -> Assumption | None:
        """Return the most specific row that applies, or None where the book leaves it out."""
        fitting = [row for row in self.rows if row.name == name and row.applies(system, crop, season)]
        return max(fitting, key=lambda row: sum(map(bool, row.keys)), default=None)

    def at(self, row_address: str) -> Assumption:
        """Return the row at an address; KeyError with the nearest address where there is none."""
        by_address = {row.address: row for row in self.rows}
        if row_address not in by_address:
            raise KeyError(f"no row at {row_address}; the nearest is {suggest(row_address, by_address)}")
        return by_address[row_address]

    def with_value(self, row_address: str, text: str) -> "Book":
        """Return the book with one row's value rewritten as `text`; all other lines stay as written.

        Raises KeyError where no row has the address, FaultsError where `text` is neither a number nor a word.
        """
        old = self.at(row_address)
        value = parse_number(text)
        if isinstance(value, Refusal) and text not in (TRIAL, UNKNOWN):
            raise FaultsError([Fault(self.sheet.file, old.line, old.name, text, value.rule, value.remedy)])
        new = replace(old, value=text if isinstance(value, Refusal) else value)
        written = next(row for row in self.sheet.rows if row.line == old.line)
        rows = tuple(new if row is old else row for row in self.rows)
        return Book(rows, self.sheet.with_cell(written, "value", text))

    def text(self) -> str:
        """Return the book's file as it would be written back: unchanged but for changed rows."""
        return self.sheet.text()

    def datasheet(self) -> str:
        """Return the book as a page to read: group by group, value, range, unit, grade and source."""
        return "\n".join(_datasheet_lines(self.rows))


def _datasheet_lines(rows: Iterable[Assumption]) -> Iterator[str]:
    by_group: dict[str, list[Assumption]] = {}
    for row in rows:
        by_group.setdefault(GLOSSARY[row.name].group, []).append(row)
    for group, members in by_group.items():
        yield group.upper()
        for row in members:
            value = row.value if isinstance(row.value, str) else f"{row.value:g}"
            spread = "" if row.low is None or row.high is None else f" ({row.low:g} to {row.high:g})"
            grade = f" [{row.grade}]" if row.grade else ""
            yield f"  {row.address:<58} {value:>9} {row.unit}{spread}{grade}  {row.source}"


@dataclass(frozen=True)
class Context:
    """What a book's keys may name: (system, crop, season) of every season, systems with a treatment, currency."""

    seasons: tuple[tuple[str, str, str], ...]
    systems: tuple[str, ...]
    measured: tuple[str, ...]
    currency: str

    def words(self, key: str) -> tuple[str, ...]:
        """Return what may stand in the column system, crop or season: nothing where the seasons could not be read."""
        if key == "system":
            return self.systems
        place = {"crop": 1, "season": 2}[key]
        return tuple(dict.fromkeys(season[place] for season in self.seasons))


def read_book(sheet: Sheet, context: Context) -> tuple[Book, list[Fault]]:
    """Return the book in a sheet and every fault found in it."""
    entries, faults = check_sheet(sheet, "assumptions")
    rows = []
    for entry in entries:
        checker = _RowChecker(sheet.file, entry, context)
        row = checker.check()
        faults += checker.faults
        if row is not None:
            rows.append(row)
    faults += _twins(rows, sheet.file) + _ties(rows, context, sheet.file)
    return Book(tuple(rows), sheet), faults


class _RowChecker:
    """Checks one row of the book against the glossary and the case."""

    def __init__(self, file: str, entry: Entry, context: Context) -> None:
        self.file, self.entry, self.context = file, entry, context
        self.name = entry.text("name")
        self.faults: list[Fault] = []

    def add(self, found: str, rule: str, remedy: str) -> None:
        """Add a fault of this row."""
        self.faults.append(Fault(self.file, self.entry.line, self.name, found, rule, remedy))

    def check(self) -> Assumption | None:
        """Return the row as an assumption, or None where it has a fault that leaves no value."""
        if not self.name:
            return None
        term = GLOSSARY.get(self.name)
        if term is None or not term.is_assumption:
            self._unknown_name(term)
            return None
        self._check_keys(term)
        self._check_unit(term)
        value = self._value(term)
        if value is None:
            return None
        self._check_range(term, value)
        return self._assumption(value)

    def _unknown_name(self, term: Term | None) -> None:
        if term is not None and term.kind == "setting":
            self.add(self.name, "is a setting of the case", f"write {self.name} in case.toml")
        elif term is not None:
            self.add(self.name, "is worked out and not stated", "remove the row")
        else:
            near = suggest(self.name, [t.name for t in GLOSSARY.values() if t.is_assumption])
            self.add(
                self.name, "no such assumption", f"did you mean {near}" if near else "see the glossary for the names"
            )

    def _check_keys(self, term: Term) -> None:
        allowed = KEYS_BY_SCOPE[term.per]
        for key in ("system", "crop", "season"):
            found = self.entry.text(key)
            if not found:
                continue
            if key not in allowed:
                self.add(found, f"{term.label.lower()} holds for every {key}", f"leave the column {key} blank")
            elif (words := self.context.words(key)) and found not in words:
                near = suggest(found, words)
                remedy = f"did you mean {near}" if near else f"write one of {', '.join(words)} or leave it blank"
                self.add(found, f"the case has no such {key}", remedy)

    def _check_unit(self, term: Term) -> None:
        unit = unit_text(term.unit, self.context.currency)
        found = self.entry.text("unit")
        if found and found != unit:
            self.add(found, f"{term.label.lower()} is stated in {unit}", f"convert the value and write {unit}")

    def _value(self, term: Term) -> float | str | None:
        text = self.entry.text("value")
        if text in (TRIAL, UNKNOWN, COMPUTED):
            return self._word(text)
        if not text:
            self.add("", "the value is blank", f"write the number, or unknown; {term.meaning.lower()}")
            return None
        number = parse_number(text)
        refusal = number if isinstance(number, Refusal) else check_bounds(number, term.lowest, term.highest, term.unit)
        if refusal is not None:
            self.add(text, refusal.rule, refusal.remedy)
            return None
        return number if isinstance(number, float) else None

    def _word(self, word: str) -> str | None:
        if word == COMPUTED and COMPUTED not in GLOSSARY[self.name].words:
            self.add(word, "nothing computes it yet", "write a number")
            return None
        if word == TRIAL and self.name not in FROM_TRIAL:
            self.add(word, f"a trial measures {', '.join(FROM_TRIAL)} only", "write a number")
            return None
        system = self.entry.text("system")
        if word == TRIAL and system and system not in self.context.measured:
            self.add(
                word, f"no treatment measured the system {system}", "name its treatment in case.toml or write a number"
            )
            return None
        return word

    def _check_range(self, term: Term, value: float | str) -> None:
        low, high = self.entry.number("low"), self.entry.number("high")
        if (low is None) != (high is None):
            self.add("", "low and high stand together", "write both, or neither")
        if low is None or high is None:
            return
        for end, bound in (("low", low), ("high", high)):
            if refusal := check_bounds(bound, term.lowest, term.highest, term.unit):
                self.add(f"{end} {bound:g}", refusal.rule, refusal.remedy)
        if low > high:
            self.add(f"low {low:g} and high {high:g}", "low is above high", f"write low {high:g} and high {low:g}")
        elif isinstance(value, float) and not low <= value <= high:
            remedy = "widen the range or correct the value"
            self.add(f"{value:g}", f"the value lies outside its own range {low:g} to {high:g}", remedy)

    def _assumption(self, value: float | str) -> Assumption:
        entry, year = self.entry, self.entry.number("price_year")
        texts = {k: entry.text(k) for k in ("system", "crop", "season", "unit", "source", "note", "grade")}
        return Assumption(
            name=self.name,
            value=value,
            low=entry.number("low"),
            high=entry.number("high"),
            spread=entry.text("spread") or "peaked",
            nature=entry.text("nature") or GLOSSARY[self.name].nature,
            price_year=None if year is None else int(year),
            line=entry.line,
            **texts,
        )


def _twins(rows: list[Assumption], file: str) -> list[Fault]:
    first: dict[str, Assumption] = {}
    faults = []
    for row in rows:
        twin = first.setdefault(row.address, row)
        if twin is not row:
            rule = f"line {twin.line} states the same assumption"
            faults.append(Fault(file, row.line, row.name, row.address, rule, "keep one of them"))
    return faults


def _ties(rows: list[Assumption], context: Context, file: str) -> list[Fault]:
    ties: dict[tuple[int, int], Fault] = {}
    for name in dict.fromkeys(row.name for row in rows):
        for season in context.seasons:
            fitting = [row for row in rows if row.name == name and row.applies(*season)]
            most = max((sum(map(bool, row.keys)) for row in fitting), default=0)
            best = [row for row in fitting if sum(map(bool, row.keys)) == most]
            for other in best[1:]:
                if other.address != best[0].address:
                    rule = f"line {best[0].line} is as specific and applies to {'/'.join(season)} too"
                    remedy = "make one of the two more specific"
                    ties[best[0].line, other.line] = Fault(file, other.line, name, other.address, rule, remedy)
    return list(ties.values())
