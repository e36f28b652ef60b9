"""The small trial with inputs: compost and mineral fertiliser on the tank's plots in round numbers. Invented.

A tank plot of 4 m2 gets 8 kg of yard waste compost with 80 g of N, and 120 g of NPK 15-15-15 with 18 g of each.
The tank's plots yield 4 kg/m2 and a fifth of what is picked are culls: 5 kg/m2 leave the field.
"""

from collections.abc import Mapping
from pathlib import Path

from plotworth.choose.appraise import Appraisal, appraise
from trial_case import PLOTS, trial_case

HEADER = "date,plot,item,quantity,unit,n_kg,p2o5_kg,k2o_kg,kind\n"
COMPOST = "2026-02-01,{},compost,8,kg,0.08,0.04,0.06,yard_waste_compost\n"
NPK = "2026-02-01,{},NPK 15-15-15,0.12,kg,0.018,0.018,0.018,mineral_fertiliser\n"
NOTHING = "2026-02-01,{},nothing,0,kg,0,0,0,other\n"
INPUTS = HEADER + "".join(
    line.format(plot)
    for line, plots in ((COMPOST, "T1 T2"), (NPK, "T1 T2"), (NOTHING, "H1 H2"))
    for plot in plots.split()
)
SALT: Mapping[str, float] = {
    "water_salinity_ds_m": 1.0,
    "soil_salinity_ds_m": 2.0,
    "rooting_depth_m": 0.4,
    "saturation_mm_per_m": 500.0,
    "flush_mixing_share": 0.5,
    "flushing_l_per_m2": 100.0,
    "fertiliser_salt_share": 0.8,
}
CROP = "sweet pepper"


def soil_appraisal(
    folder: Path,
    *,
    inputs: str | None = INPUTS,
    book: Mapping[str, float | str | None] | None = None,
    crop: str = CROP,
    files: Mapping[str, str] | None = None,
) -> Appraisal:
    """Return the small trial appraised: its tank fed from below, its hand watering from above, of one crop."""
    seasons = (f"tank,dry,{crop},2,5,1", f"hand,dry,{crop},2,5,1")
    price: dict[str, float | str | None] = {
        "market_price_per_kg/all/pepper": None,
        f"market_price_per_kg/all/{crop}": 0.5,
    }
    return appraise(
        trial_case(
            folder,
            book=price | dict(book or {}),
            seasons=seasons,
            files={"plots.csv": PLOTS.replace("pepper", crop), "inputs.csv": inputs, **(files or {})},
        )
    )
