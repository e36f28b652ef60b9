"""Copies of the demo case with other numbers in them, and the comparison of the library with the second appraisal."""

import csv
import functools
import math
import re
import shutil
import tempfile
from pathlib import Path

from plotworth.case.folder import open_case
from plotworth.choose import evaluate, inputs

DEMO = Path(__file__).parents[1] / "data_demo"
TOLERANCE = 1e-9
PARTS = ("systems", "against_baseline", "against_today")


def library_figures(path):
    """Return the library's outcomes in the shape of `appraise`, every one a float."""
    layout = inputs.lay_out(open_case(path))
    shocks = inputs.expected_shocks(layout.structure, layout.values)
    outcome = evaluate.evaluate(layout.structure, layout.values, shocks)
    return {part: {name: floats(own) for name, own in getattr(outcome, part).items()} for part in PARTS}


def floats(figures):
    """Return arrays of one number as numbers."""
    return {name: array.item() for name, array in figures.items()}


def mismatches(second, path):
    """Return a line for every outcome in which the library and the second appraisal of a case differ."""
    found = []
    for part, systems in library_figures(path).items():
        for system, library in systems.items():
            own = second[part][system]
            if own.keys() != library.keys():
                found.append(f"{part}/{system}: only one gives {sorted(own.keys() ^ library.keys())}")
            different = [name for name in own.keys() & library.keys() if differ(own[name], library[name])]
            found += [f"{part}/{system}/{name}: {own[name]}, library {library[name]}" for name in different]
    return found


def differ(second, library):
    """Say whether a number differs from the library's by more than rounding; None goes with NaN."""
    if second is None or math.isnan(library):
        return (second is None) != math.isnan(library)
    return not math.isclose(second, library, rel_tol=TOLERANCE, abs_tol=TOLERANCE)


def copy_demo(folder):
    """Return the path of a copy of the demo in a folder."""
    return Path(shutil.copytree(DEMO, Path(folder) / "case"))


VIEW_ROWS = ("off_season_wage_share", "water_scarcity_value_per_m3")
VIEW_COLUMNS = {"costs": ("economic_factor", "shared"), "labour_plan": ("who",)}


def copy_plain_demo(folder):
    """Return the path of a copy of the demo that states no economic price, off-season wage, shared line or worker."""
    case = copy_demo(folder)
    is_plain = lambda row: not row["name"].startswith("economic_") and row["name"] not in VIEW_ROWS  # noqa: E731
    rewrite(case, "assumptions", lambda rows: [row for row in rows if is_plain(row)])
    for table, columns in VIEW_COLUMNS.items():
        rewrite(case, table, lambda rows, blank=columns: [{**row, **dict.fromkeys(blank, "")} for row in rows])
    return case


@functools.cache
def plain_demo():
    """Return the path of such a copy, made once and to be left as it is."""
    return copy_plain_demo(tempfile.mkdtemp())


def set_setting(case, name, text):
    """Write one setting of a copied case anew."""
    path = case / "case.toml"
    new, count = re.subn(rf"(?m)^{name} = .*$", f"{name} = {text}", path.read_text(encoding="utf-8"))
    assert count == 1, name
    path.write_text(new, encoding="utf-8")


def rewrite(case, table, change):
    """Write a table of a copied case anew: its rows as `change` returns them, columns as they were."""
    path = case / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        columns, rows = reader.fieldnames, list(reader)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(change(rows))


def set_cells(case, table, column, text, **where):
    """Write a cell of every row of a copied case in which the columns `where` read as told; there must be one."""

    def change(rows):
        fitting = [row for row in rows if all(row[key] == word for key, word in where.items())]
        assert fitting, where
        for row in fitting:
            row[column] = text
        return rows

    rewrite(case, table, change)


def add_rows(case, table, *new):
    """Add rows to a table of a copied case."""
    rewrite(case, table, lambda rows: [*rows, *new])


def assume(case, name, value, unit, **keys):
    """Add a row to the book of a copied case, or write its value anew where it has the row."""
    keys = {key: keys.get(key, "") for key in ("system", "crop", "season")}

    def change(rows):
        others = [row for row in rows if (row["name"], *(row[k] for k in keys)) != (name, *keys.values())]
        return [*others, {"name": name, **keys, "value": value, "unit": unit, "source": "invented for the test"}]

    rewrite(case, "assumptions", change)


def cost(item, group, basis, quantity, unit_price, **other):
    """Return a cost line."""
    line = {"item": item, "group": group, "basis": basis, "quantity": quantity, "unit_price": unit_price}
    return line | {"source": "invented for the test", "grade": "D"} | other


def as_it_is(case):
    """The demo as it is written."""


def small_and_free_of_interest(case):
    """A garden of 90 m2 at a discount rate of 0."""
    set_setting(case, "area_m2", "90")
    assume(case, "discount_rate", "0", "share/year")


