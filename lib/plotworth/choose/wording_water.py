"""What may be said of water: less drawn, never saved unless what drained away was measured."""

import math
from collections.abc import Iterator

from plotworth.choose.claim import (
    LESS_WATER,
    MORE_WATER,
    SAVED,
    WATER_NOT_SHOWN,
    WATER_SEEN,
    Claim,
    Evidence,
    percent_span,
)
from plotworth.field.audit import refusals
from plotworth.field.finding import ALL_ZERO, EVERYTHING_ZERO, NO_PICKING
from plotworth.field.water import NOT_MEASURED, LessWater
from plotworth.ground.amounts import share_text

OF_YIELD_ALONE = (NO_PICKING, EVERYTHING_ZERO, ALL_ZERO)  # a plot without fruit was watered all the same


def water_claims(evidence: Evidence) -> Iterator[Claim]:
    """Yield less, more or neither, what was seen where there is no interval, and whether water was saved."""
    water = evidence.water
    if water is None or not math.isfinite(water.less_water_share):
        return
    why_not = _refused(evidence) or water.reason
    pair = (evidence.comparison.treatment, evidence.comparison.reference)
    for kind, word, shown in ((LESS_WATER, "less", water.low > 0), (MORE_WATER, "more", water.high < 0)):
        allowed = not why_not and shown
        sentence = f"{word.capitalize()} water was drawn for {pair[0]} than for {pair[1]}"
        yield Claim(kind, f"{sentence}{_by(water) if allowed else ''}.", allowed, why_not or _interval(water))
    unclear = not why_not and water.low <= 0 <= water.high
    sentence = f"No difference in the water drawn for {pair[0]} and {pair[1]} is shown."
    yield Claim(WATER_NOT_SHOWN, sentence, unclear, why_not or _interval(water))
    if why_not:
        word = "less" if water.less_water_share >= 0 else "more"
        amount = share_text(abs(water.less_water_share), digits=2)
        sentence = (
            f"In these plots {amount} {word} water was drawn for {pair[0]} than for {pair[1]}; there is no interval."
        )
        yield Claim(WATER_SEEN, sentence, True, why_not)
    less = not why_not and water.low > 0
    saved = less and evidence.drainage_measured
    why = why_not or (_interval(water) if not less else "drainage was measured" if saved else NOT_MEASURED)
    yield Claim(SAVED, f"{pair[0]} saved water against {pair[1]}.", saved, why)


def _refused(evidence: Evidence) -> str:
    compared = evidence.comparison
    against = refusals(evidence.findings, compared.concerned, differing=compared.differing)
    return next((finding.sentence for finding in against if finding.kind not in OF_YIELD_ALONE), "")


def _by(water: LessWater) -> str:
    least, most = sorted((abs(water.low), abs(water.high)))
    return f": by {percent_span(least, most)}"


def _interval(water: LessWater) -> str:
    return f"95 % interval of what was applied less {percent_span(water.low, water.high)}"
