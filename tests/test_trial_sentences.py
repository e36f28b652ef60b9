"""The sentences of a trial on the page: those of its notebook, for every measured system against both references."""

import pytest

from independent_cases import copy_demo, rewrite
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.trial_claims import what_may_be_said
from plotworth.choose.trial_sentences import trial_sentences
from plotworth.choose.trial_view import trial_view
from plotworth.report.exchange import appraisal_data
from plotworth.report.page import appraisal_text


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return appraise(open_case(copy_demo(tmp_path_factory.mktemp("demo"))))


def test_the_sentences_are_those_of_the_notebook_for_each_pair(demo):
    said = trial_sentences(demo)
    view = trial_view(demo)
    (key,) = view.keys
    expected = what_may_be_said(view, key, "tank", "drip").allowed
    assert [claim for pair, claim in said.claims if pair == "reservoir/drip"] == list(expected)
    pairs = {pair for pair, _ in said.claims}
    assert pairs == {"reservoir/hand", "reservoir/drip", "drip/hand", "hand/drip"}


def test_a_difference_that_was_not_shown_is_not_claimed(demo):
    lines = trial_sentences(demo).lines()
    assert any(line.startswith("No difference shown between Wick-fed tank and Well and drip") for line in lines)
    assert not any("Wick-fed tank yields" in line and "Well and drip" in line for line in lines)
    assert not any("saved" in line for line in lines)  # drainage was not measured


def test_packages_and_lost_plots_come_first_with_what_would_cure_them(demo):
    first = trial_sentences(demo).lines()[0]
    assert "package against package" in first
    assert "Compare" in first
    assert any("P26 has no picking and is missing, not zero." in line for line in trial_sentences(demo).lines())


def test_no_sentence_comes_twice(demo):
    lines = trial_sentences(demo).lines()
    assert len(lines) == len(set(lines))


def test_a_case_without_a_trial_has_no_sentences(tmp_path):
    case = copy_demo(tmp_path)
    for table in ("harvests", "fruit_masses", "standing_fruits"):
        (case / f"{table}.csv").unlink()
    typed = {"fruits_per_m2": "30", "fruit_mass_g": "80", "cull_share": "0.1", "water_applied_l_per_m2": "300"}
    trial = lambda row: {**row, "value": typed[row["name"]], "spread": "fixed"} if row["value"] == "trial" else row  # noqa: E731
    rewrite(case, "assumptions", lambda rows: [trial(row) for row in rows])
    assert trial_sentences(appraise(open_case(case))) is None


def test_page_and_json_hold_the_same_sentences(demo):
    page = " ".join(appraisal_text(demo).split())
    data = appraisal_data(demo)["trial"]
    for claim in data["claims"]:
        assert claim["sentence"].replace("\u00a0", " ") in page.replace("\u00a0", " ")
        assert claim["why"]
    assert {finding["sentence"] for finding in data["findings"]} == {f.sentence for f in trial_sentences(demo).findings}
