"""The programme of a case, from `[programme]` in `case.toml`: who is to be reached, how fast, at what cost."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

Bounds = tuple[float, float]
Reason = tuple[str, object, str, str]
KINDS: Mapping[str, type] = {
    "system": str,
    "households": int,
    "years": int,
    "adoption_ceiling_share": float,
    "midpoint_year": float,
    "years_from_10_to_90_percent": float,
    "drop_out_share_per_year": float,
    "cost_per_household": float,
    "fixed_cost_per_year": float,
    "follow_up_years": int,
    "follow_up_cost_per_household_year": float,
    "grant_per_household": float,
}
NEEDED = ("system", "households", "years", "adoption_ceiling_share", "midpoint_year", "years_from_10_to_90_percent")
MOST_MONEY = 1e12
BOUNDS: Mapping[str, Bounds] = {
    "households": (1, 10_000_000),
    "years": (1, 60),
    "adoption_ceiling_share": (0, 1),
    "midpoint_year": (-60, 120),
    "years_from_10_to_90_percent": (0.1, 120),
    "drop_out_share_per_year": (0, 0.99),
    "cost_per_household": (0, MOST_MONEY),
    "fixed_cost_per_year": (0, MOST_MONEY),
    "follow_up_years": (0, 60),
    "follow_up_cost_per_household_year": (0, MOST_MONEY),
    "grant_per_household": (0, MOST_MONEY),
}


@dataclass(frozen=True)
class Programme:
    """A programme that brings one system to many households; each has the area and the flows of the case.

    Attributes: system, its id; households reached at most [1]; years in which households join and fixed cost is paid
    [year]; adoption_ceiling_share, share of the households that adopt in the end [share]; midpoint_year, when half of
    these have [year]; years_from_10_to_90_percent of them [year]; drop_out_share_per_year, of those still in [share];
    cost_per_household, for training and the like when it joins [money]; fixed_cost_per_year [money/year];
    follow_up_years after joining [year] in which follow_up_cost_per_household_year is paid [money];
    grant_per_household when it joins [money], a transfer: paid out, and no cost to the economy.
    """

    system: str
    households: int
    years: int
    adoption_ceiling_share: float
    midpoint_year: float
    years_from_10_to_90_percent: float
    drop_out_share_per_year: float = 0.0
    cost_per_household: float = 0.0
    fixed_cost_per_year: float = 0.0
    follow_up_years: int = 0
    follow_up_cost_per_household_year: float = 0.0
    grant_per_household: float = 0.0


def programme_faults(raw: Mapping[str, Any], systems: tuple[str, ...], today: str) -> Iterator[Reason]:
    """Yield what is wrong with the values of `[programme]`: the key, what was found, the rule, the remedy.

    `systems` are the ids of the case, `today` the one that households use now.
    """
    for key, (low, high) in BOUNDS.items():
        if not low <= raw.get(key, low) <= high:
            yield key, raw[key], f"must lie between {low:g} and {high:g}", "correct the number or its unit"
    if raw["system"] not in systems:
        yield "system", raw["system"], "the case has no such system", f"write one of {', '.join(systems)}"
    if raw["system"] == today:
        rule = "a programme brings a system that is not present practice already"
        yield "system", raw["system"], rule, "name another system, or set today to present practice"
    if bool(raw.get("follow_up_years")) != bool(raw.get("follow_up_cost_per_household_year")):
        rule = "follow_up_years and follow_up_cost_per_household_year stand together"
        yield "follow_up_years", raw.get("follow_up_years"), rule, "write both, or neither"


def programme_of(raw: Mapping[str, Any]) -> Programme:
    """Return the programme that checked values of `[programme]` say."""
    convert = {str: str, int: int, float: float}
    return Programme(**{key: convert[kind](raw[key]) for key, kind in KINDS.items() if key in raw})
