"""The trial panel: what a trial showed, outcome by outcome, against a reference one chooses. It computes nothing.

from plotworth.show.panels.trial import trial_panel
trial_panel()
"""

import html
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from plotworth.choose.appraise import Appraisal
from plotworth.choose.comparison_table import (
    Families,
    comparison_notes,
    comparison_tables,
    judge_together,
    takes_long,
)
from plotworth.choose.controls import Control
from plotworth.choose.figure_table import FigureTable
from plotworth.choose.layout import Layout
from plotworth.choose.trial_claims import what_may_be_said
from plotworth.choose.trial_doubt_table import (
    across_table,
    both_ways_table,
    dead_plants_table,
    missing_notes,
    seasons_table,
)
from plotworth.choose.trial_outcomes import OutcomeFit, TrialKey, key_text
from plotworth.choose.trial_view import (
    NO_TRIAL,
    Exclusion,
    TrialView,
    design_sentence,
    fits_of,
    trial_view,
)
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import figures_html, folded_html, list_html
from plotworth.show.panels.panel import CasePanel, open_panel, question_html
from plotworth.show.panels.trial_choosers import TrialChoosers
from plotworth.show.panels.trial_pictures import Chosen, TrialPictures

JUDGE, JUDGE_HINT = "Judge all differences together", "Dunnett and Tukey for this design; takes a few seconds"
BOTH_WAYS = ("All plots", "Without")
LAST_FIRST = 3  # means, differences and ratios stand open, the rest behind a line


class TrialPanel(CasePanel):
    """One outcome of a trial by plot, against a reference treatment, with what may be said of it on top."""

    def controls(self, _layout: Layout) -> Sequence[Control]:
        """Return none: what a trial measured is no dial."""
        return ()

    def prepare(self, appraisal: Appraisal) -> None:
        """Make the charts and the choosers."""
        self.reset.layout.display = "none"
        self.pictures = TrialPictures()
        self.view = trial_view(appraisal)
        self.together: dict[tuple[TrialKey, str, str], Families | None] = {}
        self.judge = widgets.Button(description=JUDGE, tooltip=JUDGE_HINT, layout={"width": "auto"})
        self.judge.on_click(self._judge)
        if self.view is not None:
            self.chooser = TrialChoosers(self.view, self.follow)
            self.choosers = (*self.chooser.widgets, self.judge)

    def charts(self) -> LiveCharts:
        """Return the widget of the charts."""
        return self.pictures.widget

    def draw(self, _appraisal: Appraisal) -> None:
        """Fit what is chosen and give the charts their rows and words."""
        if self.view is not None:
            self.pictures.show(self.view, self.chosen, self.fits)

    def head_html(self, appraisal: Appraisal) -> str:
        """Return the question and, on top of all figures, what may be said of the two treatments compared."""
        if self.view is None:
            return question_html(appraisal) + list_html([NO_TRIAL], kind="pw-verdicts")
        self.chosen = self.chooser.chosen()
        self.fits = fits_of(self.view, self.chosen.key)
        return question_html(appraisal) + _said_html(self.view, self.chosen)

    def tables_html(self, _appraisal: Appraisal) -> str:
        """Return the comparison in figures, what hangs on single plots, and the seasons and sites side by side."""
        if self.view is None:
            return ""
        fit, chosen = self.fits[self.chosen.outcome], self.chosen
        doubts = _doubts_html(self.view, chosen, fit, self.chooser.exclusions)
        families = self._families(fit, chosen)
        tables = comparison_tables(fit, chosen.reference, families)
        notes = list_html(comparison_notes(fit, chosen.reference, families), kind="pw-verdicts")
        first, more = tables[:LAST_FIRST], tables[LAST_FIRST:]
        return (
            doubts
            + "".join(map(figures_html, first))
            + folded_html("All pairs, factors, analysis of variance, how exact it was", _tables(more))
            + folded_html("Dead plants: as a loss and as missing", _dead_html(self.view, fit, chosen))
            + folded_html("Seasons and sites side by side", _seasons_html(self.view, chosen))
            + folded_html("Why a dash, and how families were judged", notes)
        )

    def _families(self, fit: OutcomeFit, chosen: Chosen) -> Families | None:
        """Return the differences judged together, at once where that is quick, else after the button was pressed."""
        key = (chosen.key, chosen.outcome, chosen.reference)
        if key not in self.together and not takes_long(fit, chosen.reference):
            self.together[key] = judge_together(fit, chosen.reference)
        self.judge.layout.display = "none" if key in self.together else ""
        return self.together.get(key)

    def _judge(self, _button: Any) -> None:
        chosen = self.chosen
        families = judge_together(self.fits[chosen.outcome], chosen.reference)
        self.together[chosen.key, chosen.outcome, chosen.reference] = families
        self.follow()

    def _echo(self) -> str:
        if self.view is None:
            return ""
        fit, chosen = self.fits[self.chosen.outcome], self.chosen
        where = key_text(chosen.key)
        out = [f"{one.plot} ({one.reason})" for one in self.chooser.exclusions]
        without = f" Shown also without {', '.join(out)}." if out else ""
        return f"{where}: {fit.outcome.label} against {fit.labels[chosen.reference]}, all plots.{without}"


