"""The pictures of the water panel: for one season, every system's calendar, tanks, ledgers, and who lifts the water."""

from collections.abc import Sequence
from typing import Any

from plotworth.choose.appraise import Appraisal
from plotworth.choose.water_chart_rows import (
    ledger_rows,
    level_rows,
    lifting_rows,
    refill_rows,
    requirement_rows,
    short_rows,
    tank_totals,
    year_rows,
)
from plotworth.choose.watering import SeasonWater, SeasonYears
from plotworth.show import water_captions as captions
from plotworth.show import water_charts as charts
from plotworth.show.panels.live import live_charts

LIFTS = (("carrying_h", "Carrying water", "h", "carrying"), ("energy_kwh", "Pumping", "kWh", "pumping"))
"""Column, heading, unit and data set of what bringing the water takes."""
Drawn = tuple[dict[str, Any], str, str]
"""A chart's rows by data set, its title and its spoken text."""


class WaterPictures:
    """The charts of one season of a case in one widget; another season draws them anew, a dial moves their rows."""

    def __init__(self, labels: dict[str, str]) -> None:
        self.labels = labels
        self.widget = live_charts([])
        self._drawn_for: tuple[Any, ...] = ()

    def show(self, appraisal: Appraisal, seasons: Sequence[SeasonYears]) -> None:
        """Give every chart its rows, title and spoken text: the water of one season, system by system."""
        waters = [season.shown for season in seasons]
        years = [year for season in seasons for year in season.years]
        drawn = [*self._calendars(waters), *self._tanks(waters), *self._ledgers(waters), *self._lifting(appraisal)]
        drawn += self._years(years)
        made_for = (*((w.system, w.season, w.tank is None) for w in waters), len(drawn))
        titles, texts = [title for _, title, _ in drawn], [text for _, _, text in drawn]
        data = {name: rows for sets, _, _ in drawn for name, rows in sets.items()}
        with self.widget.hold_sync():
            if made_for != self._drawn_for:
                self.widget.specs = [
                    chart.to_dict() for chart in self._charts(waters, several=len(years) > len(waters))
                ]
                self._drawn_for = made_for
            self.widget.refresh(data, titles=titles, texts=texts)

    def _charts(self, waters: Sequence[SeasonWater], *, several: bool) -> list[Any]:
        parts = {water.system: len(ledger_rows(water, self.labels)) for water in waters}
        return [
            *(charts.requirement_chart(name=f"requirement_{w.system}") for w in waters),
            *(charts.level_chart(name=f"tank_{w.system}") for w in waters if w.tank is not None),
            *(charts.ledger_chart(parts[w.system], name=f"ledger_{w.system}") for w in waters),
            *(charts.lifting_chart(list(self.labels), q, heading=h, unit=u, name=n) for q, h, u, n in LIFTS),
            *([charts.years_chart([water.system for water in waters])] if several else []),
        ]

    def _calendars(self, waters: Sequence[SeasonWater]) -> list[Drawn]:
        rows = {water.system: requirement_rows(water, self.labels) for water in waters}
        reach = charts.requirement_reach([row for own in rows.values() for row in own])
        return [
            (
                charts.requirement_data(own, reach=reach, name=f"requirement_{system}"),
                captions.requirement_title(own),
                captions.requirement_text(own),
            )
            for system, own in rows.items()
        ]

    def _tanks(self, waters: Sequence[SeasonWater]) -> list[Drawn]:
        drawn = []
        for water in waters:
            if (tank := water.tank) is not None:
                dates, totals, label = water.weather.dates, tank_totals(tank), self.labels[water.system]
                levels, short = level_rows(tank, dates), short_rows(tank, dates)
                name, full = f"tank_{water.system}", totals["capacity_l"]
                data = charts.level_data(levels, refill_rows(tank, dates), short, full, name=name)
                text = captions.level_text(label, levels, short, totals)
                drawn.append((data, captions.level_title(label, totals), text))
        return drawn

    def _ledgers(self, waters: Sequence[SeasonWater]) -> list[Drawn]:
        rows = {water.system: ledger_rows(water, self.labels) for water in waters}
        reach = charts.ledger_reach([row for own in rows.values() for row in own])
        return [
            (
                charts.ledger_data(own, reach=reach, name=f"ledger_{system}"),
                captions.ledger_title(own),
                captions.ledger_text(own),
            )
            for system, own in rows.items()
        ]

    def _lifting(self, appraisal: Appraisal) -> list[Drawn]:
        rows = lifting_rows(appraisal)
        return [
            (
                charts.lifting_data(rows, quantity, unit=unit, name=name),
                captions.lifting_title(rows, quantity, heading=heading, unit=unit),
                captions.lifting_text(rows, quantity, heading=heading, unit=unit),
            )
            for quantity, heading, unit, name in LIFTS
        ]

    def _years(self, years: Sequence[SeasonWater]) -> list[Drawn]:
        if len(years) == len({water.system for water in years}):
            return []
        rows = year_rows(years, self.labels)
        return [(charts.years_data(rows), captions.years_title(rows), captions.years_text(rows))]
