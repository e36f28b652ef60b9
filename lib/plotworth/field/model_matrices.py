"""The matrices behind a block model: which plot lies in which block, whole plot and treatment cell.

Columns are indicators of levels, more of them than can be told apart; ranks and least squares of
least length take care of that, and what cannot be told apart is found and kept, not assumed away.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plotworth.field.arrangement import Arrangement, Term

Floats = NDArray[np.float64]
Cell = tuple[str, ...]


@dataclass(frozen=True)
class ModelMatrices:
    """Indicators of the plots that have a value, n of them.

    Attributes: arrangement; observed, shape (all plots,), true where a value stands; cells, every
    treatment cell of the trial in order of first appearance; plots_per_cell, shape (c,), those with a
    value; block_columns, one matrix (n, levels) a block column; term_columns, one matrix (n, levels)
    a term; whole_plots (n, whole plots), no columns without a split; left_out, interactions that
    cannot be told from block differences; fixed (n, p), the columns fitted; cell_rows (c, p), which
    mix of them is the mean of a cell over blocks of equal weight.
    """

    arrangement: Arrangement
    observed: NDArray[np.bool_]
    cells: tuple[Cell, ...]
    plots_per_cell: NDArray[np.int64]
    block_columns: tuple[Floats, ...]
    term_columns: dict[Term, Floats]
    whole_plots: Floats
    left_out: tuple[Term, ...]
    fixed: Floats
    cell_rows: Floats

    @property
    def blocks(self) -> Floats:
        """Return the constant and all block indicators, shape (n, 1 + levels)."""
        return np.hstack([np.ones((len(self.fixed), 1)), *self.block_columns])


def prepare(plots: pd.DataFrame, arrangement: Arrangement, observed: NDArray[np.bool_]) -> ModelMatrices:
    """Lay the plots of a trial out as matrices.

    Parameters: plots, one row a plot, with the columns the arrangement names; observed, shape (plots,),
    false where a plot has no value. Levels are compared as text.
    """
    text = plots[[*arrangement.factors]].astype(str)
    cells = tuple(dict.fromkeys(map(tuple, text.to_numpy().tolist())))
    seen, text_seen = plots.loc[observed], text.loc[observed]
    blocks = tuple(_indicators(seen, (column,)) for column in arrangement.blocks)
    whole = _indicators(seen, arrangement.whole_plot_columns)
    levels = {term: _levels(cells, arrangement, term) for term in arrangement.terms}
    terms = {term: _against(text_seen, term, levels[term]) for term in arrangement.terms}
    constant = np.hstack([np.ones((len(seen), 1)), *blocks])
    left_out = confounded_terms(arrangement, np.hstack([constant, whole]), constant, terms)
    kept = _kept(arrangement, left_out)
    fixed = np.hstack([constant, *(terms[term] for term in kept)])
    rows = _cell_rows(cells, arrangement, kept, levels, tuple(block.shape[1] for block in blocks))
    return ModelMatrices(
        arrangement, observed, cells, _counts(text_seen, cells), blocks, terms, whole, left_out, fixed, rows
    )


def rank(matrix: Floats) -> int:
    """Return how many columns can be told apart."""
    return int(np.linalg.matrix_rank(matrix)) if matrix.size else 0


def confounded_terms(
    arrangement: Arrangement, with_whole_plots: Floats, blocks: Floats, terms: dict[Term, Floats]
) -> tuple[Term, ...]:
    """Return the interactions that block differences hide wholly, as NPK in blocks of four."""
    found = []
    for term in arrangement.terms:
        base = blocks if arrangement.is_whole(term) else with_whole_plots
        below = np.hstack([base, *(terms[other] for other in arrangement.terms if set(other) < set(term))])
        full = np.hstack([below, terms[term]])
        expected = rank(np.hstack([*(terms[other] for other in arrangement.terms if set(other) <= set(term))]))
        lower = rank(np.hstack([np.ones((len(base), 1)), *(terms[o] for o in arrangement.terms if set(o) < set(term))]))
        if len(term) > 1 and expected > lower and rank(full) == rank(below):
            found.append(term)
    return tuple(found)


def _kept(arrangement: Arrangement, left_out: tuple[Term, ...]) -> tuple[Term, ...]:
    """Return the terms to fit: the cells themselves, or everything but what is left out."""
    if not left_out:
        return (arrangement.factors,)
    return tuple(term for term in arrangement.terms if not any(set(out) <= set(term) for out in left_out))


def _levels(cells: tuple[Cell, ...], arrangement: Arrangement, term: Term) -> tuple[Cell, ...]:
    """Return the levels of a term in order of first appearance."""
    return tuple(dict.fromkeys(level_of(cell, arrangement, term) for cell in cells))


def level_of(cell: Cell, arrangement: Arrangement, term: Term) -> Cell:
    """Return the part of a cell that belongs to the factors of a term."""
    return tuple(cell[arrangement.factors.index(factor)] for factor in term)


def _against(text: pd.DataFrame, term: Term, levels: tuple[Cell, ...]) -> Floats:
    """Return indicators of given levels, levels without a plot included."""
    rows = [tuple(row) for row in text[[*term]].to_numpy().tolist()]
    return np.array([[float(row == level) for level in levels] for row in rows]).reshape(len(rows), len(levels))


def _indicators(plots: pd.DataFrame, columns: Term) -> Floats:
    """Return indicators of the levels found in some columns taken together."""
    rows = [tuple(row) for row in plots[[*columns]].astype(str).to_numpy().tolist()]
    levels = tuple(dict.fromkeys(rows)) if columns else ()
    return np.array([[float(row == level) for level in levels] for row in rows]).reshape(len(rows), len(levels))


def _counts(text: pd.DataFrame, cells: tuple[Cell, ...]) -> NDArray[np.int64]:
    """Return the plots with a value of each cell."""
    rows = [tuple(row) for row in text.to_numpy().tolist()]
    return np.array([rows.count(cell) for cell in cells], dtype=np.int64)


def _cell_rows(
    cells: tuple[Cell, ...],
    arrangement: Arrangement,
    kept: tuple[Term, ...],
    levels: dict[Term, tuple[Cell, ...]],
    block_levels: tuple[int, ...],
) -> Floats:
    """Return the mean over blocks of equal weight, plus the cell's own columns."""
    blocks = np.hstack([np.ones(1), *(np.full(count, 1.0 / max(count, 1)) for count in block_levels)])
    rows = []
    for cell in cells:
        own = [[float(level_of(cell, arrangement, term) == level) for level in levels[term]] for term in kept]
        rows.append(np.hstack([blocks, *map(np.array, own)]))
    return np.array(rows)
