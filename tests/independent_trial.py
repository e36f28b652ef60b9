"""A second reading of a case's records: what each treatment yielded and was given, one row at a time.

Written from the method statement alone, in plain Python and without the library, to be held against it.
"""

import csv
from pathlib import Path

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


def trial_means(folder, yield_from):
    """Return {treatment: {name in the book: mean over its plots}}, a name left out where nothing was measured."""
    plots = {row["plot"]: row for row in read_rows(folder, "plots")}
    scale = put_on_scale(read_rows(folder, "fruit_masses"), plots)
    pickings = [read_picking(row, plots, scale, yield_from) for row in read_rows(folder, "harvests")]
    water = read_rows(folder, "water")
    applied, drawn = litres_by_plot(water, GIVEN, NOT_USED), litres_by_plot(water, GIVEN, ())
    means = {}
    for treatment in dict.fromkeys(plot["treatment"] for plot in plots.values()):
        picked = {name: [p for p in pickings if p["plot"] == name] for name in plots}
        used = [name for name in plots if plots[name]["treatment"] == treatment and picked[name]]
        means[treatment] = treatment_means(used, plots, picked, (applied, drawn))
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


def treatment_means(used, plots, picked, litres):
    """Return the means of a treatment over the plots that were picked; a missing plot is no zero.

    `litres` holds the litres applied and the litres drawn, each by plot.
    """
    area = {name: float(plots[name]["net_area_m2"]) for name in used}
    kg_per_m2 = {name: sum(p["kg"] for p in picked[name]) / area[name] for name in used}
    counted = [name for name in used if all(p["fruits"] is not None for p in picked[name])]
    means = {}
    if used:
        means["yield_kg_per_m2"] = mean(kg_per_m2[name] for name in used)
    if counted:
        fruits_per_m2 = mean(sum(p["fruits"] for p in picked[name]) / area[name] for name in counted)
        means["fruits_per_m2"] = fruits_per_m2
        means["fruit_mass_g"] = G_PER_KG * mean(kg_per_m2[name] for name in counted) / fruits_per_m2
    with_culls = [p for name in used for p in picked[name] if p["cull_kg"] is not None]
    if with_culls:
        cull_kg = sum(p["cull_kg"] for p in with_culls)
        means["cull_share"] = cull_kg / (cull_kg + sum(p["kg"] for p in with_culls))
    if planted := [name for name in used if plots[name]["plants"]]:
        means["plants_per_m2"] = mean(float(plots[name]["plants"]) / area[name] for name in planted)
    if watered := [name for name in used if name in litres[0]]:
        applied, drawn = (mean(each[name] / area[name] for name in watered) for each in litres)
        means["water_applied_l_per_m2"] = applied
        means["delivery_share"] = applied / drawn
    return means


def mean(values):
    """Return the mean of some numbers."""
    values = list(values)
    return sum(values) / len(values)
