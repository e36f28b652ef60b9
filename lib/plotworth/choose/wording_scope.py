"""What a difference may be put down to, and what it speaks of: one cause or a package, these plots or others."""

import math
from collections.abc import Iterator

from plotworth.choose.claim import (
    CAUSE,
    CAVEAT,
    DEPENDS,
    DEPENDS_NOT_SHOWN,
    FARMS,
    PACKAGES,
    POOLED,
    SCOPE,
    SIDE_BY_SIDE,
    WHATEVER,
    Claim,
    Evidence,
    span_text,
)
from plotworth.field.finding import (
    DRAW_UNKNOWN,
    FACTORS_ALIASED,
    LIMITS,
    PACKAGE,
    SEGREGATED,
    SHARED_METER,
    UNEQUAL_WINDOWS,
    Finding,
    listed,
)
from plotworth.field.seasons_and_sites import FEWEST_LEVELS
from plotworth.ground.amounts import number_text

LEVEL = 0.05
LEAST_CHANCE = 0.001  # smaller ones are not told apart
ALONE = "nothing else is written down to differ"
NOTHING_SHOWN = "no difference is shown"
NOT_ALONE = (DRAW_UNKNOWN, SEGREGATED, UNEQUAL_WINDOWS)  # another cause is at hand
SAID_ELSEWHERE = (PACKAGE, SHARED_METER)  # of the package by its own claim, of the meter by those of water


def cause_claims(evidence: Evidence, refused: str) -> Iterator[Claim]:
    """Yield whether a difference may be put down to one thing, and that packages are compared where it may not."""
    compared = evidence.comparison
    pair = f"{compared.treatment} and {compared.reference}"
    found = mixed(evidence)
    several = len(compared.differing) > 1 or bool(found)
    features = compared.differing if len(compared.differing) > 1 else (found[0].features if found else ())
    together = f"{pair} differ in {listed(features)} together"
    one = compared.differing[0] if compared.differing else "the treatment"
    doubt = next((f.sentence for f in bearing(evidence) if f.kind in NOT_ALONE), "")
    against = refused or (together if several else "") or doubt or ("" if compared.direction else NOTHING_SHOWN)
    shown, why = not against, against or ALONE
    yield Claim(CAUSE, f"What differs between {pair} is due to {one} alone.", shown, why)
    if several:
        sentence = f"{together}: package is compared against package, and no part of it has been tested by itself."
        cures = [finding.cure for finding in found]
        yield Claim(PACKAGES, sentence, True, cures[0] if cures else "more than one feature differs")


def bearing(evidence: Evidence) -> list[Finding]:
    """Return the findings that bear on the comparison."""
    compared = evidence.comparison
    return [f for f in evidence.findings if f.concerns(compared.concerned, differing=compared.differing)]


def mixed(evidence: Evidence) -> list[Finding]:
    """Return the findings that several features go together in this comparison."""
    compared = evidence.comparison
    own = [f for f in evidence.findings if f.kind == PACKAGE and set(compared.concerned) == set(f.treatments)]
    return own + [f for f in bearing(evidence) if f.kind == FACTORS_ALIASED]


def interplay_claims(evidence: Evidence, refused: str) -> Iterator[Claim]:
    """Yield whether the effect of the factor compared depends on another one, and that `whatever` is too much."""
    compared = evidence.comparison
    pair = f"{compared.treatment} and {compared.reference}"
    for found in evidence.interplay:
        known = not refused and math.isfinite(found.p)
        depends = known and found.p < LEVEL
        test = f"p of the interaction {_chance(found.p)}" if known else refused or "no test of it"
        sentence = f"What differs between {pair} depends on {found.other}: read it at each level of {found.other}."
        yield Claim(DEPENDS, sentence, depends, test)
        averaged = f"The difference between {pair} is an average over the levels of {found.other}; whether it depends"
        sentence = f"{averaged} on {found.other} is not shown."
        yield Claim(DEPENDS_NOT_SHOWN, sentence, known and not depends, test)
        why = refused or ("the effect depends on it" if depends else "an interaction not shown is not shown to be none")
        yield Claim(WHATEVER, f"The difference between {pair} is the same whatever the {found.other}.", False, why)


def _chance(p: float) -> str:
    return number_text(p, decimals=3) if p >= LEAST_CHANCE else f"below {LEAST_CHANCE:g}"


def scope_claims(evidence: Evidence, refused: str) -> Iterator[Claim]:
    """Yield what the interval speaks of: plots like these, and other farms only where five or more were tried."""
    if not evidence.comparison.difference.reason:
        place = f" at {evidence.where}" if evidence.where else ""
        sentence = f"The interval speaks of plots like these{place}, not of other farms or other seasons."
        yield Claim(SCOPE, sentence, not refused, refused or "plots are what was drawn by lot")
    across, pair = evidence.across, f"{evidence.comparison.treatment} and {evidence.comparison.reference}"
    if across is None or across.reason:
        sentence = f"On other farms, or in other seasons, {pair} differ as they did here."
        why = f"fewer than {FEWEST_LEVELS} sites or seasons were tried" if across is None else across.reason
        yield Claim(FARMS, sentence, False, why)
        return
    new = across.new_level
    span = span_text(new.low, new.high, evidence.comparison.unit)
    sentence = f"At a new {_level(across.over)} like these {len(across.levels)} the difference would lie within {span}."
    reason = new.reason or f"spread of the differences over {len(across.levels)} {_level(across.over)}s"
    yield Claim(FARMS, sentence, not new.reason, reason)


def _level(column: str) -> str:
    return {"trial_year": "season"}.get(column, column)


def several_trials(evidence: Evidence) -> Iterator[Claim]:
    """Yield that several seasons and sites stand side by side, and when they have a mean."""
    if len(evidence.trials) < 2:
        return
    names = listed(evidence.trials)
    sentence = f"{names} are shown side by side, each with its own difference and interval."
    yield Claim(SIDE_BY_SIDE, sentence, True, "seasons and sites are never replicates")
    across = evidence.across
    if across is None or across.reason:
        why = across.reason if across else "seasons and sites are never replicates"
        yield Claim(POOLED, f"Taken together, {names} give one difference with one interval.", False, why)
    elif not across.mean.reason:
        span = span_text(across.mean.low, across.mean.high, evidence.comparison.unit)
        word = _level(across.over)
        sentence = f"Over {len(across.levels)} {word}s the mean difference lies within {span}."
        yield Claim(POOLED, sentence, True, f"each {word} counts once, its plots do not")


def caveats(evidence: Evidence) -> Iterator[Claim]:
    """Yield what the audit found that stands beside every sentence above."""
    for finding in bearing(evidence):
        if finding.severity == LIMITS and finding.kind not in SAID_ELSEWHERE:
            yield Claim(CAVEAT, finding.sentence, True, finding.cure)
