"""A partial budget as tables to read and as sentences."""

from collections.abc import Iterator, Sequence

import numpy as np

from plotworth.choose.appraise import Appraisal
from plotworth.choose.budget_moves import MovedBudget
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.treatment_budget import Neighbours, TreatmentBudget
from plotworth.ground.amounts import amount_text, figures_text, money_text, share_text
from plotworth.ground.arrays import Array
from plotworth.ground.conversions import M2_PER_HA
from plotworth.money.budget import NONE

KG, PER_M2 = "kg/m²", "/m²"
SMALL_STEP = 0.1
"""Part of the costs that vary below which an extra cost is so small that its marginal rate says little."""
DEFAULT_MINIMUM = (
    "the book states no minimum_return_share, so 100 % is taken, for a practice new to its growers: CIMMYT (1988) "
    "names 50 to 100 % for a crop cycle, from memory"
)
STATED_MINIMUM = "as the book states"


def budget_tables(currency: str, budget: TreatmentBudget, moved: Sequence[MovedBudget] = ()) -> list[FigureTable]:
    """Return the tables of a budget: treatments side by side; rates, extra yields and interval ends of several."""
    tables = [side_by_side(currency, budget)]
    if not budget.is_comparison:
        return tables
    tables += [marginal_table(currency, budget), required_table(currency, budget)]
    return [*tables, moved_table(currency, budget, moved)] if moved else tables


def _named(budget: TreatmentBudget, title: str) -> str:
    return f"{budget.crop}, {budget.season}: {title}"


def _text(value: float) -> str:
    return figures_text(value) if np.isfinite(value) else DASH


def side_by_side(currency: str, budget: TreatmentBudget) -> FigureTable:
    """Return yield, field price, gross field benefit, each cost that varies and net benefit, a column a treatment."""
    money = currency + PER_M2
    columns = budget.columns
    shown: list[tuple[str, str, Sequence[float] | Array]] = [
        ("Yield, measured or stated", KG, [one.yield_kg_per_m2 for one in columns]),
        ("Adjusted: sold or eaten", KG, [one.adjusted_yield_kg_per_m2 for one in columns]),
        ("Field price", f"{currency}/kg", [one.field_price_per_kg for one in columns]),
        ("Gross field benefit", money, [one.gross_benefit for one in columns]),
        *((f"- {name}", money, amounts) for name, amounts in budget.varying.items()),
        ("Costs that vary", money, budget.varying_costs),
        ("Net benefit", money, budget.net_benefits),
        ("Net benefit", f"{currency}/ha", budget.net_benefits * M2_PER_HA),
    ]
    rows = (FigureRow(label, unit, tuple(_text(float(v)) for v in values)) for label, unit, values in shown)
    return FigureTable(_named(budget, "partial budget per planted m² and season"), budget.labels, tuple(rows))


def by_cost(budget: TreatmentBudget) -> list[int]:
    """Return the positions of the treatments from the least to the greatest costs that vary, unknown ones last."""
    return [int(k) for k in np.argsort(budget.varying_costs, kind="stable")]


def marginal_table(currency: str, budget: TreatmentBudget) -> FigureTable:
    """Return a row a treatment by rising costs: cost, net benefit, marginal rate over the one before, residual."""
    heads = ("costs", "net benefit", "rate %", "residual")
    rows = (FigureRow(budget.labels[k], currency + PER_M2, _marginal_cells(budget, k)) for k in by_cost(budget))
    return FigureTable(
        _named(budget, "by rising costs that vary, with the marginal rate of return"), heads, tuple(rows)
    )


def _marginal_cells(budget: TreatmentBudget, k: int) -> tuple[str, ...]:
    rate = "dominated" if budget.analysis.is_dominated[k] else _text(100.0 * float(budget.analysis.rate[k]))
    costs, benefit, left = budget.varying_costs[k], budget.net_benefits[k], budget.residuals[k]
    return _text(float(costs)), _text(float(benefit)), rate, _text(float(left))


