"""The shape of the project, held by tests: imports, lengths, signatures, names, units, notebooks, files."""

import ast
import csv
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from plotworth.ground.glossary import GLOSSARY

ROOT = Path(__file__).parent.parent
LIBRARY = ROOT / "lib" / "plotworth"
ROOMS = sorted(LIBRARY.rglob("*.py"))
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))

FLOORS_BELOW = {
    "ground": set(),
    "case": {"ground"},
    "field": {"ground"},
    "supply": {"ground"},
    "money": {"ground"},
    "choose": {"ground", "case", "field", "supply", "money"},
    "show": {"ground", "case", "choose"},
    "report": {"ground", "case", "choose", "show"},
    "top": {"ground", "case", "field", "supply", "money", "choose", "show", "report"},
}
CORE = ("field", "supply", "money", "choose")
CORE_PACKAGES = {"numpy", "pandas"}
FLOOR_OF_PACKAGE = {
    "altair": ("show", "report"),
    "ipywidgets": ("show",),
    "anywidget": ("show",),
    "traitlets": ("show",),
    "IPython": ("show",),
}
LONGEST_ROOM = 350
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "notebooks", "lib", "tests", "data_demo", "LICENSE"}
MOST_CODE_CELLS = 12
MOST_CELL_LINES = 4
MEASURED = re.compile(r"_(m2|kg|g|l|years?|rate|wage|mass)(_|$)")


def floor_of(path: Path) -> str:
    """Return the floor a room lies on: its folder, or `top` for the rooms beside the floors."""
    parts = path.relative_to(LIBRARY).parts
    return parts[0] if len(parts) > 1 else "top"


def name_of(path: Path) -> str:
    return path.relative_to(LIBRARY).as_posix()


def imports_of(path: Path, *, only_module_level: bool) -> Iterator[str]:
    """Yield the full names of the modules a room imports."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in tree.body if only_module_level else ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name_of(path)} imports by relative path"
            yield node.module or ""


def functions_of(path: Path) -> Iterator[ast.FunctionDef]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef):
            yield node


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_a_room_imports_from_its_own_floor_or_those_below(path: Path) -> None:
    floor = floor_of(path)
    for module in imports_of(path, only_module_level=False):
        parts = module.split(".")
        if parts[0] == "plotworth" and len(parts) > 1 and parts[1] != floor:
            below = parts[1] in FLOORS_BELOW[floor] or floor == "top"
            assert below, f"{name_of(path)} on floor {floor} imports {module}"


def test_rooms_import_each_other_in_no_circle() -> None:
    known = {"plotworth." + ".".join(p.relative_to(LIBRARY).with_suffix("").parts): p for p in ROOMS}
    graph = {name: {m for m in imports_of(path, only_module_level=False) if m in known} for name, path in known.items()}
    while leaves := [name for name, needs in graph.items() if not needs & graph.keys()]:
        for name in leaves:
            del graph[name]
    assert not graph, f"a circle runs through {sorted(graph)}"


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_the_core_knows_numpy_and_pandas_at_module_level_and_no_more(path: Path) -> None:
    if floor_of(path) in CORE:
        outside = {module.split(".")[0] for module in imports_of(path, only_module_level=True)}
        unknown = outside - set(sys.stdlib_module_names) - CORE_PACKAGES - {"plotworth"}
        assert not unknown, f"{name_of(path)} imports {unknown}"


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_charts_and_widgets_stay_on_their_floors(path: Path) -> None:
    for module in imports_of(path, only_module_level=False):
        floors = FLOOR_OF_PACKAGE.get(module.split(".")[0], (floor_of(path),))
        assert floor_of(path) in floors, f"{name_of(path)} imports {module}"


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_a_room_is_no_longer_than_a_reader_can_hold(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_ROOM


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_no_function_passes_options_on_blindly_or_takes_a_flag_by_position(path: Path) -> None:
    for function in functions_of(path):
        assert function.args.kwarg is None, f"{name_of(path)}: {function.name} takes **{function.args.kwarg}"
        for default in function.args.defaults:
            flag = isinstance(default, ast.Constant) and isinstance(default.value, bool)
            assert not flag, f"{name_of(path)}: {function.name} takes a flag by position"


@pytest.mark.parametrize("path", [p for p in ROOMS if floor_of(p) in ("field", "supply", "money")], ids=name_of)
def test_docstrings_of_the_core_say_the_units(path: Path) -> None:
    for function in functions_of(path):
        names = [a.arg for a in function.args.args + function.args.kwonlyargs if a.arg != "self"]
        if function.name.startswith("_") or not any(MEASURED.search(name) for name in names):
            continue
        assert re.search(r"\[[^\]]+\]", ast.get_docstring(function) or ""), f"{name_of(path)}: {function.name}"


def test_every_name_of_the_glossary_is_used_by_the_library() -> None:
    code = "\n".join(path.read_text(encoding="utf-8") for path in ROOMS)
    unused = [name for name in GLOSSARY if f'"{name}"' not in code and f".{name}" not in code]
    assert not unused


def test_glossary_rows_are_whole_and_their_bounds_in_order() -> None:
    for term in GLOSSARY.values():
        assert term.label, term.name
        assert term.meaning, term.name
        assert term.lowest <= term.highest, term.name
        assert term.kind in ("assumption", "outcome", "both", "setting"), term.name
        assert not term.is_assumption or term.absent, term.name


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_notebook_is_a_question_with_few_small_cells_and_no_outputs(path: Path) -> None:
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    assert "".join(cells[0]["source"]).splitlines()[0].rstrip().endswith("?"), "the title is a question"
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    assert len(code) <= MOST_CODE_CELLS
    for cell in code:
        source = "".join(cell["source"])
        assert cell["outputs"] == []
        assert cell["execution_count"] is None
        assert len(source.splitlines()) <= MOST_CELL_LINES
        for node in ast.walk(ast.parse(source)):
            assert not isinstance(node, ast.FunctionDef | ast.For | ast.BinOp), source


def tracked_files() -> list[str]:
    try:
        listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("this is no git checkout: what is tracked cannot be told")
    return listed.stdout.splitlines()


def test_the_top_level_holds_what_it_should_and_no_more() -> None:
    top = {name.split("/")[0] for name in tracked_files()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


def test_nothing_that_runs_names_a_host_to_load_from() -> None:
    hosts = re.compile(r"cdn\.|jsdelivr|unpkg|esm\.sh|cloudflare")
    for name in tracked_files():
        if name.startswith(("lib/", "notebooks/")) and not name.endswith((".js", ".png", ".svg")):
            assert not hosts.search((ROOT / name).read_text(encoding="utf-8")), name


def test_pinned_versions_name_no_host() -> None:
    for line in (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines():
        assert re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.+!]+|#.*|", line), line


@pytest.mark.parametrize("path", sorted((ROOT / "tests" / "published").glob("*.csv")), ids=lambda path: path.name)
def test_published_values_name_their_source(path: Path) -> None:
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    readme = path.parent / f"{path.stem.split('_')[0]}_README.md"
    if readme.exists() and path.name in readme.read_text(encoding="utf-8"):
        return
    assert rows, "the table has no rows"
    for row in rows:
        assert row.get("source"), row
