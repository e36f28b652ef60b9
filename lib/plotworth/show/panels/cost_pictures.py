"""The pictures of the panel on money: balances, calendars, views, size, a day of work, adoption; one widget."""

from collections.abc import Mapping
from typing import Any

from plotworth.choose.appraise import Appraisal
from plotworth.choose.cash_months import CaseCash
from plotworth.choose.cash_rows import balance_rows, calendar_rows, labour_rows, shown_months
from plotworth.choose.cost_sentences import day_rows
from plotworth.choose.programme_table import adoption_rows
from plotworth.choose.scale_ladder import ladder_areas_m2, size_curve
from plotworth.choose.structure import AREA
from plotworth.choose.views import VIEWS
from plotworth.choose.views_table import view_rows
from plotworth.show import cash_captions, cash_charts, cost_charts, size_captions, size_charts
from plotworth.show.panels.live import live_charts

Drawn = tuple[dict[str, Any], str, str]
"""A chart's rows by data set, its title and its spoken text."""


class CostPictures:
    """The charts of a case's money in one widget, made once; a dial or chooser moves their rows."""

    def __init__(self, appraisal: Appraisal, cash: CaseCash) -> None:
        self.currency = appraisal.case.settings.currency
        self.labels = {plan.id: plan.label for plan in appraisal.layout.structure.systems}
        ids, money = list(self.labels), self.currency
        months = [str(row["name"]) for row in calendar_rows(cash) if row["system"] == ids[0]]
        last = shown_months(cash)
        both = {**self.labels, **cost_charts.FINANCED}  # the colours of the systems stay theirs
        made = [
            cash_charts.balance_chart(self.labels, currency=money, last_month=last),
            cash_charts.balance_chart(both, currency=money, last_month=last, name="financed"),
            cash_charts.calendar_chart(self.labels, months, currency=money),
            cash_charts.labour_chart(months),
            size_charts.views_chart(ids, VIEWS, currency=money),
            cost_charts.day_chart(ids, currency=money),
            size_charts.size_chart(ids, currency=money),
        ]
        if adoption_rows(appraisal):
            made.append(size_charts.adoption_chart(currency=money))
        self.widget = live_charts(made)
        self._kept: tuple[object, list[Drawn]] = (None, [])

    def show(self, appraisal: Appraisal, seen: Appraisal, cash: CaseCash, system: str, *, mark: object) -> None:
        """Give every chart its rows, title and spoken text.

        Parameters: appraisal in the full view; seen, the same in the view chosen; cash by month; the system shown by
        itself; mark: what the charts of worth stand on, so that those are kept while it is the same.
        """
        if mark != self._kept[0]:
            self._kept = (mark, [self._views(appraisal), self._day(appraisal), self._size(appraisal, seen)])
            self._kept[1].extend(self._adoption(appraisal))
        drawn = [self._balance(cash), self._financed(cash, system), self._calendar(cash), self._labour(cash, system)]
        drawn += self._kept[1]
        data = {name: rows for sets, _, _ in drawn for name, rows in sets.items()}
        self.widget.refresh(data, titles=[title for _, title, _ in drawn], texts=[text for _, _, text in drawn])

    def _balance(self, cash: CaseCash) -> Drawn:
        rows = balance_rows(cash, with_financing=False)
        title = f"{cash_captions.balance_title(rows, self.currency)}, before financing"
        return cash_charts.balance_data(rows), title, cash_captions.balance_text(rows, self.currency)

    def _financed(self, cash: CaseCash, system: str) -> Drawn:
        before, after = (
            [row for row in balance_rows(cash, with_financing=financed) if row["system"] == system]
            for financed in (False, True)
        )
        rows = cost_charts.financed_rows(before, after)
        label, text = self.labels[system], cash_captions.balance_text(rows, self.currency)
        title = cost_charts.financed_title(label, rows, self.currency)
        return cost_charts.financed_data(rows), title, f"{label}. {text}"

    def _calendar(self, cash: CaseCash) -> Drawn:
        rows = calendar_rows(cash)
        text = cash_captions.calendar_text(rows, self.currency)
        return cash_charts.calendar_data(rows), cash_captions.calendar_title(rows), text

    def _labour(self, cash: CaseCash, system: str) -> Drawn:
        rows = labour_rows(cash)
        own = [row for row in rows if row["system"] == system]
        data = cash_charts.labour_data(own, reach=cash_charts.labour_reach(rows))
        return data, cash_captions.labour_title(own), cash_captions.labour_text(own)

    def _views(self, appraisal: Appraisal) -> Drawn:
        rows = view_rows(appraisal)
        title, text = size_captions.views_title(rows), size_captions.views_text(rows, self.currency)
        return size_charts.views_data(rows), title, text

    def _day(self, appraisal: Appraisal) -> Drawn:
        rows: list[Mapping[str, Any]] = list(day_rows(appraisal))
        title, text = (words(rows, self.currency) for words in (cost_charts.day_title, cost_charts.day_text))
        return cost_charts.day_data(rows), title, text

    def _size(self, appraisal: Appraisal, seen: Appraisal) -> Drawn:
        areas = ladder_areas_m2(seen.layout, seen.values)
        rows = size_curve(seen.layout, seen.values, low_m2=min(areas), high_m2=max(areas))
        title, text = size_captions.size_title(rows), size_captions.size_text(rows, self.currency)
        return size_charts.size_data(rows, float(appraisal.values[AREA][0, 0])), title, text

    def _adoption(self, appraisal: Appraisal) -> list[Drawn]:
        rows = adoption_rows(appraisal)
        if not rows:
            return []
        title, text = size_captions.adoption_title(rows), size_captions.adoption_text(rows, self.currency)
        return [(size_charts.adoption_data(rows), title, text)]
