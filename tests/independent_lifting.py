"""Second opinion, plain Python: carrying, the pump's energy and the area a well serves, from their formulas alone."""


def worked_out(name, get):
    """Return a value whose row in the book says `computed`; `get(name)` gives the inputs it stands on."""
    return {
        "carrying_h_per_m3": carrying_h_per_m3,
        "pump_energy_kwh_per_m3": pump_energy_kwh_per_m3,
        "area_per_well_m2": area_per_well_m2,
    }[name](get)


def carrying_h_per_m3(get):
    """Trips of a load each, there and back at a walking pace, with minutes to fill and pour."""
    walking_h = 2 * get("carry_distance_m") / 1000 / get("carry_pace_km_per_h")
    return (walking_h + get("carry_fill_pour_min") / 60) * 1000 / get("carry_load_l")


def pump_energy_kwh_per_m3(get):
    """Water power of the whole head over the two efficiencies; Hazen-Williams friction in the main, SI form."""
    flow = get("pump_flow_m3_per_h")
    friction = 10.67 * get("main_length_m") * (flow / 3600) ** 1.852
    friction /= get("main_hazen_williams_c") ** 1.852 * (get("main_diameter_mm") / 1000) ** 4.8704
    head = get("static_level_m") + flow / get("specific_capacity_m3_per_h_per_m") + get("rise_m")
    head += get("filter_and_fittings_m") + friction + get("operating_pressure_m")
    return 1000 * 9.81 * head / 3.6e6 / get("pump_efficiency_share") / get("motor_efficiency_share")


def area_per_well_m2(get):
    """What a well gives in a day beside its other uses, over what a planted square metre needs on a peak day."""
    left_m3 = get("well_yield_m3_per_h") * get("pumping_hours_per_day") - get("well_other_use_m3_per_day")
    return max(left_m3, 0) * 1000 / get("peak_requirement_l_per_m2_per_day")
