"""Sentences that the evidence allows, by rule: from the audit, the interval, and the smallest gain worth having.

A claim is judged before it is written, so that page, notebook and table say the same. What is not allowed comes
with its reason, because the reader will think of it. A gain is a share of the reference's mean, and that mean is
known with error: limits are held against Fieller's ratio, not against a difference over a mean taken as known.
Key: Schuirmann (1987) J. Pharmacokinet. Biopharm. 15:657; Fieller (1954) J. R. Statist. Soc. B 16:175.
"""

import math
from collections.abc import Iterator
from dataclasses import replace

from plotworth.choose.claim import (
    AT_LEAST_AS_GOOD,
    BETTER,
    CAVEAT,
    DEMONSTRATION,
    EQUAL,
    NO_EFFECT,
    NOT_SHOWN,
    OBSERVED,
    WORSE,
    WORTH_HAVING,
    Claim,
    Comparison,
    Evidence,
    percent_span,
    span_text,
)
from plotworth.choose.wording_scope import cause_claims, caveats, interplay_claims, scope_claims, several_trials
from plotworth.choose.wording_water import water_claims
from plotworth.field.audit import refusals
from plotworth.field.finding import UNREPLICATED
from plotworth.ground.amounts import INTERVAL_DIGITS, NO_BREAK, amount_text, decimals_for, number_text, share_text

NO_GAIN = "nobody said before planting which gain is worth having"
NOT_EQUAL = "not shown to differ is not shown to be equal"
FEW_FREEDOM = 12  # error degrees of freedom under which method.md warns


def claims(evidence: Evidence) -> tuple[Claim, ...]:
    """Return the sentences that the evidence allows, what was seen first [shares in per cent, means in their unit]."""
    return tuple(claim for claim in judged(evidence) if claim.allowed)


def forbidden(evidence: Evidence) -> tuple[Claim, ...]:
    """Return the sentences that the evidence does not allow, each with the reason."""
    return tuple(claim for claim in judged(evidence) if not claim.allowed)


def judged(evidence: Evidence) -> tuple[Claim, ...]:
    """Return every sentence that was considered, allowed or not, in the order in which they are read."""
    compared = evidence.comparison
    refused = why_refused(evidence)
    found = [_observed(compared), *_demonstration(evidence), *_direction(compared, refused)]
    found += [*_gain(compared, refused), *cause_claims(evidence, refused), *interplay_claims(evidence, refused)]
    found += [*water_claims(evidence), *scope_claims(evidence, refused), *several_trials(evidence), *caveats(evidence)]
    return tuple(claim if claim.kind == CAVEAT else _capital(claim) for claim in found)


def _capital(claim: Claim) -> Claim:
    """A sentence begins with a capital, even where it begins with the name of a treatment."""
    return replace(claim, sentence=claim.sentence[0].upper() + claim.sentence[1:])


def why_refused(evidence: Evidence) -> str:
    """Return why nothing may be compared, "" where it may."""
    compared = evidence.comparison
    against = refusals(evidence.findings, compared.concerned, differing=compared.differing)
    return against[0].sentence if against else compared.difference.reason


def _observed(compared: Comparison) -> Claim:
    means = (compared.treatment_mean, compared.reference_mean)
    first, second = (amount_text(mean, compared.unit) for mean in means)
    sentence = (
        f"In these plots {compared.treatment} had a {compared.outcome} of {first}, {compared.reference} {second}."
    )
    known = all(math.isfinite(mean) for mean in means)
    return Claim(OBSERVED, sentence, known, "means of the plots" if known else "one of the two has no value")


def _demonstration(evidence: Evidence) -> Iterator[Claim]:
    compared = evidence.comparison
    against = refusals(evidence.findings, compared.concerned, differing=compared.differing)
    found = [finding for finding in against if finding.kind == UNREPLICATED]
    if found:
        pair = f"{compared.treatment} and {compared.reference}"
        sentence = f"This is a demonstration of {pair}, not a trial: it shows what can be grown, not which yields more."
        yield Claim(DEMONSTRATION, sentence, True, found[0].sentence)


def _direction(compared: Comparison, refused: str) -> Iterator[Claim]:
    """Yield more, less, and neither shown; one of them is allowed at most."""
    pair = (compared.treatment, compared.reference)
    span = _span(compared)
    for kind, word, sign in ((BETTER, "more", 1), (WORSE, "less", -1)):
        shown = not refused and compared.direction == sign
        sentence = f"{pair[0]} yields {word} than {pair[1]}"
        why = refused or (_interval(compared) if shown else f"{_interval(compared)}; {_not_beyond(compared, sign)}")
        yield Claim(kind, f"{sentence}: by {span}." if shown else f"{sentence}.", shown, why)
    open_ended = not refused and compared.direction == 0
    why = refused or (_interval(compared) if open_ended else "a difference is shown")
    yield Claim(NOT_SHOWN, _no_difference(compared, open_ended), open_ended, why)
    equal = "less than a stated gain can be shown, nothing at all cannot" if _is_equal(compared) else NOT_EQUAL
    shown_otherwise = "a difference is shown" if compared.direction else equal
    yield Claim(NO_EFFECT, f"{pair[0]} and {pair[1]} yield the same.", False, refused or shown_otherwise)


