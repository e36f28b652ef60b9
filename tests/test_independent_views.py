"""Views, sizes, who works and the programme agree with the second appraisal, and a fault put into them is found."""

import pytest

from independent_cases import copy_demo
from independent_view_cases import VIEW_VARIANTS, second_opinion, view_mismatches
from plotworth.case.folder import open_case
from plotworth.choose.inputs import lay_out
from seeded_view_faults import VIEW_CASES


@pytest.fixture(scope="module")
def opinions(tmp_path_factory):
    """Return each changed copy of the demo: as the library lays it out, and what the second appraisal says of it."""
    cases = {}
    for change in VIEW_VARIANTS:
        case = copy_demo(tmp_path_factory.mktemp(change.__name__))
        change(case)
        cases[change] = lay_out(open_case(case)), second_opinion(case)
    return cases


@pytest.mark.parametrize("change", VIEW_VARIANTS, ids=lambda change: change.__name__)
def test_every_view_size_and_programme_agrees_with_the_second_appraisal(change, opinions):
    layout, second = opinions[change]
    assert view_mismatches(second, layout) == []


@pytest.mark.parametrize("fault", VIEW_CASES, ids=lambda fault: fault.__name__)
def test_the_comparison_finds_that(fault, opinions, monkeypatch):
    layout, second = opinions[VIEW_CASES[fault]]
    fault(monkeypatch)
    assert view_mismatches(second, layout)
