"""What is wrong with a seeded trial: each flaw takes the sound trial and spoils, or adds, one thing."""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from field_tables import records
from plotworth.field.interspersion import Standing
from seeded_trials import AREA_M2, DAYS, PLANTS, Row, Trial, harvests_of, water_of, yields_of

BED_PLANTS = 6
PLANT_SPREAD_KG_PER_M2 = 0.1


def _of(made: Trial, *treatments: str) -> pd.Series:
    return made.plots["treatment"].isin(treatments)


def _with(made: Trial, column: str, values: object) -> Trial:
    return replace(made, plots=made.plots.assign(**{column: values}))


def _by_treatment(column: str, values: Mapping[str, object]) -> Callable[[Trial, Row], Trial]:
    """Write a value of each treatment into a column of the plots."""
    return lambda made, _: _with(made, column, made.plots["treatment"].map(values))


def _planted(other: str, *, with_factor: bool) -> Callable[[Trial, Row], Trial]:
    """Plant the tank plots on another day; name the water as a factor or leave it to the treatment's name."""

    def spoil(made: Trial, row: Row) -> Trial:
        days = pd.to_datetime(np.where(_of(made, "tank"), other, "2026-02-01"))
        planted = _with(made, "planted_on", days)
        return _water_factor(planted, row) if with_factor else planted

    return spoil


def _water_factor(made: Trial, _: Row) -> Trial:
    return _with(made, "factor_water", made.plots["treatment"])


