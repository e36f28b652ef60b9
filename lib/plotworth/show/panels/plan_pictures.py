"""The pictures of the panel on planning: blocks, the same plants parted otherwise, weighing, the map."""

from typing import Any

from plotworth.choose.plan_chart_rows import block_rows, split_rows, weighing_rows
from plotworth.choose.plan_map import FieldMap
from plotworth.choose.trial_outline import TrialOutline
from plotworth.show import plan_captions as captions
from plotworth.show import plan_charts as charts
from plotworth.show.panels.live import live_charts


class PlanPictures:
    """The charts of a planned trial in one widget; another map draws it anew, a dial moves the rows of the rest."""

    def __init__(self) -> None:
        self.widget = live_charts([])
        self._drawn_for: tuple[Any, ...] = ()

    def show(self, outline: TrialOutline, comparison: str, field_map: FieldMap) -> None:
        """Give every chart its rows, title and spoken text for one outline and one kind of difference."""
        blocks, splits = block_rows(outline, comparison), split_rows(outline, comparison)
        weighing, gain = weighing_rows(outline), outline.gain
        scale = outline.plot_cv / outline.stated_cv
        cvs = {"detectable": outline.plot_cv, "low": scale * outline.cv_low, "high": scale * outline.cv_high}
        standing, side = field_map.standing, field_map.gradient_from
        data = {
            **charts.blocks_data(blocks, gain=gain, cvs=cvs),
            **charts.splits_data(splits, gain=gain),
            **charts.weighing_data(weighing),
            **charts.map_data(field_map.rows, field_map.key),
        }
        titles = [
            captions.blocks_title(blocks, comparison, gain=gain),
            captions.splits_title(splits, comparison),
            captions.weighing_title(weighing),
            captions.map_title(standing, field_map.rows, is_example=field_map.is_example),
        ]
        texts = [
            captions.blocks_text(blocks, comparison, gain=gain),
            captions.splits_text(splits, comparison),
            captions.weighing_text(weighing),
            captions.map_text(field_map.rows, field_map.key, standing=standing, gradient_from=side),
        ]
        with self.widget.hold_sync():
            self._draw(field_map)
            self.widget.refresh(data, titles=titles, texts=texts)

    def _draw(self, field_map: FieldMap) -> None:
        """Make the charts where the map needs another one: other treatments, rows, side or standing."""
        made_for = (tuple(field_map.key.items()), field_map.heading, field_map.gradient_from, field_map.plot_rows)
        if made_for == self._drawn_for:
            return
        chart = charts.map_chart(
            field_map.key,
            heading=field_map.heading,
            gradient_from=field_map.gradient_from,
            plot_rows=field_map.plot_rows,
        )
        made = [charts.blocks_chart(), charts.splits_chart(), charts.weighing_chart(), chart]
        self.widget.specs = [one.to_dict() for one in made]
        self._drawn_for = made_for
