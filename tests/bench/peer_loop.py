"""Peer of the benchmark: what a practitioner would write, a plain loop over draws with numpy-financial.

Floats and dictionaries, one draw after the other; nothing but the structure's tables (which lines, which seasons,
which addresses) comes from the library. For cases like the demo: no view, no prices by month, wells not computed.
"""

import itertools
import math

import numpy as np
import numpy_financial as npf

NAN = math.nan
MAIN = ("yield_kg_per_m2", "water_applied_l_per_m2", "water_l_per_m2", "irrigation_productivity_kg_per_m3")
MAIN += ("water_l_per_kg", "farm_gate_price_per_kg", "grown_kg", "marketable_kg", "lost_kg", "eaten_kg", "sold_kg")
NOT_SUBTRACTED = ("irrigation_productivity_kg_per_m3", "water_l_per_kg", "farm_gate_price_per_kg", "wells")
NOT_SUBTRACTED += ("reservoir_units", *(f"gross_margin_per_{what}" for what in ("m3", "day", "unit", "100")))


def quotient(above: float, below: float) -> float:
    found = above / below if below else NAN
    return found if math.isfinite(found) else NAN


def steps(area: float, one: float) -> float:
    needed = area / one - 1e-9
    return needed if math.isnan(needed) else float(max(math.ceil(needed), 1))


def computed(structure, p: dict) -> None:
    for item in structure.computed:
        a = {name: p[address] for name, address in item.inputs.items()}
        if item.name == "carrying_h_per_m3":
            minutes = 2 * a["carry_distance_m"] / 1000 / a["carry_pace_km_per_h"] * 60 + a["carry_fill_pour_min"]
            p[item.address] = 1000 / a["carry_load_l"] * minutes / 60
        elif item.name == "pump_energy_kwh_per_m3":
            flow = a["pump_flow_m3_per_h"]
            head = a["static_level_m"] + flow / a["specific_capacity_m3_per_h_per_m"] + a["rise_m"]
            carried = (flow / 3600 / a["main_hazen_williams_c"]) ** 1.852
            friction = 10.67 * carried / (a["main_diameter_mm"] / 1000) ** 4.8704 * a["main_length_m"]
            head += a["filter_and_fittings_m"] + friction + a["operating_pressure_m"]
            work = 1000 * 9.81 / 3.6e6 * head
            p[item.address] = work / (a["pump_efficiency_share"] * a["motor_efficiency_share"])


def season(plan, p: dict) -> dict:
    a = {name: p[address] for name, address in plan.addresses.items()}
    planted = p["area_m2"] * a["planted_share"] * plan.share_of_area
    grown = a["yield_kg_per_m2"] if "yield_kg_per_m2" in a else a["fruits_per_m2"] * a["fruit_mass_g"] / 1000
    drawn = a["water_applied_l_per_m2"] / a["delivery_share"]
    marketable = grown * a["trial_to_farm_share"] * a["water_limited_share"] * a["salt_limited_share"] * planted
    lost = marketable * a["postharvest_loss_share"]
    eaten = (marketable - lost) * a["eaten_share"]
    sold = marketable - lost - eaten
    grade = 1 - a["second_grade_share"] * (1 - a["second_grade_price_share"])
    fall = max(1 - a["price_fall_share_per_t"] * sold / 1000, 0)
    price = a["market_price_per_kg"] * a["price_factor"] * grade * fall * (1 - a["commission_share"])
    price -= a["transport_cost_per_kg"] + a["packing_cost_per_kg"]
    figures = (grown, a["water_applied_l_per_m2"], drawn)
    figures += (quotient(1000 * grown, a["water_applied_l_per_m2"]), quotient(drawn, grown), price)
    figures += (marketable / (1 - a["cull_share"]), marketable, lost, eaten, sold)
    return {
        "figures": dict(zip(MAIN, figures, strict=True)),
        "planted": planted,
        "plants": a["plants_per_m2"] * planted,
        "water": drawn * planted / 1000,
        "carrying": a["carrying_h_per_m3"] * drawn * planted / 1000,
        "sold": sold,
        "marketable": marketable,
        "sales": price * sold,
        "eaten_value": price * eaten,
        "crop": plan.crop,
        "share": plan.share_of_area,
    }


