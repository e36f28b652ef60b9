"""A programme as tables to read and rows to draw, and what it says in sentences."""

from collections.abc import Iterator
from typing import Any

from plotworth.case.programme import Programme
from plotworth.choose.appraise import Appraisal
from plotworth.choose.figure_table import DASH, FigureRow, FigureTable
from plotworth.choose.programme import ProgrammeYears, programme_years
from plotworth.ground.amounts import figures_text, money_text, share_text

Rows = list[dict[str, Any]]


def programme_tables(appraisal: Appraisal) -> list[FigureTable]:
    """Return what a programme comes to, and its adoption and disbursement by year; none where none is stated."""
    programme, years = appraisal.case.settings.programme, programme_years(appraisal.layout, appraisal.values)
    if programme is None or years is None:
        return []
    label = appraisal.case.settings.system(programme.system).label
    sums = FigureTable("the programme: a donor's view", (label,), tuple(_sums(appraisal, years)))
    return [sums, _by_year(appraisal, years)]


def _sums(appraisal: Appraisal, years: ProgrammeYears) -> Iterator[FigureRow]:
    currency = appraisal.case.settings.currency
    for name, unit, value in (
        ("Households reached", "", years.households),
        ("NPV of the programme, economic", currency, years.npv),
        ("Gain of a household, economic", currency, years.gain_per_household),
        ("Paid out in all", currency, float(years.paid_out.sum())),
        ("Paid out per household", currency, years.paid_out_per_household),
        ("Paid out per m³ less drawn", f"{currency}/m³", years.paid_out_per_m3),
        (f"Paid out per t more {appraisal.layout.structure.main_crop}", f"{currency}/t", years.paid_out_per_t),
    ):
        yield FigureRow(name, unit, (_text(value),))


def _text(value: float) -> str:
    return DASH if value != value else figures_text(value)


def _by_year(appraisal: Appraisal, years: ProgrammeYears) -> FigureTable:
    currency = appraisal.case.settings.currency
    heads = ("Joining", "Taking part", f"Paid out [{currency}]", f"Net [{currency}]")
    last = max(index for index, paid in enumerate(years.paid_out) if paid or years.joining[index] or index == 0)
    columns = (years.joining, years.taking_part, years.paid_out, years.household_flows - years.costs)
    rows = (FigureRow(f"Year {t}", "", tuple(_text(float(one[t])) for one in columns)) for t in range(last + 1))
    return FigureTable("the programme by year (0 is its start): joined, taking part, paid out", heads, tuple(rows))


def adoption_rows(appraisal: Appraisal) -> Rows:
    """Return a programme by year for a chart: year, joined so far, taking_part [households], paid_out [money].

    `joined` are those that have joined by the end of the year; empty where no programme is stated.
    """
    programme, years = appraisal.case.settings.programme, programme_years(appraisal.layout, appraisal.values)
    if programme is None or years is None:
        return []
    joined = years.joining.cumsum()
    return [
        {
            "year": t,
            "joined": 0.0 if t == 0 else float(joined[t - 1]),
            "taking_part": float(years.taking_part[t]),
            "paid_out": float(years.paid_out[t]),
        }
        for t in range(len(joined))
    ]


def programme_notes(appraisal: Appraisal) -> list[str]:
    """Return what the programme says in sentences, and how it was reckoned; none where none is stated."""
    programme, years = appraisal.case.settings.programme, programme_years(appraisal.layout, appraisal.values)
    if programme is None or years is None:
        return []
    return [*_verdict(appraisal, programme, years), _reckoned(appraisal, programme), *_gaps(appraisal, years)]


def _verdict(appraisal: Appraisal, programme: Programme, years: ProgrammeYears) -> Iterator[str]:
    currency, label = appraisal.case.settings.currency, appraisal.case.settings.system(programme.system).label
    if years.npv != years.npv:
        yield f"What a programme for {label} is worth cannot be said: an assumption is unknown."
        return
    standing = "earns back" if years.npv > 0 else "does not earn back"
    gain = money_text(abs(years.gain_per_household), currency)
    change = "gains" if years.gain_per_household > 0 else "loses"
    yield (
        f"The programme for {label} {standing} what it costs the economy: NPV {money_text(years.npv, currency)}. A "
        f"household that joins {change} {gain} against present practice, discounted to the programme's start, before "
        f"the programme's own cost."
    )


def _reckoned(appraisal: Appraisal, programme: Programme) -> str:
    left = share_text(programme.drop_out_share_per_year)
    horizon = appraisal.case.settings.horizon_years
    return (
        f"Adoption follows the logistic curve with half of {share_text(programme.adoption_ceiling_share)} of "
        f"{figures_text(programme.households)} households by year {programme.midpoint_year:g} and "
        f"{programme.years_from_10_to_90_percent:g} years from 10 to 90 % of them; nobody joins after year "
        f"{programme.years}. Each household farms for {horizon} years; {left} of those still in leave at the end of a "
        f"year, get nothing back and return to present practice. Grants are paid out but are no cost to the economy. "
        f"Prices are those of the case, however many households sell."
    )


def _gaps(appraisal: Appraisal, years: ProgrammeYears) -> Iterator[str]:
    if years.paid_out_per_m3 != years.paid_out_per_m3:
        yield "There is no sum per m³ less drawn: no less water is drawn than by present practice, or it is unknown."
    if years.paid_out_per_t != years.paid_out_per_t:
        crop = appraisal.layout.structure.main_crop
        yield f"There is no sum per tonne more: no more {crop} is grown than by present practice, or it is unknown."
