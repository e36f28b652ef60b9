"""The master checks hold on sound appraisals, and each goes red on a fault of its own kind."""

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from folders import DEMO, run
from independent_cases import (
    copy_demo,
    every_basis,
    large_and_short,
    priced_by_month_and_shared,
    small_and_free_of_interest,
    two_seasons_of_the_main_crop,
    worth_having,
)
from plotworth.case.folder import open_case
from plotworth.choose import appraise as room
from plotworth.choose.checks import CHECKS, Evidence, master_checks
from seeded_check_faults import FAULTS
from small_case import write_case

VARIANTS = (
    small_and_free_of_interest,
    large_and_short,
    worth_having,
    two_seasons_of_the_main_crop,
    every_basis,
    priced_by_month_and_shared,
)
SENTENCES = [sentence for sentence, _ in CHECKS]


@cache
def evidence_of(folder: Path) -> Evidence:
    """Return what the checks look at in the appraisal of a case."""
    seen: list[Evidence] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "master_checks", lambda evidence: seen.append(evidence) or ())
        room.appraise(open_case(folder))
    return seen[0]


def red(evidence: Evidence) -> list[str]:
    """Return the sentences of the checks that fail."""
    return [check.sentence for check in master_checks(evidence) if not check.holds]


def figures_with(figures: Any, key: str, **changed: float) -> dict[str, Any]:
    """Return figures with some of one key replaced."""
    return {**figures, key: {**figures[key], **changed}}


def test_all_hold_on_the_demo_and_are_printed() -> None:
    out = run("appraise", str(DEMO)).out
    assert out.count("Check: ") == len(CHECKS)
    assert "FAILS" not in out
    assert all(sentence in " ".join(out.split()) for sentence in SENTENCES)


@pytest.mark.parametrize("change", VARIANTS, ids=lambda change: change.__name__)
def test_all_hold_on_the_demo_with_other_numbers(change: Callable[[Path], None], tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    change(case)
    assert red(evidence_of(case)) == []


def test_all_hold_on_a_small_case(tmp_path: Path) -> None:
    assert red(evidence_of(write_case(tmp_path))) == []


def test_more_than_ten_faults_stand_ready() -> None:
    """Ten are asked for; every check has one at the least."""
    assert len(FAULTS) >= 10
    assert all(any(sentence.startswith(words) for words in FAULTS.values()) for sentence in SENTENCES)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_seeded_fault_turns_its_check_red(fault: Callable[[Any], None], monkeypatch: pytest.MonkeyPatch) -> None:
    fault(monkeypatch)
    checks = room.appraise(open_case(DEMO)).checks
    assert any(check.sentence.startswith(FAULTS[fault]) for check in checks if not check.holds)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"rate": 0.1201}, ["NPV of every system", "the equivalent annual value"]),
        ({"differences": "npv"}, ["every difference in NPV", "the equivalent annual value"]),
        ({"seasons": "lost_kg"}, ["marketable kilograms"]),
        ({"systems": "hired_hours"}, ["hours of the labour plan", "labour cost is hours x wages"]),
    ],
)
def test_a_figure_that_is_off_by_a_millionth_is_found(changed: dict[str, Any], words: list[str]) -> None:
    """Off by a millionth of itself: about a thousand times what rounding leaves, so that it must be found."""
    sound = evidence_of(DEMO)
    own = dict(changed)
    for part, key in (("seasons", "drip/warm dry"), ("systems", "drip")):
        if part in own:
            name, figures = own[part], getattr(sound, part)
            own[part] = figures_with(figures, key, **{name: figures[key][name] * (1 + 1e-6)})
    if "differences" in own:
        part = sound.differences["against_today"]
        off = figures_with(part, "drip", npv=part["drip"]["npv"] * (1 + 1e-6))
        own["differences"] = {**sound.differences, "against_today": off}
    found = red(replace(sound, **own))
    assert [sentence for sentence in SENTENCES if any(sentence.startswith(start) for start in words)] == found


def test_rounding_is_no_disagreement() -> None:
    sound = evidence_of(DEMO)
    drip = sound.systems["drip"]["npv"]
    assert red(replace(sound, systems=figures_with(sound.systems, "drip", npv=drip + 1e-9))) == []


def test_what_is_unknown_on_both_sides_is_no_disagreement(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    book = case / "assumptions.csv"
    text = book.read_text(encoding="utf-8")
    book.write_text(text.replace("pepper,,0.95,0.6,1.4,", "pepper,,unknown,,,", 1), encoding="utf-8")
    evidence = evidence_of(case)
    assert math.isnan(evidence.systems["drip"]["npv"])
    assert red(evidence) == []
