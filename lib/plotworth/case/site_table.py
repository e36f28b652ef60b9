"""A table of many sites, read slice by slice: a name, and the values that hold there in place of the case's own.

CSV or Parquet. Only a slice is ever in memory, and eight bytes a site that tell names met before. A row with a fault is
reported with its line and left out; the rest go on.
"""

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import BufferedReader, TextIOWrapper
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plotworth.case.cells import Refusal, parse_number
from plotworth.case.scenarios import Bounded, Inputs, address_fault, value_refusal
from plotworth.case.sheet import TIDY_REMEDY, check_header, width_fault
from plotworth.ground.errors import CaseError, Fault, FaultsError
from plotworth.ground.glossary import suggest

SITE = "site"
CSV, PARQUET = ".csv", ".parquet"
FORMATS = (CSV, PARQUET)
NEEDS_PYARROW = "Parquet needs pyarrow; install it with `pip install 'plotworth[scale]'`, or use CSV."
MOST_RECENT = 8192
"""Names kept apart before they join the sorted ones: in a set each takes some ten times its eight bytes."""
Numbers = NDArray[np.float64]
Column = Numbers | list[str]


@dataclass(frozen=True)
class SiteRows:
    """The sound rows of a slice: line and name of each, values by address, shape (site,), NaN where the case's hold.

    `faults` of the other rows; `read`, rows read so far with those left out [1]; `share`, how far into the file.
    """

    lines: tuple[int, ...]
    names: tuple[str, ...]
    values: Mapping[str, Numbers]
    faults: tuple[Fault, ...]
    read: int
    share: float


@dataclass(frozen=True)
class SiteTable:
    """A table of sites whose header was checked against the inputs of a case."""

    path: Path
    header: tuple[str, ...]
    inputs: Inputs

    @property
    def addresses(self) -> tuple[str, ...]:
        """The addresses that it states, in the order of its columns."""
        return tuple(name for name in self.header if name != SITE)

    def slices(self, size: int) -> Iterator[SiteRows]:
        """Yield the rows, `size` at a time, checked.

        Errors: FaultsError where the file cannot be read on: an open quotation mark, another encoding.
        """
        chunks = _csv_chunks(self, size) if self.path.suffix.lower() == CSV else _parquet_chunks(self, size)
        seen = _SeenNames()
        read = 0
        for chunk in chunks:
            read += chunk.read
            yield _checked(self, chunk, seen, read)


@dataclass(frozen=True)
class _Chunk:
    """Rows as they stand in the file: columns of texts or numbers by name, faults of rows of the wrong width."""

    lines: Sequence[int]
    columns: Mapping[str, Column]
    faults: tuple[Fault, ...]
    read: int
    share: float


def open_sites(path: Path, inputs: Inputs) -> SiteTable:
    """Return the table of sites at `path`, its header checked: `site`, then addresses of the case.

    Errors: CaseError where it cannot be read at all; FaultsError with every column that names no input of the case or
    one that the case works out from others.
    """
    if path.suffix.lower() not in FORMATS:
        raise CaseError(f"{path.name}: a table of sites ends in {' or '.join(FORMATS)}.")
    if not path.is_file():
        raise CaseError(f"{path}: there is no such file.")
    header = _csv_header(path) if path.suffix.lower() == CSV else tuple(_parquet(path).schema_arrow.names)
    check_header(path.name, header, ",")
    faults = list(_header_faults(path.name, header, inputs))
    if faults:
        raise FaultsError(faults)
    return SiteTable(path, header, inputs)


def _header_faults(file: str, header: Sequence[str], inputs: Inputs) -> Iterator[Fault]:
    if SITE not in header:
        near = suggest(SITE, header)
        remedy = f"rename the column {near} to {SITE}" if near else f"add a column {SITE} with a name for each row"
        yield Fault(file, 1, SITE, "", "the column is missing", remedy)
    for name in header:
        if not name:
            yield Fault(file, 1, "", "", "a column has no name", "write the address it states, or remove it")
        elif name != SITE and (fault := address_fault(name, inputs, file=file, line=1)):
            yield fault


def _csv_header(path: Path) -> tuple[str, ...]:
    with path.open("rb") as raw, _as_text(raw) as text:
        _, cells = next(_csv_records(path.name, text), (1, []))
    if not cells:
        raise FaultsError([Fault(path.name, 1, "", "", "the first line is blank", f"write {SITE} and addresses")])
    return tuple(cell.strip() for cell in cells)


def _as_text(raw: BufferedReader) -> TextIOWrapper:
    return TextIOWrapper(raw, encoding="utf-8-sig", newline="")


def _csv_records(file: str, text: TextIOWrapper) -> Iterator[tuple[int, list[str]]]:
    """Yield first line and cells of every record that is not blank."""
    reader, first = csv.reader(text, strict=True), 1
    try:
        for cells in reader:
            if any(map(str.strip, cells)):
                yield first, cells
            first = reader.line_num + 1
    except csv.Error as error:
        remedy = "close the quotation mark, or write it twice inside a quoted cell"
        raise FaultsError([Fault(file, first, "", str(error), "cannot be read on", remedy)]) from None
    except UnicodeDecodeError:
        raise FaultsError([Fault(file, first, "", "", "the file is not UTF-8", TIDY_REMEDY)]) from None