def trial_panel(case: str | Path | None = None) -> widgets.Widget:
    """Return the trial panel of a case folder: the one named, or the one the workbook was opened on.

    Faults of the case come back as a page of sentences instead of a panel. An earlier one is closed with its charts.
    """
    return open_panel(TrialPanel, case)


def _said_html(view: TrialView, chosen: Chosen) -> str:
    """Return what the evidence allows one to say, and folded away what it does not, and what the audit found."""
    design = f"<p>{html.escape(design_sentence(view))}</p>"
    if chosen.compared == chosen.reference:
        return design
    said = what_may_be_said(view, chosen.key, chosen.compared, chosen.reference)
    barred = [f"{claim.sentence} Not to be said: {claim.why}." for claim in said.forbidden]
    found = [f"{finding.sentence} {finding.cure}".strip() for finding in said.findings] or ["Nothing was found."]
    return (
        design
        + list_html([claim.sentence for claim in said.allowed], kind="pw-verdicts")
        + folded_html("What may not be said, and why", list_html(barred, kind="pw-verdicts"))
        + folded_html("What the audit of the design and its records found", list_html(found, kind="pw-verdicts"))
    )


def _tables(tables: Sequence[FigureTable]) -> str:
    return "".join(map(figures_html, tables))


def _doubts_html(view: TrialView, chosen: Chosen, fit: OutcomeFit, exclusions: Sequence[Exclusion]) -> str:
    """Return the plots without a value, and the result with and without the plots left out."""
    notes = missing_notes(view.plots(chosen.key), fit.outcome)
    if not exclusions:
        return list_html(notes, kind="pw-verdicts")
    without = fits_of(view, chosen.key, exclusions).get(chosen.outcome)
    notes += [f"{one.plot} is left out on the right: {one.reason}" for one in exclusions]
    tables = [] if without is None else [both_ways_table(fit, without, chosen.reference, ways=BOTH_WAYS)]
    return list_html(notes, kind="pw-verdicts") + _tables(tables)


def _dead_html(view: TrialView, fit: OutcomeFit, chosen: Chosen) -> str:
    table = dead_plants_table(fit, view.arrangement, chosen.reference)
    if table is None:
        return "<p>Shown for the marketable yield where plants are known to have died.</p>"
    return figures_html(table) + "<p>Where nobody can say what killed them, the truth lies between the two.</p>"


def _seasons_html(view: TrialView, chosen: Chosen) -> str:
    """Return every season and site of the crop on its own, and their mean where there are enough of them."""
    keys: list[TrialKey] = [key for key in view.keys if key[0] == chosen.key[0]]
    if len(keys) == 1:
        return "<p>The case holds one season at one site: nothing here speaks of another.</p>"
    fits = [(key, fits[chosen.outcome]) for key in keys if chosen.outcome in (fits := fits_of(view, key))]
    tables, notes = [seasons_table(fits, chosen.reference)], []
    for over in ("site", "trial_year"):
        table, reason = across_table(fits, chosen.reference, over=over)
        tables += [] if table is None else [table]
        notes += [reason] if reason else []
    return _tables(tables) + "".join(f"<p>{html.escape(note)}.</p>" for note in notes)
