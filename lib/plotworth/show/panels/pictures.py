"""The pictures of the appraisal panel: which charts a case can show, and the rows each is given."""

from plotworth.choose.appraise import Appraisal
from plotworth.choose.chart_rows import (
    cumulative_rows,
    difference_rows,
    mean_rows,
    plot_rows,
    treatment_labels,
    treatment_order,
    water_rows,
)
from plotworth.show import captions, charts
from plotworth.show.panels.live import live_charts

DRAWN = "water_l_per_m2"


class Pictures:
    """The charts of one case in one widget: `show` gives them the rows of another appraisal of the same case."""

    def __init__(self, appraisal: Appraisal) -> None:
        settings = appraisal.case.settings
        self.currency = settings.currency
        self.compared = _compared(appraisal)
        self.labels = {system.id: system.label for system in settings.systems}
        trial = appraisal.layout.trial
        self.treatments = treatment_labels(appraisal, treatment_order(appraisal, trial)) if trial else {}
        made = [
            charts.cumulative_cash_chart(self.labels, currency=self.currency),
            charts.yearly_flow_chart(*self._pair(), currency=self.currency),
            charts.water_chart(list(self.labels)),
        ]
        if self.treatments:
            made.insert(2, charts.plot_yield_chart(list(self.treatments), joined=_measuring(appraisal)))
        self.widget = live_charts(made)
        self.show(appraisal)

    def _pair(self) -> tuple[str, str]:
        system, reference = self.compared
        return self.labels[system], self.labels[reference]

    def show(self, appraisal: Appraisal) -> None:
        """Give every chart its rows, title and spoken text of this appraisal, in one message."""
        cash, flow = cumulative_rows(appraisal), difference_rows(appraisal, *self.compared)
        water = water_rows(appraisal, DRAWN)
        data = {**charts.cumulative_cash_data(cash), **charts.yearly_flow_data(flow), **charts.water_data(water)}
        words = [
            (captions.cumulative_cash_title(cash, self.currency), captions.cumulative_cash_text(cash, self.currency)),
            (
                captions.yearly_flow_title(flow, *self._pair(), self.currency),
                captions.yearly_flow_text(flow, *self._pair(), self.currency),
            ),
            (captions.water_title(water, charts.PER_AREA), captions.water_text(water, charts.PER_AREA)),
        ]
        trial = appraisal.layout.trial
        if trial is not None and self.treatments:
            plots, means = plot_rows(trial, self.treatments), mean_rows(trial, self.treatments)
            data |= charts.plot_yield_data(plots, means)
            words.insert(2, (captions.plot_yield_title(means), captions.plot_yield_text(plots, means)))
        titles, texts = zip(*words, strict=True)
        self.widget.refresh(data, titles=titles, texts=texts)


def _measuring(appraisal: Appraisal) -> list[str]:
    """Return the treatments that measured a system: the ones worth joining block by block."""
    return [system.treatment for system in appraisal.case.settings.systems if system.treatment]


def _compared(appraisal: Appraisal) -> tuple[str, str]:
    """Return the system in question and the baseline: the first system that is neither reference, else the first."""
    settings = appraisal.case.settings
    ids = [system.id for system in settings.systems if system.id != settings.baseline]
    asked = [name for name in ids if name != settings.today]
    return (asked or ids or [settings.baseline])[0], settings.baseline
