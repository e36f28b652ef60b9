"""The pictures of the trial panel: one outcome by plot and as ratios, pickings, size of fruit, water, two factors."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from plotworth.choose import trial_chart_rows as rows_of
from plotworth.choose.comparison_table import factor_words
from plotworth.choose.trial_outcomes import OutcomeFit, TrialKey, yield_basis
from plotworth.choose.trial_view import TrialView
from plotworth.show import trial_captions as captions
from plotworth.show import trial_charts as charts
from plotworth.show import trial_season_charts as season
from plotworth.show.panels.live import live_charts


@dataclass(frozen=True)
class Chosen:
    """What the panel compares: trial, outcome by name, reference and compared treatment, plots left out by name."""

    key: TrialKey
    outcome: str
    reference: str
    compared: str
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class Picture:
    """A chart still to be made and what its making depends on, its rows by data set, its title and its spoken text."""

    made_for: tuple[Any, ...]
    chart: Callable[[], Any]
    data: Mapping[str, list[dict[str, Any]]]
    title: str
    text: str


class TrialPictures:
    """The charts of one trial in one widget, drawn anew when another outcome or pair is chosen."""

    def __init__(self) -> None:
        self.widget = live_charts([])
        self._made: dict[tuple[Any, ...], dict[str, Any]] = {}

    def show(self, view: TrialView, chosen: Chosen, fits: Mapping[str, OutcomeFit]) -> None:
        """Give every chart its rows, title and spoken text."""
        fit = fits[chosen.outcome]
        pictures = [_paired(fit, chosen), *_ratios(view, fits, chosen), *_crossing(fit), *_season(view, chosen)]
        with self.widget.hold_sync():
            self.widget.specs = [self._spec(picture) for picture in pictures]
            self.widget.refresh(
                {name: rows for picture in pictures for name, rows in picture.data.items()},
                titles=[picture.title for picture in pictures],
                texts=[picture.text for picture in pictures],
            )

    def _spec(self, picture: Picture) -> dict[str, Any]:
        """Return the chart of a picture, made once for all that is drawn with the same marks."""
        if picture.made_for not in self._made:
            self._made[picture.made_for] = picture.chart().to_dict()
        return self._made[picture.made_for]


def _paired(fit: OutcomeFit, chosen: Chosen) -> Picture:
    heading, unit, treatments = fit.outcome.label, fit.outcome.unit_text, list(fit.labels)
    pair = list(dict.fromkeys((chosen.reference, chosen.compared)))
    dots, means = rows_of.dot_rows(fit, chosen.left_out), rows_of.mean_rows(fit)
    return Picture(
        ("paired", *treatments, *pair, heading),
        lambda: charts.paired_chart(treatments, pair, heading=heading, unit=unit),
        charts.paired_data(dots, means, unit=unit),
        captions.paired_title(means, heading=heading, unit=unit),
        captions.paired_text(dots, means, heading=heading, unit=unit),
    )


def _ratios(view: TrialView, fits: Mapping[str, OutcomeFit], chosen: Chosen) -> list[Picture]:
    fit = fits[chosen.outcome]
    if len(fit.labels) == 1:
        return []
    treatments = [chosen.compared, *(name for name in fit.labels if name != chosen.compared)]
    here = rows_of.ratio_rows([fit], treatments, chosen.reference, gain=view.gain)
    every = rows_of.ratio_rows(list(fits.values()), [chosen.compared], chosen.reference, gain=view.gain)
    reference = fit.labels[chosen.reference]
    several = [_ratio_picture(here, reference, by="label", name="ratios")] if len(here) > 1 else []
    return [*several, _ratio_picture(every, reference, by="outcome", name="outcomes")]


def _ratio_picture(rows: Sequence[dict[str, Any]], reference: str, *, by: str, name: str) -> Picture:
    keys = [row["key"] for row in rows]
    return Picture(
        (name, *keys, reference),
        lambda: charts.ratio_chart(keys, reference=reference, name=name),
        charts.ratio_data(rows, by=by, name=name),
        captions.ratio_title(rows, reference=reference, by=by),
        captions.ratio_text(rows, reference=reference, by=by),
    )


def _crossing(fit: OutcomeFit) -> list[Picture]:
    rows = rows_of.interaction_rows(fit)
    if not rows or fit.model is None:
        return []
    across, other = map(factor_words, fit.model.arrangement.factors[:2])
    first, second = (list(dict.fromkeys(row[key] for row in rows)) for key in ("first", "second"))
    heading, unit = fit.outcome.label, fit.outcome.unit_text
    return [
        Picture(
            ("crossing", *first, *second, heading),
            lambda: season.crossing_chart(first, second, across=across, heading=heading, unit=unit),
            season.crossing_data(rows),
            captions.crossing_title(rows, across=across, other=other, unit=unit),
            captions.crossing_text(rows, across=across, other=other, unit=unit),
        )
    ]


def _season(view: TrialView, chosen: Chosen) -> list[Picture]:
    treatments = view.treatments(chosen.key)
    labels = {name: view.labels[name] for name in treatments}
    return [
        *_pickings(view, chosen, labels),
        *_fruit(view, chosen, labels),
        *_water(view, chosen, labels),
    ]


def _pickings(view: TrialView, chosen: Chosen, labels: Mapping[str, str]) -> list[Picture]:
    case, basis = view.case, yield_basis(view.case, view.trial)
    records = (view.plots(chosen.key), case.table("harvests"), case.table("fruit_masses"))
    pickings = rows_of.picking_table(*records, basis=basis)
    if pickings["date"].nunique() <= 1:
        return []
    rows, early = rows_of.cumulative_rows(pickings, labels), rows_of.early_row(pickings)
    pair = (chosen.reference, chosen.compared)
    return [
        Picture(
            ("pickings", *labels),
            lambda: season.cumulative_chart(list(labels)),
            season.cumulative_data(rows, early),
            captions.cumulative_title(rows, early, pair=pair),
            captions.cumulative_text(rows, early),
        )
    ]


def _fruit(view: TrialView, chosen: Chosen, labels: Mapping[str, str]) -> list[Picture]:
    rows = rows_of.fruit_mass_rows(view.plots(chosen.key), view.case.table("fruit_masses"), labels)
    if len({row["at_ms"] for row in rows}) <= 1:
        return []
    pair = list(dict.fromkeys((chosen.reference, chosen.compared)))
    return [
        Picture(
            ("fruit", *labels),
            lambda: season.fruit_mass_chart(list(labels)),
            season.fruit_mass_data(rows, pair),
            captions.fruit_mass_title(rows, pair=pair),
            captions.fruit_mass_text(rows),
        )
    ]


def _water(view: TrialView, chosen: Chosen, labels: Mapping[str, str]) -> list[Picture]:
    rows = rows_of.productivity_rows(view.productivities(chosen.key), labels)
    known = [row["per"] for row in rows if row["kg_per_m3"] == row["kg_per_m3"]]
    if not known:
        return []
    published = rows_of.published_rows(chosen.key[0])
    return [
        Picture(
            ("water", *labels, *known, len(published)),
            lambda: charts.productivity_chart(list(labels), known, published=len(published)),
            charts.productivity_data(rows, published),
            captions.productivity_title(rows, published),
            captions.productivity_text(rows, published),
        )
    ]
