"""What moves a case, what it rests on, what would be worth knowing: tables to read and sentences."""

from collections.abc import Iterator
from dataclasses import dataclass

from plotworth.choose.crossover_table import SHARE, value_text
from plotworth.choose.evidence_share import evidence_sentence
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.influence import Influence
from plotworth.choose.influence_rows import MOST_BARS, MOST_DOTS, SEEN_SHARE, worth_rows
from plotworth.choose.input_names import input_name
from plotworth.choose.lines import OWN_WORTH
from plotworth.choose.tornado import Bar
from plotworth.ground.amounts import figures_text, money_text, number_text

SHARE_DIGITS = 2
PERCENT = 100.0
QUESTIONS = ("what moves it", "what it rests on", "what would be worth knowing")
LEAST_PART = 0.01
"""Part of the value of knowing everything below which a season is said to change hardly anything."""


@dataclass(frozen=True)
class Group:
    """A question with what is found in sentences and the tables behind them."""

    heading: str
    sentences: tuple[str, ...]
    tables: tuple[FigureTable, ...]


def influence_groups(found: Influence) -> list[Group]:
    """Return what moves the answer, what it rests on, what would be worth knowing; or why that is not known."""
    if not found.is_known:
        return [Group(QUESTIONS[0], (f"{compared(found)} is not known, since an assumption is unknown.",), ())]
    shown = {"rows": found.tornado.bars[:MOST_BARS], "choices": found.tornado.choices}
    bars = [_tornado_table(found, what, own) for what, own in shown.items() if own]
    rests = evidence_sentence(found.by_spread, what=f"the spread of {compared(found)}")
    return [
        Group(QUESTIONS[0], (_moves(found),), (*bars, _share_table(found))),
        Group(QUESTIONS[1], (rests,), (_grade_table(found),)),
        Group(QUESTIONS[2], tuple(_worth_knowing(found)), (_worth_table(found),)),
    ]


def compared(found: Influence) -> str:
    """Return what moves, in words: `NPV of Wick-fed tank less that of Well and drip`."""
    labels = {plan.id: plan.label for plan in found.layout.structure.systems}
    own = f"NPV of {labels[found.tornado.system]}"
    return own if found.tornado.reference == OWN_WORTH else f"{own} less that of {labels[found.tornado.reference]}"


def _currency(found: Influence) -> str:
    return found.layout.case.settings.currency


def _tornado_table(found: Influence, what: str, bars: tuple[Bar, ...]) -> FigureTable:
    ends = "from P10 to P90" if what == "rows" else "over the range in the book"
    title = f"{compared(found)}, {what} alone {ends} [{_currency(found)}]"
    return FigureTable(title, ("at the low end", "at the high end", "tie at"), tuple(_bars(found, bars)))


def _bars(found: Influence, bars: tuple[Bar, ...]) -> Iterator[FigureRow]:
    for bar in bars:
        name = f"{input_name(found.layout, bar.input.address)}: {_ends_text(bar)}"
        in_percent = PERCENT if bar.input.unit.split("/")[0] == SHARE else 1.0
        yield FigureRow(name, "", (_text(bar.at_low), _text(bar.at_high), _text(in_percent * bar.switching)))


def _ends_text(bar: Bar) -> str:
    return f"{value_text(bar.low, bar.input.unit)} to {value_text(bar.high, bar.input.unit)}"


def _text(value: float) -> str:
    return DASH if value != value else figures_text(value)


def _percent(share: float) -> str:
    return DASH if share != share else figures_text(PERCENT * max(share, 0.0), digits=SHARE_DIGITS)


def _share_table(found: Influence) -> FigureTable:
    shown = [row for row in found.shares[:MOST_DOTS] if row.share >= SEEN_SHARE]
    rows = [
        FigureRow(input_name(found.layout, row.address), "%", (_percent(row.share), _percent(row.error), row.grade))
        for row in shown
    ]
    rest = FigureRow("rows together, and the luck of seasons", "%", (_percent(found.rest), DASH, DASH))
    title = f"share of the variance of {compared(found)} that goes once a row is known"
    return FigureTable(title, ("share", "standard error", "grade"), (*rows, rest))


