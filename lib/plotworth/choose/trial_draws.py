"""What the trial measured, drawn jointly for all systems from its block models: one draw a case.

The means of a trial share blocks, whole plots and error mean squares, so that their errors belong together. Each
stratum's mean square is drawn (mean square x degrees of freedom / chi-square), then the errors of the means given it:
one stratum alone gives the t distribution, a split plot its mix. Fruits and mass of one treatment move by the
draw of its yield: the mass is held, the fruits follow, and fruits x mass stays the yield drawn.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plotworth.case.book import TRIAL
from plotworth.choose.drawn_rows import has_own_range, used_addresses
from plotworth.choose.layout import Layout
from plotworth.choose.measured import APPLIED, FRUITS, Trial
from plotworth.choose.trial_model import TREATMENT, YIELD, TrialKey, cell_weights
from plotworth.field.block_model import BlockModel, is_linked
from plotworth.ground.arrays import Array
from plotworth.ground.glossary import GLOSSARY

FRUIT_MASS, PLANTS = "fruit_mass_g", "plants_per_m2"
MODELLED = (YIELD, FRUITS, PLANTS, APPLIED)
ROUNDING = 1e-9


@dataclass(frozen=True)
class Stratum:
    """One source of error of a figure's rows: mean square [unit squared], its degrees of freedom, loading (r, r)."""

    mean_square: float
    degrees_of_freedom: float
    loading: Array


@dataclass(frozen=True)
class TrialFigure:
    """Rows of the book drawn together from one figure of the trial.

    `place` among `MODELLED`; `addresses` of the r rows; `estimates`, shape (r,), the means that errors are told for
    [unit of the figure];
    `is_share`: whether a row moves by the error's share of the mean (fruits that follow the yield) or by the error;
    `trials`: for each season and site the strata of its block model; `lowest` and `highest` possible, shape (r,).
    """

    place: int
    addresses: tuple[str, ...]
    estimates: Array
    is_share: tuple[bool, ...]
    trials: tuple[tuple[Stratum, ...], ...]
    lowest: Array
    highest: Array


@dataclass(frozen=True)
class _Row:
    address: str
    figure: str
    treatment: str
    is_share: bool


def trial_figures(layout: Layout) -> tuple[TrialFigure, ...]:
    """Return the rows of a case that are drawn from its trial, figure by figure; none where there is no trial."""
    trial = layout.trial
    if trial is None:
        return ()
    rows = list({row.address: row for row in _rows(layout)}.values())
    figures = (_figure(trial, name, [row for row in rows if row.figure == name]) for name in MODELLED)
    return tuple(figure for figure in figures if figure is not None)


def _rows(layout: Layout) -> Iterator[_Row]:
    used = used_addresses(layout.structure)
    for plan in layout.structure.systems:
        treatment = layout.case.settings.system(plan.id).treatment
        for season in plan.seasons:
            taken = {name: at for name, at in season.addresses.items() if at in used and _from_plots(layout, at)}
            for name in taken.keys() & set(MODELLED):
                by_yield = name == FRUITS and FRUIT_MASS in taken
                yield _Row(taken[name], YIELD if by_yield else name, treatment, by_yield)


def _from_plots(layout: Layout, address: str) -> bool:
    one = layout.inputs[address]
    return one.origin == TRIAL and not has_own_range(layout, one)


def follows_the_yield(layout: Layout) -> set[str]:
    """Return the addresses of fruit masses that are held while their fruits follow the yield that is drawn."""
    return {
        season.addresses[FRUIT_MASS]
        for plan in layout.structure.systems
        for season in plan.seasons
        if {FRUITS, FRUIT_MASS} <= season.addresses.keys()
        and all(_from_plots(layout, season.addresses[name]) for name in (FRUITS, FRUIT_MASS))
    }


def held_of_trial(layout: Layout, drawn: Collection[str]) -> Iterator[str]:
    """Yield a sentence on values of the trial that are not among the `drawn` addresses, since it tells no error."""
    used, follow = used_addresses(layout.structure), follows_the_yield(layout)
    held = [
        one.label.lower()
        for at, one in layout.inputs.items()
        if one.origin == TRIAL and at in used and at not in follow and at not in drawn
    ]
    if held:
        yield f"Of the trial, {', '.join(dict.fromkeys(held))} are held at their means: no error is told for them."
    if follow:
        yield "Of the trial, the yield is drawn: the fruits follow it, and the mean mass of a fruit is held."


