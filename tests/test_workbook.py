"""The working copy and the command that opens it."""

import json
import sys
from pathlib import Path

import pytest

from plotworth import workbook
from plotworth.ground.errors import CaseError, PlotworthError


@pytest.fixture
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package folder as a wheel installs it, with one notebook and a demo case."""
    package = tmp_path / "site" / "plotworth"
    (package / "shipped" / "notebooks").mkdir(parents=True)
    (package / "shipped" / "notebooks" / "01 which one.ipynb").write_text("{}", encoding="utf-8")
    (package / "shipped" / "data_demo").mkdir()
    (package / "shipped" / "data_demo" / "case.toml").write_text("title = 'x'\n", encoding="utf-8")
    monkeypatch.setattr(workbook, "PACKAGE", package)
    return package / "shipped"


def test_notebooks_and_demo_are_found_in_a_checkout_and_in_an_installed_package(shipped: Path) -> None:
    assert workbook.find_shipped("notebooks") == shipped / "notebooks"
    with pytest.raises(PlotworthError, match="no folder 'lessons'"):
        workbook.find_shipped("lessons")


def test_the_demo_case_is_found_in_this_checkout() -> None:
    assert (workbook.find_shipped("data_demo") / "case.toml").is_file()


def test_a_working_copy_gets_what_it_lacks_and_keeps_what_the_user_wrote(shipped: Path, tmp_path: Path) -> None:
    copy = workbook.make_working_copy(tmp_path / "mine", with_demo=True)
    notebook, case = copy / "notebooks" / "01 which one.ipynb", copy / "demo-case" / "case.toml"
    assert case.is_file()
    notebook.write_text("my notes", encoding="utf-8")
    case.write_text("title = 'mine'\n", encoding="utf-8")
    (shipped / "notebooks" / "02 new.ipynb").write_text("{}", encoding="utf-8")
    workbook.make_working_copy(copy, with_demo=True)
    assert notebook.read_text(encoding="utf-8") == "my notes"
    assert case.read_text(encoding="utf-8") == "title = 'mine'\n"
    assert (copy / "notebooks" / "02 new.ipynb").is_file()


@pytest.mark.usefixtures("shipped")
def test_with_a_case_of_their_own_the_demo_is_not_copied(tmp_path: Path) -> None:
    copy = workbook.make_working_copy(tmp_path / "mine", with_demo=False)
    assert not (copy / "demo-case").exists()


def test_a_folder_without_a_case_is_refused_before_anything_is_copied(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match=r"holds no case\.toml"):
        workbook.open_workbook(tmp_path, browser=False, port=None, folder=tmp_path / "copy")
    assert not (tmp_path / "copy").exists()


@pytest.mark.usefixtures("shipped")
def test_the_command_listens_on_this_machine_alone_and_hands_over_the_case(tmp_path: Path) -> None:
    copy = workbook.make_working_copy(tmp_path / "my work", with_demo=True)
    command, environment = workbook.lab_command(copy, copy / "demo-case", browser=False, port=8899)
    assert command[:3] == [sys.executable, "-m", "jupyterlab"]
    assert {"--ServerApp.ip=127.0.0.1", "--ServerApp.port=8899", "--no-browser"} <= set(command)
    assert "--LabApp.default_url=/lab/tree/notebooks/01%20which%20one.ipynb" in command
    assert not any("token" in word or "password" in word for word in command)
    assert environment["PLOTWORTH_CASE"] == str((copy / "demo-case").resolve())
    kept = [name for name in environment if name.startswith(("JUPYTER_", "JUPYTERLAB_")) and name.endswith("_DIR")]
    assert len(kept) == 5
    assert all(Path(environment[name]).is_relative_to(copy.resolve() / ".plotworth") for name in kept)


@pytest.mark.usefixtures("shipped")
def test_a_port_is_asked_for_only_when_named_and_a_browser_is_opened_unless_refused(tmp_path: Path) -> None:
    copy = workbook.make_working_copy(tmp_path / "w", with_demo=True)
    command, _ = workbook.lab_command(copy, copy / "demo-case", browser=True, port=None)
    assert not any(word.startswith("--ServerApp.port") or word == "--no-browser" for word in command)


def test_the_servers_settings_are_shipped_and_brought_up_to_date(tmp_path: Path) -> None:
    workbook.prepare_state(tmp_path)
    workbook.prepare_state(tmp_path)
    settings = tmp_path / ".plotworth" / "config"
    assert json.loads((settings / "jupyter_lab_config.json").read_text(encoding="utf-8"))["LabApp"]["news_url"] is None
    assert (settings / "custom" / "custom.css").is_file()


def test_the_server_is_run_to_its_end_and_its_exit_code_returned() -> None:
    assert workbook.serve([sys.executable, "-c", "raise SystemExit(3)"], {}) == 3
