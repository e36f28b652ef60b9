"""The library agrees with a second appraisal, written from the method statement alone in plain Python."""

import ast
import sys
from pathlib import Path

import pytest

from independent import appraise
from independent_cases import VARIANTS, copy_demo, mismatches

ROOMS = (
    "market",
    "blocks",
    "book",
    "money",
    "trial",
    "lifting",
    "weather",
    "water",
    "tank",
    "cash",
    "views",
    "programme",
)
SCRIPTS = ("independent", *(f"independent_{room}" for room in ROOMS))


@pytest.mark.parametrize("change", VARIANTS, ids=lambda change: change.__name__)
def test_every_outcome_agrees_with_the_second_appraisal(change, tmp_path):
    case = copy_demo(tmp_path)
    change(case)
    assert mismatches(appraise(case), case) == []


@pytest.mark.parametrize("script", SCRIPTS)
def test_the_second_appraisal_imports_nothing_but_the_standard_library_and_itself(script):
    tree = ast.parse((Path(__file__).parent / f"{script}.py").read_text(encoding="utf-8"))
    plain = [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    named = [node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    assert {name.split(".")[0] for name in plain + named} <= {*sys.stdlib_module_names, *SCRIPTS}
