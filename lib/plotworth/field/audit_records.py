"""What the records do to a comparison: unequal picking, nothing but zeros, dead plants, shared meters."""

from collections.abc import Iterator

import pandas as pd

from plotworth.field.features import TREATMENT
from plotworth.field.finding import (
    ALL_ZERO,
    EVERYTHING_ZERO,
    LIMITS,
    NOTE,
    REFUSES,
    SHARED_METER,
    UNEQUAL_DEATHS,
    UNEQUAL_WINDOWS,
    Finding,
    day_text,
    listed,
    texts,
)
from plotworth.ground.amounts import share_text

WINDOW_DAYS = 3  # picking rounds may take this long; common practice, no source
UNEQUAL_SURVIVAL = 0.1  # share of the plants set; common practice, no source
DRAWN_KINDS = ("first_fill", "refill", "irrigation")


def window_findings(plots: pd.DataFrame, harvests: pd.DataFrame) -> Iterator[Finding]:
    """Yield that treatments were picked over unequal times: first or last day, or how often."""
    treatment = texts(harvests, "plot").map(dict(zip(texts(plots, "plot"), texts(plots, TREATMENT), strict=True)))
    known = harvests.assign(treatment=treatment, date=pd.to_datetime(harvests["date"]))[treatment.notna()]
    if known["treatment"].nunique() < 2:
        return
    windows = known.groupby("treatment", sort=False)["date"].agg(["min", "max", "nunique"])
    starts, ends = windows["min"].max() - windows["min"].min(), windows["max"].max() - windows["max"].min()
    often = windows["nunique"].max() - windows["nunique"].min()
    if max(starts, ends) <= pd.Timedelta(days=WINDOW_DAYS) and often == 0:
        return
    rows = (
        f"{t}: {day_text(row['min'])} to {day_text(row['max'])}, {row['nunique']} times"
        for t, row in windows.iterrows()
    )
    yield Finding(
        UNEQUAL_WINDOWS,
        LIMITS,
        f"The treatments were not picked on the same days ({'; '.join(rows)}), so part of what differs may be that.",
        "Go through all plots on the same days to the same end and write 0 where nothing was ripe; until then compare "
        "the days that all share.",
        (),
        tuple(map(str, windows.index)),
    )


def zero_findings(plots: pd.DataFrame, harvests: pd.DataFrame) -> Iterator[Finding]:
    """Yield treatments, or the whole trial, whose every picking is zero; single plots as a note."""
    counts = [harvests[name].astype(float) for name in ("marketable_fruits", "marketable_kg") if name in harvests]
    if not counts or harvests.empty:
        return
    amount = sum((count.fillna(0) for count in counts), start=pd.Series(0.0, index=harvests.index))
    by_plot = amount.groupby(texts(harvests, "plot")).sum()
    empty = by_plot.reindex(texts(plots, "plot")).eq(0).to_numpy()
    picked = texts(plots, "plot").isin(by_plot.index)
    if picked.any() and empty[picked].all():
        sentence = "Every picking of every plot is zero: there is nothing to compare."
        cure = "Write what was picked; leave blank what was not looked at."
        yield Finding(EVERYTHING_ZERO, REFUSES, sentence, cure, tuple(texts(plots, "plot")[picked]))
        return
    treatments = texts(plots, TREATMENT)
    for name in dict.fromkeys(treatments[picked]):
        own = (treatments == name) & picked
        names = tuple(texts(plots, "plot")[own & empty])
        if len(names) == own.sum():
            sentence = f"Every picking of {name} is zero: either it failed altogether or blanks were written as 0."
            yield Finding(ALL_ZERO, LIMITS, sentence, f"Say in a note what happened to {name}.", names, (name,))
        elif names:
            sentence = f"Every picking of {listed(names)} ({name}) is zero, while other plots of {name} bore fruit."
            cure = "Say in a note what happened; an accident is missing, not zero."
            yield Finding(ALL_ZERO, NOTE, sentence, cure, names, (name,))


def death_findings(plots: pd.DataFrame, harvests: pd.DataFrame) -> Iterator[Finding]:
    """Yield that plants died unequally: shares of the plants set that were alive at the last count."""
    if "plants" not in plots or "plants_alive" not in harvests:
        return
    last = harvests[harvests["plants_alive"].notna()].sort_values("date", kind="stable")
    alive = last.assign(plot=texts(last, "plot")).drop_duplicates("plot", keep="last").set_index("plot")["plants_alive"]
    table = pd.DataFrame(
        {
            "treatment": texts(plots, TREATMENT).to_numpy(),
            "plants": plots["plants"].astype(float).to_numpy(),
            "alive": alive.astype(float).reindex(texts(plots, "plot")).to_numpy(),
        }
    ).dropna()
    if table.empty:
        return
    sums = table.groupby("treatment", sort=False)[["plants", "alive"]].sum()
    shares = sums["alive"] / sums["plants"]
    if shares.max() - shares.min() > UNEQUAL_SURVIVAL:
        each = listed(f"{share_text(share)} of {name}" for name, share in shares.items())
        sentence = (
            f"Plants died unequally (alive at the last count: {each}); yields per planted m² count the dead as loss."
        )
        cure = "Write down what killed them and read the comparison both ways, the dead as loss and as missing."
        yield Finding(UNEQUAL_DEATHS, LIMITS, sentence, cure, (), tuple(map(str, shares.index)))


def meter_findings(plots: pd.DataFrame, water: pd.DataFrame | None) -> Iterator[Finding]:
    """Yield each meter that served several plots: their water has no interval of its own."""
    if water is None or water.empty or "meter" not in water:
        return
    drawn = water[texts(water, "kind").isin(DRAWN_KINDS) & (texts(water, "meter") != "")]
    treatment = dict(zip(texts(plots, "plot"), texts(plots, TREATMENT), strict=True))
    served = texts(drawn, "plot").groupby(texts(drawn, "meter"), sort=False).unique()
    shared = {str(meter): tuple(map(str, names)) for meter, names in served.items() if len(names) > 1}
    if shared:
        names = tuple(dict.fromkeys(name for plots_of in shared.values() for name in plots_of))
        held = tuple(dict.fromkeys(treatment[name] for name in names if name in treatment))
        meters = "; ".join(f"{meter}: {listed(plots_of)}" for meter, plots_of in shared.items())
        verb = "One meter serves" if len(shared) == 1 else "Some meters serve"
        sentence = f"{verb} several plots ({meters}): their water is known as a sum and gets no interval."
        yield Finding(SHARED_METER, LIMITS, sentence, "Give every plot a meter or a counted can.", names, held)
