"""Whether anything was repeated, and what: plots drawn by lot are units, plants and beds' parts are not."""

from collections.abc import Iterator

import pandas as pd

from plotworth.field.arrangement import Arrangement
from plotworth.field.features import TREATMENT, factor_names
from plotworth.field.finding import (
    DRAW_UNKNOWN,
    LIMITS,
    MISSING_PLOTS,
    NO_PICKING,
    NOTE,
    PARTS_AS_PLOTS,
    PLANTS_AS_PLOTS,
    REFUSES,
    SINGLE_PLOT,
    UNREPLICATED,
    Finding,
    counted,
    listed,
    texts,
)

BLOCK = "block"
FEWEST_PLOTS = 2
ADD_UP = "Write one row for each bed or plot that was drawn by lot, with its plants, area and pickings added up."


def block_columns(arrangement: Arrangement | None) -> tuple[str, ...]:
    """Return the columns of blocks: those of the arrangement, else `block`; none where that names whole plots."""
    if arrangement and (arrangement.blocks or arrangement.whole_plot):
        return arrangement.blocks
    return (BLOCK,)


def blocks_of(plots: pd.DataFrame, arrangement: Arrangement | None) -> pd.Series:
    """Return the block of each plot in words (row and column of a Latin square with a bar), "" where blank."""
    parts = [texts(plots, column) for column in block_columns(arrangement)]
    if not parts:
        return pd.Series("", index=plots.index, dtype=object)
    joined = pd.concat(parts, axis=1)
    return joined.agg(" | ".join, axis=1).where((joined != "").all(axis=1), "")


def cells_of(plots: pd.DataFrame, arrangement: Arrangement | None) -> pd.Series:
    """Return what each plot got: its treatment and the level of every factor."""
    names = (TREATMENT, *factor_names(plots, arrangement))
    return pd.concat([texts(plots, name) for name in names], axis=1).agg(" | ".join, axis=1)


def picked(plots: pd.DataFrame, harvests: pd.DataFrame) -> pd.Series:
    """Say of each plot whether it was ever picked; all are taken to be while nothing was harvested."""
    if harvests.empty:
        return pd.Series(data=True, index=plots.index)
    return texts(plots, "plot").isin(texts(harvests, "plot"))


def draw_findings(arrangement: Arrangement | None) -> Iterator[Finding]:
    """Yield that nothing says how the treatments were drawn by lot."""
    if arrangement is None:
        yield Finding(
            DRAW_UNKNOWN,
            LIMITS,
            "Nothing says how the treatments were drawn by lot, so the intervals hold only if they were.",
            "Freeze a plan before planting, or write the design under [trial] in case.toml.",
        )


def replication_findings(
    plots: pd.DataFrame, harvests: pd.DataFrame, arrangement: Arrangement | None
) -> Iterator[Finding]:
    """Yield what one trial lacks in repetition: everything, a treatment's second plot, a plot's pickings."""
    got = picked(plots, harvests)
    yield from _unpicked(plots, got)
    counts = cells_of(plots[got], arrangement).value_counts()
    if len(counts) and counts.max() < FEWEST_PLOTS:
        treatments = tuple(dict.fromkeys(texts(plots, TREATMENT)))
        yield unreplicated(plots, f"No treatment has more than one plot with a picking ({listed(treatments)})")
        return
    names = cells_of(plots, arrangement)
    single = got & names.isin(counts[counts < FEWEST_PLOTS].index)
    for _, row in plots[single].iterrows():
        yield Finding(
            SINGLE_PLOT,
            LIMITS,
            f"{row[TREATMENT]} has one plot with a picking ({row['plot']}): its error is borrowed from the others.",
            f"Repeat {row[TREATMENT]} in every block.",
            (str(row["plot"]),),
            (str(row[TREATMENT]),),
        )


def unreplicated(plots: pd.DataFrame, what: str) -> Finding:
    """Return the finding that nothing is repeated, and what shows it in words."""
    return Finding(
        UNREPLICATED,
        REFUSES,
        f"{what}: this is a demonstration, not a trial, and what differs may be the ground.",
        "Repeat every treatment in four blocks or more, places within a block drawn by lot.",
        tuple(texts(plots, "plot")),
    )


def _unpicked(plots: pd.DataFrame, got: pd.Series) -> Iterator[Finding]:
    treatments = texts(plots, TREATMENT)
    never = [name for name in dict.fromkeys(treatments) if not got[treatments == name].any()]
    for name in never:
        yield Finding(
            NO_PICKING,
            REFUSES,
            f"No plot of {name} has a picking, so nothing can be said of its yield.",
            "Write 0 where it was picked and bore nothing; a blank is missing, not zero.",
            tuple(texts(plots, "plot")[treatments == name]),
            (name,),
        )
    lost = ~got & ~treatments.isin(never)
    if lost.any():
        names = tuple(texts(plots, "plot")[lost])
        verb = "has" if len(names) == 1 else "have"
        yield Finding(
            MISSING_PLOTS,
            NOTE,
            f"{listed(names)} {verb} no picking and {'is' if len(names) == 1 else 'are'} missing, not zero.",
            "Write down what happened: what a treatment killed is its loss, an accident is missing.",
            names,
            tuple(dict.fromkeys(treatments[lost])),
        )


def sample_findings(plots: pd.DataFrame, arrangement: Arrangement | None) -> Iterator[Finding]:
    """Yield rows that are not plots: single plants of a bed, or parts of one, of one treatment in one block.

    Where a design says that places were drawn by lot over all plots (no blocks), one plant in its pot may be
    a plot. Without that, several single plants of one treatment in one block are the plants of one plot.
    """
    if arrangement is not None and not arrangement.blocks:
        return
    groups = pd.DataFrame({BLOCK: blocks_of(plots, arrangement), "cell": cells_of(plots, arrangement)})
    repeated = groups.duplicated(keep=False)
    one_plant = plots["plants"].astype(float) <= 1 if "plants" in plots else pd.Series(data=False, index=plots.index)
    yield from _plants(plots[repeated & one_plant], len(groups[repeated & one_plant].drop_duplicates()))
    if (repeated & one_plant).any() and groups.drop_duplicates()["cell"].value_counts().max() < FEWEST_PLOTS:
        yield unreplicated(plots, "Each treatment stands in one place")
    parts = repeated & ~one_plant & (groups[BLOCK] != "")
    yield from _parts(plots[parts], len(groups[parts].drop_duplicates()))


def _plants(rows: pd.DataFrame, beds: int) -> Iterator[Finding]:
    if len(rows):
        yield Finding(
            PLANTS_AS_PLOTS,
            REFUSES,
            f"{len(rows)} rows of plots.csv are single plants of one treatment in one place: plants are not plots, "
            f"and they count as {counted(beds, 'plot')}, not as {len(rows)}.",
            ADD_UP,
            tuple(texts(rows, "plot")),
            tuple(dict.fromkeys(texts(rows, TREATMENT))),
        )


def _parts(rows: pd.DataFrame, beds: int) -> Iterator[Finding]:
    if len(rows):
        yield Finding(
            PARTS_AS_PLOTS,
            LIMITS,
            f"{len(rows)} plots share block and treatment with another: they count as {len(rows)} only if each was "
            f"drawn by lot; as parts of one bed they count as {beds}.",
            ADD_UP,
            tuple(texts(rows, "plot")),
            tuple(dict.fromkeys(texts(rows, TREATMENT))),
        )