def count(line, quantity: float, s: dict, k: int | None) -> float:
    area = s["area"]
    if line.basis in ("scheme", "dry_hole"):
        number = quantity * (s["dry_holes"] if line.basis == "dry_hole" else 1)
        return number if line.step_m2 is None else number * steps(area, line.step_m2)
    if line.basis == "m2":
        return quantity * area * (1 if k is None else s["seasons"][k]["share"])
    if line.basis == "hour":
        return quantity
    if line.basis in ("unit", "well"):
        return quantity * (s["units"] if line.basis == "unit" else s["wells"])
    parts = [one[{"plant": "plants", "m3": "water", "kg_sold": "sold"}[line.basis]] for one in s["seasons"]]
    return quantity * (parts[k] if k is not None else max(parts) if line.basis == "plant" else sum(parts))


def bill(plan, p: dict, s: dict, horizon: int) -> None:
    numbers = range(len(s["seasons"]))
    s |= {"capital": {}, "residual": 0.0, "yearly": 0.0, "hours": 0.0}
    s |= {"steady": [0.0 for _ in numbers], "harvest": [0.0 for _ in numbers]}
    for line in plan.costs:
        price = p[line.price_address] * (s["own_share"] if line.is_shared else 1)
        quantity, life = p[line.quantity_address], line.life_years
        if line.group == "capital" and life is not None:
            amount = count(line, quantity, s, None) * price * s["capital_factor"]
            s["capital"][life] = s["capital"].get(life, 0.0) + amount
            left = max(range(0, horizon, life)[-1] + life - horizon, 0) / life
            s["residual"] += amount * left * line.residual_share
        elif line.basis == "kg_sold" or line.group == "seasonal":
            for k in line.seasons:
                s["harvest" if line.basis == "kg_sold" else "steady"][k] += count(line, quantity, s, k) * price
        else:
            s["yearly"] += count(line, quantity, s, None) * price
        if line.basis == "hour" and line.group != "capital":
            s["hours"] += quantity * (len(line.seasons) if line.group == "seasonal" else 1)


def hours(plan, p: dict, s: dict, a: dict) -> None:
    family, hired = 0.0, s["hours"]
    for row in plan.labour:
        for k in row.seasons:
            worked = p[row.hours_address] * (s["seasons"][k]["planted"] if row.is_per_m2 else 1)
            own = worked * p[row.family_share_address]
            cost = own * a["family_wage_per_hour"] + (worked - own) * a["hired_wage_per_hour"]
            s["harvest" if row.moves_with_harvest else "steady"][k] += cost
            family, hired = family + own, hired + worked - own
    for k, one in enumerate(s["seasons"]):
        own = one["carrying"] * a["carrying_family_share"]
        others = one["carrying"] - own
        s["steady"][k] += own * a["family_wage_per_hour"] + others * a["hired_wage_per_hour"]
        family, hired = family + own, hired + others
    s |= {"family": family, "hired": hired}


def system(plan, p: dict, horizon: int) -> dict:
    a = {name: p[address] for name, address in plan.addresses.items()}
    planted = p["area_m2"] * a["planted_share"]
    s = {"area": p["area_m2"], "seasons": [season(one, p) for one in plan.seasons]}
    s |= {"units": planted / a["m2_per_unit"], "wells": steps(planted, a["area_per_well_m2"])}
    s["dry_holes"] = a["dry_hole_chance"] / (1 - a["dry_hole_chance"])
    s["own_share"] = (1 - a["other_use_share"]) / a["households_sharing"]
    s["capital_factor"] = (1 + a["physical_contingency_share"]) * (1 + a["price_contingency_share"])
    bill(plan, p, s, horizon)
    hours(plan, p, s, a)
    s["kwh"] = [one["water"] * a["pump_energy_kwh_per_m3"] for one in s["seasons"]]
    s["energy"] = [kwh * a["energy_price_per_kwh"] for kwh in s["kwh"]]
    s["steady"] = [cost + energy for cost, energy in zip(s["steady"], s["energy"], strict=True)]
    s["running"] = s["yearly"] + sum(s["steady"])
    s["working"] = a["working_capital_share"] * s["running"]
    s["a"], s["weights"] = a, []
    for one in plan.seasons:
        weights = [1 - p[one.addresses["failed_season_chance"]]] * horizon
        weights[0] *= p[one.addresses["first_year_share"]]
        weights[1] *= p[one.addresses["second_year_share"]]
        s["weights"].append(weights)
    return s


