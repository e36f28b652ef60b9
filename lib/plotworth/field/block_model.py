"""The block model: treatment means cleared of block differences, with the error of each stratum.

Every variance is a sum over strata of a loading times a mean square. With one stratum that is
ordinary least squares and exact. In a split plot the whole-plot mean square is that of whole plots
after everything else (Henderson's third method), the weights are those of generalised least squares,
and degrees of freedom follow Satterthwaite where strata mix; with all plots present this is the
classic analysis to the last digit, comparisons inside one stratum exact.

Blocks are fixed: the mean of a treatment is its mean over these blocks, and its error says nothing
about other fields. Keys: Yates (1935) J. R. Statist. Soc. Suppl. 2:181; Satterthwaite (1946)
Biometrics 2:110; Henderson (1953) Biometrics 9:226.
"""

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from plotworth.field.arrangement import Arrangement, Term
from plotworth.field.model_matrices import Cell, Floats, ModelMatrices, prepare, rank
from plotworth.ground.errors import PlotworthError

ONE_TRIAL = ("crop", "site", "trial_year")
PLOTS = "plots"
WHOLE_PLOTS = "whole plots"
NOT_LINKED = "no estimate: a treatment has no plot with a value, or no block links these treatments"
NO_ERROR_LEFT = "no interval: no degrees of freedom are left for the error"
NO_SPREAD = "no interval: plots treated alike do not differ at all, so there is no error to judge by"
SMALLEST_SHARE = 1e-10
ROUNDING_SHARE = 1e-20


@dataclass(frozen=True)
class Stratum:
    """One source of error.

    Attributes: name; mean_square [unit of the value, squared; NaN without degrees of freedom, 0
    without spread]; degrees_of_freedom, infinite where the size is taken as known; loading, shape
    (c, c), what it adds to the covariance of the cell means for each unit of mean square; plot_share,
    what it adds to the variance of one plot.
    """

    name: str
    mean_square: float
    degrees_of_freedom: float
    loading: Floats
    plot_share: float


@dataclass(frozen=True)
class BlockModel:
    """A fitted trial of c treatment cells.

    Attributes: matrices, with the arrangement and the cells; values [unit of the value], those of the
    plots that have one; estimates, shape (c,), least-squares means [same unit], good for those mixes
    that `unlinked` (c, p) sends to 0; strata, whole plots first where there are any.
    """

    matrices: ModelMatrices
    values: Floats
    estimates: Floats
    strata: tuple[Stratum, ...]
    unlinked: Floats

    @property
    def arrangement(self) -> Arrangement:
        """Return the layout fitted."""
        return self.matrices.arrangement

    @property
    def plot_strata(self) -> tuple[Stratum, ...]:
        """Return the strata that stand on plots: all but those of known size."""
        return tuple(stratum for stratum in self.strata if math.isfinite(stratum.degrees_of_freedom))

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Return the treatment cells in order of first appearance."""
        return self.matrices.cells

    @property
    def left_out(self) -> tuple[Term, ...]:
        """Return the interactions that cannot be told from block differences."""
        return self.matrices.left_out


@dataclass(frozen=True)
class Spread:
    """The error of one mix of cell means.

    Attributes: variance [unit of the value, squared]; degrees_of_freedom by Satterthwaite, exact
    inside one stratum; reason in words where there is none, else "".
    """

    variance: float
    degrees_of_freedom: float
    reason: str

    @property
    def standard_error(self) -> float:
        """Return the root of the variance [unit of the value]; NaN without one."""
        return math.sqrt(self.variance) if self.variance >= 0 else math.nan


@dataclass(frozen=True)
class JointMeans:
    """Means of all cells with their joint error, for draws that belong together.

    Attributes: labels; means, shape (c,) [unit of the value; NaN where not linked]; covariance,
    shape (c, c) [unit squared]; degrees_of_freedom, shape (c,), of each mean. Draws of a t on these
    are exact with one stratum; in a split plot draw each stratum's mean square of `BlockModel.strata`.
    """

    labels: tuple[str, ...]
    means: Floats
    covariance: Floats
    degrees_of_freedom: Floats


def fit(plots: pd.DataFrame, arrangement: Arrangement, *, value: str = "yield_kg_per_m2") -> BlockModel:
    """Fit the block model of one trial of one season at one site.

    Parameters: plots, one row for each unit drawn by lot, with the columns the arrangement names; value,
    the column of plot totals to compare, NaN where a plot is missing. Means, differences and errors
    come out in the unit of that column.

    Errors: PlotworthError where the plots belong to several crops, sites or seasons, which are never
    pooled; ValueError where no plot has a value.
    """
    _refuse_several_trials(plots)
    values = plots[value].to_numpy(np.float64)
    observed = np.isfinite(values)
    if not observed.any():
        raise ValueError(f"no plot has a value of {value!r}")
    return solve(prepare(plots.reset_index(drop=True), arrangement, observed), values[observed])


def _refuse_several_trials(plots: pd.DataFrame) -> None:
    """Plots of another season or site would pass for replicates, kilograms of another crop for a yield."""
    for column in ONE_TRIAL:
        held = sorted(plots[column].astype(str).unique()) if column in plots else []
        if len(held) > 1:
            raise PlotworthError(f"{column}: the plots belong to several ({', '.join(held)}): take one at a time.")


def solve(matrices: ModelMatrices, values: ArrayLike) -> BlockModel:
    """Fit the values of the observed plots, shape (n,), to matrices made before."""
    y = np.asarray(values, dtype=np.float64)
    sources = _sources(matrices, y)
    whitener = _whitener(matrices, sources)
    inverse = np.linalg.pinv(whitener @ matrices.fixed) @ whitener
    weights = matrices.cell_rows @ inverse
    strata = tuple(_stratum(source, weights) for source in sources)
    unlinked = matrices.cell_rows - weights @ matrices.fixed
    return BlockModel(matrices, y, weights @ y, strata, unlinked)


@dataclass(frozen=True)
class _Source:
    """A mean square and the covariance pattern of plots, shape (n, n), that it multiplies."""

    name: str
    mean_square: float
    degrees_of_freedom: int
    pattern: Floats


def _sources(matrices: ModelMatrices, y: Floats) -> tuple[_Source, ...]:
    """Return the sources of error; the whole plots' own first."""
    everything = np.hstack([matrices.fixed, matrices.whole_plots])
    freedom = len(y) - rank(everything)
    square = mean_square(sum_of_squares(y - fitted(everything, y)), freedom, y)
    alike = np.eye(len(y))
    if not matrices.arrangement.whole_factors:
        return (_Source(PLOTS, square, freedom, alike),)
    whole_freedom = rank(everything) - rank(matrices.fixed)
    between = sum_of_squares(fitted(everything, y - fitted(matrices.fixed, y)))
    shared = matrices.whole_plots @ matrices.whole_plots.T / _plots_per_whole_plot(matrices, whole_freedom)
    whole = _Source(WHOLE_PLOTS, mean_square(between, whole_freedom, y), whole_freedom, shared)
    return whole, _Source(PLOTS, square, freedom, alike - shared)


