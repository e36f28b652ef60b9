"""Verdicts and headlines in words. Figures are invented."""

import math
from pathlib import Path

import pytest

from plain_case import plain_case
from plotworth.case.folder import Case, open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.verdict import headline, verdicts

SPACE = "\u00a0"


def three(folder: Path) -> Case:
    """Return a case of a tank, a well as baseline and the hand as present practice."""
    well = '[[systems]]\nid = "well"\nlabel = "Well"\n[[systems]]\nid = "hand"'
    settings = {'baseline = "hand"': 'baseline = "well"', '[[systems]]\nid = "hand"': well}
    seasons = tuple(f"{name},dry,pepper,2,5,1" for name in ("tank", "well", "hand"))
    return plain_case(folder, book={"yield_kg_per_m2/well/pepper": 2.0}, seasons=seasons, settings=settings)


def figures(tank: float, well: float, hand: float) -> dict[str, dict[str, dict[str, float]]]:
    """Return the NPVs of the three systems and their differences."""
    return {
        "systems": {"tank": {"npv": tank}, "well": {"npv": well}, "hand": {"npv": hand}},
        "against_baseline": {"tank": {"npv": tank - well}, "hand": {"npv": hand - well}},
        "against_today": {"tank": {"npv": tank - hand}, "well": {"npv": well - hand}},
    }


def told(folder: Path, tank: float, well: float, hand: float) -> dict[str, tuple[str, str]]:
    found = verdicts(three(folder), figures(tank, well, hand))
    return {one.system: (one.standing, one.sentence.replace(SPACE, " ")) for one in found}


def test_a_system_that_beats_the_baseline_and_loses_to_today_is_called_losing_first(tmp_path: Path) -> None:
    assert told(tmp_path, -100, -300, 50)["tank"] == (
        "losing",
        "Tank loses: worth XTS 150 less than present practice and worth XTS 200 more than the baseline; "
        "NPV XTS −100 alone.",
    )


def test_so_does_an_appraised_case(tmp_path: Path) -> None:
    """A dear well makes the tank look good; against cans it loses."""
    case = three(tmp_path)
    lines = "tank,,tank,capital,scheme,1,500,9,invented,D\nwell,,well,capital,scheme,1,900,9,invented,D\n"
    header = "system,season,item,group,basis,quantity,unit_price,life_years,source,grade\n"
    (case.path / "costs.csv").write_text(header + lines, encoding="utf-8")
    appraisal = appraise(open_case(case.path))
    assert appraisal.against_baseline["tank"]["npv"] > 0 > appraisal.against_today["tank"]["npv"]
    assert appraisal.verdicts[0].standing == "losing"
    assert appraisal.verdicts[0].sentence.startswith("Tank loses: ")


def test_a_system_that_beats_both_wins(tmp_path: Path) -> None:
    standing, sentence = told(tmp_path, 100, -300, 50)["tank"]
    assert standing == "winning"
    assert sentence.startswith("Tank wins: worth XTS 50 more than present practice and worth XTS 400 more")


def test_a_system_that_beats_today_and_loses_to_the_baseline_wins_and_says_so(tmp_path: Path) -> None:
    standing, sentence = told(tmp_path, 100, 300, 50)["tank"]
    assert standing == "winning"
    assert "worth XTS 200 less than the baseline" in sentence


def test_the_baseline_is_set_against_present_practice_alone(tmp_path: Path) -> None:
    assert told(tmp_path, 100, 300, 50)["well"] == (
        "winning",
        "Well wins: worth XTS 250 more than present practice; NPV XTS 300 alone.",
    )


def test_present_practice_is_the_reference(tmp_path: Path) -> None:
    standing, sentence = told(tmp_path, 100, 300, 50)["hand"]
    assert standing == "reference"
    assert sentence == "Hand: NPV XTS 50 alone; it is present practice, which the others are set against."


def test_worth_the_same_is_no_win(tmp_path: Path) -> None:
    standing, sentence = told(tmp_path, 50, 300, 50)["tank"]
    assert standing == "losing"
    assert "worth the same as present practice" in sentence


def test_an_unknown_worth_cannot_be_judged(tmp_path: Path) -> None:
    standing, sentence = told(tmp_path, math.nan, 300, 50)["tank"]
    assert standing == "unknown"
    assert sentence == (
        "Tank cannot be judged: its worth against present practice is not known and its worth against the baseline "
        "is not known; NPV not known alone."
    )


@pytest.mark.parametrize(
    ("npvs", "sentence"),
    [
        ((100, 300, 50), "Well is worth most: NPV XTS 300 over 4 years on 250 m²."),
        ((100, 300, 500), "Hand is worth most: NPV XTS 500 over 4 years on 250 m²."),
        (
            (-100, -300, -50),
            "No system earns back what it costs at the stated prices and wages; Hand loses least (NPV XTS −50) "
            "over 4 years on 250 m².",
        ),
        ((100, math.nan, 50), "Which system is worth most cannot be said: an assumption is unknown."),
        ((-100, 0, -50), "Well is worth most: NPV XTS 0 over 4 years on 250 m²."),
    ],
)
def test_the_headline_says_who_is_worth_most_or_that_none_earns_its_costs(
    tmp_path: Path, npvs: tuple[float, float, float], sentence: str
) -> None:
    assert headline(three(tmp_path), figures(*npvs), 250.0).replace(SPACE, " ") == sentence
