"""How a trial was laid out: what was drawn by lot, inside which blocks, on which plots.

The unit is what was drawn by lot. In a split plot two things were: the whole plots, and the plots
inside each of them. A term is a set of factors; a cell is one level of every factor.
"""

from dataclasses import dataclass
from itertools import combinations

Term = tuple[str, ...]


@dataclass(frozen=True)
class Arrangement:
    """A layout, in names of columns of the table of plots.

    Attributes: name in words; factors, the columns that say what was done; blocks, the columns whose
    differences are taken out (none, one, or row and column of a Latin square); whole_factors, those
    of `factors` that were drawn by lot for whole plots; whole_plot, the column that names the whole
    plots, blank where a block and a level of the whole-plot factors make one.
    """

    name: str
    factors: Term
    blocks: Term = ()
    whole_factors: Term = ()
    whole_plot: str = ""

    @property
    def sub_factors(self) -> Term:
        """Return the factors drawn by lot for single plots."""
        return tuple(factor for factor in self.factors if factor not in self.whole_factors)

    @property
    def terms(self) -> tuple[Term, ...]:
        """Return main effects, then interactions of two factors, of three and so on."""
        sizes = range(1, len(self.factors) + 1)
        return tuple(term for size in sizes for term in combinations(self.factors, size))

    @property
    def whole_plot_columns(self) -> Term:
        """Return the columns that tell whole plots apart; none without a split."""
        if not self.whole_factors:
            return ()
        return (self.whole_plot,) if self.whole_plot else (*self.blocks, *self.whole_factors)

    def is_whole(self, term: Term) -> bool:
        """Say whether a term varies between whole plots alone."""
        return bool(self.whole_factors) and set(term) <= set(self.whole_factors)


def completely_randomised(*factors: str) -> Arrangement:
    """Return an arrangement without blocks: treatments drawn by lot over all plots."""
    return Arrangement("completely randomised", factors)


def complete_blocks(*factors: str, block: str = "block") -> Arrangement:
    """Return randomised complete blocks of one factor, or a factorial in blocks of several."""
    name = "randomised complete blocks" if len(factors) == 1 else "factorial in blocks"
    return Arrangement(name, factors, (block,))


def latin_square(factor: str, *, row: str, column: str) -> Arrangement:
    """Return a Latin square: every treatment once in every row and every column."""
    return Arrangement("Latin square", (factor,), (row, column))


def split_plot(*, whole: Term, sub: Term, block: str = "block", whole_plot: str = "") -> Arrangement:
    """Return a split plot.

    Parameters: whole and sub, the factors drawn by lot for whole plots and for the plots inside them;
    block, blank where the whole plots lie in no blocks (then `whole_plot` names the column that tells
    them apart).

    Errors: ValueError without a block and without a column of whole plots: each level would have one.
    """
    if not block and not whole_plot:
        raise ValueError("without blocks the column that tells the whole plots apart must be named")
    return Arrangement("split plot", (*whole, *sub), (block,) if block else (), whole, whole_plot)
