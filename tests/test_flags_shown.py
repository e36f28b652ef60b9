"""Flags on the page, in the JSON and in the panel: the same sentences, and no figure moved by them."""

from pathlib import Path

import pytest

from plotworth import Appraisal, appraise, open_case
from plotworth.choose.guard import flags, unchecked
from plotworth.report.exchange import appraisal_data
from plotworth.report.page import appraisal_text
from plotworth.show.panels.appraisal import appraisal_panel

DEMO = Path(__file__).parent.parent / "data_demo"


@pytest.fixture(scope="module")
def demo() -> Appraisal:
    return appraise(open_case(DEMO))


def test_the_page_shows_every_flag_and_what_was_not_checked(demo: Appraisal) -> None:
    page = " ".join(appraisal_text(demo).split())
    for flag in flags(demo):
        assert " ".join(flag.sentence.split()) in page
    for sentence in unchecked(demo):
        assert " ".join(sentence.split()) in page


def test_the_json_holds_each_flag_with_its_numbers(demo: Appraisal) -> None:
    data = appraisal_data(demo)
    assert [flag["sentence"] for flag in data["flags"]] == [flag.sentence for flag in flags(demo)]
    assert data["unchecked"] == list(unchecked(demo))
    assert all(flag["low"] is None or isinstance(flag["low"], float) for flag in data["flags"])


def test_the_panel_shows_the_flags_folded_away(demo: Appraisal) -> None:
    panel = appraisal_panel(DEMO)
    assert "Flags on the figures of the book" in panel.tables.value
    assert flags(demo)[0].sentence.split(",")[0].replace("'", "&#x27;") in panel.tables.value
    panel.close()
