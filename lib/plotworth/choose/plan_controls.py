"""What a panel on planning starts from: the frozen plan, else the case's trial, else general values that say so."""

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from plotworth.case.folder import Case
from plotworth.case.plan import FILE as PLAN_FILE
from plotworth.case.plan import TREATMENT, Plan
from plotworth.case.schema import FACTOR_PREFIX
from plotworth.choose.controls import Control
from plotworth.choose.input import Input
from plotworth.choose.trial_outline import PERCENT, WHOLE_NUMBERS, factor_text, plan_design
from plotworth.field.design import BLOCKS, KINDS, SPLIT, Factor

NO_SOURCE = "common practice, no source"
INVENTED = "an example; write what is so on your ground"
FEWEST_SINGLE_FRUIT = 30
PERCENT_UNIT = "%"


@dataclass(frozen=True)
class Quantity:
    """A number of the plan: label, unit, general value and where that is from, the slider's ends, the bounds."""

    label: str
    unit: str
    value: float
    source: str
    start: float
    end: float
    lowest: float
    highest: float


FIRST: Mapping[str, Quantity] = {
    "blocks": Quantity("Blocks", "", 4, INVENTED, 2, 12, 2, 200),
    "rows": Quantity("Rows of a plot", "", 2, INVENTED, 1, 6, 1, 1000),
    "plants_per_row": Quantity("Plants of a row", "", 8, INVENTED, 1, 24, 1, 1000),
    "plot_cv": Quantity("CV expected between plots", PERCENT_UNIT, 15, NO_SOURCE, 5, 40, 0.1, 150),
    "gain": Quantity("Smallest gain worth having", PERCENT_UNIT, 15, INVENTED, 2, 60, 0.1, 300),
    "precision": Quantity("Precision wanted of the mean fruit mass, ±", PERCENT_UNIT, 5, INVENTED, 2, 20, 0.5, 50),
    "fruit_cv": Quantity("CV between single fruit", PERCENT_UNIT, 25, NO_SOURCE, 5, 60, 0.1, 150),
    "fruits": Quantity("Fruit picked, of which some are weighed", "", 200, INVENTED, 20, 1000, 2, 1e6),
}
MORE: Mapping[str, Quantity] = {
    "cv_low": Quantity("CV between plots at best", PERCENT_UNIT, 10, NO_SOURCE, 2, 30, 0.1, 150),
    "cv_high": Quantity("CV between plots at worst", PERCENT_UNIT, 25, NO_SOURCE, 5, 60, 0.1, 150),
    "smith_index": Quantity("Smith's b: how fast larger plots even out", "", 0.5, NO_SOURCE, 0, 1, 0, 1),
    "whole_plot_ratio": Quantity("Whole plots: their CV over that of sub-plots", "", 1, "the least", 1, 3, 1, 20),
    "spacing_in_row_m": Quantity("Spacing in the row", "m", 0.5, INVENTED, 0.1, 1.5, 0.01, 20),
    "spacing_between_rows_m": Quantity("Spacing between rows", "m", 0.6, INVENTED, 0.1, 2, 0.01, 20),
    "guard_rows": Quantity("Guard rows along each side", "", 1, INVENTED, 0, 3, 0, 20),
    "guard_plants": Quantity("Guard plants at each end of a row", "", 1, INVENTED, 0, 3, 0, 20),
    "path_m": Quantity("Path between plots", "m", 0.5, INVENTED, 0, 2, 0, 20),
}
QUANTITIES = {**FIRST, **MORE}
GENERAL_FACTORS = ("treatment = new, usual", "inoculation = fungus, none")


class WholeControl(Control):
    """A control of things that are counted: its slider moves by one."""

    @property
    def step(self) -> float:
        """One."""
        return 1.0


@dataclass(frozen=True)
class PlanStart:
    """Where a panel on planning starts.

    Attributes: kind of design; the texts of the first and the second factor; the side where the gradient begins;
    numbers that the case knows, each with where it has them from; the kind of difference that the plan asks about,
    blank where there is no plan or it asks about two treatments.
    """

    kind: str
    factor_texts: tuple[str, str]
    gradient_from: str
    known: Mapping[str, tuple[float, str]]
    comparison: str = ""

    @property
    def plants(self) -> int:
        """Plants of the plots that the expected CV is stated for."""
        rows, plants = (self.known.get(name, (QUANTITIES[name].value, ""))[0] for name in ("rows", "plants_per_row"))
        return int(rows * plants)


def plan_controls(start: PlanStart) -> list[Control]:
    """Return the controls of what matters most in planning a trial."""
    return [_control(name, quantity, start) for name, quantity in FIRST.items()]


def more_plan_controls(start: PlanStart) -> list[Control]:
    """Return the others."""
    return [_control(name, quantity, start) for name, quantity in MORE.items()]


def _control(name: str, quantity: Quantity, start: PlanStart) -> Control:
    value, source = start.known.get(name, (quantity.value, quantity.source))
    label = f"{quantity.label} of {start.plants} plants" if name == "plot_cv" else quantity.label
    one = Input(
        address=name,
        label=label,
        unit=quantity.unit or "1",
        group="plan",
        value=float(value),
        low=None,
        high=None,
        lowest=quantity.lowest,
        highest=quantity.highest,
        nature="choice",
        spread="fixed",
        origin="typed",
        grade="",
        source=source,
        file=PLAN_FILE,
        line=0,
    )
    kind = WholeControl if name in WHOLE_NUMBERS else Control
    return kind(one, label, quantity.start, quantity.end)


