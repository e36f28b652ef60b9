"""Opens a working copy in JupyterLab and Chromium, with every address but this machine's own blocked."""

import json
import os
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import parse_qs, urlsplit
from urllib.request import Request, urlopen

import nbformat
import pytest
from playwright.sync_api import Browser, Page, Route, sync_playwright

from plotworth import workbook

NO_SKIP = "PLOTWORTH_NO_SKIP"
LOOPBACK = ("127.0.0.1", "localhost")
INNER_SCHEMES = ("data", "blob", "about")
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]
START_SECONDS = 60
STOP_SECONDS = 30


@dataclass
class Seen:
    """What went wrong or out while a page was open: addresses outside this machine, console and page errors."""

    requests: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


def is_outside(url: str) -> bool:
    parts = urlsplit(url)
    return parts.scheme not in INNER_SCHEMES and parts.hostname not in LOOPBACK


def find_chromium() -> str:
    """Return Chromium's path; without it the test is skipped, or fails where PLOTWORTH_NO_SKIP is 1."""
    path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if path:
        return path
    reason = "Chromium is not installed, so the workbook cannot be opened in a browser"
    if os.environ.get(NO_SKIP) == "1":
        pytest.fail(reason)
    pytest.skip(reason)


def write_notebook(path: Path, cells: list[str]) -> Path:
    """Write a notebook of code cells, their inputs collapsed, that runs when it is opened."""
    book = nbformat.v4.new_notebook()
    book.metadata = {
        "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"},
        "plotworth": {"run_on_open": True},
    }
    hidden = {"jupyter": {"source_hidden": True}}
    book.cells = [nbformat.v4.new_code_cell(source, metadata=hidden) for source in cells]
    path.parent.mkdir(parents=True, exist_ok=True)
    nbformat.write(book, path)
    return path


def _server_info(runtime: Path, server: subprocess.Popen[bytes]) -> dict[str, object]:
    """Return what the server wrote about itself once it answers: url and token among it."""
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end and server.poll() is None:
        for path in runtime.glob("jpserver-*.json"):
            text = path.read_text(encoding="utf-8")
            if text.endswith(("}\n", "}")):
                return dict(json.loads(text))
        time.sleep(0.1)
    raise RuntimeError(f"JupyterLab did not start (exit code {server.poll()})")


@contextmanager
def serving(folder: Path, case: Path, home: Path) -> Iterator[str]:
    """Serve a working copy as the workbook does, from an empty home; give the address to open, token included."""
    home.mkdir(parents=True, exist_ok=True)
    workbook.prepare_state(folder)
    command, environment = workbook.lab_command(folder, case, browser=False, port=0)
    environment = {**environment, "HOME": str(home), "USERPROFILE": str(home)}
    log = (home.parent / "server.log").open("wb")
    server = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
    try:
        info = _server_info(folder / workbook.STATE / "runtime", server)
        yield f"{info['url']}?token={info['token']}"
    finally:
        server.send_signal(signal.SIGINT)
        try:
            server.wait(STOP_SECONDS)
        finally:
            server.kill()
            log.close()


def notebook_url(url: str, name: str) -> str:
    """Return the address of a notebook of the working copy, token included."""
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.netloc}/lab/tree/{workbook.NOTEBOOKS}/{name}?{parts.query}"


def end_kernels(url: str) -> None:
    """End the kernels that earlier pages of this server left, so that every page starts as the first one does.

    JupyterLab restores the widgets of a kernel that still runs; those that the notebook closes at the same time,
    because it runs on opening, leave a line in the console.
    """
    parts = urlsplit(url)
    root, token = f"{parts.scheme}://{parts.netloc}/api/sessions", parse_qs(parts.query)["token"][0]
    header = {"Authorization": f"token {token}"}
    with urlopen(Request(root, headers=header)) as answer:
        sessions = json.load(answer)
    for session in sessions:
        with urlopen(Request(f"{root}/{session['id']}", headers=header, method="DELETE")):
            pass


@contextmanager
def chromium() -> Iterator[Browser]:
    path = find_chromium()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=SWITCHES)
        yield browser
        browser.close()


@contextmanager
def opened(browser: Browser, url: str, *, width: int = 1024, height: int = 900) -> Iterator[tuple[Page, Seen]]:
    """Open a page; give it with what it asked of the outside (all of it refused) and what went wrong in it."""
    end_kernels(url)
    seen = Seen()
    context = browser.new_context(viewport={"width": width, "height": height}, service_workers="block")

    def guard(route: Route) -> None:
        if not is_outside(route.request.url):
            route.continue_()
            return
        seen.requests.append(route.request.url)
        route.abort()

    context.route("**/*", guard)
    page = context.new_page()
    page.on("websocket", lambda socket: seen.requests.append(socket.url) if is_outside(socket.url) else None)
    page.on("console", lambda message: seen.errors.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: seen.errors.append(str(error)))
    try:
        page.goto(url)
        yield page, seen
    finally:
        context.close()


@dataclass
class Lab:
    """The workbook served from an empty home on the demo: a browser, the address to open, the working copy."""

    browser: Browser
    url: str
    folder: Path


@contextmanager
def opened_workbook(base: Path) -> Iterator[Lab]:
    """Serve the workbook as `plotworth open` lays it out in a folder, from an empty home, on the demo."""
    folder = workbook.make_working_copy(base / workbook.WORKING_COPY, with_demo=True)
    case = workbook.find_case(folder / workbook.DEMO_COPY)
    with chromium() as browser, serving(folder, case, base / "home") as url:
        yield Lab(browser, url, folder)