def _wide(made: Trial, row: Row) -> Trial:
    """Set half as many plants in the tank plots, all of which live."""
    wide = _with(_water_factor(made, row), "plants", np.where(_of(made, "tank"), PLANTS // 2, PLANTS).astype(float))
    return replace(wide, harvests=wide.harvests.assign(plants_alive=np.nan))


def _fed(*, nitrogen: bool, with_factor: bool) -> Callable[[Trial, Row], Trial]:
    """Give tank plots an inoculant, and hand and drip plots alone nitrogen where it differs."""

    def spoil(made: Trial, row: Row) -> Trial:
        lines = [
            {
                "plot": p,
                "date": "2026-02-01",
                "item": "NPK",
                "quantity": 1,
                "unit": "kg",
                "n_kg": 0.1,
                "kind": "mineral_fertiliser",
            }
            for p in made.plots["plot"][~_of(made, "tank") | (not nitrogen)]
        ]
        lines += [
            {"plot": p, "date": "2026-02-01", "item": "fungus", "quantity": 1, "unit": "g", "kind": "inoculant"}
            for p in made.plots["plot"][_of(made, "tank")]
        ]
        fed = replace(made, inputs=records("inputs", *lines))
        return _water_factor(fed, row) if with_factor else fed

    return spoil


def _aliased(made: Trial, _: Row) -> Trial:
    named = _with(made, "factor_water", made.plots["treatment"].map({"tank": "tank", "hand": "hand", "drip": "hand"}))
    return _with(named, "factor_inoculation", np.where(_of(made, "tank"), "fungus", "none"))


def _plants(made: Trial, row: Row) -> Trial:
    """Write every plant of a plot as a plot of its own."""
    spread = np.random.default_rng(row.seed).normal(size=len(made.plots) * BED_PLANTS) * PLANT_SPREAD_KG_PER_M2
    plots = made.plots.loc[made.plots.index.repeat(BED_PLANTS)].reset_index(drop=True)
    values = np.repeat(yields_of(row, made.plots), BED_PLANTS) + spread
    names = [f"{name}-{i % BED_PLANTS + 1}" for i, name in enumerate(plots["plot"])]
    plots = plots.assign(plot=names, plants=1.0, net_area_m2=AREA_M2 / BED_PLANTS)
    return replace(made, plots=plots, harvests=harvests_of(plots, values), arrangement=None)


def _sorted_blocks(made: Trial, _: Row) -> Trial:
    """Name the blocks so that each holds two plots of one treatment."""
    order = made.plots.groupby("treatment").cumcount() // 2
    return _with(made, "block", made.plots["treatment"] + order.astype(str))


def _whole_once(made: Trial, _: Row) -> Trial:
    """Put each level of water into beds of its own, the inoculation drawn within."""
    return _with(made, "block", np.where(made.plots["factor_water"] == "tank", "north", "south") + made.plots["block"])


def _one_block_all_tank(made: Trial, row: Row) -> Trial:
    """Add a block of three tank plots."""
    extra = made.plots.iloc[:3].assign(plot=["X1", "X2", "X3"], block="BX", treatment="tank")
    values = np.full(3, 2 * (1 + row.effect))
    harvests = pd.concat([made.harvests, harvests_of(extra, values)], ignore_index=True)
    return replace(made, plots=pd.concat([made.plots, extra], ignore_index=True), harvests=harvests)


def _lost(*names: str) -> Callable[[Trial, Row], Trial]:
    """Take away every picking of some plots."""
    return lambda made, _: replace(made, harvests=made.harvests[~made.harvests["plot"].isin(names)])


def _thin(made: Trial, _: Row) -> Trial:
    """Leave one tank plot with a picking."""
    lost = made.plots["plot"][_of(made, "tank")].iloc[1:]
    return replace(made, harvests=made.harvests[~made.harvests["plot"].isin(lost)])


def _stopped(made: Trial, _: Row) -> Trial:
    """Stop picking the hand plots before the last round, what is left added to the second."""
    hand = made.plots["plot"][_of(made, "hand")]
    own = made.harvests["plot"].isin(hand)
    harvests = made.harvests.assign(
        marketable_kg=made.harvests["marketable_kg"].where(~own, made.harvests["marketable_kg"] / 0.6)
    )
    return replace(made, harvests=harvests[~(own & (harvests["date"] == DAYS[-1]))])


def _zero(*treatments: str) -> Callable[[Trial, Row], Trial]:
    def spoil(made: Trial, _: Row) -> Trial:
        own = made.harvests["plot"].isin(made.plots["plot"][_of(made, *treatments)])
        return replace(made, harvests=made.harvests.assign(marketable_kg=made.harvests["marketable_kg"].mask(own, 0.0)))

    return spoil


def _died(made: Trial, _: Row) -> Trial:
    own = made.harvests["plot"].isin(made.plots["plot"][_of(made, "hand")])
    return replace(made, harvests=made.harvests.assign(plants_alive=np.where(own, PLANTS / 2, PLANTS)))


def _watered(made: Trial, row: Row) -> Trial:
    return replace(made, water=water_of(row, made.plots))


def _drained(made: Trial, row: Row) -> Trial:
    """Measure what drained and ran off as well."""
    lines = [
        {"plot": p, "date": DAYS[0], "kind": kind, "litres": 1.0}
        for p in made.plots["plot"]
        for kind in ("drainage", "runoff")
    ]
    return replace(made, water=pd.concat([water_of(row, made.plots), records("water", *lines)], ignore_index=True))


def _one_meter(made: Trial, row: Row) -> Trial:
    return replace(made, water=water_of(row, made.plots).assign(meter="main"))


def _several(column: str, names: tuple[str, ...]) -> Callable[[Trial, Row], Trial]:
    """Repeat the trial in other seasons or at other sites, each with errors of its own and a step of its own."""

    def spoil(made: Trial, row: Row) -> Trial:
        parts = []
        for number, name in enumerate(names):
            plots = made.plots.assign(plot=[f"{name}-{p}" for p in made.plots["plot"]], **{column: name})
            again = replace(row, seed=row.seed + number, effect=row.effect + 0.02 * (number - (len(names) - 1) / 2))
            parts.append((plots, harvests_of(plots, yields_of(again, made.plots))))
        plots, harvests = (pd.concat(tables, ignore_index=True) for tables in zip(*parts, strict=True))
        return replace(made, plots=plots, harvests=harvests)

    return spoil


def _segregated(made: Trial, row: Row) -> Trial:
    return replace(made, standings=(Standing("tank", (0,) * row.blocks, 3),))


FLAWS: Mapping[str, Callable[[Trial, Row], Trial]] = {
    "plants as plots": _plants,
    "each block one treatment": _sorted_blocks,
    "one block of one treatment": _one_block_all_tank,
    "each water its own beds": _whole_once,
    "different seasons": _by_treatment("trial_year", {"tank": "2026", "hand": "2025", "drip": "2026"}),
    "different sites": _by_treatment("site", {"tank": "valley", "hand": "hill", "drip": "valley"}),
    "different crops": _by_treatment("crop", {"tank": "pepper", "hand": "tomato", "drip": "pepper"}),
    "different managers": _by_treatment("manager", {"tank": "staff", "hand": "household", "drip": "staff"}),
    "planted three months apart": _planted("2025-11-01", with_factor=False),
    "planted ten days apart": _planted("2026-02-11", with_factor=True),
    "wider spacing": _wide,
    "inoculant and nitrogen": _fed(nitrogen=True, with_factor=True),
    "inoculant alone": _fed(nitrogen=False, with_factor=False),
    "factors vary together": _aliased,
    "a plot lost": _lost("P04"),
    "one tank plot left": _thin,
    "tank never picked": lambda made, _: replace(
        made, harvests=made.harvests[~made.harvests["plot"].isin(made.plots["plot"][_of(made, "tank")])]
    ),
    "no plot of the baseline": lambda made, _: replace(
        made, references={"present practice": "hand", "the baseline": "well"}
    ),
    "hand stopped early": _stopped,
    "hand all zero": _zero("hand"),
    "everything zero": _zero("tank", "hand", "drip"),
    "half the hand plants died": _died,
    "water read": _watered,
    "water read and drainage": _drained,
    "one meter for all": _one_meter,
    "several seasons": _several("trial_year", ("2025", "2026")),
    "several sites": _several("site", ("A", "B", "C", "D", "E")),
    "nothing stated": lambda made, _: replace(_with(made, "block", ""), arrangement=None),
    "one side": _segregated,
}