def required_table(currency: str, budget: TreatmentBudget) -> FigureTable:
    """Return a row a pair: extra cost, the extra yield that pays it with the minimum return, the extra yield there."""
    heads = (f"extra {currency}{PER_M2}", "required", "of the trial", "found")
    rows = (
        FigureRow(_pair_label(budget, pair), KG, tuple(map(_text, _pair_numbers(pair)))) for pair in budget.neighbours
    )
    return FigureTable(_named(budget, "extra yield required over the cheaper neighbour"), heads, tuple(rows))


def _pair_numbers(pair: Neighbours) -> tuple[float, ...]:
    return pair.extra_cost, pair.required_kg_per_m2, pair.required_at_trial_kg_per_m2, pair.measured_kg_per_m2


def _pair_label(budget: TreatmentBudget, pair: Neighbours) -> str:
    return f"{_label(budget, pair.system)} over {_label(budget, pair.before)}"


def _label(budget: TreatmentBudget, system: str) -> str:
    return next(column.label for column in budget.columns if column.system == system)


def moved_table(currency: str, budget: TreatmentBudget, moved: Sequence[MovedBudget]) -> FigureTable:
    """Return net benefits with price or a yield at an end of its interval, the recommended treatment starred."""
    rows = (
        FigureRow(moved_name(budget, one), currency + PER_M2, _starred(one.budget))
        for one in moved
        if one.budget is not None
    )
    title = _named(budget, "net benefit at interval ends, * recommended there")
    return FigureTable(title, budget.labels, tuple(rows))


def _starred(budget: TreatmentBudget) -> tuple[str, ...]:
    places = range(len(budget.columns))
    return tuple(_text(float(budget.net_benefits[k])) + ("*" if k == budget.recommended else "") for k in places)


def moved_name(budget: TreatmentBudget, moved: MovedBudget) -> str:
    """Return what was moved in words: `Price, low`, `Yield of Tank, high`."""
    return (
        f"Price, {moved.end}"
        if moved.quantity == "price"
        else f"Yield of {_label(budget, moved.quantity)}, {moved.end}"
    )


def budget_sentences(currency: str, budget: TreatmentBudget, moved: Sequence[MovedBudget] = ()) -> list[str]:
    """Return what a budget says: its sources, dominance, rates, the recommended treatment, how far that holds."""
    return [
        *_behind(budget),
        *(_comparison(currency, budget, moved) if budget.is_comparison else _single(budget)),
    ]


def _behind(budget: TreatmentBudget) -> Iterator[str]:
    groups = {"measured by the trial": True, "stated in the book": False}
    for words, is_measured in groups.items():
        if names := [column.label for column in budget.columns if column.is_measured == is_measured]:
            yield f"Yield {words}: {', '.join(names)}."
    if budget.common and budget.is_comparison:
        yield f"The same for every treatment, so left out: {', '.join(budget.common)}."


def _single(budget: TreatmentBudget) -> Iterator[str]:
    yield (
        f"Only {budget.labels[0]} grows {budget.crop} in {budget.season}: with nothing to set it against there is no "
        "cost that varies and no marginal rate."
    )


def _comparison(currency: str, budget: TreatmentBudget, moved: Sequence[MovedBudget]) -> Iterator[str]:
    if not np.isfinite(budget.net_benefits).all():
        names = [one for one, known in zip(budget.labels, np.isfinite(budget.net_benefits), strict=True) if not known]
        yield f"Not known, and passed over: {', '.join(names)}."
    yield from _dominance(budget)
    yield from _rates(currency, budget)
    yield from _advice(currency, budget)
    yield from (_required(budget, pair) for pair in budget.neighbours)
    yield from _holding(budget, moved)


