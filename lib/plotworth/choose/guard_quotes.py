"""Quotes that ran out before the day on which the case is judged."""

import datetime
from collections.abc import Iterator, Sequence

from plotworth.case.cost_lines import CostLine
from plotworth.choose.appraise import Appraisal
from plotworth.choose.flag import Findings, Flag
from plotworth.choose.planned import COSTS_FILE

VALID_UNTIL = "quote_valid_until_days"


def expired_quotes(appraisal: Appraisal) -> Findings:
    """Return a flag on every cost line whose quote no longer holds on the day the case is judged at."""
    return Findings(tuple(_expired(appraisal.case.costs, appraisal.case.settings.as_of)))


def _expired(lines: Sequence[CostLine], as_of: datetime.date) -> Iterator[Flag]:
    for line in lines:
        if line.valid_until is not None and line.valid_until < as_of:
            over = float((as_of - line.valid_until).days)
            sentence = (
                f"{line.item} ({COSTS_FILE} line {line.line}): its quote held until {line.valid_until:%Y-%m-%d}, and "
                f"the case is judged at {as_of:%Y-%m-%d}. Ask for the price again."
            )
            yield Flag(f"costs/{line.address}", VALID_UNTIL, over, "day", None, 0.0, "the quote", sentence)
