"""Fixtures that several rooms of tests share."""

from collections.abc import Iterator

import pytest

from browser import Lab, opened_workbook


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """The workbook in a browser, one for a room of tests: two browsers of one thread cannot stand open side by side."""
    with opened_workbook(tmp_path_factory.mktemp("fresh")) as opened:
        yield opened