def large_and_short(case):
    """3,000 m2 over seven years: capacity steps count, and lives end elsewhere; other rates for MIRR."""
    set_setting(case, "area_m2", "3000")
    set_setting(case, "horizon_years", "7")
    assume(case, "finance_rate", "0.2", "share/year")
    assume(case, "reinvestment_rate", "0.03", "share/year")
    set_cells(case, "costs", "residual_share", "0.5", item="drip lines")
    set_cells(case, "costs", "residual_share", "0.3", item="tank with lid")


def sold_at_a_loss_in_one_year(case):
    """A market price that does not pay for the way there, over a single year."""
    set_setting(case, "years", "1")  # a loan ends within the horizon
    set_setting(case, "horizon_years", "1")
    assume(case, "market_price_per_kg", "0.02", "XTS/kg", crop="sweet pepper")


def worth_having(case):
    """A dear market and cheap hours, so that the systems pay back; the reference lines change places."""
    set_setting(case, "today", '"drip"')
    set_setting(case, "baseline", '"hand"')
    assume(case, "market_price_per_kg", "4.5", "XTS/kg", crop="sweet pepper")
    assume(case, "market_price_per_kg", "3.1", "XTS/kg", crop="zucchini")
    assume(case, "family_wage_per_hour", "0.1", "XTS/hour")
    assume(case, "carrying_family_share", "0", "share")
    assume(case, "eaten_share", "0.15", "share", crop="zucchini")
    assume(case, "planted_share", "0.55", "share", system="drip")
    set_cells(case, "costs", "residual_share", "0.4", group="capital")


def two_seasons_of_the_main_crop(case):
    """Sweet pepper twice under the tanks, on unequal parts of the ground, and once on part of it under drip."""
    set_cells(case, "seasons", "share_of_area", "0.7", system="reservoir", season="warm dry")
    set_cells(case, "seasons", "share_of_area", "0.6", system="drip", season="warm dry")
    second = {"system": "reservoir", "season": "cool", "crop": "sweet pepper"}
    add_rows(case, "seasons", second | {"first_month": "4", "months": "4", "share_of_area": "0.3"})
    assume(case, "fruits_per_m2", "19", "1/m2", **second)
    assume(case, "fruit_mass_g", "71", "g", **second)
    assume(case, "cull_share", "0.21", "share", **second)
    assume(case, "water_applied_l_per_m2", "240", "l/m2", **second)
    assume(case, "delivery_share", "0.8", "share", system="reservoir", season="cool")
    assume(case, "failed_season_chance", "0.2", "share", system="reservoir", season="cool")
    assume(case, "second_year_share", "0.7", "share", system="reservoir", season="cool")
    assume(case, "market_price_per_kg", "1.6", "XTS/kg", crop="sweet pepper", season="cool")
    picking = {"system": "reservoir", "season": "cool", "task": "picking", "hours_per_m2": "0.2"}
    add_rows(case, "labour_plan", picking | {"family_share": "0.5", "harvest": "yes"})


def lifted_and_carried(case):
    """A pump that takes energy, wells by the area each serves, and carrying from its distance."""
    set_setting(case, "area_m2", "2600")
    lifted = {
        "pump_energy_kwh_per_m3": ("computed", "kWh/m3"),
        "energy_price_per_kwh": ("0.21", "XTS/kWh"),
        "static_level_m": ("31", "m"),
        "specific_capacity_m3_per_h_per_m": ("0.8", "m3/hour/m"),
        "pump_flow_m3_per_h": ("3.4", "m3/hour"),
        "rise_m": ("-2", "m"),
        "filter_and_fittings_m": ("4", "m"),
        "main_length_m": ("140", "m"),
        "main_diameter_mm": ("41", "mm"),
        "main_hazen_williams_c": ("145", "1"),
        "operating_pressure_m": ("9", "m"),
        "pump_efficiency_share": ("0.52", "share"),
        "motor_efficiency_share": ("0.81", "share"),
        "area_per_well_m2": ("computed", "m2"),
        "well_yield_m3_per_h": ("1.9", "m3/hour"),
        "pumping_hours_per_day": ("6", "hour/day"),
        "peak_requirement_l_per_m2_per_day": ("7.1", "l/m2/day"),
        "well_other_use_m3_per_day": ("1.2", "m3/day"),
    }
    for name, (value, unit) in lifted.items():
        assume(case, name, value, unit, system="drip")
    add_rows(case, "costs", cost("second borehole", "capital", "well", "38", "61", system="drip", life_years="4"))
    assume(case, "carrying_h_per_m3", "computed", "hour/m3", system="hand")
    carried = {"carry_distance_m": ("430", "m"), "carry_load_l": ("18", "l"), "carry_pace_km_per_h": ("3.6", "km/hour")}
    for name, (value, unit) in (carried | {"carry_fill_pour_min": ("7", "min")}).items():
        assume(case, name, value, unit, system="hand")


