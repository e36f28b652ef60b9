"""Sentences held to what seeded trials allow and forbid, and to their words."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from plotworth.choose.claim import (
    CAVEAT,
    OBSERVED,
    SCOPE,
    Comparison,
    Evidence,
    comparison,
    percent_span,
    without_model,
)
from plotworth.choose.wording import claims, forbidden, is_at_least_as_good, is_worth_having, judged
from plotworth.field.arrangement import complete_blocks
from plotworth.field.block_model import solve
from plotworth.field.contrast import Contrast
from plotworth.field.finding import LIMITS, Finding
from plotworth.field.model_matrices import prepare
from plotworth.field.ratio import Ratio
from plotworth.field.water import LessWater
from seeded_claims import evidence
from seeded_trials import REFERENCE_KG_PER_M2, Row, rows

BESIDE = {OBSERVED, SCOPE, CAVEAT}  # said of every trial, where it has an interval
ROWS = rows()


def _row(number: int) -> Row:
    return next(row for row in ROWS if row.number == str(number))


def _sentence(number: int, kind: str) -> str:
    found = [claim for claim in judged(evidence(_row(number))) if claim.kind == kind]
    assert len(found) == 1, (kind, found)
    return found[0].sentence.replace("\u00a0", " ")


def _why_not(number: int, kind: str) -> str:
    return next(claim.why for claim in forbidden(evidence(_row(number))) if claim.kind == kind)


def test_there_are_forty_seeded_trials_and_more() -> None:
    assert len(ROWS) >= 40
    assert len({row.seed for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.number} {row.layout} {row.flaw}")
def test_a_seeded_trial_allows_and_forbids_what_was_reasoned_out(row: Row) -> None:
    held = evidence(row)
    allowed, refused = {c.kind for c in claims(held)}, {c.kind for c in forbidden(held)}
    assert {finding.kind for finding in held.findings} == row.finds, row.because
    assert allowed - BESIDE == row.allows, row.because
    assert row.forbids <= refused, row.because
    assert not row.forbids & allowed


@pytest.mark.parametrize("row", ROWS[:8], ids=lambda row: row.number)
def test_a_seeded_trial_has_the_effect_it_was_drawn_with(row: Row) -> None:
    found = evidence(row).comparison.difference
    half_width = 2.228139 * row.cv * REFERENCE_KG_PER_M2 * math.sqrt(2 / row.blocks)  # t(0.975, 10), printed tables
    assert_allclose(found.estimate, row.effect * REFERENCE_KG_PER_M2, atol=1e-9)
    assert_allclose(found.high - found.estimate, half_width, rtol=1e-6)  # t is printed to six decimals


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.number)
def test_every_claim_is_a_sentence_with_its_reason(row: Row) -> None:
    for claim in judged(evidence(row)):
        assert claim.sentence[0].isupper() or claim.sentence[0].isdigit() or claim.kind == CAVEAT
        assert claim.sentence.endswith(".")
        assert claim.why
        assert "nan" not in f"{claim.sentence} {claim.why}".lower().split()
        assert "not known" not in claim.sentence or not claim.allowed


def test_better_says_by_how_much() -> None:
    # difference 0.6 -+ 0.2058 kg; ratio by Fieller with both variances s2/6, s = 0.16, t = 2.228:
    # (1.3 - R)^2 x 4 = 2.228^2 x 0.0256 / 6 x (1 + R^2) gives R = 1.187 and 1.427
    assert _sentence(1, "better") == "Tank yields more than hand: by 19 to 43 % (0.39 to 0.81 kg/m²)."


def test_not_shown_says_what_remains_possible() -> None:
    # Fieller: (1 - R)^2 x 4 = 2.228^2 x 0.09 / 6 x (1 + R^2) gives R = 0.823 and 1.215 (one over the other)
    want = "No difference shown between tank and hand; differences up to 21 % remain possible (18 % less to 21 % more)."
    assert _sentence(4, "no difference shown") == want


def test_not_shown_to_differ_is_never_the_same() -> None:
    assert _why_not(4, "no effect") == "not shown to differ is not shown to be equal"
    assert _why_not(3, "no effect") == "less than a stated gain can be shown, nothing at all cannot"


def test_equal_enough_names_the_limit_frozen_before() -> None:
    assert _sentence(3, "equal") == "Tank and hand are equal within the smallest gain worth having (10 %)."
    assert _sentence(6, "at least as good").startswith("Tank is at least as good as hand, within the smallest gain")
    assert _why_not(8, "at least as good") == "nobody said before planting which gain is worth having"


def test_nothing_repeated_is_a_demonstration() -> None:
    want = "This is a demonstration of tank and hand, not a trial: it shows what can be grown, not which yields more."
    assert _sentence(12, "demonstration") == want


def test_plants_taken_as_replicates_are_refused_with_their_number() -> None:
    # three treatments in six blocks, six plants each: 108 rows of 18 plots
    assert "108 rows of plots.csv are single plants" in _why_not(14, "better")
    assert "they count as 18 plots, not as 108" in _why_not(14, "better")


def test_a_package_names_its_parts() -> None:
    want = (
        "Tank and hand differ in water, inoculant and nutrients together: package is compared against package, "
        "and no part of it has been tested by itself."
    )
    assert _sentence(24, "package against package") == want


def test_water_is_less_applied_and_saved_only_where_drainage_was_measured() -> None:
    assert _sentence(39, "less water applied").startswith("Less water was drawn for tank than for hand: by ")
    assert _why_not(39, "water saved") == "drainage not measured"
    assert _sentence(40, "water saved") == "Tank saved water against hand."
    assert _sentence(41, "water seen").endswith("there is no interval.")


def test_more_water_is_said_as_plainly() -> None:
    water = LessWater("tank", "hand", 6, 6, -0.2, -0.3, -0.1, 0.04, 5, "paired", "")
    found = {claim.kind: claim for claim in judged(replace(evidence(_row(1)), water=water))}
    assert found["more water applied"].sentence == "More water was drawn for tank than for hand: by 10 to 30\u00a0%."
    assert not found["less water applied"].allowed
    assert not found["water saved"].allowed


def test_the_interval_speaks_of_these_plots() -> None:
    held = replace(evidence(_row(1)), where="Sarvane in 2026")
    found = next(claim for claim in claims(held) if claim.kind == SCOPE)
    want = "The interval speaks of plots like these at Sarvane in 2026, not of other farms or other seasons."
    assert found.sentence == want
    assert _why_not(1, "other farms or seasons") == "fewer than 5 sites or seasons were tried"


def test_several_seasons_are_never_one_figure() -> None:
    want = "2025 and 2026 are shown side by side, each with its own difference and interval."
    assert _sentence(42, "side by side") == want
    assert "fewer than 5 stand for no others" in _why_not(42, "pooled")


def test_five_sites_speak_of_a_sixth() -> None:
    # differences 0.52, 0.56 ... 0.68 kg: mean 0.6, s = 0.0632; t(4) = 2.776: 0.6 -+ 2.776 x s x sqrt(1 + 1/5) = 0.19
    assert "like these 5 the difference would lie within 0.41 to 0.79 kg/m²" in _sentence(43, "other farms or seasons")
    # 0.6 -+ 2.776 x s / sqrt(5) = 0.0785
    assert "0.52 to 0.68 kg/m²" in _sentence(43, "pooled")


def test_a_limit_of_the_design_stands_beside_every_claim() -> None:
    finding = Finding("segregated", LIMITS, "tank lies in the first columns.", "Draw again.")
    other = Finding("one plot", LIMITS, "drip has one plot.", "Repeat drip.", (), ("drip",))
    held = replace(evidence(_row(1)), findings=(finding, other))
    assert [c.sentence for c in claims(held) if c.kind == CAVEAT] == ["tank lies in the first columns."]


def test_difference_and_ratio_must_agree_before_more_is_said() -> None:
    base = evidence(_row(1)).comparison
    edge = replace(base, ratio=replace(base.ratio, low=0.999))
    assert edge.direction == 0
    assert "better" not in {claim.kind for claim in claims(Evidence((), edge))}


def test_a_comparison_that_was_not_fitted_allows_what_was_seen() -> None:
    bare = without_model("tank", "hand", reason="one plot each", means=(3.0, 2.0))
    found = {claim.kind for claim in claims(Evidence((), bare))}
    assert found == {OBSERVED}


def test_without_a_ratio_the_unit_speaks() -> None:
    gap = Ratio(math.nan, math.nan, math.nan, math.nan, math.nan, math.nan, "", "no ratio")
    row = Contrast("a - b", 0.1, 0.2, 12, -0.3, 0.5, 0.5, 0.6, "")
    held = Comparison("a", "b", ("a", "b"), (), "yield", "kg/m²", 0.1, 0.0, row, gap, gap)
    found = {claim.kind: claim.sentence for claim in claims(Evidence((), held))}
    want = "No difference shown between a and b; differences up to 0.5\u00a0kg/m² remain possible."
    assert found["no difference shown"] == want


def test_a_span_of_shares_has_the_decimals_of_its_width() -> None:
    assert percent_span(0.1234, 0.3456) == "12 to 35\u00a0%"
    assert percent_span(0.0123, 0.0189) == "1.23 to 1.89\u00a0%"


def test_a_loss_is_ruled_out_one_sided() -> None:
    base = replace(evidence(_row(4)).comparison, smallest_gain_share=0.1)
    edge = replace(base, ratio=replace(base.ratio, low=0.88), one_sided_ratio=replace(base.one_sided_ratio, low=0.91))
    assert "at least as good" in {claim.kind for claim in claims(Evidence((), edge))}


def test_two_features_are_a_package_with_or_without_the_finding() -> None:
    base = evidence(_row(1)).comparison
    two = replace(base, differing=("water", "cover"))
    finding = Finding("package", LIMITS, "Two go together.", "Part them.", (), ("tank", "hand"), ("water", "cover"))
    for held in (Evidence((), two), Evidence((finding,), base)):
        found = {claim.kind for claim in claims(held)}
        assert "package against package" in found
        assert "one cause" not in found


def test_water_is_compared_where_the_yield_alone_is_missing_and_not_over_seasons() -> None:
    water = evidence(_row(39)).water
    unpicked = replace(evidence(_row(33)), water=water)
    assert "less water applied" in {claim.kind for claim in claims(unpicked)}
    apart = replace(evidence(_row(17)), water=water)
    assert "less water applied" not in {claim.kind for claim in claims(apart)}


def test_limits_of_the_gain_err_no_more_often_than_they_say() -> None:
    # true loss of exactly the limit: ruled out wrongly in 5 %; true gain of exactly it: claimed in 2.5 %; of 600 each,
    # with three standard errors of a share: 0.05 + 3 x 0.0089 and 0.025 + 3 x 0.0064
    assert _share(-0.15, is_at_least_as_good) < 0.077
    assert _share(0.15, is_worth_having) < 0.045


def _share(effect: float, test: Callable[[Comparison], bool]) -> float:
    """How often a claim is made of 600 trials of five blocks, errors as the seed gives them."""
    layout = pd.DataFrame([{"block": f"B{b}", "treatment": t} for b in range(5) for t in ("tank", "hand", "drip")])
    matrices = prepare(layout, complete_blocks("treatment"), np.ones(15, dtype=bool))
    mean = 2 * (1 + effect * (layout["treatment"] == "tank").to_numpy())
    errors = np.random.default_rng(48).normal(size=(600, 15)) * 0.16
    fitted = (comparison(solve(matrices, mean + row), "tank", "hand", smallest_gain_share=0.15) for row in errors)
    return float(np.mean([test(found) for found in fitted]))