def flows(s: dict, horizon: int) -> None:
    """Lay out costs, benefits and flows by year."""
    costs, benefits = [0.0] * (horizon + 1), [0.0] * (horizon + 1)
    for life, amount in s["capital"].items():
        for year in range(0, horizon, life):
            costs[year] += amount
    costs[0] += s["working"]
    benefits[horizon] += s["residual"] + s["working"]
    s["kilograms"] = [[0.0, *(one["marketable"] * w for w in ws)] for one, ws in zip_seasons(s)]
    s["harvest_paid"] = [[0.0, *(cost * w for w in ws)] for cost, ws in zip(s["harvest"], s["weights"], strict=True)]
    s["earned"] = [[0.0, *((one["sales"] + one["eaten_value"]) * w for w in ws)] for one, ws in zip_seasons(s)]
    s["capital_paid"] = list(costs)
    for year in range(1, horizon + 1):
        costs[year] += s["running"] + sum(paid[year] for paid in s["harvest_paid"])
        benefits[year] += sum(earned[year] for earned in s["earned"])
    s["costs"], s["benefits"] = costs, benefits
    s["flows"] = [b - c for b, c in zip(benefits, costs, strict=True)]


def zip_seasons(s: dict):
    return zip(s["seasons"], s["weights"], strict=True)


def physical(s: dict, main_crop: str) -> dict:
    a, figures = s["a"], next(one["figures"] for one in s["seasons"] if one["crop"] == main_crop)
    total = {name: sum(one[name] for one in s["seasons"]) for name in ("sales", "eaten_value", "water")}
    running, investment = s["running"] + sum(s["harvest"]), sum(s["capital"].values())
    margin = total["sales"] + total["eaten_value"] - running
    return {
        **figures,
        "water_m3": total["water"],
        "sales": total["sales"],
        "eaten_value": total["eaten_value"],
        "family_hours": s["family"],
        "hired_hours": s["hired"],
        "labour_cost": s["family"] * a["family_wage_per_hour"] + s["hired"] * a["hired_wage_per_hour"],
        "energy_kwh": sum(s["kwh"]),
        "energy_cost": sum(s["energy"]),
        "running_cost": running,
        "gross_margin_per_m2": margin / s["area"],
        "gross_margin_per_m3": quotient(margin, total["water"]),
        "gross_margin_per_day": quotient(margin * a["hours_per_day"], s["family"] + s["hired"]),
        "gross_margin_per_unit": quotient(margin, s["units"]),
        "gross_margin_per_100": quotient(100 * margin, investment + s["working"]),
        "investment": investment,
        "working_capital": s["working"],
        "reservoir_units": s["units"],
        "wells": s["wells"],
    }


def payback(stream: list) -> float:
    added, last, at_last = 0.0, -1, 0.0
    zero = -1e-13 * sum(abs(one) for one in stream)
    for year, one in enumerate(stream):
        added += one
        if added < zero:
            last, at_last = year, added
    if stream[0] >= 0 or added < zero:
        return NAN
    return last + min(1.0, -at_last / stream[last + 1])


def rate_of_return(stream: list) -> float:
    """numpy-financial's rate where it is the only one: several changes of sign are looked at through all roots."""
    signs = [one > 0 for one in stream if one]
    changes = sum(a != b for a, b in itertools.pairwise(signs))
    if not changes:
        return NAN
    if changes > 1:
        roots = np.roots(stream[::-1])
        real = np.sort(roots[(np.abs(roots.imag) < 1e-9) & (roots.real > 0)].real)
        if len(real) == 0 or (len(real) > 1 and np.diff(np.log(real)).max() > 1e-6):
            return NAN
    return npf.irr(stream)


