"""Trial values agree with the second appraisal however the trial was laid out, whatever was lost of it."""

import pytest

from independent import appraise
from independent_cases import copy_demo, mismatches
from independent_trial_cases import OPEN_VARIANTS, TRIAL_VARIANTS, plain_copy


@pytest.mark.parametrize("change", TRIAL_VARIANTS, ids=lambda change: change.__name__)
def test_every_outcome_agrees_with_the_second_appraisal(change, tmp_path):
    case = copy_demo(tmp_path)
    change(case)
    assert mismatches(appraise(case), case) == []


@pytest.mark.parametrize("variant", OPEN_VARIANTS)
def test_open_data_agrees_with_the_second_appraisal(variant, tmp_path):
    name, words = OPEN_VARIANTS[variant]
    case = plain_copy(name, tmp_path, **words)
    assert mismatches(appraise(case), case) == []