def plan_start(case: Case | None) -> PlanStart:
    """Return where a panel starts: the case's plan, else its trial; general values for all that neither knows."""
    if case is None:
        return PlanStart(BLOCKS, (GENERAL_FACTORS[0], GENERAL_FACTORS[1]), "", {})
    known = {**_fruit_numbers(case), **(_plan_numbers(case.plan) if case.plan else _trial_numbers(case))}
    kind, factors = (case.plan.design, plan_design(case.plan).factors) if case.plan else _trial_design(case)
    texts = [factor_text(factor) for factor in factors[:2]]
    second = texts[1] if len(texts) > 1 else GENERAL_FACTORS[1]
    side = case.plan.gradient_from if case.plan else ""
    asked = f"two levels of {case.plan.contrast_of}" if case.plan and case.plan.contrast_of != TREATMENT else ""
    return PlanStart(kind, (texts[0] if texts else GENERAL_FACTORS[0], second), side, known, asked)


def _plan_numbers(plan: Plan) -> dict[str, tuple[float, str]]:
    numbers: dict[str, float] = {
        "blocks": plan.blocks,
        "rows": plan.rows,
        "plants_per_row": plan.plants_per_row,
        "gain": PERCENT * plan.smallest_gain_share,
        "spacing_in_row_m": plan.spacing_in_row_m,
        "spacing_between_rows_m": plan.spacing_between_rows_m,
        "guard_rows": plan.guard_rows,
        "guard_plants": plan.guard_plants,
    }
    if plan.expected_cv is not None:
        numbers["plot_cv"] = PERCENT * plan.expected_cv
    return {name: (value, "the frozen plan") for name, value in numbers.items()}


def _main_plots(case: Case) -> pd.DataFrame:
    """Return the plots of the crop that most of them grow."""
    plots = case.table("plots")
    return plots[plots["crop"] == plots["crop"].mode().iloc[0]] if len(plots) else plots


def _trial_numbers(case: Case) -> dict[str, tuple[float, str]]:
    """Return what case.toml and plots.csv tell of a trial without a plan."""
    plots, numbers = _main_plots(case), {}
    if (gain := case.settings.trial.smallest_gain_share) is not None:
        numbers["gain"] = (PERCENT * gain, "case.toml")
    blocks = plots["block"][plots["block"] != ""].nunique()
    if blocks > 1:
        numbers["blocks"] = (float(blocks), "the blocks of plots.csv")
    plants = plots["plants"].dropna()
    if len(plants) and (common := int(plants.mode().iloc[0])) > 0:
        rows = 2 if common % 2 == 0 else 1
        source = f"{common} plants a plot in plots.csv, {'two rows' if rows > 1 else 'one row'} supposed"
        numbers |= {"rows": (float(rows), source), "plants_per_row": (common / rows, source)}
        area = float(plots["net_area_m2"].dropna().median()) / common
        between = QUANTITIES["spacing_between_rows_m"].value
        numbers["spacing_in_row_m"] = (round(area / between, 3), f"net area by plant in rows {between:g} m apart")
    return numbers


def _trial_design(case: Case) -> tuple[str, tuple[Factor, ...]]:
    """Return kind and factors of the trial that plots.csv lists; of a case without one, its systems."""
    plots, stated = _main_plots(case), case.settings.trial
    columns = [name for name in plots.columns if name.startswith(FACTOR_PREFIX)]
    factors = [
        Factor(name.removeprefix(FACTOR_PREFIX), tuple(dict.fromkeys(plots[name].astype(str)))) for name in columns
    ]
    factors = [factor for factor in factors if len(factor.levels) > 1]
    if stated.design in KINDS and stated.design != BLOCKS and len(factors) == 2:
        whole_first = sorted(factors, key=lambda factor: factor.name != stated.whole_plots)
        return stated.design, tuple(whole_first if stated.design == SPLIT else factors)
    names = tuple(dict.fromkeys(plots["treatment"].astype(str))) or tuple(one.id for one in case.settings.systems)
    return BLOCKS, (Factor("treatment", names),) if len(names) > 1 else ()


def _fruit_numbers(case: Case) -> dict[str, tuple[float, str]]:
    """Return the CV between fruit that were weighed singly, and the fruit that a treatment gives at one picking."""
    numbers = {}
    keys = _main_plots(case)[["plot", "treatment"]].astype(object)
    masses = case.table("fruit_masses").astype({"plot": object}).merge(keys, on="plot")
    single = masses[masses["fruits"] == 1]
    groups = single.groupby(["treatment", "date"])["total_mass_g"]
    freedom = int((groups.count() - 1).sum())
    if freedom >= FEWEST_SINGLE_FRUIT:
        variance = float(((groups.count() - 1) * groups.var().fillna(0.0)).sum()) / freedom
        cv = PERCENT * variance**0.5 / float(single["total_mass_g"].mean())
        numbers["fruit_cv"] = (float(f"{cv:.3g}"), f"{len(single)} fruit weighed singly, within treatment and day")
    picked = case.table("harvests").astype({"plot": object}).merge(keys, on="plot")
    sums = picked.groupby(["treatment", "date"])["marketable_fruits"].sum(min_count=1)
    sums = sums[sums > 0]
    if len(sums):
        numbers["fruits"] = (float(int(sums.median())), "middle of the pickings so far, a treatment at a time")
    return numbers
