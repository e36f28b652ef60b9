"""The pictures of the panel on size and sureness: worth by area, a grid of two assumptions, many futures."""

from collections.abc import Sequence

from plotworth.choose.appraise import Appraisal
from plotworth.choose.break_even_grid import BreakEvenGrid
from plotworth.choose.crossover import BreakEven
from plotworth.choose.crossover_chart_rows import area_rows, grid_rows, tie_rows
from plotworth.choose.crossover_table import bare_text, shown_unit
from plotworth.choose.futures import Futures
from plotworth.choose.input import Input
from plotworth.choose.input_names import input_name
from plotworth.choose.risk_rows import area_chance_rows, difference_rows, percentile_rows, settling_rows, year_rows
from plotworth.choose.structure import AREA
from plotworth.show import crossover_captions, crossover_charts, risk_captions, risk_charts
from plotworth.show.panels.live import live_charts
from plotworth.show.panels.sureness_influence import INFLUENCE_CHARTS, Drawn, influence_pictures

STALE = (
    "Not up to date: these futures were drawn before a dial, the number, the seed or the events changed. Draw again."
)


class AreaPicture:
    """Worth of every system by area with its ties, made once; a dial moves its rows."""

    def __init__(self, appraisal: Appraisal) -> None:
        self.currency = appraisal.case.settings.currency
        systems = [plan.id for plan in appraisal.layout.structure.systems]
        self.widget = live_charts([crossover_charts.area_chart(systems, currency=self.currency)])

    def show(self, appraisal: Appraisal, areas: Sequence[BreakEven]) -> None:
        """Show NPV by area over the range in which the pair was followed, with a ring at every tie."""
        layout, values = appraisal.layout, appraisal.values
        low = min(one.low for one in areas)
        high = max(one.high for one in areas)
        rows, ties = area_rows(layout, values, low_m2=low, high_m2=high), tie_rows(layout, values, areas)
        self.widget.refresh(
            crossover_charts.area_data(rows, ties, float(values[AREA].flat[0])),
            titles=[crossover_captions.area_title(ties)],
            texts=[crossover_captions.area_text(rows, ties, self.currency)],
        )


class GridPicture:
    """Two assumptions moved together; drawn anew where the assumptions or their values are others."""

    def __init__(self, appraisal: Appraisal) -> None:
        self.layout, self.currency = appraisal.layout, appraisal.case.settings.currency
        self.widget = live_charts([])
        self._drawn_for: tuple[object, ...] = ()

    def show(self, grid: BreakEvenGrid, system: str, reference: str) -> None:
        """Show the difference in NPV in every cell; `system` and `reference` by label."""
        first, second = (self._named(one) for one in (grid.first, grid.second))
        firsts, seconds = (
            [bare_text(value, one.unit) for value in values]
            for one, values in ((grid.first, grid.first_values), (grid.second, grid.second_values))
        )
        rows, made_for = grid_rows(grid), (first, second, *firsts, *seconds)
        cells = [{**row, "first": firsts[row["x"]], "second": seconds[row["y"]]} for row in rows]
        with self.widget.hold_sync():
            if made_for != self._drawn_for:
                chart = crossover_charts.grid_chart(first, second, firsts=firsts, seconds=seconds)
                self.widget.specs, self._drawn_for = [chart.to_dict()], made_for
            self.widget.refresh(
                crossover_charts.grid_data(cells),
                titles=[crossover_captions.grid_title(rows, system, reference)],
                texts=[crossover_captions.grid_text(rows, system, reference, self.currency)],
            )

    def _named(self, one: Input) -> str:
        """Return the name of an assumption with its unit, which then need not stand beside each of its values."""
        unit = shown_unit(one.unit)
        name = input_name(self.layout, one.address)
        return f"{name} [{unit}]" if unit else name


class FuturesPictures:
    """Spread of the difference, chances by area, years out of ten, settling, what moves it; empty until drawn."""

    def __init__(self) -> None:
        self.widget = live_charts([])
        self.widget.stale_note = STALE
        self._drawn_for: tuple[object, ...] = ()

    def show(self, futures: Futures, system: str, which: str, reference: str) -> None:
        """Show what was drawn: a system against `today` or `baseline`, blank for neither, and the reference, by id."""
        drawn = [_years(futures)]
        if which:
            spread, settling = _spread(futures, system, which), _settling(futures, system, which)
            drawn = [spread, _by_area(futures, which), *drawn, settling]
        drawn += influence_pictures(futures.influences[reference])
        charts, data, titles, texts = zip(*drawn, strict=True)
        counts = tuple(len(rows) for sets in data[-INFLUENCE_CHARTS:] for rows in sets.values())
        with self.widget.hold_sync():
            if (reference, *counts) != self._drawn_for:
                self.widget.specs, self._drawn_for = [chart.to_dict() for chart in charts], (reference, *counts)
            joined = {name: rows for sets in data for name, rows in sets.items()}
            self.widget.refresh(joined, titles=titles, texts=texts)


def _labels(futures: Futures, system: str, which: str) -> tuple[str, str]:
    systems = futures.risk.systems
    return systems[system].label, systems[futures.risk.reference(which)].label


def _spread(futures: Futures, system: str, which: str) -> Drawn:
    risk, labels = futures.risk, _labels(futures, system, which)
    currency = risk.layout.case.settings.currency
    rows, marks = difference_rows(risk, system, which), percentile_rows(risk, system, which)
    title = risk_captions.spread_title(rows, *labels)
    text = risk_captions.spread_text(rows, marks, *labels, currency)
    return risk_charts.spread_chart(currency=currency), risk_charts.spread_data(rows, marks), title, text


def _by_area(futures: Futures, which: str) -> Drawn:
    risk, rows = futures.risk, area_chance_rows(futures.areas, which)
    reference, own = risk.systems[risk.reference(which)].label, futures.own_m2
    words = (words(rows, reference) for words in (risk_captions.area_chance_title, risk_captions.area_chance_text))
    return risk_charts.area_chance_chart(list(risk.systems)), risk_charts.area_chance_data(rows, own), *words


def _years(futures: Futures) -> Drawn:
    rows = year_rows(futures.risk)
    chart = risk_charts.years_chart(rows, list(futures.risk.systems))
    return chart, risk_charts.years_data(rows), risk_captions.years_title(rows), risk_captions.years_text(rows)


def _settling(futures: Futures, system: str, which: str) -> Drawn:
    rows = settling_rows(futures.risk, system, which)
    title, text = risk_captions.settling_title(rows), risk_captions.settling_text(rows)
    return risk_charts.settling_chart(), risk_charts.settling_data(rows), title, text
