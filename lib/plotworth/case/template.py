"""An empty case: every file with its header, commented, to be filled in before it passes `check`."""

from pathlib import Path

from plotworth.case.schema import table_columns
from plotworth.case.settings import FILE
from plotworth.case.sheet import write_csv
from plotworth.ground.errors import CaseError
from plotworth.ground.glossary import GLOSSARY

NOT_WRITTEN = ("sites", "deviations", "prices", "correlations")
FIRST_ROWS = (
    "discount_rate",
    "family_wage_per_hour",
    "hired_wage_per_hour",
    "planted_share",
    "yield_kg_per_m2",
    "water_applied_l_per_m2",
    "delivery_share",
    "carrying_h_per_m3",
    "trial_to_farm_share",
    "failed_season_chance",
    "postharvest_loss_share",
    "eaten_share",
    "market_price_per_kg",
)
SETTINGS = """\
# A case is one feasibility question. Fill in what stands in quotation marks; lines that begin with # explain.
title = ""
question = ""
currency = ""  # ISO 4217 code, three capitals; the same code stands in the units of the other files
price_year = 2026  # all prices are those of this year
as_of = 2026-12-31  # the date the case is judged at; no record may be later
area_m2 = 100.0  # gross area of one farm or scheme
horizon_years = 10
today = "hand"  # the system that is present practice
baseline = "drip"  # the system to compare with: a well, a pump and drip, or what the case names
invented = false  # true for made-up data: every output then says so
# main_crop = "sweet pepper"  # the crop that figures per kilogram speak of; the baseline's first crop if left out
# yield_from = "counts"  # counts (fruits x mean fruit mass) or weighed
# first_month = 1  # calendar month of month 1 in cash by month; the first month of a season if left out

[place]
name = ""
# latitude_deg = 0.0  # north positive
# elevation_m = 0.0

# One block a growing system. treatment names the plots in plots.csv that measured it; leave it out where none did.
[[systems]]
id = "reservoir"
label = "Wick-fed reservoir"
# treatment = "reservoir"
water_method = "reservoir"  # reservoir, drip, hand, furrow, sprinkler or rain
cover = "none"  # none, net, tunnel or house

[[systems]]
id = "drip"
label = "Well and drip"
water_method = "drip"

[[systems]]
id = "hand"
label = "Hand watering"
water_method = "hand"

# Loans and grants move cash by month and what is left to the family, never the appraisal. All come in at the start.
# [[loans]]
# system = "drip"
# label = "bank"
# amount_share_of_investment = 0.5  # or amount = 1000.0
# rate_per_year = 0.15  # nominal, as quoted; inflation_rate in assumptions.csv takes it to constant prices
# years = 3  # from the money to the last payment, within horizon_years
# kind = "annuity"  # annuity, equal_principal or flat (interest on the first sum to the end)
# payments_per_year = 4  # 12, 4, 2 or 1
# grace_months = 6  # without repayment
# capitalise_grace_interest = false  # true: interest of the grace is added to the debt
# [[grants]]
# system = "drip"
# label = "fund"
# share_of_investment = 0.2  # or amount = 500.0
"""
GUIDE = """\
A case for plotworth. Needed: case.toml, assumptions.csv, costs.csv, seasons.csv. The other tables are the
trial's records; delete those you do not keep, or leave the header alone. Blank means not known; write 0 where
there was none. Dates are year-month-day, shares lie between 0 and 1, numbers have a decimal point.
The value of an assumption is a number, or trial (take it from the records), or unknown.
Tables may also stand in one workbook, tables.xlsx, a sheet a table under the names below without .csv.
`plotworth check FOLDER` says what is missing, line by line.

"""


def new_case(folder: Path, *, with_tables: bool = True) -> None:
    """Write an empty case into `folder`, which must not exist or be empty.

    `with_tables` writes a CSV file for each table; without it the tables are the caller's to write.
    Raises CaseError where the folder holds files.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise CaseError(f"{folder}: is not an empty folder; name a new one, so that nothing is overwritten.")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / FILE).write_text(SETTINGS, encoding="utf-8", newline="")
    (folder / "READ ME.txt").write_text(GUIDE + "\n".join(_column_lines()) + "\n", encoding="utf-8", newline="")
    for table, columns in table_columns().items():
        if with_tables and table not in NOT_WRITTEN:
            write_csv(folder / f"{table}.csv", tuple(columns), first_rows() if table == "assumptions" else [])


def first_rows() -> list[dict[str, str]]:
    """Return the rows that an empty assumption book begins with: names, units and meanings, values to be written."""
    return [
        {"name": name, "unit": GLOSSARY[name].unit.replace("money", "CURRENCY"), "note": GLOSSARY[name].meaning}
        for name in FIRST_ROWS
    ]


def _column_lines() -> list[str]:
    lines = []
    for table, columns in table_columns().items():
        lines.append(f"{table}.csv")
        for column in columns.values():
            unit = f" [{column.unit}]" if column.unit not in ("", "1") else ""
            choices = f" ({', '.join(column.choices)})" if column.choices else ""
            needed = "" if column.needed else ", may be blank"
            lines.append(f"  {column.name}{unit}: {column.meaning}{choices}{needed}")
    return lines
