"""Small invented cases for the tests of draws and risk: typed ranges, prices by system, correlations."""

from plotworth.case.folder import open_case
from plotworth.choose.inputs import lay_out
from small_case import write_case

BOOK = """\
name,system,crop,season,value,low,high,unit,source,spread,grade
discount_rate,,,,0.1,0.05,0.2,share/year,invented,,D
planted_share,,,,0.7,0.6,0.8,share,invented,peaked,D
yield_kg_per_m2,tank,pepper,,3,2,5,kg/m2,invented,peaked,D
yield_kg_per_m2,hand,pepper,,2,1,3,kg/m2,invented,even,D
market_price_per_kg,tank,pepper,,0.6,0.25,1,XTS/kg,invented,peaked,D
market_price_per_kg,hand,pepper,,0.5,0.25,1,XTS/kg,invented,even,D
commission_share,,,,0.1,0.05,0.2,share,invented,peaked,D
failed_season_chance,tank,,,0.1,0.05,0.2,share,invented,peaked,D
failed_season_chance,hand,,,0.25,0.2,0.3,share,invented,even,D
first_year_share,,,,0.8,0.6,0.9,share,invented,peaked,D
water_applied_l_per_m2,,,,300,200,500,l/m2,invented,peaked,D
"""
COSTS = """\
system,season,item,group,basis,quantity,quantity_low,quantity_high,unit_price,life_years,source,grade
tank,,tank,capital,scheme,3,2,5,10,2,invented,D
,,seed,seasonal,m2,1,,,0.1,,invented,D
,,packing,seasonal,kg_sold,1,,,0.02,,invented,D
,,tap fee,seasonal,m3,1,0.5,2,0.1,,invented,D
"""
CORRELATIONS = """\
address_a,address_b,rank_correlation,reason
planted_share,commission_share,0.6,invented
yield_kg_per_m2/tank/pepper,market_price_per_kg/tank/pepper,-0.5,invented
"""
TYPED = {"assumptions.csv": BOOK, "costs.csv": COSTS, "plots.csv": None, "harvests.csv": None}
DRY_HOLES = {
    **TYPED,
    "assumptions.csv": f"{BOOK}dry_hole_chance,tank,,,0.3,0.2,0.5,share,invented,peaked,D\n",
    "costs.csv": f"{COSTS}tank,,dry hole,capital,dry_hole,1,,,50,4,invented,D\n",
}


def laid_out(folder, files=TYPED, **more):
    """Return the layout of a small case written into a folder with these files."""
    return lay_out(open_case(write_case(folder / "case", {**files, **more})))
