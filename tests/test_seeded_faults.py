"""A fault put into the library is found by holding it against the second appraisal."""

import pytest

from independent import appraise
from independent_cases import copy_demo, mismatches
from seeded_faults import CASES as OF_THE_COMPOSITION
from seeded_water_faults import WATER_CASES

CASES = {**OF_THE_COMPOSITION, **WATER_CASES}


@pytest.fixture(scope="module")
def appraised(tmp_path_factory):
    """Return each case on which a fault shows, by the change that makes it: its path and its second appraisal."""
    cases = {}
    for change in dict.fromkeys(CASES.values()):
        case = copy_demo(tmp_path_factory.mktemp(change.__name__))
        change(case)
        cases[change] = case, appraise(case)
    return cases


@pytest.mark.parametrize("change", dict.fromkeys(CASES.values()), ids=lambda change: change.__name__)
def test_without_a_fault_nothing_differs(change, appraised):
    case, second = appraised[change]
    assert mismatches(second, case) == []


@pytest.mark.parametrize("fault", CASES, ids=lambda fault: fault.__name__)
def test_the_comparison_finds_that(fault, appraised, monkeypatch):
    case, second = appraised[CASES[fault]]
    fault(monkeypatch)
    assert mismatches(second, case)
