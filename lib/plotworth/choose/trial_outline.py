"""A trial before it is planted: what would be compared, on how many plots of what size, with what spread expected."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from plotworth.case.plan import Plan
from plotworth.field.design import BLOCKS, FACTORIAL, SPLIT, Design, Factor
from plotworth.field.plot_size import PlotSize
from plotworth.field.power import Comparison, comparisons
from plotworth.field.sampling import cv_of_size
from plotworth.ground.errors import PlotworthError

PERCENT = 100.0
MOST_TREATMENTS = 60
FEWEST_LEVELS = 2
ONE_FACTOR = "treatment"
ONE_FACTOR_KIND = BLOCKS
KIND_WORDS = {"Complete blocks": BLOCKS, "Split plot": SPLIT, "Factorial in blocks": FACTORIAL}
WHOLE_NUMBERS = ("blocks", "rows", "plants_per_row", "guard_rows", "guard_plants", "fruits")


@dataclass(frozen=True)
class TrialOutline:
    """What one would plant.

    Attributes: design; size of a plot; path between plots [m]; expected CV between plots of `stated_plants` plants in
    a block, with the ends one would believe; whole_plot_ratio, CV of whole plots over that of sub-plots, from 1;
    smith_index b; smallest gain worth having; precision wanted of a mean fruit mass, CV between single fruit and the
    fruit there are. CVs, gain and precision are shares of the mean.
    """

    design: Design
    size: PlotSize
    path_m: float
    stated_cv: float
    cv_low: float
    cv_high: float
    stated_plants: int
    whole_plot_ratio: float
    smith_index: float
    gain: float
    precision: float
    fruit_cv: float
    fruits: int

    @property
    def plot_cv(self) -> float:
        """CV expected between plots of the size chosen, by Smith's b from the size it was stated for."""
        return self.cv_for(self.size.plants)

    def cv_for(self, plants: float) -> float:
        """Return the CV expected between plots of so many plants."""
        return cv_of_size(self.stated_cv, plants=plants, of_plants=self.stated_plants, index=self.smith_index)

    def comparisons(self) -> tuple[Comparison, ...]:
        """Return every kind of difference that the trial can look at, with its standard error."""
        return comparisons(self.design, plot_cv=self.plot_cv, whole_plot_cv=self.whole_plot_ratio * self.plot_cv)


def plan_design(plan: Plan) -> Design:
    """Return the design of a plan, for the rooms of the field floor."""
    return Design(plan.design, tuple(Factor(factor.name, factor.levels) for factor in plan.factors), plan.blocks)


def plan_size(plan: Plan) -> PlotSize:
    """Return the plot of a plan, for the rooms of the field floor."""
    return PlotSize(
        rows=plan.rows,
        plants_per_row=plan.plants_per_row,
        spacing_in_row_m=plan.spacing_in_row_m,
        spacing_between_rows_m=plan.spacing_between_rows_m,
        guard_rows=plan.guard_rows,
        guard_plants=plan.guard_plants,
    )


def read_outline(
    kind: str, factor_texts: Sequence[str], numbers: Mapping[str, float], *, stated_plants: int
) -> TrialOutline:
    """Return the outline that a panel's controls describe.

    Parameters: kind of the design; a text a factor, such as `water = tank, drip, hand`, of which complete blocks take
    the first alone; numbers by the names of `plan_controls`, those of per cent in per cent; plants of the plots that
    the expected CV was stated for. Raises PlotworthError with a sentence for each fault.
    """
    texts = factor_texts[:1] if kind == BLOCKS else factor_texts
    factors, problems = _factors(texts)
    problems += [
        f"{name.replace('_', ' ').capitalize()}: {numbers[name]:g} is no whole number."
        for name in WHOLE_NUMBERS
        if numbers[name] != int(numbers[name])
    ]
    if numbers["cv_low"] > numbers["cv_high"]:
        problems.append("The CV at best is greater than the CV at worst: exchange them.")
    design = Design(kind, factors, int(numbers["blocks"]))
    if not problems and design.plots_per_block > MOST_TREATMENTS:
        problems.append(f"{design.plots_per_block} treatments are more than {MOST_TREATMENTS}: compare fewer.")
    if problems:
        raise PlotworthError("\n".join(problems))
    return TrialOutline(
        design=design,
        size=_size(numbers),
        path_m=numbers["path_m"],
        stated_cv=numbers["plot_cv"] / PERCENT,
        cv_low=numbers["cv_low"] / PERCENT,
        cv_high=numbers["cv_high"] / PERCENT,
        stated_plants=stated_plants,
        whole_plot_ratio=numbers["whole_plot_ratio"],
        smith_index=numbers["smith_index"],
        gain=numbers["gain"] / PERCENT,
        precision=numbers["precision"] / PERCENT,
        fruit_cv=numbers["fruit_cv"] / PERCENT,
        fruits=int(numbers["fruits"]),
    )


def _size(numbers: Mapping[str, float]) -> PlotSize:
    return PlotSize(
        rows=int(numbers["rows"]),
        plants_per_row=int(numbers["plants_per_row"]),
        spacing_in_row_m=numbers["spacing_in_row_m"],
        spacing_between_rows_m=numbers["spacing_between_rows_m"],
        guard_rows=int(numbers["guard_rows"]),
        guard_plants=int(numbers["guard_plants"]),
    )


def factor_text(factor: Factor) -> str:
    """Return a factor as its text box holds it: `water = tank, drip, hand`."""
    return f"{factor.name} = {', '.join(factor.levels)}"


def _factors(texts: Sequence[str]) -> tuple[tuple[Factor, ...], list[str]]:
    """Return the factors of their texts, and a sentence for each fault."""
    factors = tuple(_factor(text) for text in texts)
    problems = [problem for factor in factors for problem in _level_problems(factor)]
    names = [factor.name for factor in factors]
    if len(set(names)) < len(names):
        problems.append(f"Both factors are called {names[0]}: give each a name of its own.")
    return factors, problems


def _factor(text: str) -> Factor:
    name, equals, levels = text.partition("=")
    found = tuple(level.strip() for level in (levels if equals else text).split(",") if level.strip())
    return Factor(name.strip() if equals else ONE_FACTOR, found)


def _level_problems(factor: Factor) -> list[str]:
    problems = []
    if not factor.name.isidentifier():
        problems.append(f"{factor.name!r} is no name of a factor: write one word, such as water = tank, drip, hand.")
    if len(factor.levels) < FEWEST_LEVELS:
        problems.append(f"The factor {factor.name} needs two levels or more: write water = tank, drip, hand.")
    if len(set(factor.levels)) < len(factor.levels):
        problems.append(f"The factor {factor.name} has a level twice: name each once.")
    return problems
