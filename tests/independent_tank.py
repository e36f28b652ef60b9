"""A second opinion on a wick-fed tank: its water and its bed's, one day after another, in plain Python.

Written from the method statement and from what the library says happens in a day; FAO-56 for the crop's part of it.
"""

MOST_DEW_L_PER_M2 = 0.8
OPEN_WATER_OVER_REFERENCE = 1.05  # FAO-56 Table 12, from memory
HALVINGS = 60


def follow_tank(unit, days, demand_mm, wick, *, visited=True):
    """Return what became of a season: evenings [l], uptake by day [mm], what was poured in less what is left [mm].

    The tank is full and the soil wet at planting.
    """
    bed, holds, taw = unit["m2_per_unit"], unit["tank_l_per_unit"], unit["available_mm"]
    stored, lacking = holds, 0.0
    poured, uptake, evenings = holds, [], []
    for place, (day, demand) in enumerate(zip(days, demand_mm, strict=True)):
        morning = stored
        stored = after_visits(unit, stored, place + 1) if visited else stored
        poured += stored - morning
        rain = day["rain"] * unit["rain_share"]
        caught = rain * unit["lid_m2_per_unit"] * unit["lid_rain_caught_share"]
        stored += caught + min(unit["dew_l_per_m2"], MOST_DEW_L_PER_M2) * unit["lid_m2_per_unit"]
        stored = min(stored, holds)
        stored -= min(evaporation_l(unit, day), stored)
        lacking -= rain - caught / bed
        lifted = min(lift_l(wick, stored / holds, lacking, demand, taw, bed), stored)
        stored -= lifted
        lacking -= lifted / bed
        use = uptake_mm(demand, lacking, taw, unit["depletion_share"])
        lacking = max(lacking + use, 0.0)
        uptake.append(use)
        evenings.append(stored)
    return {"applied_mm": (poured - stored) / bed, "uptake": uptake, "evenings": evenings}


def after_visits(unit, stored, day):
    """Return what is in the tank after those who come on a day, counted from 1: cans first, then who fills it up."""
    holds = unit["tank_l_per_unit"]
    comes = [row for row in unit["visits"] if day >= row["first_day"] and (day - row["first_day"]) % row["every"] == 0]
    if any(row["litres"] is None for row in comes):
        return holds
    return min(stored + sum(row["litres"] for row in comes), holds)


def steady(flow):
    """Return a wick that lifts the same [l/day] whatever the level and the soil."""
    return {"conductance": flow, "wet": 1.0, "dry": 1.0, "limit": 1.0, "full": 0.0, "empty": 0.0}


def lift_l(wick, filled, lacking, demand, taw, bed):
    """Return what a wick lifts in a day [l]: conductance x (suction at noon - lift), while the soil pulls more."""
    lift = wick["empty"] - (wick["empty"] - wick["full"]) * filled
    noon = min(max(lacking + demand / 2, 0.0), taw)
    suction = min(wick["limit"], wick["wet"] + (wick["dry"] - wick["wet"]) * noon / taw)
    resting = 0.0
    if lift > wick["wet"]:
        resting = (
            taw * min((lift - wick["wet"]) / (wick["dry"] - wick["wet"]), 1.0) if wick["dry"] > wick["wet"] else taw
        )
    return min(wick["conductance"] * max(suction - lift, 0.0), max(lacking + demand - resting, 0.0) * bed)


def evaporation_l(unit, day):
    """Return what the air can take from the tank under its lid in a day [l]."""
    open_water = OPEN_WATER_OVER_REFERENCE * day["reference"] * unit["demand_share"]
    return open_water * unit["tank_surface_m2_per_unit"] * unit["lidded_evaporation_share"]


def uptake_mm(demand, lacking, taw, tabulated_share):
    """Return what the crop takes: Ks of eq 84 with p of Table 22 moved by the day's demand, at most what is there."""
    free = min(max(tabulated_share + 0.04 * (5 - demand), 0.1), 0.8)
    slowed = min(max((taw - lacking) / ((1 - free) * taw), 0.0), 1.0)
    return min(slowed * demand, max(taw - lacking, 0.0))


def flow_from_days_to_empty(unit, days, demand_mm, get):
    """Return the wick's flow [l/day] that empties a full tank on the day on which it was found empty.

    The geometric middle of all that do; where even the fastest one empties it no earlier, the slowest.
    """
    first, count = int(get("days_to_empty_from_day")) - 1, int(get("days_to_empty"))
    seen = slice(first, first + count)

    def evenings(flow):
        followed = follow_tank(unit, days[seen], demand_mm[seen], steady(flow), visited=False)
        return [unit["tank_l_per_unit"], *followed["evenings"]]

    slowest, fastest = (least_flow(lambda flow, last=last: evenings(flow)[last] <= 0) for last in (-1, -2))
    return slowest if fastest is None else (slowest * fastest) ** 0.5


def least_flow(empties):
    """Return the least flow that does, of 1e-9 to 1e9 l a day; 0 where the air alone does, None where none does."""
    low, high = -9.0, 9.0
    if empties(10**low):
        return 0.0
    if not empties(10**high):
        return None
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if empties(10**middle) else (middle, high)
    return 10**high