def _not_beyond(compared: Comparison, sign: int) -> str:
    if compared.direction == -sign:
        return "the opposite is shown"
    return "0 lies within"


def _span(compared: Comparison) -> str:
    """Return how large a difference that is shown may be, without a sign: in per cent where a ratio has an interval."""
    least, most = sorted((abs(compared.difference.low), abs(compared.difference.high)))
    absolute = span_text(least, most, compared.unit)
    if not math.isfinite(compared.ratio.low):
        return absolute
    near, far = sorted((abs(compared.ratio.low - 1), abs(compared.ratio.high - 1)))
    return f"{percent_span(near, far)} ({absolute})"


def _no_difference(compared: Comparison, open_ended: bool) -> str:
    sentence = f"No difference shown between {compared.treatment} and {compared.reference}"
    low, high = compared.ratio.low - 1, compared.ratio.high - 1
    if not open_ended:
        return f"{sentence}."
    if not math.isfinite(low):
        limit = max(abs(compared.difference.low), abs(compared.difference.high))
        return f"{sentence}; differences up to {amount_text(limit, compared.unit, digits=2)} remain possible."
    decimals = decimals_for(100 * (high - low), digits=INTERVAL_DIGITS)
    most = f"{number_text(100 * max(abs(low), abs(high)), decimals=decimals)}{NO_BREAK}%"
    ends = f"{_signed(low, decimals)} to {_signed(high, decimals)}"
    return f"{sentence}; differences up to {most} remain possible ({ends})."


def _signed(share: float, decimals: int) -> str:
    return f"{number_text(100 * abs(share), decimals=decimals)}{NO_BREAK}% {'less' if share < 0 else 'more'}"


def _interval(compared: Comparison) -> str:
    """Return what the sentence rests on: interval and degrees of freedom."""
    found = compared.difference
    if found.reason:
        return found.reason
    span = span_text(found.low, found.high, compared.unit)
    few = ", which is few" if found.degrees_of_freedom < FEW_FREEDOM else ""
    freedom = number_text(found.degrees_of_freedom, decimals=0)
    return f"95 % interval of the difference {span}, {freedom} degrees of freedom{few}"


def _gain(compared: Comparison, refused: str) -> Iterator[Claim]:
    """Yield what can be said beside the smallest gain worth having, by one-sided limits and both together."""
    gain = compared.smallest_gain_share
    share = "" if gain is None else f" ({share_text(gain)})"
    pair = (compared.treatment, compared.reference)
    sentences = {
        WORTH_HAVING: f"The gain of {pair[0]} over {pair[1]} is at least the smallest worth having{share}.",
        AT_LEAST_AS_GOOD: f"{pair[0]} is at least as good as {pair[1]}, within the smallest gain worth having{share}.",
        EQUAL: f"{pair[0]} and {pair[1]} are equal within the smallest gain worth having{share}.",
    }
    tests = {WORTH_HAVING: is_worth_having, AT_LEAST_AS_GOOD: is_at_least_as_good, EQUAL: _is_equal}
    for kind, sentence in sentences.items():
        shown = not refused and tests[kind](compared)
        why = refused or (NO_GAIN if gain is None else _ratio_text(compared, kind))
        yield Claim(kind, sentence, shown, why)


def _ratio_text(compared: Comparison, kind: str) -> str:
    ratio, level = (compared.ratio, 95) if kind == WORTH_HAVING else (compared.one_sided_ratio, 90)
    if not math.isfinite(ratio.low):
        return ratio.reason
    span = percent_span(ratio.low, ratio.high)
    return f"{level} % interval of {compared.treatment} over {compared.reference}: {span}"


def is_worth_having(compared: Comparison) -> bool:
    """Say whether the whole 95 % interval of the ratio reaches the smallest gain worth having [share]."""
    gain = compared.smallest_gain_share
    return gain is not None and compared.direction == 1 and compared.ratio.low >= 1 + gain


def is_at_least_as_good(compared: Comparison) -> bool:
    """Say whether a loss as large as the smallest gain worth having [share] is ruled out, one-sided at 5 %."""
    gain = compared.smallest_gain_share
    return gain is not None and compared.one_sided_ratio.low > 1 - gain


def _is_equal(compared: Comparison) -> bool:
    """Both limits are ruled out: the 90 % interval lies inside them."""
    gain = compared.smallest_gain_share
    return gain is not None and is_at_least_as_good(compared) and compared.one_sided_ratio.high < 1 + gain
