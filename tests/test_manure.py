"""Raw manure and compost: the intervals of the rule at their edges, gaps, and the rule as data."""

from datetime import date

import pandas as pd
import pytest

from field_tables import bare, picking, plot, records
from plotworth.supply.manure import (
    COMPOSTING_RULES,
    INTERVAL_RULE,
    KEPT,
    NO_PICKING,
    TOO_SHORT,
    last_day_for_raw_manure,
    manure_intervals,
    names_that_say_manure,
    needed_interval_days,
)

HEAT_DEG_F = (131, 170)  # 7 CFR 205.203(c)(2)


def dressing(name: str, day: str, item: str = "cow dung", **more: object) -> dict[str, object]:
    return {"plot": name, "date": day, "item": item, "quantity": 10.0, "unit": "kg", **more}


def judged(inputs: list, harvests: list, touches: dict[str, bool], *plots: dict[str, object]) -> pd.DataFrame:
    tables = records("plots", *(plots or (plot("P1"),))), records("inputs", *inputs), records("harvests", *harvests)
    return manure_intervals(*tables, ["cow dung"], touches)


@pytest.mark.published
def test_the_intervals_are_those_of_the_rule() -> None:
    """7 CFR 205.203(c)(1): 120 days where the edible part touches the soil, 90 otherwise."""
    assert [needed_interval_days(known) for known in (True, False, None)] == [120, 90, 120]
    assert "120 days" in INTERVAL_RULE
    assert "90 days" in INTERVAL_RULE


@pytest.mark.published
def test_the_composting_rules_are_those_of_the_rule() -> None:
    """7 CFR 205.203(c)(2): 131-170 degrees F, 3 days in a vessel or aerated pile, 15 in a windrow turned five times."""
    for rule in COMPOSTING_RULES:
        assert [rule.lowest_deg_c, rule.highest_deg_c] == [round((f - 32) / 1.8) for f in HEAT_DEG_F]
    assert [(rule.days, rule.turnings) for rule in COMPOSTING_RULES] == [(3, 0), (15, 5)]
    assert "15 days, turned at least 5 times" in COMPOSTING_RULES[1].text()
    assert "turned" not in COMPOSTING_RULES[0].text()


@pytest.mark.parametrize(
    ("applied", "touches", "verdict"),
    [
        ("2026-02-01", False, TOO_SHORT),  # 89 days to 1 May 2026
        ("2026-01-31", False, KEPT),  # 90
        ("2026-01-02", True, TOO_SHORT),  # 119
        ("2026-01-01", True, KEPT),  # 120
    ],
)
def test_the_day_of_the_limit_itself_keeps_the_rule(applied: str, touches: bool, verdict: str) -> None:
    table = judged([dressing("P1", applied)], [picking("P1", 5)], {"pepper": touches})
    assert table["verdict"].tolist() == [verdict]


def test_a_crop_whose_contact_is_unknown_is_held_to_the_longer_interval_and_says_so() -> None:
    table = judged([dressing("P1", "2026-01-20")], [picking("P1", 5)], {})
    assert table["needed_days"].tolist() == [120]
    assert table["contact_known"].tolist() == [False]
    assert table["verdict"].tolist() == [TOO_SHORT]


def test_a_dressing_between_two_pickings_counts_to_the_second() -> None:
    table = judged([dressing("P1", "2026-05-05")], [picking("P1", 5, day=1), picking("P1", 5, day=20)], {})
    assert table["interval_days"].tolist() == [15]


def test_a_dressing_on_the_day_of_a_picking_leaves_no_day() -> None:
    table = judged([dressing("P1", "2026-05-01")], [picking("P1", 5)], {"pepper": False})
    assert table["interval_days"].tolist() == [0]


def test_a_visit_that_picked_nothing_is_no_picking_but_an_uncounted_one_is() -> None:
    harvests = [picking("P1", 0, 0.0, day=1), picking("P1", day=11), picking("P1", 9, day=21)]
    table = judged([dressing("P1", "2026-04-21")], harvests, {})
    assert table["interval_days"].tolist() == [20]


def test_a_visit_that_found_only_culls_is_a_picking() -> None:
    harvests = [picking("P1", 0, cull_fruits=3, day=1), picking("P1", 9, day=21)]
    assert judged([dressing("P1", "2026-04-21")], harvests, {})["interval_days"].tolist() == [10]


def test_without_a_later_picking_there_is_no_interval_and_no_blame() -> None:
    table = judged([dressing("P1", "2026-06-01")], [picking("P1", 5)], {})
    assert table["verdict"].tolist() == [NO_PICKING]
    assert table["interval_days"].isna().all()


def test_only_raw_items_of_known_plots_that_were_given_at_all_are_judged_each_day_once() -> None:
    inputs = [
        dressing("P1", "2026-01-20"),
        dressing("P1", "2026-01-20"),
        dressing("P1", "2026-01-20", "compost"),
        dressing("P1", "2026-01-25", quantity=0.0),
        dressing("P9", "2026-01-20"),
        dressing("P2", "2025-12-01"),
    ]
    table = judged(inputs, [picking("P1", 5), picking("P2", 5)], {"pepper": True}, plot("P1"), plot("P2", "hand"))
    assert table[["plot", "treatment", "verdict"]].to_numpy().tolist() == [
        ["P1", "drip", TOO_SHORT],
        ["P2", "hand", KEPT],
    ]


def test_empty_records_give_an_empty_table_with_its_columns() -> None:
    table = manure_intervals(records("plots", plot("P1")), bare("inputs"), bare("harvests"), ["cow dung"], {})
    assert len(table) == 0
    assert {"verdict", "interval_days", "needed_days"} <= set(table.columns)


def test_the_last_day_for_raw_manure_counts_back_from_the_first_picking() -> None:
    assert last_day_for_raw_manure(date(2026, 5, 1), True) == date(2026, 1, 1)
    assert last_day_for_raw_manure(date(2026, 5, 1), False) == date(2026, 1, 31)


def test_names_that_say_manure_are_asked_about_and_compost_is_not() -> None:
    items = ["Chicken manure", "urea", "composted manure", "cow DUNG", "Chicken manure", "compost"]
    assert names_that_say_manure(items) == ("Chicken manure", "cow DUNG")
