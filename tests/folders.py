"""The command line run in this process on copies of the demo, and the bytes of a folder."""

import io
import shutil
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

from plotworth.cli import main

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data_demo"


@dataclass(frozen=True)
class Ran:
    """What a command gave: exit code, standard output, standard error."""

    code: int
    out: str
    err: str


def run(*arguments: str) -> Ran:
    """Run the command line in this process."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code = main(arguments)
        except SystemExit as ended:
            code = int(ended.code or 0)
    return Ran(code, out.getvalue(), err.getvalue())


def json_of(folder: Path) -> bytes:
    """Return the JSON that `plotworth appraise --json` prints of a case."""
    ran = run("appraise", str(folder), "--json")
    assert (ran.code, ran.err) == (0, "")
    return ran.out.encode("ascii")


def bytes_of(folder: Path) -> dict[str, bytes]:
    """Return the content of every file below a folder, by its path there."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def demo_copy(folder: Path) -> Path:
    """Return a copy of the demo in a new folder whose name has a space and an accent."""
    return Path(shutil.copytree(DEMO, folder / "mon été"))
