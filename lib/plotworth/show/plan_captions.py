"""What each chart of a planned trial says in words, made from the rows it is drawn from; see `captions.py`."""

from collections.abc import Mapping, Sequence
from typing import Any

from plotworth.ground.amounts import figures_text, share_text
from plotworth.show.captions import join_words, plural

Rows = Sequence[Mapping[str, Any]]
DIGITS = 2


def _percent(share: float) -> str:
    return share_text(share, digits=DIGITS)


def _chosen(rows: Rows) -> Mapping[str, Any]:
    return next(row for row in rows if row["chosen"])


def blocks_title(rows: Rows, comparison: str, *, gain: float) -> str:
    """Return what the blocks chosen show of a kind of difference, and from how many on the smallest gain shows."""
    chosen = _chosen(rows)
    shows = f"{chosen['blocks']} blocks show {_percent(float(chosen['detectable']))} or more between {comparison}"
    needed = next((row["blocks"] for row in rows if float(row["detectable"]) <= gain), None)
    if needed is None:
        return f"{shows}; {rows[-1]['blocks']} still do not show {_percent(gain)}"
    return f"{shows}; {_percent(gain)} shows from {needed} on"


def blocks_text(rows: Rows, comparison: str, *, gain: float) -> str:
    """Return the spoken form of `blocks_chart`, block by block."""
    points = [
        f"{row['blocks']} blocks {_percent(float(row['detectable']))}, "
        f"{_percent(float(row['low']))} to {_percent(float(row['high']))}"
        for row in rows
    ]
    return (
        f"Line chart of the difference between {comparison} that shows with 80 % power against blocks, for the "
        f"expected CV and between its ends; smallest gain worth having {_percent(gain)}. {'; '.join(points)}."
    )


def splits_title(rows: Rows, comparison: str) -> str:
    """Return what shows as the plants are parted now, and what the same plants in the next greater number of blocks."""
    place = next(index for index, row in enumerate(rows) if row["chosen"])
    now = f"{_split(rows[place])} show {_percent(float(rows[place]['detectable']))} between {comparison}"
    others = [*rows[place + 1 :], *reversed(rows[:place])]
    if not others:
        return now
    return f"{now}; the same plants as {_split(others[0])}, {_percent(float(others[0]['detectable']))}"


def _split(row: Mapping[str, Any]) -> str:
    return f"{row['blocks']} blocks of {plural(int(row['plants']), 'plant')} a plot"


def splits_text(rows: Rows, comparison: str) -> str:
    """Return the spoken form of `splits_chart`, parting by parting."""
    points = [f"{_split(row)} {_percent(float(row['detectable']))}" for row in rows]
    total = rows[0]["plants_per_treatment"]
    return (
        f"Dot chart of the difference between {comparison} that {total} plants a treatment show: {'; '.join(points)}."
    )


def weighing_title(rows: Rows) -> str:
    """Return how many fruit to weigh for the precision wanted, of those there are and of any number."""
    row = _chosen(rows)
    weigh, fruits = int(row["weigh"]), int(row["fruits"])
    wanted = f"For a mean mass within ±{_percent(float(row['precision']))}"
    return f"{wanted}, weigh {weigh} of {figures_text(fruits)} fruit; of any number, {row['weigh_of_many']}"


def weighing_text(rows: Rows) -> str:
    """Return the spoken form of `weighing_chart`, by whole per cent."""
    points = [
        f"±{_percent(float(row['precision']))} {row['weigh']}, of any number {row['weigh_of_many']}"
        for row in rows
        if row["chosen"] or float(100 * row["precision"]).is_integer()
    ]
    return f"Line chart of fruit to weigh against precision, of {rows[0]['fruits']} fruit: {'; '.join(points)}."


def map_title(standing: str, rows: Rows, *, is_example: bool) -> str:
    """Return whether the map is an example or the frozen plan, and how large the trial is."""
    blocks = len({row["block"] for row in rows})
    size = f"{plural(len(rows), 'plot')} in {plural(blocks, 'block')}"
    if is_example:
        return f"{standing}: sizes and places of {size}"
    noted = sorted(str(row["plot"]) for row in rows if row["noted"])
    told = f"; a deviation is noted for {join_words(noted)} (*)" if noted else "; no plot has a deviation"
    return f"{standing}: {size}{told}"


def map_text(rows: Rows, key: Mapping[str, str], *, standing: str, gradient_from: str) -> str:
    """Return the spoken form of `map_chart`: block by block what stands where."""
    blocks: dict[str, list[str]] = {}
    for row in rows:
        blocks.setdefault(str(row["block"]), []).append(key[row["letter"]])
    told = [f"{block}: {', '.join(treatments)}" for block, treatments in blocks.items()]
    side = gradient_from or "the side where slope or way in begins"
    return f"Map of the plots. {standing}. From {side}, {'; '.join(told)}."
