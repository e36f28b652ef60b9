"""Records that can hardly be as written: dew beyond a clear night's, rain under a cover, counts against the scale."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from plotworth.choose.appraise import Appraisal
from plotworth.choose.flag import OPEN_COVERS, PRACTICE, Findings, Flag, Patch, figure, patches, said, together
from plotworth.field.water import L_PER_M2_AND_MM
from plotworth.ground.amounts import share_text
from plotworth.supply.lid import HIGHEST_DEW_L_PER_M2

DEW = "lid_catch_l_per_m2_per_night"
DEW_UNIT = "l/m2"
RAIN_UNDER_COVER = "rain_l"
DISAGREEMENT = "disagreement_share"
MOST_DISAGREEMENT = 0.10
"""Counted against weighed kilograms of the same pickings [share], either way: common practice, no source."""


@dataclass(frozen=True)
class Catch:
    """A reading of what a lid caught: plot, date, litres, nights since the reading before, dew [l/m2 and night].

    `dew_l_per_m2` is the least it can be if the lid is as large as the plot and led all rain into the tank; NaN
    where rain was not recorded as a depth.
    """

    plot: str
    date: str
    nights: int
    dew_l_per_m2: float


def dew_against_ceiling(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment whose lids caught more than dew can give [l/m2 of lid and night].

    The area of the lids is in no record; the net area of the plot stands for it as its upper bound, and all rain of
    the days between two readings is taken off, so that what is flagged is too much for any lid over the plot.
    """
    return together(_dew_finding(appraisal, patch) for patch in patches(appraisal))


def _dew_finding(appraisal: Appraisal, patch: Patch) -> Findings:
    catches = list(_catches(appraisal, patch))
    known = [catch for catch in catches if math.isfinite(catch.dew_l_per_m2)]
    gap = f"{patch.label}: what its lids caught cannot be told from rain: `weather` lacks the rain of some days."
    unchecked = (gap,) if len(known) < len(catches) else ()
    worst = max(known, key=lambda catch: catch.dew_l_per_m2, default=None)
    if worst is None or worst.dew_l_per_m2 <= HIGHEST_DEW_L_PER_M2:
        return Findings(unchecked=unchecked)
    return Findings((_dew_flag(patch, worst),), unchecked)


def _dew_flag(patch: Patch, worst: Catch) -> Flag:
    nights = "1 night" if worst.nights == 1 else f"{worst.nights} nights"
    rain = "rain recorded in those days is taken off" if _open(patch.cover) else "no rain falls on a lid under a cover"
    sentence = (
        f"{patch.label}: on plot {worst.plot} the lids caught {said(worst.dew_l_per_m2, DEW_UNIT)} a night over "
        f"{nights} to {worst.date}, more than the {said(HIGHEST_DEW_L_PER_M2, DEW_UNIT)} that a clear night's dew can "
        f"give ({PRACTICE}); {rain}, and the net area of the plot stands for that of its lids, which can only make it "
        f"less. Check the litres, the dates, and whether it was a refill."
    )
    return Flag(patch.place, DEW, worst.dew_l_per_m2, DEW_UNIT, 0.0, HIGHEST_DEW_L_PER_M2, PRACTICE, sentence)


def _open(cover: str) -> bool:
    """Whether rain reaches the bed; a cover that is not known is taken for none."""
    return cover == "" or cover in OPEN_COVERS


def _catches(appraisal: Appraisal, patch: Patch) -> Iterator[Catch]:
    """Yield the readings of lid catch on the plots of a treatment, those of one day added."""
    rain = _rain_mm(appraisal)
    water = appraisal.case.table("water")
    for plot in appraisal.case.rows("plots"):
        if plot.plot not in patch.plots:
            continue
        rows = water[water["plot"] == plot.plot]
        caught = rows[rows["kind"] == "lid_catch"].groupby("date")["litres"].sum().sort_index()
        starts = [min([*rows["date"], *_known(plot.planted_on)], default=None), *caught.index]
        for start, date, litres in zip(starts, caught.index, caught, strict=False):
            rain_mm = _rain_between(rain, start, date) if _open(patch.cover) else 0.0
            yield _catch(plot.plot, (start, date), float(litres) / float(plot.net_area_m2), rain_mm)


