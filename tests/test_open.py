"""The workbook opened in earnest: the address is said, the case handed over, and nothing is left running."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from folders import ROOT, bytes_of, demo_copy, run

START_SECONDS = 60
STOP_SECONDS = 30
KERNEL_SECONDS = 1.0  # for a kernel to be up; and a kernel looks that often whether its server is still there
ADDRESS = re.compile(r"http://127\.0\.0\.1:(\d+)/lab/tree/\S+\?token=(\w+)")

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are sent as Unix sends them")


@contextmanager
def opened(folder: Path, *arguments: str) -> Iterator[tuple[subprocess.Popen[bytes], Path]]:
    """Open the workbook from a folder in a process group of its own, as a terminal does; give it and its log."""
    home = folder.parent / "empty home"
    home.mkdir(exist_ok=True)
    log = folder.parent / "log.txt"
    environment = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT / "lib"), "HOME": str(home)}
    command = [sys.executable, "-m", "plotworth.cli", "open", "--no-browser", *arguments]
    with log.open("wb") as written:
        process = subprocess.Popen(
            command, cwd=folder, env=environment, stdout=written, stderr=written, start_new_session=True
        )
        try:
            yield process, log
        finally:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def wait_for_address(process: subprocess.Popen[bytes], log: Path) -> tuple[str, str]:
    """Return port and token once the address has been printed."""
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end and process.poll() is None:
        if found := ADDRESS.search(log.read_text(encoding="utf-8")):
            return found[1], found[2]
        time.sleep(0.05)
    raise AssertionError(f"no address was printed:\n{log.read_text(encoding='utf-8')}")


def start_kernel(port: str, token: str) -> None:
    """Start a kernel, as a notebook that is opened does."""
    request = urllib.request.Request(f"http://127.0.0.1:{port}/api/kernels?token={token}", b"{}", method="POST")
    with urllib.request.urlopen(request, timeout=STOP_SECONDS) as answer:
        assert json.loads(answer.read())["name"] == "python3"
    time.sleep(KERNEL_SECONDS)


def still_running(folder: Path) -> list[str]:
    """Return what runs after kernels have had the time to see that their server is gone."""
    end = time.monotonic() + 5 * KERNEL_SECONDS
    while (left := running(folder)) and time.monotonic() < end:
        time.sleep(0.05)
    return left


def running(folder: Path) -> list[str]:
    """Return the commands that are still running and name the folder: the server's root, a kernel's connection."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            command = (place / "cmdline").read_bytes().decode(errors="replace").replace("\0", " ")
        except OSError:
            continue
        if str(folder) in command:
            found.append(command)
    return found


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="processes are looked up in /proc")
@pytest.mark.parametrize("told", ["by SIGTERM", "by Ctrl-C in the terminal"])
def test_it_says_the_address_and_how_to_stop_and_leaves_nothing_running(tmp_path: Path, told: str) -> None:
    folder = tmp_path / "mon été"
    folder.mkdir()
    with opened(folder) as (process, log):
        start_kernel(*wait_for_address(process, log))
        assert sorted("ipykernel" in command for command in running(folder)) == [False, True]
        if told == "by Ctrl-C in the terminal":
            os.killpg(process.pid, signal.SIGINT)
        else:
            process.terminate()
        assert process.wait(STOP_SECONDS) == 0
        assert still_running(folder) == []
    text = log.read_text(encoding="utf-8")
    assert f"Working copy: {folder / 'plotworth-workbook'}" in text
    assert f"Case: {folder / 'plotworth-workbook' / 'demo-case'}" in text
    assert "To stop: press Ctrl-C in this window." in text
    assert text.index("To stop:") < text.index("http://127.0.0.1:")
    assert "Traceback" not in text
    assert "WARNING" not in text


def test_a_case_given_by_a_relative_path_is_opened_where_it_lies_and_stays_as_it_is(tmp_path: Path) -> None:
    case = demo_copy(tmp_path)
    before = bytes_of(case)
    folder = tmp_path / "work"
    folder.mkdir()
    (folder / "plotworth-workbook" / "notebooks").mkdir(parents=True)
    mine = folder / "plotworth-workbook" / "notebooks" / "00_mine.ipynb"
    mine.write_text("{}", encoding="utf-8")
    with opened(folder, os.path.relpath(case, folder)) as (process, log):
        wait_for_address(process, log)
        process.terminate()
        assert process.wait(STOP_SECONDS) == 0
    assert f"Case: {case}\n" in log.read_text(encoding="utf-8")
    assert mine.read_text(encoding="utf-8") == "{}"
    assert not (folder / "plotworth-workbook" / "demo-case").exists()
    assert bytes_of(case) == before
    assert list((tmp_path / "empty home").iterdir()) == []


def test_a_port_that_is_taken_is_refused_before_anything_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        ran = run("open", "--no-browser", "--port", str(port))
    assert (ran.code, ran.out) == (1, "")
    assert ran.err == (
        f"Port {port} of this machine cannot be used (Address already in use); "
        "name another port, or leave --port out for a free one.\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_a_case_with_faults_is_not_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    case = demo_copy(tmp_path)
    (case / "seasons.csv").unlink()
    ran = run("open", str(case))
    assert (ran.code, ran.out) == (1, "")
    assert "seasons.csv: the file is missing" in ran.err
    assert not (tmp_path / "plotworth-workbook").exists()


def test_a_server_that_fails_is_no_success(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(
        "plotworth.workbook.lab_command", lambda *_, **__: ([sys.executable, "-c", "raise SystemExit(3)"], {})
    )
    ran = run("open", "--no-browser")
    assert ran.code == 1
    assert ran.err == "JupyterLab ended with exit code 3; what it wrote above says why.\n"
