"""A minimal valid case, written with overrides, and the faults that opening it gives. All its figures are invented."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from plotworth.case.folder import open_case
from plotworth.ground.errors import FaultsError

FILES: Mapping[str, str] = {
    "case.toml": """\
title = "A small case"
question = "Is the tank better than the can?"
currency = "XTS"
price_year = 2026
as_of = 2026-09-30
area_m2 = 100.0
horizon_years = 4
today = "hand"
baseline = "hand"
invented = true
[place]
name = "Nowhere"
[[systems]]
id = "tank"
label = "Tank"
treatment = "tank"
water_method = "reservoir"
[[systems]]
id = "hand"
label = "Hand"
water_method = "hand"
""",
    "assumptions.csv": """\
name,system,crop,season,value,low,high,unit,source,spread,grade
discount_rate,,,,0.1,0.05,0.2,share/year,invented,,D
yield_kg_per_m2,tank,pepper,,trial,,,kg/m2,invented,,A
yield_kg_per_m2,hand,pepper,,2,1,3,kg/m2,invented,,D
market_price_per_kg,,pepper,,0.5,0.25,1,XTS/kg,invented,,D
""",
    "costs.csv": """\
system,season,item,group,basis,quantity,unit_price,life_years,source,grade
tank,,tank,capital,scheme,3,10,2,invented,D
,,seed,seasonal,m2,1,0.1,,invented,D
""",
    "seasons.csv": """\
system,season,crop,first_month,months,share_of_area
tank,dry,pepper,2,5,1
hand,dry,pepper,2,5,1
""",
    "plots.csv": """\
plot,block,treatment,crop,planted_on,net_area_m2,plants
P1,B1,tank,pepper,2026-02-01,4,12
P2,B2,tank,pepper,2026-02-01,4,12
""",
    "harvests.csv": """\
date,plot,marketable_fruits,marketable_kg,plants_alive
2026-04-01,P1,40,4.5,12
2026-04-01,P2,50,5,12
""",
}


def write_case(folder: Path, files: Mapping[str, str | bytes | None] | None = None) -> Path:
    """Write the small case into `folder`, other files or other content as in `files`, None for a file left out."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in {**FILES, **(files or {})}.items():
        if content is not None:
            (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder


def changed(file: str, old: str, new: str) -> dict[str, str]:
    """Return the small case's file with one piece of text replaced."""
    assert old in FILES[file], old
    return {file: FILES[file].replace(old, new, 1)}


def added(file: str, *lines: str) -> dict[str, str]:
    """Return the small case's file with lines added at its end."""
    return {file: FILES[file] + "".join(f"{line}\n" for line in lines)}


def faults(folder: Path, files: Mapping[str, str | bytes | None]) -> list[str]:
    """Return the text of each fault that opening the small case with these files gives."""
    with pytest.raises(FaultsError) as caught:
        open_case(write_case(folder, files))
    assert str(caught.value).splitlines() == [fault.text() for fault in caught.value.faults]
    return str(caught.value).splitlines()