def _dominance(budget: TreatmentBudget) -> Iterator[str]:
    for pair in budget.neighbours:
        place = [column.system for column in budget.columns].index(pair.system)
        if budget.analysis.is_dominated[place]:
            names = _label(budget, pair.system), _label(budget, pair.before)
            yield f"{names[0]} is dominated: {names[1]} costs no more and brings no less."


def _rates(currency: str, budget: TreatmentBudget) -> Iterator[str]:
    for k in by_cost(budget):
        before = int(budget.analysis.compared_with[k])
        if before == NONE:
            continue
        rate, extra = float(budget.analysis.rate[k]), float(budget.analysis.extra_cost[k])
        yield (
            f"From {budget.labels[before]} to {budget.labels[k]}: {money_text(extra, currency)} more of costs a "
            f"planted m² brings itself back and {share_text(rate)} on top (marginal rate of return)."
        )
        if extra < SMALL_STEP * float(budget.varying_costs[k]):
            yield "That extra cost is small beside the costs, so read the net benefits rather than the rate."


def _advice(currency: str, budget: TreatmentBudget) -> Iterator[str]:
    if budget.recommended == NONE:
        yield "No treatment can be recommended: none has a known net benefit."
        return
    best, minimum = budget.labels[budget.recommended], share_text(budget.minimum_return)
    source = STATED_MINIMUM if budget.is_minimum_stated else DEFAULT_MINIMUM
    yield (
        f"With a lowest acceptable return of {minimum} over the season, {best} has the highest residual: of these "
        f"treatments it is the one a partial budget recommends. ({source[0].upper()}{source[1:]}.)"
    )
    benefit = float(budget.net_benefits[budget.recommended])
    if benefit < 0.0:
        yield (
            f"Even so its net benefit is {money_text(benefit, currency)} a planted m²: it does not earn the costs that "
            "vary, before those common to all."
        )


def _required(budget: TreatmentBudget, pair: Neighbours) -> str:
    names = f"{_label(budget, pair.system)} over {_label(budget, pair.before)}"
    if not np.isfinite(pair.required_kg_per_m2):
        return f"{names}: no extra yield can pay, for a kilogram more earns nothing in the field."
    required, found = (amount_text(abs(v), KG) for v in (pair.required_kg_per_m2, pair.measured_kg_per_m2))
    needed = f"{required} more is needed to pay with that return"
    if pair.required_kg_per_m2 <= 0.0:
        needed = f"it pays with that return even at {required} less, for its kilograms bring more"
    return (
        f"{names}: {needed}; {found} {'less' if pair.measured_kg_per_m2 < 0.0 else 'more'} is there (adjusted yields)."
    )


def _holding(budget: TreatmentBudget, moved: Sequence[MovedBudget]) -> Iterator[str]:
    known = [(one, one.budget) for one in moved if one.budget is not None]
    if not known or budget.recommended == NONE:
        return
    turned = [(one, found) for one, found in known if found.recommended != budget.recommended]
    best = budget.labels[budget.recommended]
    if not turned:
        yield f"{best} stays recommended with the price and each yield, one at a time, at either end of its interval."
    for one, found in turned:
        other = found.labels[found.recommended] if found.recommended != NONE else "none"
        yield f"{moved_name(budget, one)}: the recommended treatment is {other} instead of {best}."


def budget_notes(appraisal: Appraisal) -> list[str]:
    """Return what every budget of a case rests on, in sentences."""
    settings = appraisal.case.settings
    return [
        f"Prices of the farm: what {settings.currency} a kilogram brings at the farm gate less picking and packing, at "
        f"{settings.price_year} prices; family work at its wage, food eaten at home in kind.",
        "Per planted square metre, paths and stands left out, and for one season of a year after learning, seasons "
        "that fail counted at their chance.",
        "Capital counts as an equal yearly amount over its whole life at the discount rate, also beyond the horizon; "
        "it and yearly costs are shared by the year's seasons by planted ground. NPV stops at the horizon and may rank "
        "otherwise.",
        "A partial budget compares treatments at this size; it is no profit, for common costs are left out.",
    ]
