"""Copies of the demo that differ by view, size and programme, and the comparison with the second appraisal."""

import functools

import independent_programme
import independent_views
from independent import Folder
from independent_cases import (
    add_column,
    add_rows,
    as_it_is,
    assume,
    cost,
    differ,
    lifted_and_carried,
    priced_by_month_and_shared,
    set_cells,
    two_seasons_of_the_main_crop,
)
from plotworth.choose import programme, scale_ladder, views, who_works

AREAS_M2 = (37.0, 150.0, 400.0, 1000.0, 2600.0, 20000.0)
MOST_SHARING = 6
PROGRAMME_FIGURES = (
    "households",
    "npv",
    "gain_per_household",
    "paid_out_per_household",
    "paid_out_per_m3",
    "paid_out_per_t",
)
PROGRAMME_COURSES = (
    "joining",
    "taking_part",
    "household_flows",
    "costs",
    "paid_out",
    "less_water_m3",
    "more_kg",
)


def second_opinion(path):
    """Return every figure of the second appraisal by a name that says what it is."""
    folder = Folder(path)
    folder.book.find = functools.cache(folder.book.find)  # the same rows are asked for at every size and in every view
    found = flat("view", independent_views.three_views(folder)) | flat("wage", independent_views.three_wages(folder))
    for (area, system), figures in independent_views.sizes(folder, AREAS_M2).items():
        found |= {f"size/{area:g}/{system}/{name}": value for name, value in figures.items()}
    for (households, system), figures in independent_views.shared_by(folder, MOST_SHARING).items():
        found |= {f"sharing/{households}/{system}/{n}": v for n, v in figures.items() if n != "wells"}
    for system, hours in independent_views.planned_hours(folder).items():
        found |= {f"who/{system}/{who}": value for who, value in hours.items()}
    found |= {f"who/recorded/{who}": value for who, value in independent_views.recorded_hours(path).items()}
    return found | of_programme(independent_programme.programme(folder))


def of_programme(course):
    """Return the figures and yearly sums of a programme by name."""
    if course is None:
        return {}
    found = {f"programme/{name}": course[name] for name in PROGRAMME_FIGURES}
    for name in PROGRAMME_COURSES:
        found |= {f"programme/{name}/{time}": float(value) for time, value in enumerate(course[name])}
    return found


def flat(kind, seen):
    """Return what is seen in several views by name."""
    return {
        f"{kind}/{view}/{part}/{system}/{name}": value
        for view, parts in seen.items()
        for part, systems in parts.items()
        for system, figures in systems.items()
        for name, value in figures.items()
    }


def library_opinion(layout):
    """Return the library's figures by the same names."""
    values = layout.values
    found = flat("view", {seen.view: seen.figures for seen in views.three_views(layout, values)})
    found |= flat("wage", {seen.view: seen.figures for seen in views.three_wages(layout, values)})
    for row in scale_ladder.size_rows(layout, values, AREAS_M2):
        names = ("households", "npv", "gain_on_today", "investment", "wells", "is_best")
        found |= {f"size/{row.area_m2:g}/{row.system}/{name}": float(getattr(row, name)) for name in names}
    for row in scale_ladder.sharing_rows(layout, values, most=MOST_SHARING):
        names = ("npv", "investment", "is_served")
        found |= {f"sharing/{row.households}/{row.system}/{name}": float(getattr(row, name)) for name in names}
    for system, hours in who_works.planned_hours(layout, values).items():
        found |= {f"who/{system}/{who}": value for who, value in hours.items()}
    found |= {f"who/recorded/{who}": value for who, value in who_works.recorded_hours(layout).items()}
    years = programme.programme_years(layout, values)
    names = (*PROGRAMME_FIGURES, *PROGRAMME_COURSES)
    return found | of_programme(None if years is None else {name: getattr(years, name) for name in names})


def view_mismatches(second, layout):
    """Return a line for every figure that only one gives, or in which library and second appraisal differ."""
    library = library_opinion(layout)
    found = [f"only one gives {name}" for name in sorted(second.keys() ^ library.keys())]
    common = second.keys() & library.keys()
    return found + [f"{n}: {second[n]}, library {library[n]}" for n in sorted(common) if differ(second[n], library[n])]