def _known(date: pd.Timestamp) -> list[pd.Timestamp]:
    return [] if pd.isna(date) else [date]


def _catch(plot: str, days: tuple[pd.Timestamp, pd.Timestamp], caught_l_per_m2: float, rain_mm: float) -> Catch:
    start, date = days
    nights = max((date - start).days, 1)
    rest = caught_l_per_m2 - rain_mm * L_PER_M2_AND_MM
    dew = 0.0 if caught_l_per_m2 == 0 or rest < 0 else rest / nights
    return Catch(plot, date.date().isoformat(), nights, dew)


def _rain_mm(appraisal: Appraisal) -> pd.Series:
    weather = appraisal.case.table("weather")
    return weather.astype({"rain_mm": np.float64}).groupby("date")["rain_mm"].sum(min_count=1)


def _rain_between(rain_mm: pd.Series, start: pd.Timestamp, date: pd.Timestamp) -> float:
    """Return the rain of both days and all between [mm], NaN where one of them has none written down."""
    return float(rain_mm.reindex(pd.date_range(start, date)).sum(skipna=False))


def rain_under_cover(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment under a tunnel or house whose plots have rain written down [l]."""
    water = appraisal.case.table("water")
    rain = water[(water["kind"] == "rain") & (water["litres"] > 0)]
    return Findings(
        tuple(
            _rain_flag(patch, rain[rain["plot"].isin(patch.plots)])
            for patch in patches(appraisal)
            if not _open(patch.cover) and rain["plot"].isin(patch.plots).any()
        )
    )


def _rain_flag(patch: Patch, rain: pd.DataFrame) -> Flag:
    litres = float(rain["litres"].sum())
    sentence = (
        f"{patch.label}: {said(litres, 'l')} of rain in {len(rain)} records, the first on "
        f"{rain['date'].min().date().isoformat()}, though its plots stand under a cover ({patch.cover}), where none "
        f"falls: {said(0.0, 'l')} expected ({PRACTICE}). Check the cover in case.toml, whether the roof was open, "
        f"and whether rain led in from a roof should stand as a refill."
    )
    return Flag(patch.place, RAIN_UNDER_COVER, litres, "l", 0.0, 0.0, PRACTICE, sentence)


def counts_against_scale(appraisal: Appraisal) -> Findings:
    """Return a flag on each treatment whose counted and weighed kg of the same pickings differ by more than 10 %."""
    return together(_disagreement(appraisal, patch) for patch in patches(appraisal))


def _disagreement(appraisal: Appraisal, patch: Patch) -> Findings:
    trial = appraisal.layout.trial
    share = math.nan if trial is None else figure(trial.treatments, patch.name, DISAGREEMENT)
    if math.isnan(share):
        text = f"{patch.label}: no picking was both counted and weighed, so that counts stand against no scale."
        return Findings(unchecked=(text,))
    if abs(share) <= MOST_DISAGREEMENT:
        return Findings()
    ends = (-MOST_DISAGREEMENT, MOST_DISAGREEMENT)
    sentence = (
        f"{patch.label}: counts x mean mass give {share_text(abs(share))} {'more' if share > 0 else 'less'} kilograms "
        f"than the scale did for the same pickings, beyond {share_text(MOST_DISAGREEMENT)} either way ({PRACTICE}). "
        f"Check the fruits drawn for weighing (large ones taken first?), the tare, and picking by picking."
    )
    return Findings((Flag(patch.place, DISAGREEMENT, share, "share", *ends, PRACTICE, sentence),))
