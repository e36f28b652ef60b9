"""The workbook on the user's machine: a working copy of the notebooks, and JupyterLab to show it.

What ships with the library is copied, never opened in place, and what the user has is never written over. The
server listens on this machine alone and asks nothing of any network. All that it keeps lies in the working copy's
folder `.plotworth`: deleting the working copy leaves nothing behind.
"""

import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NoReturn
from urllib.parse import quote

from plotworth.ground.errors import CaseError, PlotworthError
from plotworth.report.console import say

PACKAGE = Path(__file__).resolve().parent
CONFIG = PACKAGE / "workbook_config"
WORKING_COPY = "plotworth-workbook"
NOTEBOOKS, DEMO = "notebooks", "data_demo"
DEMO_COPY = "demo-case"
STATE = ".plotworth"
CASE_VARIABLE = "PLOTWORTH_CASE"
CASE_FILE = "case.toml"
LITTER = shutil.ignore_patterns("__pycache__", ".ipynb_checkpoints", ".*")
SECONDS_TO_STOP = 10
THIS_MACHINE = "127.0.0.1"
HOW_TO_STOP = (
    "JupyterLab shows it in the browser, from this machine and for this machine alone; its address follows.\n"
    "To stop: press Ctrl-C in this window. What you save stays in the working copy."
)


def find_shipped(name: str) -> Path:
    """Return the folder `notebooks` or `data_demo` that came with the library, installed or in a checkout."""
    for place in (PACKAGE / "shipped" / name, PACKAGE.parents[1] / name):
        if place.is_dir():
            return place
    raise PlotworthError(f"This installation holds no folder {name!r}; install the library again.")


def copy_missing(source: Path, target: Path) -> list[Path]:
    """Copy the files of a folder that the target does not have; return what was copied."""
    copied = []
    for path in sorted(source.rglob("*")):
        inside = path.relative_to(source)
        place = target / inside
        if path.is_dir() or place.exists() or any(part.startswith((".", "__")) for part in inside.parts):
            continue
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, place)
        copied.append(place)
    return copied


def make_working_copy(folder: Path, *, with_demo: bool) -> Path:
    """Make or complete the working copy: notebooks the user does not have, and once the demo case; return it."""
    if folder.exists() and not folder.is_dir():
        raise PlotworthError(f"{folder} is a file; name a folder for the working copy.")
    copy_missing(find_shipped(NOTEBOOKS), folder / NOTEBOOKS)
    if with_demo and not (folder / DEMO_COPY).exists():
        shutil.copytree(find_shipped(DEMO), folder / DEMO_COPY, copy_function=shutil.copyfile, ignore=LITTER)
    return folder


def find_case(folder: Path) -> Path:
    """Return the case folder at or right below a folder: the one that holds `case.toml`."""
    for place in (folder, *sorted(path for path in folder.glob("*") if path.is_dir())):
        if (place / CASE_FILE).is_file():
            return place.resolve()
    raise CaseError(f"{folder} holds no {CASE_FILE}; name the folder of a case.")


def first_notebook(folder: Path) -> str:
    """Return the address of the first notebook in the working copy, by name, below the server's root."""
    notebooks = sorted((folder / NOTEBOOKS).glob("*.ipynb"))
    if not notebooks:
        raise PlotworthError(f"{folder / NOTEBOOKS} holds no notebook; delete that folder to have them copied again.")
    return quote(f"{NOTEBOOKS}/{notebooks[0].name}")


def _environment(folder: Path, case: Path) -> dict[str, str]:
    """Return the variables that keep the server's settings, data and history inside the working copy."""
    state = folder / STATE
    places = {
        "JUPYTER_CONFIG_DIR": state / "config",
        "JUPYTER_DATA_DIR": state / "data",
        "JUPYTER_RUNTIME_DIR": state / "runtime",
        "JUPYTERLAB_SETTINGS_DIR": state / "settings",
        "JUPYTERLAB_WORKSPACES_DIR": state / "workspaces",
        "IPYTHONDIR": state / "ipython",
        "JUPYTER_PATH": CONFIG / "data",
        CASE_VARIABLE: case,
    }
    return {name: str(path) for name, path in places.items()}