def _grade_table(found: Influence) -> FigureTable:
    swings = {one.grade: one.share for one in found.by_swing}
    rows = tuple(
        FigureRow(one.words, "", (str(one.rows), _percent(one.share), _percent(swings.get(one.grade, 0.0))))
        for one in found.by_spread
    )
    return FigureTable("what it rests on, by grade of evidence", ("rows drawn", "% of spread", "% of swings"), rows)


def _worth_table(found: Influence) -> FigureTable:
    rows = tuple(
        FigureRow(str(row["name"]), _currency(found), (figures_text(row["value"]), _between(row)))
        for row in worth_rows(found)
    )
    return FigureTable("what knowing it before choosing would be worth", ("value", "95 % from the draws"), rows)


def _between(row: dict[str, float]) -> str:
    return f"{figures_text(row['low'], digits=SHARE_DIGITS)} to {figures_text(row['high'], digits=SHARE_DIGITS)}"


def _moves(found: Influence) -> str:
    if not found.tornado.bars:
        return f"No row with a range moves {compared(found)}."
    first = found.tornado.bars[0]
    turning = [bar for bar in found.tornado.bars if bar.crosses_zero]
    name = input_name(found.layout, first.input.address)
    turns = (
        f"{len(turning)} of {len(found.tornado.bars)} rows {_turn(len(turning))} the decision alone, within P10 to P90"
        if turning
        else "no row alone turns the decision within P10 to P90"
    )
    return f"{name} moves {compared(found)} most, by {money_text(first.swing, _currency(found))}; {turns}."


def _turn(count: int) -> str:
    return "turns" if count == 1 else "turn"


def _worth_knowing(found: Influence) -> Iterator[str]:
    currency = _currency(found)
    rows = [row for row in worth_rows(found) if row["is_row"]]
    everything = money_text(found.everything.value, currency)
    if rows:
        best = money_text(rows[0]["value"], currency, digits=SHARE_DIGITS)
        yield (
            f"Knowing everything before choosing would be worth {everything} to one case at the most; most worth "
            f"finding out alone is {rows[0]['name']}: {best}."
        )
    else:
        yield (
            f"Knowing everything before choosing would be worth {everything} to one case at the most; no row alone "
            "would change the choice often enough to be told from noise."
        )
    if found.season is not None:
        yield _season_sentence(found, found.season.value)


def _season_sentence(found: Influence, value: float) -> str:
    had = "the one season" if found.seasons == 1 else f"the {found.seasons} seasons"
    if value < LEAST_PART * found.everything.value or value == 0:
        return f"One more season of the trial, beside {had} it has had, would hardly ever change which system is best."
    worth = money_text(value, _currency(found), digits=SHARE_DIGITS)
    return (
        f"One more season of the trial, beside {had} it has had, would be worth {worth} to one case, before its cost."
    )


def influence_notes(found: Influence) -> list[str]:
    """Return what a reader should know of swings, shares and values of knowing."""
    if not found.is_known:
        return []
    notes = [
        "Swings: one row at a time from P10 to P90 of its own distribution, all others at their value; a yearly row is "
        "taken alike in every year, which draws do not do. Choices are the decider's own and rest on no evidence.",
        f"Shares and values of knowing: {number_text(found.draws, decimals=0)} independent draws, seed {found.seed}; "
        "yearly rows by the level of their years. Standard errors are those of the draws alone.",
        "Values of knowing: the best system chosen with the knowledge, less the best one chosen without, by mean NPV, "
        "among all systems of the case; no cost of finding out is taken off.",
    ]
    if found.is_correlated:
        notes.append(
            "Some rows are correlated: a row's share holds what its companions do with it, so that shares may add up "
            "to more than the whole."
        )
    if found.season is not None:
        notes.append(
            f"One more season: plots like those of the trial, so that the error variance of its means falls to "
            f"{found.seasons} in {found.seasons + 1}; where years differ more than plots it would tell more."
        )
    if found.tornado.not_told:
        notes.append(
            f"No outcome at an end of {', '.join(found.tornado.not_told)}: a daily simulation is refused there."
        )
    return notes
