"""What a trial compares: factors, their levels, the treatments they make, and the blocks that repeat them."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

BLOCKS, SPLIT, FACTORIAL = "blocks", "split", "factorial"
KINDS = (BLOCKS, SPLIT, FACTORIAL)
NOTHING = "none"  # a level of this name is left out of the name of a treatment


@dataclass(frozen=True)
class Factor:
    """One thing that is varied: its name and its levels."""

    name: str
    levels: tuple[str, ...]


@dataclass(frozen=True)
class Design:
    """A trial in complete blocks.

    Attributes: kind, one of `blocks` (one factor), `split` (the first factor is drawn for whole plots, the second
    for the sub-plots within) and `factorial` (every combination of the factors' levels is a treatment, drawn
    alike); factors in that order; blocks, each of which holds every treatment once.
    """

    kind: str
    factors: tuple[Factor, ...]
    blocks: int

    @property
    def combinations(self) -> tuple[tuple[str, ...], ...]:
        """Levels of every treatment, in the order of the factors."""
        return tuple(product(*(factor.levels for factor in self.factors)))

    @property
    def treatments(self) -> tuple[str, ...]:
        """Names of the treatments, in the order of `combinations`."""
        return treatment_names([factor.levels for factor in self.factors])

    @property
    def plots_per_block(self) -> int:
        """Number of plots (in a split plot: sub-plots) in a block."""
        return len(self.combinations)

    @property
    def error_freedom(self) -> tuple[int, ...]:
        """Degrees of freedom left for error: one number, in a split plot those of whole plots and of sub-plots.

        Equation: (b - 1)(t - 1) in complete blocks; (b - 1)(a - 1) and a (b - 1)(s - 1) in a split plot of a whole-plot
        and s sub-plot levels. Source: Gomez & Gomez (1984), chapters 2 to 4.
        """
        repeats = self.blocks - 1
        if self.kind != SPLIT:
            return (repeats * (self.plots_per_block - 1),)
        whole, sub = (len(factor.levels) for factor in self.factors)
        return repeats * (whole - 1), whole * repeats * (sub - 1)


def treatment_names(levels: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Return the name of each combination of levels: levels joined by `+`, those called `none` left out.

    Where that makes two names equal, every level stands in every name.
    """
    combinations = list(product(*levels))
    short = tuple(
        "+".join(level for level in combination if level != NOTHING) or NOTHING for combination in combinations
    )
    if len(set(short)) == len(short):
        return short
    return tuple("+".join(combination) for combination in combinations)
