"""Views, sizes, programme and who works on the page and in the JSON: numbers as computed, a reason for each null."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from independent_cases import plain_demo
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.views import three_views
from plotworth.report.exchange import appraisal_data, appraisal_json
from plotworth.report.page import WIDTH, appraisal_text
from small_case import FILES, write_case
from test_programme import COSTS, PLAIN, TEXT
from test_scale_ladder import SHARED
from test_who_works import BOOK, PLAN

GROUPS = ("views", "wage_views", "sizes", "sharing", "programme", "who_works")


@pytest.fixture(scope="module")
def demo() -> Appraisal:
    return appraise(open_case(plain_demo()))


def small(folder: Path, **files: str) -> Appraisal:
    return appraise(open_case(write_case(folder, {**PLAIN, **SHARED, **files})))


def nulls(data: Any, path: str = "") -> Iterator[str]:
    """Yield the path of every null below a place in the JSON; a list of numbers is one place."""
    if data is None or (isinstance(data, list) and None in data):
        yield path
    elif isinstance(data, dict):
        for key, value in data.items():
            yield from nulls(value, f"{path}/{key}")


CASES = {
    "as it is": {},
    "unknown price": {"assumptions.csv": f"{PLAIN['assumptions.csv']}".replace(",0.5,0.25,1,", ",unknown,,,")},
    "unknown rate": {"assumptions.csv": f"{PLAIN['assumptions.csv']}".replace("0.1,0.05,0.2", "unknown,,")},
    "programme": {"case.toml": FILES["case.toml"] + TEXT + COSTS},
    "no gain": {
        "case.toml": FILES["case.toml"] + TEXT + COSTS,
        "assumptions.csv": f"{PLAIN['assumptions.csv']}".replace("3,2,4,", "2,2,4,").replace(",20,,,", ",80,,,"),
    },
}


@pytest.mark.parametrize("name", CASES)
def test_every_null_has_its_reason(tmp_path: Path, name: str) -> None:
    data = json.loads(appraisal_json(small(tmp_path, **CASES[name])))
    found = [path for group in GROUPS for path in nulls(data[group], group)]
    assert all(data["why"].get(path) for path in found), [path for path in found if not data["why"].get(path)]


def test_the_demo_has_a_reason_for_every_null_too(demo: Appraisal) -> None:
    data = appraisal_data(demo)
    found = [path for group in GROUPS for path in nulls(data[group], group)]
    assert found
    assert all(data["why"].get(path) for path in found)


def test_the_numbers_are_those_computed(demo: Appraisal) -> None:
    data = json.loads(appraisal_json(demo))
    for seen in three_views(demo.layout, demo.values):
        for system, own in seen.figures["systems"].items():
            assert data["views"][seen.view]["systems"][system]["npv"] == own["npv"]
    assert data["views"]["full"]["systems"]["drip"]["npv"] == data["systems"]["drip"]["npv"]
    assert {name: len(own["npv"]) for name, own in data["sizes"].items()} == dict.fromkeys(demo.systems, 5)
    assert data["sharing"] == {}
    assert data["programme"] is None


def test_the_page_shows_the_groups_that_a_case_has(demo: Appraisal, tmp_path: Path) -> None:
    page = appraisal_text(demo)
    for heading in ("THE SAME CASE IN THREE VIEWS", "AT OTHER SIZES"):
        assert page.count(f"\n{heading}\n") == 1
    assert "AS A PROGRAMME" not in page
    assert "WHO DOES THE WORK" not in page
    files = {"case.toml": FILES["case.toml"] + TEXT, "labour_plan.csv": PLAN, "assumptions.csv": BOOK}
    files["assumptions.csv"] = files["assumptions.csv"].replace("trial,,,", "3,2,4,")
    stated = appraisal_text(small(tmp_path, **files))
    assert "\nAS A PROGRAMME\n" in stated
    assert "WHO DOES THE WORK" in stated
    assert max(map(len, stated.splitlines())) <= WIDTH
