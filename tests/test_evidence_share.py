"""How much rests on which grade of evidence: sums by hand, sentences."""

import math

from numpy.testing import assert_allclose

from plotworth.choose.evidence_share import evidence_sentence, evidence_shares, judged_share


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_each_grade_has_its_part_of_what_rows_move() -> None:
    """3 + 1 of 8 judged, 3 quoted, 1 measured; -0.2 is noise about 0."""
    found = evidence_shares(["D", "C", "A", "D", "B"], [3.0, 3.0, 1.0, 1.0, -0.2])
    assert [(one.grade, one.rows) for one in found] == [("A", 1), ("B", 1), ("C", 1), ("D", 2)]
    assert_allclose([one.share for one in found], [1 / 8, 0.0, 3 / 8, 4 / 8], rtol=1e-12)
    assert judged_share(found) == 0.5


def test_rows_without_a_grade_stand_by_themselves_and_count_as_judged() -> None:
    found = evidence_shares(["A", "none"], [1.0, 3.0])
    assert found[-1].words == "no grade"
    assert judged_share(found) == 0.75


def test_the_sentence_says_when_more_than_half_is_judgement() -> None:
    more = evidence_sentence(evidence_shares(["A", "D"], [1.0, 3.0]), what="the spread")
    assert plain(more) == (
        "More than half rests on judgement: 75 % of the spread comes from judged rows, "
        "25 % from what was measured here."
    )
    less = evidence_sentence(evidence_shares(["A", "D"], [3.0, 1.0]), what="the spread")
    assert plain(less) == "25 % of the spread comes from judged rows, 75 % from what was measured here."


def test_where_nothing_moves_there_is_no_share() -> None:
    found = evidence_shares(["A", "D"], [0.0, 0.0])
    assert all(math.isnan(one.share) for one in found)
    assert evidence_sentence(found, what="the spread") == "No row moves the spread."