def _figure(trial: Trial, name: str, rows: Sequence[_Row]) -> TrialFigure | None:
    """Return one figure's rows with their strata, without rows that have no error; None where none is left."""
    known = [row for row in rows if trial.means[name][row.treatment].standard_error > 0]
    if not known:
        return None
    mixes = {key: _mixes(trial, model, key, known) for key, model in trial.models[name].items()}
    told = np.sum([np.abs(mix).sum(axis=1) > 0 for mix in mixes.values()], axis=0)
    trials = tuple(_strata(trial.models[name][key], mix / told[:, None]) for key, mix in mixes.items() if mix.any())
    term = GLOSSARY[name]
    return TrialFigure(
        place=MODELLED.index(name),
        addresses=tuple(row.address for row in known),
        estimates=np.array([trial.means[name][row.treatment].mean for row in known]),
        is_share=tuple(row.is_share for row in known),
        trials=trials,
        lowest=np.full(len(known), term.lowest),
        highest=np.full(len(known), term.highest),
    )


def _mixes(trial: Trial, model: BlockModel, key: TrialKey, rows: Sequence[_Row]) -> Array:
    """Return the weights of the model's cells that make up each row's mean in this season at this site, (r, c)."""
    units = trial.units
    here = units[(units["crop"] == key[0]) & (units["site"] == key[1]) & (units["trial_year"].astype(str) == key[2])]
    weights = [cell_weights(model, here[here[TREATMENT] == row.treatment]) for row in rows]
    return np.array([mix if mix.any() and is_linked(model, mix) else np.zeros(len(mix)) for mix in weights])


def _strata(model: BlockModel, mixes: Array) -> tuple[Stratum, ...]:
    strata = (Stratum(s.mean_square, s.degrees_of_freedom, mixes @ s.loading @ mixes.T) for s in model.strata)
    return tuple(one for one in strata if one.mean_square > 0)


def covariance(figure: TrialFigure) -> Array:
    """Return the covariance (r, r) of the errors at the mean squares found: that of `block_model.covariances`."""
    return np.asarray(sum(s.mean_square * s.loading for strata in figure.trials for s in strata))


def draw_errors(figure: TrialFigure, generator: np.random.Generator, draws: int) -> Array:
    """Return errors of the figure's means, shape (r, draw) [unit of the figure].

    Each stratum: mean square x degrees of freedom / chi-square(degrees of freedom) x loading; of known size where the
    degrees of freedom are infinite.
    """
    errors = np.zeros((len(figure.addresses), draws))
    for strata in figure.trials:
        scales = [_scale(one, generator.spawn(1)[0], draws) for one in strata]
        errors += _errors_of_trial(strata, scales, generator.spawn(len(strata)), draws)
    return errors


def _scale(stratum: Stratum, generator: np.random.Generator, draws: int) -> Array:
    freedom = stratum.degrees_of_freedom
    if not np.isfinite(freedom):
        return np.full(draws, stratum.mean_square)
    return np.asarray(stratum.mean_square * freedom / generator.chisquare(freedom, draws))


def _errors_of_trial(
    strata: Sequence[Stratum], scales: Sequence[Array], generators: Sequence[np.random.Generator], draws: int
) -> Array:
    """Add up the strata's own errors; where a loading is negative in some direction, draw from their sum at once."""
    rows = len(strata[0].loading)
    split = [np.linalg.eigh(one.loading) for one in strata]
    if all(values.min() >= -ROUNDING * np.abs(values).max() for values, _ in split):
        errors = np.zeros((rows, draws))
        for (values, vectors), scale, generator in zip(split, scales, generators, strict=True):
            normal = generator.standard_normal((draws, rows)).T
            errors += (vectors * np.sqrt(np.maximum(values, 0.0))) @ normal * np.sqrt(scale)
        return errors
    together = sum(scale[:, None, None] * one.loading for one, scale in zip(strata, scales, strict=True))
    values, vectors = np.linalg.eigh(together)
    normal = generators[0].standard_normal((draws, rows))
    return np.asarray(np.einsum("drk,dk->rd", vectors, np.sqrt(np.maximum(values, 0.0)) * normal))


def moved(figure: TrialFigure, values: Mapping[str, Array], errors: Array) -> dict[str, Array]:
    """Return the figure's rows by address, shape (1, draw): values with errors, kept within what is possible."""
    found = {}
    for row, address in enumerate(figure.addresses):
        error = errors[row][None]
        base = values[address]
        drawn = base * (1.0 + error / figure.estimates[row]) if figure.is_share[row] else base + error
        found[address] = np.clip(drawn, figure.lowest[row], figure.highest[row])
    return found
