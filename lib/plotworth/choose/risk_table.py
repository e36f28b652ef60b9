"""Risk as tables to read, and what they say in sentences: which draws, of what, and what was held."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from plotworth.choose.distribution import Chance, Distribution
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.risk import BASELINE, TODAY, AreaRisk, Risk, SystemRisk
from plotworth.choose.risk_rows import YEAR_MEASURES
from plotworth.ground.amounts import NO_BREAK, amount_text, figures_text, number_text

AREA_UNIT = "m²"
WHICH = {TODAY: "present practice", BASELINE: "the baseline"}
OF_DRAWS: Mapping[str, Callable[[Distribution], float]] = {
    "10 of 100 draws lie below (P10)": lambda one: one.p10,
    "half lie below (P50)": lambda one: one.p50,
    "90 of 100 draws lie below (P90)": lambda one: one.p90,
    "mean": lambda one: one.mean,
    "standard error of the mean, at most": lambda one: one.standard_error,
}
SURE = 0.9
PERCENT, HALF_A_POINT = 100.0, 0.005
EVEN = 0.5
POINT, ALL_BUT_A_POINT = f"1{NO_BREAK}%", f"99{NO_BREAK}%"


def risk_tables(risk: Risk, areas: Sequence[AreaRisk] = ()) -> list[FigureTable]:
    """Return the tables of a case drawn many times: worth, differences, years out of ten, chances by area [m2]."""
    tables = [_worth_table(risk), *(_against_table(risk, which) for which in WHICH), _year_table(risk)]
    return [*tables, *(_area_table(risk, areas, which) for which in WHICH if areas)]


def chance_text(chance: Chance) -> str:
    """Return a chance as people read it: `38 %`, `under 1 %`, `over 99 %`, a dash where it is unknown."""
    if chance.share != chance.share:
        return DASH
    if chance.share < HALF_A_POINT:
        return f"under {POINT}"
    if chance.share > 1.0 - HALF_A_POINT:
        return f"over {ALL_BUT_A_POINT}"
    return f"{number_text(PERCENT * chance.share, decimals=0)}{NO_BREAK}%"


def _text(value: float) -> str:
    return DASH if value != value else figures_text(value)


def _spread_rows(unit: str, ones: Sequence[Distribution]) -> Iterator[FigureRow]:
    for label, of in OF_DRAWS.items():
        yield FigureRow(label, unit, tuple(_text(of(one)) for one in ones))


def _chance_row(label: str, chances: Sequence[Chance]) -> FigureRow:
    return FigureRow(label, "", tuple(chance_text(chance) for chance in chances))


def _labels(ones: Sequence[SystemRisk]) -> tuple[str, ...]:
    return tuple(one.label for one in ones)


def _worth_table(risk: Risk) -> FigureTable:
    ones = list(risk.systems.values())
    rows = [
        *_spread_rows(risk.layout.case.settings.currency, [one.npv for one in ones]),
        _chance_row("chance of a loss (NPV below 0)", [one.chance_of_loss for one in ones]),
        _chance_row("chance of being the best of all", [one.chance_of_best for one in ones]),
    ]
    return FigureTable(f"NPV in {number_text(risk.draws, decimals=0)} draws", _labels(ones), tuple(rows))


def _against_table(risk: Risk, which: str) -> FigureTable:
    ones = [one for one in risk.systems.values() if which in one.against]
    against = [one.against[which] for one in ones]
    rows = [
        *_spread_rows(risk.layout.case.settings.currency, [one.difference for one in against]),
        _chance_row("chance of being better", [one.chance_better for one in against]),
    ]
    reference = risk.systems[risk.reference(which)].label
    return FigureTable(f"NPV less that of {reference} ({WHICH[which]})", _labels(ones), tuple(rows))


def _year_table(risk: Risk) -> FigureTable:
    ones = list(risk.systems.values())
    rows = tuple(
        FigureRow(words, "years", tuple(_of_ten_text(getattr(one.years, name)) for one in ones))
        for name, words in YEAR_MEASURES.items()
    )
    return FigureTable("years out of ten, past learning, that", _labels(ones), rows)


def _of_ten_text(of_ten: float) -> str:
    return DASH if of_ten != of_ten else number_text(of_ten, decimals=1)


def _area_table(risk: Risk, areas: Sequence[AreaRisk], which: str) -> FigureTable:
    found = [row for row in areas if which in row.against]
    rows = []
    for area in dict.fromkeys(row.area_m2 for row in found):
        cells = tuple(chance_text(row.against[which].chance_better) for row in found if row.area_m2 == area)
        rows.append(FigureRow(amount_text(area, AREA_UNIT), "", cells))
    title = f"chance of being better than {risk.systems[risk.reference(which)].label} by area"
    return FigureTable(title, tuple(dict.fromkeys(row.label for row in found)), tuple(rows))


def risk_sentences(risk: Risk) -> list[str]:
    """Return what the draws say of each system, one sentence a system and reference."""
    return [
        _against_sentence(one, risk.systems[risk.reference(which)].label, one.against[which].chance_better)
        for one in risk.systems.values()
        for which in one.against
        if risk.reference(which) != one.system
    ]


def _against_sentence(one: SystemRisk, reference: str, chance: Chance) -> str:
    if chance.share != chance.share:
        return f"{one.label}: how it stands to {reference} is not known, since an assumption is unknown."
    words = "is worth more than" if chance.share >= EVEN else "is worth less than"
    sure = max(chance.share, 1.0 - chance.share)
    often = f"in {chance_text(replace(chance, share=sure))} of draws"
    doubt = "" if sure >= SURE else "; the ranges leave it open which is better"
    return f"{one.label} {words} {reference} {often}{doubt}."


def risk_notes(risk: Risk) -> list[str]:
    """Return what a reader should know of the draws: how many of what, events, what was held, how near they are."""
    return [*_made_of(risk), *risk.notes, _needed(risk)]


def _made_of(risk: Risk) -> Iterator[str]:
    yield (
        f"{number_text(risk.draws, decimals=0)} draws with seed {risk.seed}: {risk.constants} numbers drawn once a "
        f"case, {risk.yearly} anew in every year, {risk.measured} jointly from the trial's block models; choices are "
        "not drawn."
    )
    if risk.correlated:
        yield f"{risk.correlated} of them move together as correlations.csv says; all others are independent."
    else:
        yield "No correlations are stated: rows are drawn independently of each other."
    if risk.events.failed_seasons:
        yield "Seasons fail as they come, all systems in the same weather; each by its own chance."
    else:
        yield "Failed seasons count with their chance in every year; none is drawn."
    yield "Percentiles are of the ranges in the book: they are no surer than those ranges."


def _needed(risk: Risk) -> str:
    needed = max(
        (each.chance_better.draws_needed for one in risk.systems.values() for each in one.against.values()), default=0
    )
    words = "enough" if risk.draws >= needed else "too few"
    return (
        f"To know every chance to one point in a hundred (standard error), {number_text(needed, decimals=0)} draws are "
        f"needed; these {number_text(risk.draws, decimals=0)} are {words}."
    )
