"""What the answer rests on: how much of its swing and of its spread comes from rows of which grade of evidence.

Arrays in, arrays out: grades and amounts by row, no case known here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from plotworth.ground.amounts import share_text

MEASURED, PUBLISHED, QUOTED, JUDGED, NO_GRADE = GRADES = ("A", "B", "C", "D", "none")
GRADE_WORDS = {
    MEASURED: "measured here",
    PUBLISHED: "published",
    QUOTED: "quoted",
    JUDGED: "judged",
    NO_GRADE: "no grade",
}
HALF = 0.5
SHARE_DIGITS = 2


@dataclass(frozen=True)
class GradeShare:
    """One grade: how many rows have it, and their part of all that rows move [share], NaN where nothing moves."""

    grade: str
    words: str
    rows: int
    share: float


def evidence_shares(grades: Sequence[str], amounts: Sequence[float]) -> list[GradeShare]:
    """Return the part of the whole that rows of each grade have, A to D, then rows without one, if there are any.

    Parameters: the grade of each row, `none` without one; its amount [any unit, 0 or more]: a swing, a share of
    variance. An amount below 0, which is noise, counts as 0. Swings are added as they are: they say how far single
    rows reach, and do not add up to a spread; shares of variance do.
    """
    sizes = [max(amount, 0.0) for amount in amounts]
    whole = math.fsum(sizes)
    found = []
    for grade in GRADES:
        own = [size for one, size in zip(grades, sizes, strict=True) if one == grade]
        if own or grade != NO_GRADE:
            share = math.fsum(own) / whole if whole > 0 else math.nan
            found.append(GradeShare(grade, GRADE_WORDS[grade], len(own), share))
    return found


def judged_share(shares: Sequence[GradeShare]) -> float:
    """Return the part that rests on judged rows and on rows without a grade [share]."""
    return math.fsum(one.share for one in shares if one.grade in (JUDGED, NO_GRADE))


def evidence_sentence(shares: Sequence[GradeShare], *, what: str) -> str:
    """Return in a sentence how much rests on judgement; `what`: of what, as `the spread of NPV against the well`."""
    judged = judged_share(shares)
    if math.isnan(judged):
        return f"No row moves {what}."
    measured = next(one.share for one in shares if one.grade == MEASURED)
    told = (
        f"{share_text(judged, digits=SHARE_DIGITS)} of {what} comes from judged rows, "
        f"{share_text(measured, digits=SHARE_DIGITS)} from what was measured here."
    )
    return f"More than half rests on judgement: {told}" if judged > HALF else told
