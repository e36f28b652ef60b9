"""Copies of the demo whose trial was laid out or kept otherwise, and the open-data cases as plain tables."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pandas as pd

from independent_cases import assume, rewrite, set_cells
from plotworth.case.folder import open_case
from plotworth.case.plan import FILE, PlannedFactor, PlannedPlot
from trial_plans import SPLIT_OUTLINE

OPEN_DATA = Path(__file__).parent / "cases"
EVERY_FIGURE = {"yield_kg_per_m2": "kg/m2", "plants_per_m2": "1/m2", "delivery_share": "share"}
LATE_BLOCKS = ("B6", "B7")


def lose(case, *names):
    """Take the pickings of some plots out of a copied case: they are missing, though they were watered."""
    rewrite(case, "harvests", lambda rows: [row for row in rows if row["plot"] not in names])


def say_of_the_trial(case, text):
    """Write the part of case.toml on the layout of the trial anew, nothing where the text is blank."""
    path = case / "case.toml"
    new, count = re.subn(r"(?s)\[trial\].*?\n\n", f"{text}\n\n", path.read_text(encoding="utf-8"))
    assert count == 1
    path.write_text(new, encoding="utf-8")


def yields_and_plants_of_the_trial(case):
    """Kilograms, plants and delivery by the word `trial`, in place of fruits and of what is typed."""
    rewrite(case, "assumptions", lambda rows: [row for row in rows if not is_fruit_of_pepper(row)])
    for system in ("reservoir", "drip", "hand"):
        for name, unit in EVERY_FIGURE.items():
            assume(case, name, "trial", unit, system=system, crop="sweet pepper")


def is_fruit_of_pepper(row):
    """Say whether a row of the book states fruits or their mass for the trial's crop."""
    return row["name"].startswith("fruit") and row["crop"] == "sweet pepper"


def two_lost_plots(case):
    """A tank and a drip plot of other blocks are lost beside the hand plot that the goats ate."""
    lose(case, "P29", "P11")


def a_lost_whole_plot(case):
    """Both hand plots of the fifth block are lost; areas differ, so that plants per m2 do."""
    lose(case, "P25")
    set_cells(case, "plots", "net_area_m2", "6.1", plot="P11")
    set_cells(case, "plots", "plants", "17", plot="P32")
    yields_and_plants_of_the_trial(case)


def a_lost_block(case):
    """Nothing is picked in one block; half of another is lost as well."""
    lose(case, "P13", "P14", "P15", "P16", "P17", "P18", "P19", "P23", "P24")


def whole_plots_alike(case):
    """Hand plots trade yields inside their whole plots, so that these differ less than the plots inside them."""
    for name in ("P03", "P16", "P22", "P35", "P12", "P41"):
        rewrite(
            case, "harvests", lambda rows, name=name: [doubled(row) if row["plot"] == name else row for row in rows]
        )


def doubled(row):
    """Return a picking with twice the fruits."""
    fruits = row["marketable_fruits"]
    return row | {"marketable_fruits": str(2 * int(fruits)) if fruits else ""}


def counted_on_some_plots(case):
    """One picking of a drip plot was weighed and not counted: its plot has kilograms and no fruits."""
    at = {"plot": "P14", "date": "2026-04-29"}
    set_cells(case, "harvests", "marketable_fruits", "", **at)
    set_cells(case, "harvests", "marketable_kg", "1.9", **at)


def drawn_within_blocks(case):
    """All six treatments were drawn by lot inside each block."""
    say_of_the_trial(case, '[trial]\ndesign = "blocks"')
    lose(case, "P29")


def drawn_as_a_factorial(case):
    """All six combinations were drawn by lot inside each block."""
    say_of_the_trial(case, '[trial]\ndesign = "factorial"')
    lose(case, "P11", "P12")


def drawn_over_all_plots(case):
    """Blocks were written down but nothing was drawn inside them: plain means."""
    say_of_the_trial(case, '[trial]\ndesign = "random"')


def nothing_said_of_the_layout(case):
    """Blocks on every plot and no word of how they were used."""
    say_of_the_trial(case, "")
    lose(case, "P29")


def blocks_left_blank(case):
    """No block was written down, and nothing was said."""
    say_of_the_trial(case, "")
    set_cells(case, "plots", "block", "")


def one_block_left_blank(case):
    """One plot has no block, and nothing was said."""
    say_of_the_trial(case, "")
    set_cells(case, "plots", "block", "", plot="P40")


