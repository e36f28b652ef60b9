"""What the record sheets of a trial hold: for each table the columns to fill, with the plots written in already."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from plotworth.case.plan import Plan, factor_columns
from plotworth.case.schema import Column, table_columns
from plotworth.case.sheet import write_csv

BLANK_RULE = (
    "Blank is not zero. Write 0 where you looked and there was none; leave a cell blank where nobody counted or "
    "weighed."
)


@dataclass(frozen=True)
class Form:
    """A sheet to write on: its table, heading, when it is filled, its columns; a row a plot, or so many blank rows.

    `once` names a column that is the same on the whole sheet, such as the date of a picking: on paper it
    stands above the table.
    """

    table: str
    heading: str
    advice: str
    columns: tuple[str, ...]
    blank_rows: int = 0
    once: str = ""


FORMS = (
    Form(
        "plots",
        "Plots",
        "Once, at planting: the day, and the plants set on the net plot, guard plants left out.",
        ("plot", "block", "treatment", "planted_on", "plants", "note"),
    ),
    Form(
        "harvests",
        "Picking",
        "A sheet for every picking, all plots on the same day. Guard plants are picked apart and not written down. The "
        "treatment is left out on purpose: whoever sorts the fruit should not think of it.",
        ("plot", "block", "marketable_fruits", "marketable_kg", "cull_fruits", "cull_kg", "plants_alive", "note"),
        once="date",
    ),
    Form(
        "fruit_masses",
        "Fruit masses",
        "Weigh fruit as they come to hand, not the finest: singly (fruits = 1) or several together.",
        ("plot", "block", "fruits", "total_mass_g"),
        once="date",
    ),
    Form(
        "water",
        "Water",
        "A line for everything that brings water in or takes it out, read from a meter or a marked vessel.",
        ("date", "plot", "kind", "litres", "meter"),
        blank_rows=28,
    ),
    Form(
        "labour",
        "Labour",
        "A line a job. Minutes times people: two people for half an hour are 60. Blank plot: it was for all.",
        ("date", "plot", "task", "person_minutes", "family", "who"),
        blank_rows=28,
    ),
    Form(
        "deviations",
        "What was done otherwise",
        "The plan stays as it is after planting. What was done otherwise is written here on the day, with the reason.",
        ("date", "plot", "who", "what", "why", "exclude"),
        blank_rows=14,
    ),
)
CSV_FORMS = ("plots", "harvests", "fruit_masses", "standing_fruits", "water", "soil_water", "inputs", "labour")


def form_columns(form: Form) -> tuple[Column, ...]:
    """Return the columns of a form with their units and meanings; the block stands in plots.csv alone."""
    own, plots = table_columns()[form.table], table_columns()["plots"]
    return tuple(own[name] if name in own else plots[name] for name in form.columns)


def plot_rows(plan: Plan, *, plants: int, net_area_m2: float) -> list[dict[str, str]]:
    """Return the rows of plots.csv that a plan gives, as text; the day of planting is left to be written.

    Parameters: plan; plants and area [m2] of the net plot.
    """
    shared = {"crop": plan.crop, "net_area_m2": f"{net_area_m2:.10g}", "plants": str(plants)}
    shared |= {"site": plan.site, "trial_year": plan.trial_year}
    return [
        {
            "plot": plot.plot,
            "block": plot.block,
            "treatment": plot.treatment,
            **dict(zip(factor_columns(plan), plot.levels, strict=False)),
            **shared,
        }
        for plot in plan.plots
    ]


def plots_header(plan: Plan) -> tuple[str, ...]:
    """Return the columns of plots.csv, those of the plan's factors after the treatment."""
    columns = list(table_columns()["plots"])
    after = columns.index("treatment") + 1
    return (*columns[:after], *factor_columns(plan), *columns[after:])


def write_forms(folder: Path, rows: Sequence[dict[str, str]], header: Sequence[str]) -> list[str]:
    """Write an empty CSV of each record table into a folder, with the plots' names; return the files' names.

    Parameters: folder; rows and header of plots.csv. Labour and inputs get no rows, since
    they are not kept plot by plot.
    """
    names = []
    for table in CSV_FORMS:
        columns = tuple(header) if table == "plots" else tuple(table_columns()[table])
        filled = list(rows) if table == "plots" else [{"plot": row["plot"]} for row in rows]
        write_csv(folder / f"{table}.csv", columns, [] if table in ("labour", "inputs") else filled)
        names.append(f"{table}.csv")
    return names
