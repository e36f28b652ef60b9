"""A second reading of a trial's layout, and its treatment means over blocks of equal weight, in plain Python.

Written from the method statement without the library, to be held against it. Sums are fractions, so that nothing is
rounded and whether the plots tell a mean at all has a plain answer. Yates (1935) J. R. Statist. Soc. Suppl. 2:181;
Henderson (1953) Biometrics 9:226, his third method.
"""

import tomllib
from fractions import Fraction
from itertools import combinations
from pathlib import Path

ONE_TRIAL = ("crop", "site", "trial_year")
TREATMENT, BLOCK, FACTOR = "treatment", "block", "factor_"


def layout_of(folder, settings, plots):
    """Return what was drawn by lot: the factors, those of whole plots, and whether inside blocks.

    A frozen plan says it, else the settings; else the treatment was drawn inside blocks where there are several, every
    plot has one and one of them holds several treatments, over all plots otherwise.
    """
    columns = [name for name in plots[0] if name.startswith(FACTOR)]
    plan = Path(folder) / "plan.toml"
    said = settings.get("trial", {})
    if plan.exists():
        frozen = tomllib.loads(plan.read_text(encoding="utf-8"))
        design, planned = frozen["design"], [FACTOR + factor["name"] for factor in frozen["factors"]]
        columns = planned if set(planned) <= set(columns) else []
        whole = (columns or [TREATMENT])[:1]
    else:
        blocks = {plot[BLOCK] for plot in plots}
        held = {block: {plot[TREATMENT] for plot in plots if plot[BLOCK] == block} for block in blocks}
        linked = any(len(each) > 1 for each in held.values()) or len({plot[TREATMENT] for plot in plots}) == 1
        compared = len(blocks) > 1 and "" not in blocks and linked
        design = said.get("design") or ("blocks" if compared else "random")
        whole = [FACTOR + said.get("whole_plots", "")]
    factors = (columns or [TREATMENT]) if design in ("split", "factorial") else [TREATMENT]
    return {"factors": factors, "whole": whole if design == "split" else [], "blocked": design != "random"}


def means_over_blocks(layout, plots, values):
    """Return {treatment: mean of a figure}, `values` by plot; left out where no plot or no block tells it.

    Crops, sites and years are trials of their own; a treatment of several has the mean of its means.
    """
    trials = {}
    for plot in plots:
        trials.setdefault(tuple(plot[name] for name in ONE_TRIAL), []).append(plot)
    found = {}
    for trial in trials.values():
        for treatment, mean in means_of_trial(layout, trial, values).items():
            found.setdefault(treatment, []).append(mean)
    return {treatment: float(sum(means) / len(means)) for treatment, means in found.items()}


def means_of_trial(layout, trial, values):
    """Return {treatment: mean over blocks of equal weight} of one trial, by (generalised) least squares."""
    known = [plot for plot in trial if plot["plot"] in values]
    if not known:
        return {}
    y = [Fraction(values[plot["plot"]]) for plot in known]
    terms, blocks = fitted_terms(layout, known), blocks_of(layout, known)
    x = table_of([{("mean",): 1, **own_block(layout, plot), **levels_of(plot, terms)} for plot in known], names := [])
    mixes = {}
    for treatment in dict.fromkeys(plot[TREATMENT] for plot in trial):
        cells = {cell_of(layout, plot): plot for plot in trial if plot[TREATMENT] == treatment}
        mix = {("mean",): Fraction(1), **{block: Fraction(1, len(blocks)) for block in blocks}}
        for plot in cells.values():
            for level in levels_of(plot, terms):
                mix[level] = mix.get(level, 0) + Fraction(1, len(cells))
        if set(mix) <= set(names):
            mixes[treatment] = [mix.get(name, 0) for name in names]
    groups = whole_plots(layout, known)
    ratio = variance_ratio(x, y, groups) if groups else 0
    squares, products = normal_equations(x, y, groups, ratio)
    _, solutions = eliminate(squares, list(mixes.values()))
    pairs = zip(mixes, solutions, strict=True)
    return {name: dot(solution, products) for name, solution in pairs if solution is not None}


def cell_of(layout, plot):
    """Return the levels of all factors of a plot."""
    return tuple(plot[factor] for factor in layout["factors"])


def own_block(layout, plot):
    """Return the column of a plot's block, none without blocks."""
    return {(BLOCK, plot[BLOCK]): 1} if layout["blocked"] else {}


def blocks_of(layout, plots):
    """Return the columns of all blocks."""
    return list(dict.fromkeys(key for plot in plots for key in own_block(layout, plot)))


def levels_of(plot, terms):
    """Return the columns in which a plot stands: its level of each term, which is a set of factors."""
    return {(term, *(plot[factor] for factor in term)): 1 for term in terms}


def table_of(rows, names):
    """Return rows of {column: number} as lists; `names` takes up the columns in their order."""
    names += [name for name in dict.fromkeys(key for row in rows for key in row) if name not in names]
    return [[row.get(name, 0) for name in names] for row in rows]