def _csv_chunks(table: SiteTable, size: int) -> Iterator[_Chunk]:
    width, file, bytes_in_all = len(table.header), table.path.name, max(table.path.stat().st_size, 1)
    with table.path.open("rb") as raw, _as_text(raw) as text:
        records = islice(_csv_records(file, text), 1, None)
        while taken := list(islice(records, size)):
            sound = [(line, cells) for line, cells in taken if len(cells) == width]
            faults = tuple(width_fault(file, line, cells, width) for line, cells in taken if len(cells) != width)
            columns = zip(*(cells for _, cells in sound), strict=True) if sound else ([] for _ in table.header)
            named = dict(zip(table.header, map(list, columns), strict=True))
            yield _Chunk([line for line, _ in sound], named, faults, len(taken), min(raw.tell() / bytes_in_all, 1.0))


def _parquet(path: Path) -> Any:
    try:
        from pyarrow import ArrowException
        from pyarrow.parquet import ParquetFile
    except ImportError:
        raise CaseError(NEEDS_PYARROW) from None
    try:
        return ParquetFile(path)
    except (ArrowException, OSError) as error:
        raise CaseError(f"{path.name}: not a Parquet file that can be read ({type(error).__name__}).") from None


def _parquet_chunks(table: SiteTable, size: int) -> Iterator[_Chunk]:
    """Yield the rows of a Parquet file; its lines are counted as in a CSV file with a header."""
    file, done = _parquet(table.path), 0
    for batch in file.iter_batches(batch_size=size):
        rows = batch.num_rows
        columns = {name: _column(batch.column(place)) for place, name in enumerate(table.header)}
        lines = range(done + 2, done + 2 + rows)
        done += rows
        yield _Chunk(lines, columns, (), rows, done / file.metadata.num_rows)


def _column(column: Any) -> Column:
    """Return a column as numbers, NaN where null, where it holds numbers; else as texts, "" where null."""
    import pyarrow.types as kinds

    if kinds.is_integer(column.type) or kinds.is_floating(column.type):
        return np.asarray(column.cast("float64", safe=False).to_numpy(zero_copy_only=False))
    return ["" if value is None else str(value) for value in column.to_pylist()]


class _SeenNames:
    """Names met so far, as hashes: the older ones sorted, the newest in a set."""

    def __init__(self) -> None:
        self.older = np.empty(0, np.int64)
        self.recent: set[int] = set()

    def met_before(self, names: Sequence[str]) -> list[bool]:
        """Return for each name whether it was met before, and take it in."""
        hashes = [hash(name) for name in names]
        places = np.searchsorted(self.older, hashes)
        found = np.zeros(len(hashes), bool)
        inside = places < len(self.older)
        found[inside] = self.older[places[inside]] == np.array(hashes, np.int64)[inside]
        met = []
        for one, is_older in zip(hashes, found.tolist(), strict=True):
            met.append(is_older or one in self.recent)
            self.recent.add(one)
        if len(self.recent) > MOST_RECENT:
            self.older = np.sort(np.concatenate([self.older, np.fromiter(self.recent, np.int64)]), kind="stable")
            self.recent = set()
        return met


def _checked(table: SiteTable, chunk: _Chunk, seen: _SeenNames, read: int) -> SiteRows:
    file, lines = table.path.name, chunk.lines
    names = [str(name).strip() for name in _texts(chunk.columns[SITE])]
    faults = [*chunk.faults, *_name_faults(file, lines, names, seen)]
    bad = {fault.line for fault in faults}
    values = {}
    for at in table.addresses:
        values[at], found = _numbers(file, lines, at, chunk.columns[at], table.inputs[at])
        faults += found
    bad |= {fault.line for fault in faults}
    kept = np.array([line not in bad for line in lines], bool)
    return SiteRows(
        lines=tuple(line for line, keep in zip(lines, kept, strict=True) if keep),
        names=tuple(name for name, keep in zip(names, kept, strict=True) if keep),
        values={at: column[kept] for at, column in values.items()},
        faults=tuple(sorted(faults, key=lambda fault: fault.line)),
        read=read,
        share=chunk.share,
    )


def _texts(column: Column) -> list[str]:
    """Return names as texts; a number without decimals as it would be typed."""
    if isinstance(column, np.ndarray):
        return ["" if number != number else f"{number:.15g}" for number in column.tolist()]
    return column


def _name_faults(file: str, lines: Sequence[int], names: Sequence[str], seen: _SeenNames) -> Iterator[Fault]:
    met = seen.met_before(names)
    for line, name, again in zip(lines, names, met, strict=True):
        if not name:
            yield Fault(file, line, SITE, "", "the site has no name", "write one that no other row has")
        elif again:
            yield Fault(file, line, SITE, name, "an earlier row names the same site", "keep one of the two")


def _numbers(file: str, lines: Sequence[int], at: str, column: Column, one: Bounded) -> tuple[Numbers, list[Fault]]:
    """Return a column as numbers, NaN where blank, and the faults of its cells."""
    faults = []
    if isinstance(column, np.ndarray):
        numbers = column
    else:
        numbers = np.full(len(column), np.nan)
        for place, text in enumerate(map(str.strip, column)):
            parsed = parse_number(text) if text else np.nan
            if isinstance(parsed, Refusal):
                faults.append(Fault(file, lines[place], at, text, parsed.rule, parsed.remedy))
            else:
                numbers[place] = parsed
    inside = (numbers >= one.lowest) & (numbers <= one.highest) & np.isfinite(numbers)
    for place in np.flatnonzero(~inside & ~np.isnan(numbers)).tolist():
        number = float(numbers[place])
        rule, remedy = value_refusal(number, one) or ("", "")
        faults.append(Fault(file, lines[place], at, f"{number:g}", rule, remedy))
    return numbers, faults
