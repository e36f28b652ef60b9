"""The water panel: what each system's crop needs in a season, what reaches it, and who lifts it. It computes nothing.

from plotworth.show.panels.water import water_panel
water_panel()
"""

import html
from collections.abc import Sequence
from pathlib import Path

import ipywidgets as widgets

from plotworth.choose.appraise import Appraisal
from plotworth.choose.controls import Control
from plotworth.choose.guard import flags
from plotworth.choose.layout import Layout
from plotworth.choose.lifting_table import lifting_table
from plotworth.choose.missed_visits import miss_each_visit
from plotworth.choose.soil_table import soil_notes, soil_tables
from plotworth.choose.water_case import water_of_case
from plotworth.choose.water_controls import more_water_controls, water_controls
from plotworth.choose.water_table import counted_sentences, missed_visit_sentence, month_table, season_table, tank_table
from plotworth.choose.watering import SeasonYears
from plotworth.show.panels.live import LiveCharts
from plotworth.show.panels.markup import figures_html, folded_html, list_html
from plotworth.show.panels.panel import CasePanel, open_panel, question_html
from plotworth.show.panels.water_pictures import WaterPictures

WATER_WORDS = ("water", "dew", "rain", "salt", "nitrogen", "manure", "fertiliser")


class WaterPanel(CasePanel):
    """The water of one season, chosen above the dials: calendars, tanks, ledgers, carrying and pumping."""

    def controls(self, layout: Layout) -> Sequence[Control]:
        """Return what the water of the main crop's season stands on."""
        return water_controls(layout)

    def more_controls(self, layout: Layout) -> Sequence[Control]:
        """Return the rest of what it stands on."""
        return more_water_controls(layout)

    def prepare(self, appraisal: Appraisal) -> None:
        """Make the charts and the chooser of the season."""
        systems = appraisal.layout.structure.systems
        self.labels = {system.id: system.label for system in systems}
        self.pictures = WaterPictures(self.labels)
        names = list(dict.fromkeys(plan.season for system in systems for plan in system.seasons))
        self.season = widgets.ToggleButtons(options=names, value=names[0], description="Season")
        self.season.observe(self.follow, "value")
        self.choosers = (self.season,)
        self.of_the_book = _soil_html(appraisal) + _flags_html(appraisal)

    def charts(self) -> LiveCharts:
        """Return the widget of the charts."""
        return self.pictures.widget

    def draw(self, appraisal: Appraisal) -> None:
        """Work the season's water out and give the charts their rows and words."""
        self.water = water_of_case(appraisal.layout, appraisal.values)
        self.pictures.show(appraisal, list(self._chosen().values()))

    def _chosen(self) -> dict[str, SeasonYears]:
        keys = [f"{system}/{self.season.value}" for system in self.labels]
        return {key: self.water.seasons[key] for key in keys if key in self.water.seasons}

    def head_html(self, appraisal: Appraisal) -> str:
        """Return the question of the case."""
        return question_html(appraisal)

    def tables_html(self, appraisal: Appraisal) -> str:
        """Return the season in figures, the tank and its visits, what was taken for granted, and the flags."""
        waters = [season.shown for season in self._chosen().values()]
        gaps = [
            text for key, texts in self.water.gaps.items() if key.endswith(f"/{self.season.value}") for text in texts
        ]
        shown = [season_table(waters, self.labels)] if waters else []
        shown += [table for table in (tank_table(waters, self.labels),) if table is not None]
        missed = [
            missed_visit_sentence(miss_each_visit(water, water.tank), self.labels[water.system])
            for water in waters
            if water.tank is not None
        ]
        sentences = [*gaps, *missed, *counted_sentences(appraisal, waters, self.labels)]
        months = "".join(figures_html(month_table(water, self.labels)) for water in waters)
        folds = {
            "Month by month": months,
            "Who lifts it: trips, head and energy": figures_html(lifting_table(appraisal)),
            "What was taken for granted": "".join(
                f"<p>{html.escape(self.labels[water.system])}</p>{list_html(water.notes, kind='pw-verdicts')}"
                for water in waters
            ),
        }
        tables = list_html(sentences, kind="pw-verdicts") + "".join(map(figures_html, shown))
        return (
            tables
            + "".join(folded_html(summary, inside) for summary, inside in folds.items() if inside)
            + self.of_the_book
        )


def water_panel(case: str | Path | None = None) -> widgets.Widget:
    """Return the water panel of a case folder: the one named, or the one the workbook was opened on.

    Faults of the case come back as a page of sentences instead of a panel. An earlier one is closed with its charts.
    """
    return open_panel(WaterPanel, case)


def _soil_html(appraisal: Appraisal) -> str:
    """Return nutrients given against removed, and salt, by the book's figures; a dial moves none of them."""
    tables = "".join(map(figures_html, soil_tables(appraisal)))
    inside = tables + list_html(soil_notes(appraisal), kind="pw-verdicts")
    return folded_html("Nutrients and salt, by the figures of the book", inside)


def _flags_html(appraisal: Appraisal) -> str:
    """Return the questions on water, nutrients and salt that the case's own figures raise; a dial moves no flag."""
    raised = [f.sentence for f in flags(appraisal) if any(word in f.sentence.casefold() for word in WATER_WORDS)]
    inside = list_html(raised or ["None is raised."], kind="pw-verdicts")
    return folded_html("Flags on the figures of the book: questions to ask", inside)