def lab_command(folder: Path, case: Path, *, browser: bool, port: int | None) -> tuple[list[str], dict[str, str]]:
    """Return the command line and the environment that start JupyterLab on a working copy.

    Parameters: the working copy; the case folder; whether to open a browser; port, or None for the first free one.
    Settings come from the package's `workbook_config`; `prepare_state` copies them to where the server may write.
    """
    folder = folder.resolve()
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        f"--ServerApp.root_dir={folder}",
        f"--ServerApp.ip={THIS_MACHINE}",
        "--log-level=WARN",
        f"--LabApp.default_url=/lab/tree/{first_notebook(folder)}",
    ]
    command += [] if port is None else [f"--ServerApp.port={port}", "--ServerApp.port_retries=0"]
    command += [] if browser else ["--no-browser"]
    command += ["--allow-root"] if _is_root() else []
    return command, {**os.environ, **_environment(folder, case.resolve())}


def _is_root() -> bool:
    return sys.platform != "win32" and os.geteuid() == 0


def prepare_state(folder: Path) -> None:
    """Bring the settings of the server and of its kernels up to date in the working copy."""
    for name in ("config", "ipython"):
        target = folder / STATE / name
        shutil.copytree(CONFIG / name, target, copy_function=shutil.copyfile, dirs_exist_ok=True)


def require_free(port: int) -> None:
    """Raise PlotworthError where a port of this machine cannot be listened on."""
    with socket.socket() as probe:
        if sys.platform != "win32":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((THIS_MACHINE, port))
        except OSError as error:
            remedy = "name another port, or leave --port out for a free one"
            raise PlotworthError(f"Port {port} of this machine cannot be used ({error.strerror}); {remedy}.") from None


class _ToldToEnd(BaseException):
    """The signal that tells a process to end has come."""


def serve(command: list[str], environment: Mapping[str, str]) -> int:
    """Run the server until it ends, or the user presses Ctrl-C, or this process is told to end.

    Returns the server's exit code; 0 where it was stopped, and then nothing of it is left running.
    """
    with _raising_when_told_to_end():
        server = subprocess.Popen(command, env=dict(environment))
        try:
            return server.wait()
        except KeyboardInterrupt:  # the terminal has told the server as well, and told twice it leaves kernels behind
            _wait_and_end(server)
        except _ToldToEnd:
            server.terminate()
            _wait_and_end(server)
        return 0


@contextmanager
def _raising_when_told_to_end() -> Iterator[None]:
    """Raise _ToldToEnd on SIGTERM; only the main thread may ask for it."""

    def end(*_: object) -> NoReturn:
        raise _ToldToEnd

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _wait_and_end(server: subprocess.Popen[bytes]) -> None:
    """Wait for a server that was told to stop, then end it: politely, then without asking."""
    for end in (server.terminate, server.kill):
        with suppress(KeyboardInterrupt, _ToldToEnd, subprocess.TimeoutExpired):
            server.wait(SECONDS_TO_STOP)
        if server.poll() is not None:
            return
        end()
    server.wait()


def open_workbook(case: Path | None, *, browser: bool, port: int | None, folder: Path | None = None) -> None:
    """Open the workbook in JupyterLab, on a case or on the demo case, and stay until it is stopped.

    Parameters: case folder, None for the demo; whether to open a browser; port on 127.0.0.1, None for the first
    free one; folder of the working copy, None for `plotworth-workbook` here. A folder that exists is kept as it is,
    only what is missing is added. Notebooks find the case in the variable PLOTWORTH_CASE.
    Raises CaseError where the case folder holds no case, PlotworthError where the port is taken or the server fails.
    """
    if port is not None:
        require_free(port)
    working_copy = (folder or Path.cwd() / WORKING_COPY).resolve()
    chosen = None if case is None else find_case(case)
    make_working_copy(working_copy, with_demo=chosen is None)
    prepare_state(working_copy)
    opened = chosen or find_case(working_copy / DEMO_COPY)
    command, environment = lab_command(working_copy, opened, browser=browser, port=port)
    say(f"Working copy: {working_copy}\nCase: {opened}\n{HOW_TO_STOP}")
    if code := serve(command, environment):
        raise PlotworthError(f"JupyterLab ended with exit code {code}; what it wrote above says why.")