def _plots_per_whole_plot(matrices: ModelMatrices, freedom: int) -> float:
    """Return how often the whole-plot variance stands in the whole-plot mean square."""
    z = matrices.whole_plots
    if freedom == 0:
        return float(z.sum() / z.shape[1])
    return float(np.sum(z * (z - fitted(matrices.fixed, z))) / freedom)


def fitted(columns: Floats, y: Floats) -> Floats:
    """Return the least-squares fit of y, shape (n,) or (n, m), by columns (n, p) of any rank."""
    return np.asarray(columns @ np.linalg.lstsq(columns, y, rcond=None)[0])


def sum_of_squares(values: Floats) -> float:
    """Return the sum of squares of an array."""
    return float(np.sum(values * values))


def mean_square(squares: float, freedom: int, y: Floats) -> float:
    """Return squares / freedom: NaN without freedom, 0 where only rounding is left of the values y."""
    if freedom <= 0:
        return math.nan
    return 0.0 if squares <= ROUNDING_SHARE * sum_of_squares(y) else squares / freedom


def _whitener(matrices: ModelMatrices, sources: tuple[_Source, ...]) -> Floats:
    """Return the inverse root of the plots' covariance, up to a factor."""
    alike = np.eye(len(sources[0].pattern))
    if len(sources) == 1:
        return alike
    together = matrices.whole_plots @ matrices.whole_plots.T
    return np.asarray(np.linalg.inv(np.linalg.cholesky(alike + _variance_ratio(sources) * together)))


def _variance_ratio(sources: tuple[_Source, ...]) -> float:
    """Return whole-plot over plot variance, 0 where the whole plots differ less than their plots.

    It only weighs the plots: with all of them there it makes no difference. Below 0 it would let
    chance choose weights under which the error looks small (84 % intervals with a fifth missing).
    """
    whole, plot = sources
    if not (plot.mean_square > 0 and math.isfinite(whole.mean_square)):
        return 0.0
    share = float(whole.pattern.max())
    return max((whole.mean_square - plot.mean_square) * share / plot.mean_square, 0.0)