def worth(benefits: list, costs: list, stream: list, a: dict, *, is_difference: bool) -> dict:
    rate, horizon = a["discount_rate"], len(stream) - 1
    came, went = npf.npv(rate, benefits), npf.npv(rate, costs)
    npv = came - went
    needs_less = is_difference and stream[0] > 0
    return {
        "present_value_benefits": came,
        "present_value_costs": went,
        "npv": npv,
        "irr": rate_of_return(stream),
        "mirr": npf.mirr(stream, a["finance_rate"], a["reinvestment_rate"]),
        "benefit_cost_ratio": NAN if needs_less or went <= 0 else came / went,
        "simple_payback_years": payback(stream),
        "discounted_payback_years": payback([one / (1 + rate) ** year for year, one in enumerate(stream)]),
        "equivalent_annual_value": -npf.pmt(rate, horizon, npv),
    }


def alone(s: dict, main_crop: str, a: dict) -> dict:
    own = worth(s["benefits"], s["costs"], s["flows"], a, is_difference=False)
    rate, horizon = a["discount_rate"], len(s["flows"]) - 1
    year = npf.npv(rate, [0.0] + [1.0] * horizon)
    of_crop = [k for k, one in enumerate(s["seasons"]) if one["crop"] == main_crop]
    earned = [npf.npv(rate, one) for one in s["earned"]]
    costs = sum(s["steady"][k] * year + npf.npv(rate, s["harvest_paid"][k]) for k in of_crop)
    released = (s["residual"] + s["working"]) / (1 + rate) ** horizon
    shared = npf.npv(rate, s["capital_paid"]) + s["yearly"] * year - released
    kilograms = sum(npf.npv(rate, s["kilograms"][k]) for k in of_crop)
    costs += sum(earned[k] for k in of_crop) / sum(earned) * shared
    own["cost_per_kg"] = costs / kilograms if kilograms > 0 else NAN
    family = own["equivalent_annual_value"] + s["family"] * s["a"]["family_wage_per_hour"]
    own["return_per_family_day"] = family * s["a"]["hours_per_day"] / s["family"] if s["family"] > 0 else NAN
    return own


def difference(s: dict, other: dict, a: dict) -> dict:
    benefits, costs, stream = (
        [x - y for x, y in zip(s[name], other[name], strict=True)] for name in ("benefits", "costs", "flows")
    )
    shown = {name: x - other["figures"][name] for name, x in s["figures"].items() if name not in NOT_SUBTRACTED}
    less = 1 - quotient(s["figures"]["water_l_per_m2"], other["figures"]["water_l_per_m2"])
    return {**shown, "less_water_share": less, **worth(benefits, costs, stream, a, is_difference=True)}


def one(structure, values: dict) -> dict:
    """Return every outcome of one draw by path."""
    p, horizon = dict(values), structure.horizon_years
    computed(structure, p)
    a = {name: p[address] for name, address in structure.systems[0].addresses.items()}
    systems = {plan.id: system(plan, p, horizon) for plan in structure.systems}
    found = {}
    for name, s in systems.items():
        flows(s, horizon)
        s["figures"] = physical(s, structure.main_crop)
        found[f"systems/{name}"] = {**s["figures"], **alone(s, structure.main_crop, a)}
    for part, reference in (("against_baseline", structure.baseline), ("against_today", structure.today)):
        for name, s in systems.items():
            if name != reference:
                found[f"{part}/{name}"] = difference(s, systems[reference], a)
    for plan in structure.systems:
        for each, s in zip(plan.seasons, systems[plan.id]["seasons"], strict=True):
            found[f"seasons/{plan.id}/{each.season}"] = s["figures"]
    return {f"{key}/{name}": x for key, figures in found.items() for name, x in figures.items()}


def run(structure, values: dict) -> dict:
    """Return every outcome by path, an array of draws. `values`: arrays of draws by address."""
    addresses, columns = list(values), [array.tolist() for array in values.values()]
    rows = [one(structure, dict(zip(addresses, draw, strict=True))) for draw in zip(*columns, strict=True)]
    return {path: np.array([row[path] for row in rows]) for path in rows[0]}
