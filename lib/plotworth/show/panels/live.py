"""The live charts of a panel: one widget that holds them all, of which only the rows change."""

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import anywidget
import traitlets

from plotworth.show.panels.bundle import BUNDLE

STALE_NOTE = "Not up to date: these charts show the last result that could be worked out."


def plain_value(value: Any) -> Any:
    """Return a value that JSON can carry: a number of numpy becomes one of Python, NaN and infinity become None."""
    plain = value.item() if hasattr(value, "item") else value
    return None if isinstance(plain, float) and not math.isfinite(plain) else plain


def plain_rows(rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return rows that JSON can carry."""
    return [{key: plain_value(value) for key, value in row.items()} for row in rows]


class LiveCharts(anywidget.AnyWidget):  # type: ignore[misc]
    """Charts that follow a panel's controls: drawn once, updated together by their rows alone.

    Make it once for a panel with `live_charts`, put it in the panel's layout, and call `refresh` in the observer:

        charts = live_charts([
            cumulative_cash_chart(systems, currency="XTS"),
            yearly_flow_chart("Wick", "Drip", currency="XTS"),
        ])
        charts.refresh(
            {**cumulative_cash_data(cash_rows), **yearly_flow_data(flow_rows)},
            titles=[cumulative_cash_title(cash_rows, "XTS"), yearly_flow_title(flow_rows, "Wick", "Drip", "XTS")],
            texts=[cumulative_cash_text(cash_rows, "XTS"), yearly_flow_text(flow_rows, "Wick", "Drip", "XTS")],
        )
        display(VBox([sliders, charts]))

    Where the inputs cannot be worked out, set `charts.stale = True`: the charts stay, greyed, and say so; the next
    `refresh` clears it. Call `refresh` before the widget is shown, so that it is drawn with rows. Two charts of one
    kind take different `name`s. A widget that is run again: close the old one first (`charts.close()`).

    Traits (sent to the browser): specs, Vega-Lite dicts; data, rows by data set name; titles (headings) and texts
    (spoken in place of the picture), one a chart; stale and stale_note. The table under a chart follows the spec's
    `usermeta.plotworth.tables`, or else shows every data set as it is.
    """

    _esm = BUNDLE
    _css = BUNDLE.with_suffix(".css")
    specs = traitlets.List(traitlets.Dict()).tag(sync=True)
    data = traitlets.Dict().tag(sync=True)
    titles = traitlets.List(traitlets.Unicode()).tag(sync=True)
    texts = traitlets.List(traitlets.Unicode()).tag(sync=True)
    stale = traitlets.Bool(False).tag(sync=True)
    stale_note = traitlets.Unicode(STALE_NOTE).tag(sync=True)

    def refresh(
        self, data: Mapping[str, Iterable[Mapping[str, Any]]], *, titles: Sequence[str], texts: Sequence[str]
    ) -> None:
        """Show new rows, titles and spoken texts of all charts in one message, and clear `stale`."""
        with self.hold_sync():
            self.data = {name: plain_rows(rows) for name, rows in data.items()}
            self.titles = list(titles)
            self.texts = list(texts)
            self.stale = False


def live_charts(charts: Sequence[Any]) -> LiveCharts:
    """Return the widget for these Altair charts, still without rows."""
    return LiveCharts(specs=[chart.to_dict() for chart in charts])
