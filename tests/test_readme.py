"""The README: its example prints what it says, its commands are those that CI runs, its picture is there."""

import contextlib
import io
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block(language: str, number: int = 0) -> str:
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)[number]


def test_the_example_prints_the_numbers_it_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(block("python"), {})
    assert printed.getvalue() == block("text")


def test_the_example_has_six_lines() -> None:
    assert len([line for line in block("python").splitlines() if line.strip()]) == 6


def test_ci_runs_the_second_command() -> None:
    command = block("sh", 1).strip()
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8").replace(" -q ", " ")
    assert command in script


def test_the_picture_is_there() -> None:
    for path in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README):
        assert (ROOT / path).is_file(), path


def test_every_command_of_the_command_line_is_in_the_table(capsys: pytest.CaptureFixture[str]) -> None:
    from plotworth.cli import main

    with pytest.raises(SystemExit):
        main(["--help"])
    listed = re.findall(r"^    (\w+)\b", capsys.readouterr().out, re.MULTILINE)
    assert listed
    assert all(f"`plotworth {name} " in README for name in listed)
