"""A second reading of a case's records: what each treatment yielded and was given, one row at a time.

Written from the method statement alone, in plain Python and without the library, to be held against it.
"""

import csv
from pathlib import Path

from independent_blocks import layout_of, means_over_blocks

GIVEN = ("first_fill", "refill", "irrigation")
NOT_USED = ("left_over", "leak")
G_PER_KG = 1000


def read_rows(folder, table):
    """Return the rows of a table of the case, each a dict of text; none where the case keeps no such table."""
    path = Path(folder) / f"{table}.csv"
    if not path.exists():
        return []
    with path.open(encoding="utf-8-sig", newline="") as file:
        return [{key: (cell or "").strip() for key, cell in row.items()} for row in csv.DictReader(file)]


def number(text):
    """Return a cell as a number, None where it is blank."""
    return None if text == "" else float(text)


def trial_means(folder, settings):
    """Return {treatment: {name in the book: its mean}}, a name left out where nothing was measured.

    A plot that was not picked is missing, it is no zero. Means are over blocks of equal weight.
    """
    plots = {row["plot"]: row for row in read_rows(folder, "plots")}
    basis = settings.get("yield_from", "counts")
    scale = put_on_scale(read_rows(folder, "fruit_masses"), plots)
    pickings = [read_picking(row, plots, scale, basis) for row in read_rows(folder, "harvests")]
    picked = {name: own for name in plots if (own := [p for p in pickings if p["plot"] == name])}
    if not picked:
        return {}
    water = read_rows(folder, "water")
    litres = litres_by_plot(water, GIVEN, NOT_USED), litres_by_plot(water, GIVEN, ())
    by_plot = figures_by_plot(plots, picked, litres)
    layout, rows = layout_of(folder, settings, list(plots.values())), list(plots.values())
    over_blocks = {name: means_over_blocks(layout, rows, values) for name, values in by_plot.items()}
    means = {}
    for treatment in dict.fromkeys(plot["treatment"] for plot in rows):
        used = [name for name in picked if plots[name]["treatment"] == treatment]
        means[treatment] = {name: own[treatment] for name, own in over_blocks.items() if treatment in own}
        means[treatment] |= treatment_shares(used, plots, picked, litres)
        means[treatment] |= fruit_mass(used, by_plot, means[treatment])
    return means


def samples_of(row, plots):
    """Return the samples of fruit that a row of a plot and date belongs to, from the narrowest to the widest."""
    plot = plots[row["plot"]]
    treatment, crop = plot["treatment"], plot["crop"]
    return [(row["plot"], row["date"]), ("treatment", treatment, row["date"]), ("treatment", treatment), ("crop", crop)]


def put_on_scale(masses, plots):
    """Return {sample: mean mass of its fruit in kg}."""
    fruits, grams = {}, {}
    for row in masses:
        for sample in samples_of(row, plots):
            fruits[sample] = fruits.get(sample, 0) + float(row["fruits"])
            grams[sample] = grams.get(sample, 0) + float(row["total_mass_g"])
    return {sample: grams[sample] / fruits[sample] / G_PER_KG for sample in fruits}


def read_picking(row, plots, scale, yield_from):
    """Return a picking's plot, fruits, marketable kg, and cull kg (None where its culls were not recorded)."""
    mean_kg = next((scale[sample] for sample in samples_of(row, plots) if sample in scale), None)

    def counted(fruits):
        return None if fruits is None else 0.0 if fruits == 0 else fruits * mean_kg

    fruits, weighed = number(row["marketable_fruits"]), number(row["marketable_kg"])
    first, second = (counted(fruits), weighed) if yield_from == "counts" else (weighed, counted(fruits))
    cull_kg = number(row["cull_kg"])
    return {
        "plot": row["plot"],
        "fruits": fruits,
        "kg": second if first is None else first,
        "cull_kg": counted(number(row["cull_fruits"])) if cull_kg is None else cull_kg,
    }


def litres_by_plot(water, more, less):
    """Return {plot: litres of the kinds `more`, less those of the kinds `less`}."""
    litres = {}
    for row in water:
        sign = (row["kind"] in more) - (row["kind"] in less)
        litres[row["plot"]] = litres.get(row["plot"], 0.0) + sign * float(row["litres"])
    return litres


def figures_by_plot(plots, picked, litres):
    """Return {name in the book: {plot: its figure}} of the plots that were picked; `litres` applied, and drawn."""
    area = {name: float(plots[name]["net_area_m2"]) for name in picked}
    counted = [name for name in picked if all(p["fruits"] is not None for p in picked[name])]
    return {
        "yield_kg_per_m2": {name: sum(p["kg"] for p in picked[name]) / area[name] for name in picked},
        "fruits_per_m2": {name: sum(p["fruits"] for p in picked[name]) / area[name] for name in counted},
        "plants_per_m2": {name: float(plots[name]["plants"]) / area[name] for name in picked if plots[name]["plants"]},
        "water_applied_l_per_m2": {name: litres[0][name] / area[name] for name in picked if name in litres[0]},
    }


def treatment_shares(used, plots, picked, litres):
    """Return the share culled and the share of the water drawn that was applied, over a treatment's plots."""
    shares = {}
    with_culls = [p for name in used for p in picked[name] if p["cull_kg"] is not None]
    if with_culls:
        cull_kg = sum(p["cull_kg"] for p in with_culls)
        shares["cull_share"] = cull_kg / (cull_kg + sum(p["kg"] for p in with_culls))
    if watered := [name for name in used if name in litres[0]]:
        applied, drawn = (sum(each[name] / float(plots[name]["net_area_m2"]) for name in watered) for each in litres)
        shares["delivery_share"] = applied / drawn
    return shares


def fruit_mass(used, by_plot, means):
    """Return the grams of a fruit: mean yield over mean fruits, or over the plots counted where not all were."""
    kilograms, fruits = by_plot["yield_kg_per_m2"], by_plot["fruits_per_m2"]
    counted = [name for name in used if name in fruits]
    if not counted:
        return {}
    own = sum(kilograms[name] for name in counted), sum(fruits[name] for name in counted)
    if len(counted) == len(used) and "fruits_per_m2" in means:
        own = means["yield_kg_per_m2"], means["fruits_per_m2"]
    return {"fruit_mass_g": G_PER_KG * own[0] / own[1]}