def to_the_economy(case):
    """Factors on lines, wages and the price, a value of water, another rate; food eaten at home."""
    add_column(case, "costs", "economic_factor")
    set_cells(case, "costs", "economic_factor", "0.8", group="capital")
    set_cells(case, "costs", "economic_factor", "0", item="siting and permit")
    set_cells(case, "costs", "economic_factor", "1.3", group="seasonal")
    assume(case, "economic_family_wage_factor", "0.6", "1")
    assume(case, "economic_hired_wage_factor", "0.85", "1")
    assume(case, "economic_price_factor", "1.15", "1", crop="sweet pepper")
    assume(case, "economic_price_factor", "0.7", "1", system="drip", crop="zucchini")
    assume(case, "water_scarcity_value_per_m3", "0.23", "XTS/m3")
    assume(case, "economic_discount_rate", "0.05", "share/year")
    assume(case, "eaten_share", "0.2", "share", crop="zucchini")
    assume(case, "delivery_share", "0.75", "share", system="drip")
    assume(case, "working_capital_share", "0.4", "share")
    add_rows(case, "costs", cost("levelling", "capital", "hour", "30", "", life_years="3"))


def eaten_and_out_of_season(case):
    """A third of the harvest is eaten, and an hour out of season earns little."""
    assume(case, "eaten_share", "0.35", "share")
    assume(case, "off_season_wage_share", "0.3", "share")
    assume(case, "working_capital_share", "0.5", "share")
    assume(case, "carrying_family_share", "0.6", "share")


def shared_by_all_in_steps(case):
    """Boreholes in steps that five households share in every system, with a pump of small steps beside."""
    add_column(case, "costs", "shared")
    set_cells(case, "costs", "shared", "yes", system="drip", group="capital")
    assume(case, "households_sharing", "5", "1")
    shed = {"life_years": "6", "step_m2": "900", "shared": "yes"}
    add_rows(case, "costs", cost("shed", "capital", "scheme", "1", "90", **shed))


def wells_shared_under_drip(case):
    """Wells by the area each serves, shared by four households under drip alone."""
    lifted_and_carried(case)
    add_column(case, "costs", "shared")
    set_cells(case, "costs", "shared", "yes", item="second borehole")
    set_cells(case, "costs", "shared", "yes", item="pump upkeep")
    assume(case, "households_sharing", "4", "1", system="drip")
    assume(case, "other_use_share", "0.1", "share", system="drip")


def who_does_it(case):
    """Tasks and records that say who."""
    for table in ("labour_plan", "labour"):
        add_column(case, table, "who")
    set_cells(case, "labour_plan", "who", "women", task="planting")
    set_cells(case, "labour_plan", "who", "men", task="land preparation")
    add_rows(case, "costs", cost("guarding", "seasonal", "hour", "14", "", season="warm dry"))
    set_cells(case, "labour", "who", "women", task="planting")


def with_programme(case, **stated):
    """Add a programme for the tank to `case.toml`."""
    told = {"system": '"reservoir"', "households": 800, "years": 6, "adoption_ceiling_share": 0.45}
    told |= {"midpoint_year": 2.7, "years_from_10_to_90_percent": 4.0} | stated
    path = case / "case.toml"
    text = path.read_text(encoding="utf-8")
    rows = "".join(f"{name} = {value}\n" for name, value in told.items())
    path.write_text(f"{text}\n[programme]\n{rows}", encoding="utf-8")


def brought_to_many(case):
    """A programme without any of what may be left out."""
    with_programme(case)


def brought_with_drop_outs_and_follow_up(case):
    """A programme with everything, in a case whose economic prices differ and whose growers learn."""
    to_the_economy(case)
    two_seasons_of_the_main_crop(case)
    with_programme(
        case,
        drop_out_share_per_year=0.15,
        cost_per_household=25.0,
        fixed_cost_per_year=900.0,
        follow_up_years=3,
        follow_up_cost_per_household_year=7.0,
        grant_per_household=60.0,
    )


def brought_for_longer_than_a_tank_lasts(case):
    """A programme of more years than the horizon, followed up for longer than that, with drip for today's cans."""
    shared_by_all_in_steps(case)
    with_programme(
        case,
        system='"drip"',
        years=14,
        midpoint_year=9.0,
        follow_up_years=12,
        follow_up_cost_per_household_year=3.5,
        drop_out_share_per_year=0.4,
        grant_per_household=10.0,
    )


VIEW_VARIANTS = (
    as_it_is,
    to_the_economy,
    eaten_and_out_of_season,
    shared_by_all_in_steps,
    wells_shared_under_drip,
    priced_by_month_and_shared,
    who_does_it,
    brought_to_many,
    brought_with_drop_outs_and_follow_up,
    brought_for_longer_than_a_tank_lasts,
)