def _stratum(source: _Source, weights: Floats) -> Stratum:
    """Return a source as it reaches the cell means."""
    loading = weights @ source.pattern @ weights.T
    share = float(np.mean(np.diag(source.pattern)))
    return Stratum(source.name, source.mean_square, source.degrees_of_freedom, loading, share)


def spread(model: BlockModel, weights: ArrayLike, *, new_plots: int = 0) -> Spread:
    """Return the error of a mix of cell means, weights of shape (c,), plus that of so many new plots.

    Variance = sum over strata of (w' loading w + new_plots x plot_share) x mean square; degrees of
    freedom = variance^2 / sum of (part^2 / its degrees of freedom). Strata that do not enter do not
    count, so that a comparison inside one stratum keeps its exact degrees of freedom. A negative loading,
    which plots missing from a split plot can bring, takes off no more than the least mean square.
    """
    mix = np.asarray(weights, dtype=np.float64)
    if not is_linked(model, mix):
        return Spread(math.nan, math.nan, NOT_LINKED)
    loads = [float(mix @ stratum.loading @ mix) + new_plots * stratum.plot_share for stratum in model.strata]
    limit = SMALLEST_SHARE * max(map(abs, loads))
    used = [(load, stratum) for load, stratum in zip(loads, model.strata, strict=True) if abs(load) > limit]
    if any(stratum.degrees_of_freedom == 0 for _, stratum in used):
        return Spread(math.nan, math.nan, NO_ERROR_LEFT)
    least = _least_mean_square([stratum for _, stratum in used])
    squares = [stratum.mean_square if load > 0 else least for load, stratum in used]
    parts = [(load * square, s.degrees_of_freedom) for (load, s), square in zip(used, squares, strict=True)]
    return _satterthwaite(parts)


def _least_mean_square(strata: list[Stratum]) -> float:
    """Return the least mean square of those that stand on plots; 0 without any."""
    return min((s.mean_square for s in strata if math.isfinite(s.degrees_of_freedom)), default=0.0)


def _satterthwaite(parts: list[tuple[float, float]]) -> Spread:
    """Add up (variance, degrees of freedom) of the strata."""
    variance = sum(part for part, _ in parts)
    if sum(part for part, freedom in parts if math.isfinite(freedom)) <= 0:
        return Spread(math.nan, math.nan, NO_SPREAD)
    return Spread(variance, variance**2 / sum(part**2 / freedom for part, freedom in parts), "")


def is_linked(model: BlockModel, weights: ArrayLike) -> bool:
    """Say whether the plots tell a mix of cell means at all."""
    return bool(np.abs(np.asarray(weights) @ model.unlinked).max() < np.sqrt(SMALLEST_SHARE))


def covariances(model: BlockModel, mixes: Floats) -> Floats:
    """Return the covariance of the errors of m mixes of cell means, rows of shape (m, c).

    NaN where a stratum without degrees of freedom enters; one that does not enter is passed over. Never
    below 0 in any direction.
    """
    loads = [mixes @ stratum.loading @ mixes.T for stratum in model.strata]
    limit = SMALLEST_SHARE * max(float(np.abs(load).max()) for load in loads)
    entering = [(load, s) for load, s in zip(loads, model.strata, strict=True) if np.abs(load).max() > limit]
    squares = [stratum.mean_square for _, stratum in entering]
    if not np.isfinite(squares).all():
        return np.full((len(mixes), len(mixes)), np.nan)
    least = _least_mean_square([stratum for _, stratum in entering])
    parts = [_scaled(load, square, least) for (load, _), square in zip(entering, squares, strict=True)]
    return np.asarray(sum(parts))


def _scaled(load: Floats, square: float, least: float) -> Floats:
    """Return a loading times its mean square, what is negative in it times the least one, as in `spread`."""
    if square == least:
        return load * square
    values, vectors = np.linalg.eigh(load)
    return np.asarray((vectors * (np.where(values > 0, square, least) * values)) @ vectors.T)


def joint_means(model: BlockModel) -> JointMeans:
    """Return all cell means with the covariance of their errors, for draws that belong together."""
    mixes = np.eye(len(model.cells))
    linked = np.array([is_linked(model, mix) for mix in mixes])
    covariance = np.where(linked[:, None] & linked[None, :], covariances(model, mixes), np.nan)
    freedom = np.array([spread(model, mix).degrees_of_freedom for mix in mixes])
    labels = tuple(label(cell) for cell in model.cells)
    return JointMeans(labels, np.where(linked, model.estimates, np.nan), np.asarray(covariance), freedom)


def label(cell: Cell) -> str:
    """Return the name of a cell: its levels with a bar between them."""
    return " | ".join(cell)
