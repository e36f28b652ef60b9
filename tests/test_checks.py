"""The master checks hold on a sound appraisal, and each goes red on a disagreement of its own. By hand."""

import math
from copy import deepcopy
from typing import Any

import numpy as np
import pytest

from plotworth.choose.checks import Check, master_checks

SOUND: dict[str, Any] = {
    "systems": {"tank": {"npv": 10.0}, "hand": {"npv": 4.0}},
    "differences": {"against_today": {"tank": {"npv": 6.0}}},
    "references": {"against_today": "hand"},
    "seasons": {"tank/dry": {"marketable_kg": 100.0, "lost_kg": 10.0, "eaten_kg": 20.0, "sold_kg": 70.0}},
    "flows": {"tank": np.array([-100.0, 121.0]), "hand": np.array([4.0, 0.0])},
    "rate": 0.1,
}
KINDS = ("NPV of every system", "every difference in NPV", "marketable kilograms")


def checked(**changed: Any) -> dict[str, bool]:
    """Return whether each check holds, by the first words of its sentence."""
    checks: tuple[Check, ...] = master_checks(**{**deepcopy(SOUND), **changed})
    assert len(checks) == len(KINDS)
    return {kind: check.holds for kind, check in zip(KINDS, checks, strict=True) if check.sentence.startswith(kind)}


def test_all_hold_on_a_sound_appraisal() -> None:
    """By hand: -100 + 121/1.1 = 10."""
    assert checked() == dict.fromkeys(KINDS, True)


@pytest.mark.parametrize(
    ("changed", "red"),
    [
        ({"flows": {"tank": np.array([-100.0, 121.01]), "hand": np.array([4.0, 0.0])}}, "NPV of every system"),
        ({"rate": 0.1001}, "NPV of every system"),
        ({"differences": {"against_today": {"tank": {"npv": -6.0}}}}, "every difference in NPV"),
        (
            {"seasons": {"a/b": {"marketable_kg": 100.0, "lost_kg": 10.0, "eaten_kg": 20.0, "sold_kg": 70.001}}},
            "marketable kilograms",
        ),
    ],
)
def test_each_goes_red_on_its_own_disagreement(changed: dict[str, Any], red: str) -> None:
    assert [kind for kind, holds in checked(**changed).items() if not holds] == [red]


def test_rounding_is_no_disagreement() -> None:
    assert all(checked(differences={"against_today": {"tank": {"npv": 6.0 + 1e-11}}}).values())


def test_two_gaps_agree_and_a_gap_against_a_number_does_not() -> None:
    gap = {"tank": {"npv": math.nan}, "hand": {"npv": 4.0}}
    flows = {"tank": np.array([math.nan, 121.0]), "hand": np.array([4.0, 0.0])}
    differences = {"against_today": {"tank": {"npv": math.nan}}}
    assert all(checked(systems=gap, flows=flows, differences=differences).values())
    assert not checked(systems=gap)["NPV of every system"]