def one_treatment_for_both_inoculations(case):
    """Treatments are named for the water alone, so that each stands for two cells; three of their plots are lost."""
    for name in ("tank", "drip", "hand"):
        set_cells(case, "plots", "treatment", name, treatment=f"{name}+fungus")
    lose(case, "P30", "P13")


def two_trial_years(case):
    """Two blocks belong to another season: two trials of unequal size, with a plot lost in each."""
    for block in LATE_BLOCKS:
        set_cells(case, "plots", "trial_year", "2025", block=block)
    lose(case, "P33")
    yields_and_plants_of_the_trial(case)


def two_sites(case):
    """Two blocks lie at another site, whose blocks have the names of the first; one treatment is lost there."""
    for block, name in zip(LATE_BLOCKS, ("B1", "B2"), strict=True):
        set_cells(case, "plots", "site", "Orvane", block=block)
        set_cells(case, "plots", "block", name, block=block)
    lose(case, "P36", "P38")


def a_frozen_plan(case):
    """A frozen plan says that it is a split plot; case.toml says nothing."""
    say_of_the_trial(case, "")
    rows = open_case(case).rows("plots")
    levels = {"water": ("tank", "drip", "hand"), "inoculation": ("fungus", "none")}
    columns = {block: [row.plot for row in rows if row.block == block] for block in {row.block for row in rows}}
    places = {row.plot: (1 + int(row.block[1:]), 1 + columns[row.block].index(row.plot)) for row in rows}
    plan = replace(
        SPLIT_OUTLINE,
        factors=tuple(PlannedFactor(name, own) for name, own in levels.items()),
        blocks=len(columns),
        columns=6,
        crop="sweet pepper",
        plots=tuple(
            PlannedPlot(
                row.plot, row.block, row.treatment, (row.factor_water, row.factor_inoculation), *places[row.plot]
            )
            for row in rows
        ),
    )
    (case / FILE).write_text(plan.text(), encoding="utf-8")
    lose(case, "P29")


TRIAL_VARIANTS = (
    two_lost_plots,
    a_lost_whole_plot,
    a_lost_block,
    whole_plots_alike,
    counted_on_some_plots,
    drawn_within_blocks,
    drawn_as_a_factorial,
    drawn_over_all_plots,
    nothing_said_of_the_layout,
    blocks_left_blank,
    one_block_left_blank,
    one_treatment_for_both_inoculations,
    two_trial_years,
    two_sites,
    a_frozen_plan,
)


def plain_copy(name, folder, *, of_mapping=(), of_settings=()):
    """Return a copy of an open-data case whose tables stand as plain CSV.

    `of_mapping` and `of_settings` are (old, new) words of its mapping.toml and case.toml.
    """
    case = Path(shutil.copytree(OPEN_DATA / name, Path(folder) / name))
    for file, words in (("mapping.toml", of_mapping), ("case.toml", of_settings)):
        text = (case / file).read_text(encoding="utf-8")
        for old, new in words:
            assert old in text, old
            text = text.replace(old, new)
        (case / file).write_text(text, encoding="utf-8")
    tables = {key: table for key, table in open_case(case).tables.items() if key != "seasons"}
    (case / "mapping.toml").unlink()
    for key, table in tables.items():
        table.drop(columns="line").map(text_of).to_csv(case / f"{key}.csv", index=False, lineterminator="\n")
    return case


def text_of(cell):
    """Return a cell as it is written: blank, a date, or all digits of a number."""
    if pd.isna(cell):
        return ""
    return cell.date().isoformat() if isinstance(cell, pd.Timestamp) else str(cell)


AS_FACTORIAL = (("[place]", '[trial]\ndesign = "factorial"\n\n[place]'),)
OPEN_VARIANTS = {
    "tomatoes in rows": ("tomato_uniformity", {}),
    "maize at a site with all plots": ("antigua_corn", {}),
    "maize at a site with a lost plot": ("antigua_corn", {"of_mapping": (('"DBAN"', '"TEAN"'),)}),
    "peas as they are": ("npk_peas", {}),
    "peas as a factorial": ("npk_peas", {"of_settings": AS_FACTORIAL}),
    # Blocks hide N x P x K, which has to be left out before a single combination has a mean.
    "two combinations of peas": (
        "npk_peas",
        {
            "of_mapping": (('"N{N}"', '"N{N}P{P}K{K}"'),),
            "of_settings": (*AS_FACTORIAL, ('"N1"', '"N1P1K0"'), ('"N0"', '"N0P0K0"')),
        },
    ),
}
"""Copies of the open-data cases: the case and what is changed in it."""
