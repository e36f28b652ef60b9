"""A case of two systems and round numbers, without a trial, so that what it comes to can be worked by hand.

The tank grows 3 kg/m2 and the hand 2 kg/m2 of pepper on 100 m2 over four years at 10 % a year, sold at XTS 0.5.
The tank costs XTS 30 and lasts two years; both sow for XTS 10 a season. All figures are invented.
"""

from collections.abc import Mapping
from pathlib import Path

from plotworth.case.folder import Case, open_case
from plotworth.ground.glossary import GLOSSARY, unit_text
from small_case import FILES, write_case

BOOK: Mapping[str, float | str | None] = {
    "discount_rate": 0.1,
    "yield_kg_per_m2/tank/pepper": 3.0,
    "yield_kg_per_m2/hand/pepper": 2.0,
    "market_price_per_kg/all/pepper": 0.5,
}
COSTS = ("tank,,tank,capital,scheme,3,10,2,,", ",,seed,seasonal,m2,1,0.1,,,")
SEASONS = ("tank,dry,pepper,2,5,1", "hand,dry,pepper,2,5,1")
HEADERS: Mapping[str, str] = {
    "assumptions.csv": "name,system,crop,season,value,unit,source",
    "costs.csv": "system,season,item,group,basis,quantity,unit_price,life_years,step_m2,residual_share,source,grade",
    "seasons.csv": "system,season,crop,first_month,months,share_of_area",
    "labour_plan.csv": "system,season,task,month,hours_per_m2,hours,family_share,harvest",
}


def plain_case(
    folder: Path,
    *,
    book: Mapping[str, float | str | None] | None = None,
    costs: tuple[str, ...] = COSTS,
    seasons: tuple[str, ...] = SEASONS,
    labour: tuple[str, ...] = (),
    settings: Mapping[str, str] | None = None,
    files: Mapping[str, str | bytes | None] | None = None,
) -> Case:
    """Return the plain case, written and opened.

    `book`: values by address, beside or in place of those of BOOK, None for a row left out; `costs`: lines without
    source and grade; `settings`: pieces of case.toml to be replaced; `files`: further files.
    """
    stated = {**BOOK, **(book or {})}
    lines = {
        "assumptions.csv": [book_line(at, value) for at, value in stated.items() if value is not None],
        "costs.csv": [f"{line},invented,D" for line in costs],
        "seasons.csv": list(seasons),
        "labour_plan.csv": list(labour),
    }
    written = {name: "\n".join([HEADERS[name], *rows, ""]) for name, rows in lines.items()}
    written["case.toml"] = _settings(settings or {})
    return open_case(write_case(folder, {"plots.csv": None, "harvests.csv": None, **written, **(files or {})}))


def book_line(address: str, value: float | str) -> str:
    """Return a line of the book, its unit as the glossary has it."""
    name, *keys = address.split("/")
    system, crop, season = ("" if key == "all" else key for key in (*keys, "", "", "")[:3])
    return f"{name},{system},{crop},{season},{value},{unit_text(GLOSSARY[name].unit, 'XTS')},invented"


def _settings(changes: Mapping[str, str]) -> str:
    text = FILES["case.toml"].replace('treatment = "tank"\n', "")
    for old, new in changes.items():
        assert old in text, old
        text = text.replace(old, new, 1)
    return text
