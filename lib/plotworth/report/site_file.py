"""Results of many sites as CSV or Parquet, written slice by slice into a new file that takes its place at the end.

Where the work is interrupted or fails, the new file is removed and an older one of the name stays as it was.
"""

import csv
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol

from plotworth.case.site_table import CSV, FORMATS, NEEDS_PYARROW, SITE
from plotworth.choose.sites import SiteResults
from plotworth.ground.errors import CaseError

BEST, INVENTED = "best", "invented"


class SiteWriter(Protocol):
    """Takes slices of results, in their order."""

    def add(self, results: SiteResults) -> None: ...  # noqa: D102 - the class says it
    def close(self) -> None: ...  # noqa: D102


@contextmanager
def site_file(path: Path, paths: Sequence[str], *, invented: bool) -> Iterator[SiteWriter]:
    """Give a writer of results that become the file `path` when the block ends well.

    Parameters: path, ending in .csv or .parquet; paths of the outcomes, its columns after `site` and `best`; invented,
    whether the case's data are, which every row then says.
    Errors: CaseError for another ending, where pyarrow is missing, or where the file cannot be written.
    """
    if path.suffix.lower() not in FORMATS:
        raise CaseError(f"{path.name}: results are written as {' or '.join(FORMATS)}.")
    writer_of = _CsvWriter if path.suffix.lower() == CSV else _parquet_writer()
    try:
        handle, new = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise CaseError(f"{path}: could not be written ({error.strerror}).") from error
    os.close(handle)
    try:
        writer = writer_of(Path(new), paths, invented=invented)
        try:
            yield writer
        finally:
            writer.close()
        _take_its_place(Path(new), path)
    except OSError as error:
        raise CaseError(f"{path.name}: could not be written ({error.strerror}).") from error
    finally:
        Path(new).unlink(missing_ok=True)


def _take_its_place(new: Path, path: Path) -> None:
    if path.exists():
        shutil.copymode(path, new)
    else:
        new.chmod(0o666 & ~_mask())
    new.replace(path)


def _mask() -> int:
    """Return which rights new files are not given here; there is no way to ask but to set it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _columns(results: SiteResults, paths: Sequence[str], *, invented: bool) -> dict[str, Any]:
    marked: Mapping[str, Any] = {INVENTED: ["yes"] * len(results.names)} if invented else {}
    return {SITE: results.names, **marked, BEST: results.best, **{path: results.outcomes[path] for path in paths}}


class _CsvWriter:
    """Rows of texts; numbers to their last digit, blank without a value."""

    def __init__(self, path: Path, paths: Sequence[str], *, invented: bool) -> None:
        self.paths, self.invented = paths, invented
        self.file = path.open("w", encoding="utf-8", newline="")
        self.rows = csv.writer(self.file, lineterminator="\n")
        self.rows.writerow([SITE, *([INVENTED] if invented else []), BEST, *paths])

    def add(self, results: SiteResults) -> None:
        columns = _columns(results, self.paths, invented=self.invented)
        texts = [_texts(column) for column in columns.values()]
        self.rows.writerows(zip(*texts, strict=True))

    def close(self) -> None:
        self.file.close()


def _texts(column: Any) -> Sequence[str]:
    if isinstance(column, tuple | list):
        return column
    return ["" if number != number else repr(number) for number in column.tolist()]


def _parquet_writer() -> Any:
    try:
        import pyarrow as arrow
        from pyarrow.parquet import ParquetWriter
    except ImportError:
        raise CaseError(NEEDS_PYARROW) from None

    class _ParquetWriter:
        """Columns: texts and 64-bit numbers, null without a value."""

        def __init__(self, path: Path, paths: Sequence[str], *, invented: bool) -> None:
            self.paths, self.invented = paths, invented
            texts = [SITE, *([INVENTED] if invented else []), BEST]
            kinds = [(name, arrow.string()) for name in texts] + [(name, arrow.float64()) for name in paths]
            self.schema = arrow.schema(kinds)
            self.rows = ParquetWriter(path, self.schema)

        def add(self, results: SiteResults) -> None:
            columns = _columns(results, self.paths, invented=self.invented)
            arrays = [arrow.array(columns[field.name], type=field.type, from_pandas=True) for field in self.schema]
            self.rows.write_table(arrow.Table.from_arrays(arrays, schema=self.schema))

        def close(self) -> None:
            self.rows.close()

    return _ParquetWriter