def every_basis(case):
    """Cost lines on every basis in every group that may have it."""
    add_rows(
        case,
        "costs",
        cost("plant labels", "capital", "plant", "1.1", "0.02", life_years="4", residual_share="0.25"),
        cost("levelling", "capital", "hour", "30", "", life_years="3", residual_share="0.5"),
        cost("school", "seasonal", "scheme", "1", "9", step_m2="150"),
        cost("tank cleaning", "seasonal", "unit", "1", "0.11", system="reservoir"),
        cost("guarding", "seasonal", "hour", "14", "", season="warm dry"),
        cost("plant insurance", "yearly", "plant", "1", "0.01"),
        cost("water right", "yearly", "m3", "1", "0.08"),
        cost("union fee", "yearly", "kg_sold", "1", "0.03"),
        cost("office", "yearly", "scheme", "1.5", "2", step_m2="300"),
    )


def patchy_records(case):
    """Records with gaps: kilograms without counts, culls weighed or left out, fruit not on the scale, a leak."""
    gaps = {"date": "2026-04-29"}
    set_cells(case, "harvests", "marketable_fruits", "", plot="P02", **gaps)
    set_cells(case, "harvests", "marketable_kg", "3.3", plot="P02", **gaps)
    set_cells(case, "harvests", "cull_fruits", "", plot="P06", **gaps)
    set_cells(case, "harvests", "cull_kg", "0.9", plot="P07", **gaps)
    set_cells(case, "plots", "net_area_m2", "6.1", plot="P11")
    add_rows(case, "water", {"date": "2026-05-28", "plot": "P11", "kind": "leak", "litres": "31"})
    rewrite(case, "fruit_masses", lambda rows: [row for row in rows if row["plot"] not in ("P04", "P09", "P19")])
    own = {"system": "reservoir", "crop": "sweet pepper"}
    rewrite(case, "assumptions", lambda rows: [row for row in rows if not of_fruit(row, **own)])
    assume(case, "yield_kg_per_m2", "trial", "kg/m2", **own)
    assume(case, "delivery_share", "trial", "share", **own)
    assume(case, "plants_per_m2", "trial", "1/m2", system="drip", crop="sweet pepper")


def of_fruit(row, system, crop):
    """Say whether a row of the book states fruits or their mass for a system and crop."""
    return row["name"].startswith("fruit") and (row["system"], row["crop"]) == (system, crop)


def another_crop_for_one(case):
    """Today's system grows no main crop at all."""
    set_cells(case, "seasons", "crop", "zucchini", system="hand", season="warm dry")


def weighed_kilograms(case):
    """Yields from weighed kilograms where there are any."""
    set_setting(case, "yield_from", '"weighed"')


def priced_by_month_and_shared(case):
    """Prices by month, second grade, a price that falls with volume, a shared well with dry holes, contingencies."""
    months = {"4": ("1.3", "0.2"), "5": ("0.9", "0.5"), "6": ("0.7", "0.3"), "11": ("2", "")}
    prices = [f"{month},sweet pepper,{index},{share}" for month, (index, share) in months.items()]
    (case / "prices.csv").write_text("\n".join(["month,crop,price_index,harvest_share", *prices, ""]), encoding="utf-8")
    assume(case, "price_factor", "1.1", "1", crop="zucchini")
    assume(case, "second_grade_share", "0.2", "share", crop="sweet pepper")
    assume(case, "second_grade_price_share", "0.45", "share", crop="sweet pepper")
    assume(case, "price_fall_share_per_t", "0.06", "share/t", crop="sweet pepper")
    assume(case, "packing_cost_per_kg", "0.03", "XTS/kg")
    assume(case, "hours_per_day", "7", "hour/day")
    assume(case, "dry_hole_chance", "0.3", "share", system="drip")
    assume(case, "households_sharing", "3", "1", system="drip")
    assume(case, "other_use_share", "0.15", "share", system="drip")
    assume(case, "physical_contingency_share", "0.1", "share")
    assume(case, "price_contingency_share", "0.05", "share", system="drip")
    wide = {"shared": "yes", "step_m2": "150"}
    add_column(case, "costs", "shared")
    set_cells(case, "costs", "shared", "yes", item="borehole metres")
    set_cells(case, "costs", "shared", "yes", item="pump upkeep")
    dry = cost(
        "dry hole", "capital", "dry_hole", "1.5", "700", system="drip", life_years="4", residual_share="0.2", **wide
    )
    add_rows(case, "costs", dry)


def add_column(case, table, name):
    """Give a table of a copied case one more column, blank; none where it has it."""
    path = case / f"{table}.csv"
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    if name in head.split(","):
        return
    path.write_text("\n".join([f"{head},{name}", *(f"{row}," for row in rows), ""]), encoding="utf-8")


VARIANTS = (
    as_it_is,
    lifted_and_carried,
    small_and_free_of_interest,
    large_and_short,
    sold_at_a_loss_in_one_year,
    worth_having,
    two_seasons_of_the_main_crop,
    every_basis,
    patchy_records,
    another_crop_for_one,
    weighed_kilograms,
    priced_by_month_and_shared,
)