def own_whole(layout, plot):
    """Return the whole plot in which a plot lies: its block, and its level of the factors of whole plots."""
    return (plot[BLOCK], *(plot[factor] for factor in layout["whole"]))


def whole_plots(layout, plots):
    """Return the positions of the plots of each whole plot."""
    groups = {}
    for place, plot in enumerate(plots if layout["whole"] else ()):
        groups.setdefault(own_whole(layout, plot), []).append(place)
    return list(groups.values())


def fitted_terms(layout, plots):
    """Return the terms to fit: all factors together; less what blocks hide, where they hide an interaction wholly."""
    factors = layout["factors"]
    terms = [term for size in range(1, len(factors) + 1) for term in combinations(factors, size)]
    left_out = [term for term in terms if len(term) > 1 and is_hidden(layout, plots, term, terms)]
    if not left_out:
        return [tuple(factors)]
    return [term for term in terms if not any(set(out) <= set(term) for out in left_out)]


def is_hidden(layout, plots, term, terms):
    """Say whether an interaction adds nothing once blocks, whole plots and what lies below it are fitted."""
    below = [other for other in terms if set(other) < set(term)]
    within = bool(layout["whole"]) and not set(term) <= set(layout["whole"])

    def rank(fitted, *, laid_out):
        rows = [{("mean",): 1, **levels_of(plot, fitted)} for plot in plots]
        for plot, row in zip(plots, rows, strict=True):
            row.update(own_block(layout, plot) if laid_out else {})
            row.update({("whole", *own_whole(layout, plot)): 1} if laid_out and within else {})
        x = table_of(rows, [])
        return residual(x, [0] * len(x))[0]

    adds = [rank([*below, term], laid_out=laid) - rank(below, laid_out=laid) for laid in (False, True)]
    return adds[0] > 0 and adds[1] == 0


def variance_ratio(x, y, groups):
    """Return the variance between whole plots over that of plots: Henderson's third method, never below 0.

    Sums of squares between whole plots after everything else have the expectation f (plot + k whole); k is what the
    fitted columns leave of the whole plots' own, over the degrees of freedom f.
    """
    own = [[int(place in group) for group in groups] for place in range(len(y))]
    everything = [[*row, *more] for row, more in zip(x, own, strict=True)]
    rank, left = residual(x, y)
    rank_of_all, left_of_all = residual(everything, y)
    freedom, freedom_of_plots = rank_of_all - rank, len(y) - rank_of_all
    if not (freedom and freedom_of_plots and left_of_all):
        return 0
    between, within = (left - left_of_all) / freedom, left_of_all / freedom_of_plots
    k = sum(residual(x, column)[1] for column in zip(*own, strict=True)) / freedom
    return max((between / within - 1) / k, 0)


def residual(x, y):
    """Return the rank of the columns and the sum of squares that they leave of y."""
    squares, products = normal_equations(x, y, (), 0)
    rank, (solution,) = eliminate(squares, [products])
    return rank, dot(y, y) - dot(solution, products)


def normal_equations(x, y, groups, ratio):
    """Return X'WX and X'Wy; W takes c x sum of a whole plot of n plots from each of them, c = ratio / (1 + n ratio)."""
    columns = list(zip(*x, strict=True))
    weighted = [list(map(Fraction, column)) for column in columns]
    for group in groups:
        part = Fraction(ratio) / (1 + len(group) * Fraction(ratio))
        for column, new in zip(columns, weighted, strict=True):
            shared = part * sum(column[place] for place in group)
            for place in group:
                new[place] -= shared
    return [[dot(one, other) for other in columns] for one in weighted], [dot(one, y) for one in weighted]


def dot(one, other):
    """Return the sum of products."""
    return sum(a * b for a, b in zip(one, other, strict=True) if a and b)


def eliminate(matrix, rights):
    """Return the rank of a square matrix and a solution for each right side, None where there is none: Gauss."""
    size = len(matrix)
    rows = [[*map(Fraction, row), *(right[place] for right in rights)] for place, row in enumerate(matrix)]
    pivots = []
    for column in range(size):
        free = range(len(pivots), size)
        found = next((place for place in free if rows[place][column]), None)
        if found is None:
            continue
        top = len(pivots)
        rows[top], rows[found] = rows[found], rows[top]
        head = rows[top][column]
        rows[top] = [value / head for value in rows[top]]
        for place, row in enumerate(rows):
            if place != top and row[column]:
                times = row[column]
                rows[place] = [a - times * b if b else a for a, b in zip(row, rows[top], strict=True)]
        pivots.append(column)
    return len(pivots), [solution_of(rows, pivots, size, size + place) for place in range(len(rights))]


def solution_of(rows, pivots, size, right):
    """Return the solution with zeros for free columns; None where a row without a pivot has something to give."""
    if any(row[right] for row in rows[len(pivots) :]):
        return None
    solution = [Fraction(0)] * size
    for row, pivot in zip(rows, pivots, strict=False):
        solution[pivot] = row[right]
    return solution
